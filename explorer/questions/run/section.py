"""The run: speed against time, and what holds the bike back at each moment; or force against speed."""

from __future__ import annotations

from typing import Any

import streamlit as st

from explorer.format import tied
from explorer.frame import drag
from explorer.frame.layout import numbers
from explorer.page.page import Page
from explorer.questions.run import chart, force_chart, words
from explorer.questions.run.results import force_of

TITLE = "The run"
VIEWS = ("Speed against time", "Force against speed")


def draw(page: Page) -> None:
    """The chart under the page's answer, in the view that was chosen; the answer itself is its verdict."""
    view = st.segmented_control(
        "What the chart shows", VIEWS, default=VIEWS[0], key="run_view", required=True, label_visibility="collapsed"
    )
    if view == VIEWS[1]:
        drag.chart(force_picture, page)
        drag.words("run_words", force_in_words, page)
    else:
        drag.chart(picture, page)
        drag.words("run_words", in_turn, page)
    numbers("run", lambda: words.table(page), words.NUMBERS)


def force_in_words(page: Page) -> None:
    """What the curves say."""
    st.caption(tied(words.force(page, force_of(page))))


def in_turn(page: Page) -> None:
    """The limits in words."""
    st.caption(tied(words.in_turn(page)))


def picture(page: Page) -> dict[str, Any]:
    """Speed and limits over time."""
    return {
        "figure": chart.figure(page.run, page.fmt, page.target_speed, page.baseline_run, page.band, page.rough),
        "key": "chart_run",
        "height": chart.HEIGHT,
        "alt": words.alt(page),
    }


def force_picture(page: Page) -> dict[str, Any]:
    """Every limit as a force over speed."""
    found = force_of(page)
    return {
        "figure": force_chart.figure(found, page.run, page.fmt, page.target_speed, page.baseline is not None),
        "key": "chart_force",
        "height": force_chart.HEIGHT,
        "alt": "Force at the wheel against speed. " + words.force(page, found),
    }
