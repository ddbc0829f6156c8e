"""The run: speed against time, and what holds the bike back at each moment."""

from __future__ import annotations

from typing import Any

import streamlit as st

from explorer.format import tied
from explorer.frame import drag
from explorer.frame.layout import chart_head, numbers
from explorer.page.page import Page
from explorer.questions.run import chart, words

TITLE = "The run"
VIEWS = {"speed": "Speed and what holds it back"}


def draw(page: Page) -> None:
    """The chart that stands under the page's answer; the answer itself is its verdict."""
    view, details = chart_head("run", VIEWS)
    if details.open:
        with details:
            st.caption(tied(words.in_turn(page)))
            numbers("run", lambda: words.table(page), words.NUMBERS)
    drag.chart(PICTURES[view], page)


def picture(page: Page) -> dict[str, Any]:
    """Speed and limits over time."""
    return {
        "figure": chart.figure(page.run, page.fmt, page.target_speed, page.baseline_run, page.band, page.rough),
        "key": "chart_run",
        "height": chart.HEIGHT,
        "alt": words.alt(page),
    }


PICTURES = {"speed": picture}
"""What draws each of VIEWS; all follow a held slider."""
