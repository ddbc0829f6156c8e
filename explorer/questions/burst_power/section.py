"""Burst power: can this pack give a power for a time today, and what would it give if it were warmer."""

from __future__ import annotations

import streamlit as st

from explorer.frame import sidebar
from explorer.frame.layout import numbers, say, show, show_derivation, warn
from explorer.inputs.catalogue import BURST
from explorer.page.page import Page
from explorer.questions.burst_power import chart, words
from explorer.questions.burst_power.results import asked, burst_answer, warming_of

TITLE = "How much power can the pack give, and for how long?"


def draw(page: Page) -> None:
    """Verdict, its two inputs, power against time, and what pre-warming changes."""
    answer = burst_answer(page.build, *asked(page))
    say("burst_answer", words.verdict(page, answer))
    show_derivation("burst_power", lambda: words.derivation(page, *asked(page)))
    with st.container(key="burst_inputs"):
        sidebar.in_place(BURST)
    show(
        "burst_power",
        verdict=words.warmer(page, answer),
        figure=chart.figure(answer, page.fmt),
        height=chart.HEIGHT,
        alt=words.alt(page, answer),
        note=words.NOTE,
        table=lambda: words.table(page, answer),
    )
    numbers("burst_warming", lambda: words.warming_table(page, warming_of(page)), words.WARMING)
    warn(words.CAUTION)
