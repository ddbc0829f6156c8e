"""The run: speed against time, and what holds the bike back at each moment; or force against speed."""

from __future__ import annotations

from typing import Any

import streamlit as st

from explorer.frame import drag
from explorer.frame.layout import chart_head, numbers
from explorer.frame.prose import prose
from explorer.page.page import Page
from explorer.questions.run import chart, force_chart, words
from explorer.questions.run.results import force_of

TITLE = "The run"
VIEWS = {"speed": "Speed over time", "force": "Force over speed"}


def draw(page: Page) -> None:
    """The chart that stands under the page's answer; the answer itself is its verdict."""
    view, details = chart_head("run", VIEWS)
    if details.open:
        with details:
            st.caption(prose(words.in_turn(page) if view == "speed" else words.force(page, force_of(page))))
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


def force_picture(page: Page) -> dict[str, Any]:
    """Every limit as a force over speed."""
    found = force_of(page)
    return {
        "figure": force_chart.figure(found, page.run, page.fmt, page.target_speed, page.baseline is not None),
        "key": "chart_force",
        "height": chart.HEIGHT,
        "alt": "Force at the wheel against speed. " + words.force(page, found),
    }


PICTURES = {"speed": picture, "force": force_picture}
"""What draws each of VIEWS; all follow a held slider."""
