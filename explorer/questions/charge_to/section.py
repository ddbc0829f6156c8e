"""Charge to: at what reading to stop charging, for how long that is, and what the pack then rests at."""

from __future__ import annotations

import streamlit as st

from explorer.frame import sidebar
from explorer.frame.layout import say, show, show_derivation
from explorer.inputs.day import CHARGE_TO
from explorer.page.page import Page
from explorer.questions.charge_to import chart, results, words

TITLE = "To what voltage do I charge, and for how long?"


def draw(page: Page) -> None:
    """Verdict, its inputs, the charge against time."""
    answer = results.charge_to_of(page)
    charges = words.charges(answer)
    say("charge_to_answer", words.verdict(page, answer))
    if charges:
        show_derivation("charge_to", lambda: words.derivation(page, answer))
    with st.container(key="charge_to_inputs"):
        sidebar.in_place(CHARGE_TO)
    show(
        "charge_to",
        verdict=words.check(page, answer),
        figure=chart.figure(answer, page.fmt) if charges else None,
        height=chart.HEIGHT,
        alt=words.alt(page, answer),
        note=words.NOTE if charges else "",
        table=(lambda: words.table(page, answer)) if charges else None,
        caution=words.CAUTION,
    )
