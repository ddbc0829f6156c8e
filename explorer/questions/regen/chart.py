"""How hard regen slows the bike at each speed, and the current that flows. No Streamlit."""

from __future__ import annotations

from typing import Any

import numpy as np

from explorer.charts import parts
from explorer.format import UnitFormatter
from physics.studies.day.regen import LAMP_MAY, LAMP_MUST, RegenAnswer

HEIGHT = 360


def figure(answer: RegenAnswer, fmt: UnitFormatter) -> dict[str, Any]:
    """Slowing above with the levels of a brake lamp, line current below, over one axis of speed.

    Parameters
    ----------
    answer : RegenAnswer
        With its stop.
    fmt : UnitFormatter
        The rider's units.
    """
    stop = answer.stop
    unit, slow = fmt.unit("speed"), fmt.unit("acceleration")
    inertia_free = stop.deceleration[0]
    speed, slowing, line = parts.thinned(
        fmt.number("speed", stop.speed[0]), fmt.number("acceleration", inertia_free), stop.line_current[0]
    )
    levels = [float(fmt.number("acceleration", level)) for level in (LAMP_MAY, LAMP_MUST)]
    data = [
        parts.line(speed, slowing, "deceleration: regen, drag and tyres", "@blue", width=2.6,
                   hover=f"%{{x:.0f}} {unit}: %{{y:.2f}} {slow}"),
        parts.line(speed, line, "current into the pack", "@amber", dash="longdash", xaxis="x2", yaxis="y2",
                   hover=f"%{{x:.0f}} {unit}: %{{y:.0f}} A"),
    ]  # fmt: skip
    ends = [0.0, 1.02 * float(speed.max())]
    low, high = float(min(line.min(), 0.0)), float(max(line.max(), 1.0))
    return {
        "data": data,
        "layout": {
            **parts.LAYOUT,
            "showlegend": True,
            "xaxis": parts.axis(range=ends, showticklabels=False),
            "yaxis": parts.axis(
                f"deceleration, {slow}", range=[0, 1.15 * float(max(np.max(slowing), levels[1]))], domain=[0.44, 1]
            ),
            "xaxis2": parts.axis(f"speed, {unit}", range=ends, matches="x", anchor="y2"),
            "yaxis2": parts.axis("A", range=[1.15 * low, 1.15 * high], domain=[0.0, 0.32]),
            "shapes": [parts.level(level, colour="@muted", dash="dot") for level in levels],
            "annotations": [
                parts.level_name(text, level, left=True)
                for text, level in zip(("brake light may come on above", "must come on above"), levels, strict=True)
            ],
            "uirevision": f"regen {unit}",
        },
    }
