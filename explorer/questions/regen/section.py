"""Regen, now and how strong: what may be set at each rest voltage, and what one stop by regen does."""

from __future__ import annotations

import streamlit as st

from explorer.frame import sidebar
from explorer.frame.layout import numbers, say, show, show_derivation
from explorer.inputs.day import REGEN
from explorer.page.page import Page
from explorer.questions.regen import chart, words
from explorer.questions.regen.results import regen_of

TITLE = "How much regen may I set now, and how hard does it brake?"


def draw(page: Page) -> None:
    """Verdict, its inputs, slowing against speed, what to set at each voltage."""
    answer = regen_of(page)
    say("regen_answer", words.verdict(page, answer))
    show_derivation("regen", lambda: words.derivation(page, answer))
    with st.container(key="regen_inputs"):
        sidebar.in_place(REGEN)
    show(
        "regen",
        verdict=words.stop(page, answer),
        figure=chart.figure(answer, page.fmt),
        height=chart.HEIGHT,
        alt=words.alt(page, answer),
        note=words.LAMP,
        table=lambda: words.stop_table(page, answer),
    )
    numbers("regen_set", lambda: words.table(page, answer), words.SET)
    show("regen_caution", caution=words.CAUTION)
