"""The run: speed against time, and what holds the bike back at each moment."""

from __future__ import annotations

from typing import Any

import pandas as pd
import streamlit as st

from explorer.format import tied
from explorer.frame import drag as following
from explorer.frame.layout import numbers
from explorer.page import words
from explorer.page.page import Page
from explorer.questions.run import chart
from physics.limits import LIMITS

TITLE = "The run"


def draw(page: Page) -> None:
    """The chart that stands under the page's answer; the answer itself is its verdict."""
    following.chart(picture, page)
    following.words("run_words", in_turn, page)
    numbers("run", lambda: table(page), "The run in numbers")


def picture(page: Page) -> dict[str, Any]:
    """Speed and limits over time."""
    turns = words.limits_in_turn(page.run, page.fmt)
    _, answer = words.headline(page)
    return {
        "figure": chart.figure(page.run, page.fmt, page.target_speed, page.baseline_run, page.band, page.rough),
        "key": "chart_run",
        "height": chart.HEIGHT,
        "alt": f"Speed against time from a standstill. {answer} What holds it back: {turns}",
    }


def in_turn(page: Page) -> None:
    """The limits in words."""
    turns = words.limits_in_turn(page.run, page.fmt)
    st.caption(tied(f"What holds it back, in turn: {turns[:1].lower()}{turns[1:]}"))


def table(page: Page, rows: int = 31) -> pd.DataFrame:
    """The run at some thirty instants, in the rider's units."""
    run, fmt = page.run, page.fmt
    places = [round(place * (len(run.time) - 1) / (rows - 1)) for place in range(rows)]
    return pd.DataFrame(
        {
            "time, s": run.time[places].round(2),
            f"speed, {fmt.unit('speed')}": fmt.number("speed", run.speed[0, places]).round(1),
            f"distance, {fmt.unit('distance')}": fmt.number("distance", run.distance[0, places]).round(1),
            "line current, A": run.line_current[0, places].round(0),
            "phase current, A peak": run.phase_current[0, places].round(0),
            "pack, V": run.pack_voltage[0, places].round(1),
            "weakest cell, V": run.weakest_cell_voltage[0, places].round(2),
            f"winding, {fmt.unit('temperature')}": fmt.number(
                "temperature", run.winding_temperature[0, places]
            ).round(0),
            "limit that holds": [LIMITS[limit] for limit in run.limit[0, places]],
        }
    )
