"""A value of several rides against their dates, with its trend. No Streamlit."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from explorer.charts import parts
from explorer.format import UnitFormatter
from explorer.questions.ride_log.over_time.ride_file import RideEntry
from explorer.questions.ride_log.over_time.trends import days, measured
from explorer.questions.ride_log.over_time.words import NAMES, QUANTITY, shown
from physics.arrays import Floats
from physics.fitting.trend import Trend

HEIGHT = 360
POINTS = 60
_DAY = 86_400_000.0
_ZERO = datetime.date(1970, 1, 1).toordinal()


def _moments(ordinals: ArrayLike) -> Floats:
    """Days as a chart's axis counts them: noon, ms since 1970."""
    return (np.asarray(ordinals, dtype=float) - _ZERO + 0.5) * _DAY


def figure(
    rides: Sequence[RideEntry],
    others: Sequence[RideEntry],
    name: str,
    found: Trend | None,
    until: float | None,
    fmt: UnitFormatter,
) -> dict[str, Any]:
    """Values with their intervals, and the trend with the band in which the next ride is to be expected.

    Parameters
    ----------
    rides, others : sequence of RideEntry
        Those that count, and those that are shown only.
    name : str
        The value.
    found : Trend or None
        Of it, in days.
    until : float or None
        Day to which the trend is drawn; to the last ride where there is none.
    fmt : UnitFormatter
        The rider's units.
    """
    unit = fmt.unit(QUANTITY[name])
    hover = "%{x|%d %b %Y}: %{y:.4g} " + unit
    data: list[dict[str, Any]] = []
    if found is not None:
        ends = np.linspace(found.first, max(found.last, until or found.last), POINTS)
        value, _, _ = found.line(ends)
        _, low, high = found.reading(ends)
        x = _moments(ends)
        data += parts.between(x, shown(name, low, fmt), shown(name, high, fmt), "next ride, 95 %", "@blue/0.15")
        data.append(parts.line(x, shown(name, value, fmt), "trend", "@blue", hover=hover, dash="dash"))
    for some, label, colour, symbol in (
        (rides, "a ride, 95 %", "@blue", "circle"),
        (others, "not used", "@muted", "x"),
    ):
        if not some:
            continue
        values = measured(some, name)
        y = shown(name, np.array([one.value for one in values]), fmt)
        width = shown(name, np.array([one.half_width for one in values]), fmt)
        trace = parts.points(
            _moments(days(some)), y, label, colour, symbol, hover=hover + "<extra></extra>", size=9
        )
        trace["error_y"] = {"type": "data", "array": width, "color": colour, "thickness": 1.4, "width": 4}
        data.append(trace)
    layout = {
        **parts.LAYOUT,
        "xaxis": parts.axis(type="date"),
        "yaxis": parts.axis(f"{NAMES[name].lower()}, {unit}"),
        "uirevision": f"over time {name} {len(rides)} {unit}",
    }
    return {"data": data, "layout": layout}
