"""Speed along the road: run-up, hold, reaction, stop. No Streamlit."""

from __future__ import annotations

from typing import Any

import numpy as np

from explorer.charts import parts
from explorer.format import UnitFormatter
from physics.studies.day.road_needed import RoadNeeded

HEIGHT = 320


def figure(road: RoadNeeded, fmt: UnitFormatter) -> dict[str, Any]:
    """Speed against distance, with the three marks by the road: throttle shut, brakes on, standing.

    Parameters
    ----------
    road : RoadNeeded
        The road.
    fmt : UnitFormatter
        The rider's units.
    """
    unit, length = fmt.unit("speed"), fmt.unit("distance")
    run, speed = parts.thinned(fmt.number("distance", road.run_distance), fmt.number("speed", road.run_speed))
    shut = road.run_up + road.hold
    brakes = shut + road.reaction
    top = float(fmt.number("speed", road.speed))
    hover = f"%{{x:.0f}} {length}: %{{y:.0f}} {unit}"
    marks = [float(fmt.number("distance", at)) for at in (road.run_up, shut, brakes)]
    data = [
        parts.line(run, speed, "run-up as entered", "@teal", dash="dash", hover=hover),
        parts.line(
            marks, [top] * 3, "hold and reaction, at the latest", "@blue", width=2.6, hover=hover
        ),
    ]  # fmt: skip
    end = marks[-1]
    if np.isfinite(road.braking):
        along, slowing = parts.thinned(
            fmt.number("distance", brakes + road.stop_distance), fmt.number("speed", road.stop_speed)
        )
        data.append(parts.line(along, slowing, "braking", "@brick", dash="longdash", width=2.6, hover=hover))
        end = float(along[-1])
    shapes, notes = [], []
    for at, text, height in ((marks[1], "decide to stop", 1.0), (end, "standing", 0.9)):
        shape, words = parts.event(at, f"{text}, {at:.0f} {length}", end=end)
        shapes.append(shape)
        notes.append(words | {"y": height})
    return {
        "data": data,
        "layout": {
            **parts.LAYOUT,
            "showlegend": True,
            "xaxis": parts.axis(f"distance, {length}", range=[0, 1.04 * max(end, 1.0)]),
            "yaxis": parts.axis(f"speed, {unit}", range=[0, 1.3 * max(top, 1.0)]),
            "shapes": shapes,
            "annotations": notes,
            "uirevision": f"road {unit}",
        },
    }
