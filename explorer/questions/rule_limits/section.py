"""A rule's limits: the line limit and speed cap that meet them, at the shaft and at the wheel."""

from __future__ import annotations

import streamlit as st

from explorer.frame import sidebar
from explorer.frame.layout import say, show, show_derivation
from explorer.inputs.day import RULE
from explorer.page.page import Page
from explorer.questions.rule_limits import chart, words
from explorer.questions.rule_limits.results import allowed, rule_of

TITLE = "What do I set to stay within the rules?"


def draw(page: Page) -> None:
    """Verdict, its inputs, power against speed."""
    rule = rule_of(page)
    say("rule_limits_answer", words.verdict(page, rule))
    if rule is not None:
        show_derivation("rule_limits", lambda: words.derivation(page, rule))
    with st.container(key="rule_limits_inputs"):
        sidebar.in_place(RULE)
    power = allowed(page, "rule_power")
    if rule is None or power is None or not rule.speed.size:
        show("rule_limits", caution=words.CAUTION)
        return
    show(
        "rule_limits",
        figure=chart.figure(rule, power, page.fmt),
        height=chart.HEIGHT,
        alt=words.alt(page, rule),
        note=words.NOTE,
        table=lambda: words.table(page, rule),
        caution=words.CAUTION,
    )
