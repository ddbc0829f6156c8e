"""Heat: which part gets hot first, how long full power lasts, and what cooling between pulls gives back."""

from __future__ import annotations

import streamlit as st

from explorer.frame import sidebar
from explorer.frame.layout import say, show, show_derivation
from explorer.inputs.catalogue import HEAT, HEAT_HELD, HEAT_PULLS
from explorer.page import cautions
from explorer.page.page import Page
from explorer.questions.heat import chart, results, words
from physics.studies.full_power import thresholds

TITLE = "Which part gets hot first, and how long does full power last?"


def draw(page: Page) -> None:
    """The verdict and temperatures, held or pull by pull."""
    if page.inputs["heat_view"] == "held":
        held = results.held_of(page)
        text, figure = words.held_verdict(page, held), chart.held_figure(held, page.fmt)
        group, note, table = HEAT_HELD, words.NOTE_HELD, lambda: words.held_table(page, held)
    else:
        with st.spinner(words.WORKING):
            pulls = results.pulls_of(page)
        text = words.pulls_verdict(page, pulls)
        figure = chart.pulls_figure(pulls, thresholds(page.build)[:, 0], page.fmt)
        group, note, table = HEAT_PULLS, words.NOTE_PULLS, lambda: words.pulls_table(page, pulls)
    say("heat_answer", text)
    show_derivation("heat", lambda: words.derivation(page))
    with st.container(key="heat_inputs"):
        sidebar.in_place(HEAT)
        sidebar.in_place(group)
    show(
        "heat",
        figure=figure,
        height=chart.HEIGHT,
        alt=words.alt(text),
        note=note,
        table=table,
        caution=cautions.HOT,
    )
