"""How far each rest voltage goes on the way home. No Streamlit."""

from __future__ import annotations

from typing import Any

import numpy as np

from explorer.charts import parts
from explorer.format import UnitFormatter
from physics.studies.day.way_home import WayHome

HEIGHT = 340


def figure(home: WayHome, distance: float, rest_now: float, fmt: UnitFormatter) -> dict[str, Any]:
    """Range against rest voltage, as entered and at worst, with the way home and where to turn back.

    Parameters
    ----------
    home : WayHome
        The ranges.
    distance : float, m
        Of the way home.
    rest_now : float, V
        Of the pack today.
    fmt : UnitFormatter
        The rider's units.
    """
    unit = fmt.unit("road distance")
    worst, entered = (fmt.number("road distance", values) for values in (home.ranges, home.ranges_entered))
    hover = f"from %{{x:.1f}} V: %{{y:.1f}} {unit}"
    way = float(fmt.number("road distance", distance))
    data = [
        parts.line(home.rest_voltages, worst, "at worst", "@blue", width=2.6, hover=hover),
        parts.line(home.rest_voltages, entered, "as entered", "@teal", dash="dash", hover=hover),
        parts.points(
            [rest_now],
            [float(np.interp(rest_now, home.rest_voltages, worst))],
            "today",
            "@text",
            "diamond",
            hover=f"today, {hover}<extra></extra>",
        ),
    ]
    shapes = [parts.level(way, colour="@text", dash="dot")]
    notes = [parts.level_name(f"way home, {fmt('road distance', distance)}", way, left=True)]
    ends = [float(home.rest_voltages[0]), float(home.rest_voltages[-1])]
    if home.reachable:
        shape, words = parts.event(home.rest_voltage, "turn back", end=ends[1])
        shapes.append(shape)
        notes.append(words)
    return {
        "data": data,
        "layout": {
            **parts.LAYOUT,
            "showlegend": True,
            "xaxis": parts.axis("rest voltage of the pack, V", range=ends),
            "yaxis": parts.axis(f"range, {unit}", range=[0, 1.1 * float(max(entered.max(), way, 0.1))]),
            "shapes": shapes,
            "annotations": notes,
            "uirevision": f"way home {unit}",
        },
    }
