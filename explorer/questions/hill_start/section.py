"""Hill start: the steepest slope that starts, for how long, and the highest kerb."""

from __future__ import annotations

import streamlit as st

from explorer.frame import sidebar
from explorer.frame.layout import say, show, show_derivation
from explorer.inputs.day import HILL
from explorer.page.page import Page
from explorer.questions.hill_start import chart, words
from explorer.questions.hill_start.results import hill_of

TITLE = "How steep a hill can I start on, and for how long?"


def draw(page: Page) -> None:
    """Verdict, its input, the slope against the rear sprocket."""
    hill = hill_of(page)
    say("hill_start_answer", words.verdict(page, hill))
    show_derivation("hill_start", lambda: words.derivation(page, hill))
    with st.container(key="hill_start_inputs"):
        sidebar.in_place(HILL)
    show(
        "hill_start",
        verdict=words.holds_when(page, hill),
        figure=chart.figure(hill, page.fmt),
        height=chart.HEIGHT,
        alt=words.alt(page, hill),
        note=words.NOTE,
        table=lambda: words.table(page, hill),
        caution=words.CAUTION,
    )
