"""The run: speed against time, and what holds the bike back at each moment."""

from __future__ import annotations

from typing import Any

import streamlit as st

from explorer.frame import drag
from explorer.frame.layout import numbers
from explorer.frame.prose import prose
from explorer.page.page import Page
from explorer.questions.run import chart, words

TITLE = "The run"


def draw(page: Page) -> None:
    """The chart that stands under the page's answer; the answer itself is its verdict."""
    drag.chart(picture, page)
    drag.words("run_words", in_turn, page)
    numbers("run", lambda: words.table(page), words.NUMBERS)


def in_turn(page: Page) -> None:
    """The limits in words."""
    st.caption(prose(words.in_turn(page)))


def picture(page: Page) -> dict[str, Any]:
    """Speed and limits over time."""
    return {
        "figure": chart.figure(page.run, page.fmt, page.target_speed, page.baseline_run, page.band, page.rough),
        "key": "chart_run",
        "height": chart.HEIGHT,
        "alt": words.alt(page),
    }
