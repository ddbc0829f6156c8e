"""Sag: what the pack's voltage does under load, and how near the weakest cell comes to the cut-out."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from explorer.derivations import pack as why_pack
from explorer.frame import drag as following
from explorer.frame.layout import say, show, show_derivation
from explorer.page import words
from explorer.page.page import Page
from explorer.questions.sag import chart

TITLE = "Sag"


def verdict(page: Page) -> str:
    """How deep the pack sags, at what current, and how near the weakest cell comes to its threshold."""
    run, fmt = page.run, page.fmt
    sag = run.rest_voltage[0] - run.pack_voltage[0]
    deepest = int(np.argmax(sag))
    start, end = (fmt("voltage", run.rest_voltage[0, place]) for place in (0, -1))
    rest = f"{start} throughout" if start == end else f"{start} at the start and {end} at the end"
    return (
        f"**The pack sags by up to {fmt('voltage', sag[deepest])}**, with "
        f"{fmt('current', run.line_current[0, deepest])} of line current. At rest it has {rest}; the lowest "
        f"under load is {fmt('voltage', run.minimum_voltage[0])}. {words.weakest_cell(page)}"
    )


def draw(page: Page) -> None:
    """Voltage and current over the time of the run."""
    following.words("sag_words", lambda newest: say("sag", verdict(newest)), page)
    show_derivation("sag", lambda: why_pack.sag(page))
    following.chart(picture, page)
    show("sag", table=lambda: table(page), caution=words.CAUTION_PACK)


def picture(page: Page) -> dict[str, Any]:
    """Voltages above, line current below."""
    return {
        "figure": chart.figure(page.run, page.build, page.fmt, page.baseline_run),
        "key": "chart_sag",
        "height": chart.HEIGHT,
        "alt": f"Pack voltage at rest and loaded, and line current, against time. {words.weakest_cell(page)}",
    }


def table(page: Page, rows: int = 16) -> pd.DataFrame:
    """Voltages and currents at some instants."""
    run = page.run
    places = [round(place * (len(run.time) - 1) / (rows - 1)) for place in range(rows)]
    return pd.DataFrame(
        {
            "time, s": run.time[places].round(2),
            "rest, V": run.rest_voltage[0, places].round(1),
            "loaded, V": run.pack_voltage[0, places].round(1),
            "sag, V": (run.rest_voltage[0, places] - run.pack_voltage[0, places]).round(1),
            "weakest cell, V": run.weakest_cell_voltage[0, places].round(2),
            "line current, A": run.line_current[0, places].round(0),
            "charge, %": (100 * run.charge[0, places]).round(1),
        }
    )
