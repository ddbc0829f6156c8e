"""The steepest slope that starts against the rear sprocket, one line for each power level. No Streamlit."""

from __future__ import annotations

from typing import Any

import numpy as np

from explorer.charts import parts
from explorer.format import UnitFormatter
from physics.studies.day.hill_start import HillStart

HEIGHT = 320
LOOKS = (("@teal", "dash"), ("@violet", "dot"), ("@blue", "solid"), ("@amber", "longdash"), ("@brick", "dashdot"))
"""Colour and dash of each level."""


def figure(hill: HillStart, fmt: UnitFormatter) -> dict[str, Any]:
    """Slope in percent; the levels where the front lifts and the rear slips, where they are near.

    Parameters
    ----------
    hill : HillStart
        Its first pair is the one that is fitted.
    fmt : UnitFormatter
        The rider's units; slopes are the same in all.
    """
    front = int(hill.front_teeth[0])
    some = np.flatnonzero(hill.front_teeth == front)
    some = some[np.argsort(hill.rear_teeth[some], kind="stable")]
    slope = percent(hill.angle)
    data = [
        parts.line(hill.rear_teeth[some], slope[row, some], level.name, colour, dash=dash, width=2.6,
                   hover="rear %{x:.0f}: %{y:.0f} %")
        for row, (level, (colour, dash)) in enumerate(zip(hill.levels, LOOKS, strict=False))
    ]  # fmt: skip
    data.append(
        parts.points(np.full(len(hill.levels), hill.rear_teeth[0]), slope[:, 0], "fitted", "@text", "circle",
                     hover="fitted, rear %{x:.0f}: %{y:.0f} %<extra></extra>")
    )  # fmt: skip
    top = 1.15 * max(float(slope[:, some].max()), 10.0)
    named = (("front wheel lifts", hill.lifts), ("rear tyre slips", hill.slips))
    marks = [(name, float(percent(np.array(angle)))) for name, angle in named]
    marks = [(name, level) for name, level in marks if level < top]
    return {
        "data": data,
        "layout": {
            **parts.LAYOUT,
            "showlegend": True,
            "xaxis": parts.axis(f"rear teeth, with {front} at the front"),
            "yaxis": parts.axis("slope, %", range=[0, top]),
            "shapes": [parts.level(level, colour="@muted", dash="dot") for _, level in marks],
            "annotations": [parts.level_name(name, level, left=True) for name, level in marks],
            "uirevision": "hill",
        },
    }


def percent(angle: Any) -> Any:
    """Slope in percent, at most 100 and at least nothing."""
    return 100.0 * np.clip(np.tan(np.clip(angle, 0.0, np.pi / 4)), 0.0, 1.0)
