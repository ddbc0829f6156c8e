"""The way home: down to what rest voltage it is safe, and how far the charge now goes."""

from __future__ import annotations

import streamlit as st

from explorer.frame import sidebar
from explorer.frame.layout import numbers, say, show, show_derivation
from explorer.inputs.day import WAY_HOME
from explorer.page.page import Page
from explorer.page.results import home_of
from explorer.questions.way_home import chart, results, words

TITLE = "At what voltage do I have to turn back to get home?"


def draw(page: Page) -> None:
    """Verdict, its inputs, range against rest voltage, what is left after each pull."""
    home = home_of(page)
    say("way_home_answer", words.verdict(page, home))
    show_derivation("way_home", lambda: words.derivation(page, home))
    with st.container(key="way_home_inputs"):
        sidebar.in_place(WAY_HOME)
    show(
        "way_home",
        verdict=words.holds_when(page, home),
        figure=chart.figure(home, results.distance_of(page), results.rest_voltage_now(page), page.fmt),
        height=chart.HEIGHT,
        alt=words.alt(page, home),
        table=lambda: words.table(page, home),
    )
    numbers("way_home_pulls", lambda: words.pulls_table(page, home, results.pulls_of(page)), words.PULLS)
    show("way_home_caution", caution=words.CAUTION)
