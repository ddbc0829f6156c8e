"""The run in words: what holds the bike back in turn, and the run as a table."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from explorer.charts.ribbon import longer_stretches
from explorer.format import UnitFormatter
from explorer.page import words
from explorer.page.page import Page
from physics.limits import LIMITS
from physics.simulation.result import RunResult
from physics.studies.force import ForceAgainstSpeed

if TYPE_CHECKING:
    import pandas as pd

NUMBERS = "The run in numbers"


def limits_in_turn(run: RunResult, fmt: UnitFormatter) -> str:
    """The ribbon in words."""
    stretches = longer_stretches(run.time, run.limit[0], run.limit_since[0])
    if not stretches:
        return ""
    turns = [f"{LIMITS[kind]} to {fmt('time', end)}" for kind, _, end in stretches[:-1]]
    return ", then ".join([*turns, f"{LIMITS[stretches[-1][0]]} to the end"]) + "."


def in_turn(page: Page) -> str:
    """What stands under the chart."""
    return f"What holds it back, in turn: {limits_in_turn(page.run, page.fmt)}"


def alt(page: Page) -> str:
    """What the chart shows."""
    _, answer = words.headline(page)
    turns = limits_in_turn(page.run, page.fmt)
    text = f"Speed against time from a standstill. {answer} What holds it back: "
    return text + turns[:1].upper() + turns[1:]


def force(page: Page, found: ForceAgainstSpeed) -> str:
    """What the curves of force against speed say."""
    fmt, pull = page.fmt, found.force[0, 0]
    first = f"Off the line it pushes with {fmt('force', pull)}, {fmt('acceleration', found.acceleration[0, 0])}."
    top = float(found.top_speed[0])
    if top <= 0:
        held = fmt("force", found.road_load[0, 0])
        return f"{fmt('force', pull)} does not move it: the road load is {held}."
    if np.isinf(top):
        return f"{first} The road load crosses it beyond the end of this chart."
    holds = LIMITS[found.limit[0, np.searchsorted(found.speed, top) - 1]]
    meets = f"With the pack rested it meets the road load at {fmt('speed', top)}, limited by {holds}"
    sags = float(np.nanmax(page.run.speed[0]))
    lost = f"; the run, with its sag, gets to {fmt('speed', sags)}." if sags < top else "."
    return f"{first} {meets}{lost}"


def table(page: Page, rows: int = 31) -> pd.DataFrame:
    """The run at some thirty instants, in the rider's units."""
    import pandas as pd  # a third of a second at the first visit, and no chart needs it

    run, fmt = page.run, page.fmt
    indices = [round(row * (len(run.time) - 1) / (rows - 1)) for row in range(rows)]
    winding = fmt.number("temperature", run.winding_temperature[0, indices])
    return pd.DataFrame(
        {
            "time, s": run.time[indices].round(2),
            f"speed, {fmt.unit('speed')}": fmt.number("speed", run.speed[0, indices]).round(1),
            f"distance, {fmt.unit('distance')}": fmt.number("distance", run.distance[0, indices]).round(1),
            "line current, A": run.line_current[0, indices].round(0),
            "phase current, A peak": run.phase_current[0, indices].round(0),
            "pack, V": run.pack_voltage[0, indices].round(1),
            "weakest cell, V": run.weakest_cell_voltage[0, indices].round(2),
            f"winding, {fmt.unit('temperature')}": winding.round(0),
            "limit that holds": [LIMITS[limit] for limit in run.limit[0, indices]],
        }
    )
