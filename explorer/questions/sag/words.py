"""Sag in words: the verdict, its derivation, the numbers, the caution."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from explorer.derivations import pack
from explorer.derivations.derivation import Step
from explorer.page import words
from explorer.page.page import Page

if TYPE_CHECKING:
    import pandas as pd

CAUTION = (
    "Lithium packs can burn, and above 60 V DC a touch can kill. Leave work inside a pack to people "
    "trained and licensed for it, keep to the cell and pack makers' limits, and leave every BMS "
    "protection in place."
)


def verdict(page: Page) -> str:
    """How deep the pack sags, at what current, and how near the weakest cell comes to its threshold."""
    run, fmt = page.run, page.fmt
    deepest = int(np.argmax(run.sag[0]))
    start, end = (fmt("voltage", run.rest_voltage[0, index]) for index in (0, -1))
    rest = f"{start} throughout" if start == end else f"{start} at the start and {end} at the end"
    return (
        f"**The pack sags by up to {fmt('voltage', run.sag[0, deepest])}**, at "
        f"{fmt('current', run.line_current[0, deepest])} line current. At rest it is at {rest}; the lowest "
        f"under load is {fmt('voltage', run.minimum_voltage[0])}. {words.weakest_cell(page)}"
    )


def derivation(page: Page) -> list[Step]:
    """Where the sag is deepest: rest voltage, resistance today, sag, loaded voltage, weakest cell."""
    now = pack.deepest(page.build, page.run)
    return [pack.rest(now), *pack.resistance(page.build, now.line_current), *pack.sagging(now), pack.weakest(now)]


def alt(page: Page) -> str:
    """What the chart shows."""
    return f"Pack voltage at rest and loaded, and line current, against time. {words.weakest_cell(page)}"


def table(page: Page, rows: int = 16) -> pd.DataFrame:
    """Voltages and currents at some instants."""
    import pandas as pd  # a third of a second at the first visit, and no chart needs it

    run = page.run
    indices = [round(row * (len(run.time) - 1) / (rows - 1)) for row in range(rows)]
    return pd.DataFrame(
        {
            "time, s": run.time[indices].round(2),
            "rest, V": run.rest_voltage[0, indices].round(1),
            "loaded, V": run.pack_voltage[0, indices].round(1),
            "sag, V": run.sag[0, indices].round(1),
            "weakest cell, V": run.weakest_cell_voltage[0, indices].round(2),
            "line current, A": run.line_current[0, indices].round(0),
            "charge, %": (100 * run.charge[0, indices]).round(1),
        }
    )
