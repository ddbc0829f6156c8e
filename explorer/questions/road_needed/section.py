"""The road a test needs: run-up, hold, reaction, and the stop."""

from __future__ import annotations

import streamlit as st

from explorer.frame import sidebar
from explorer.frame.layout import say, show, show_derivation
from explorer.inputs.day import ROAD
from explorer.page.page import Page
from explorer.questions.road_needed import chart, words
from explorer.questions.road_needed.results import plan_of, road_of

TITLE = "How much road do I need?"


def draw(page: Page) -> None:
    """Verdict, its inputs, speed against the road."""
    road = road_of(page)
    say("road_needed_answer", words.verdict(page, road))
    show_derivation("road_needed", lambda: words.derivation(page, road))
    with st.container(key="road_needed_inputs"):
        sidebar.in_place(ROAD)
    show(
        "road_needed",
        verdict=words.braking(page, road),
        figure=chart.figure(road, page.fmt),
        height=chart.HEIGHT,
        alt=words.alt(page, road),
        note=words.NOTE,
        table=lambda: words.table(page, plan_of(page)),
        caution=words.CAUTION,
    )
