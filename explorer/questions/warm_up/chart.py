"""Pack temperature, and how fast a run then gets, against the minutes of a warm-up. No Streamlit."""

from __future__ import annotations

from typing import Any

import numpy as np

from explorer.charts import parts
from explorer.format import UnitFormatter
from explorer.questions.warm_up.results import Found
from physics.studies.day.warm_up import GETS_THERE, INDOORS, PULLS, STEADY

HEIGHT = 430
LOOKS = {STEADY: ("steady riding", "@blue", "solid", "circle"), PULLS: ("gentle pulls", "@teal", "dash", "square")}


def figure(found: Found, fmt: UnitFormatter) -> dict[str, Any]:
    """Temperature above, top speed of the run below, over one axis of time.

    Parameters
    ----------
    found : Found
        The warm-up.
    fmt : UnitFormatter
        The rider's units.
    """
    warm, unit, degrees = found.warm, fmt.unit("speed"), fmt.unit("temperature")
    data: list[dict[str, Any]] = []
    longest, speeds = 1.0, [float(warm.outcomes.top_speed[0])]
    for row, (name, colour, dash, symbol) in LOOKS.items():
        way = warm.ways[row]
        if way.curve is None:
            continue
        temperature = way.curve.temperature[0]
        some = np.isfinite(temperature) & (np.r_[warm.now, temperature[:-1]] <= warm.axis[-1])
        minutes, kelvin = parts.thinned(way.curve.time[some] / 60.0, temperature[some])
        if minutes.size < 2:
            continue
        longest = max(longest, float(minutes[-1]) if way.status == GETS_THERE or warm.best is None else 0.0)
        hover = f"%{{x:.0f}} min: %{{y:.0f}} {degrees}"
        data.append(parts.line(minutes, fmt.number("temperature", kelvin), name, colour, dash=dash, hover=hover))
        there = np.isfinite(warm.times[row])
        fast = np.r_[warm.outcomes.top_speed[0], warm.along.top_speed.reshape(3, -1)[row, there]]
        speeds += [*fast]
        data.append(
            parts.line(
                np.r_[0.0, warm.times[row, there] / 60.0],
                fmt.number("speed", fast), name, colour, dash=dash, xaxis="x2", yaxis="y2",
                showlegend=False,
                mode="lines+markers", marker={"symbol": symbol, "size": 7, "color": colour},
                hover=f"run after %{{x:.0f}} min: %{{y:.1f}} {unit}",
            )
        )  # fmt: skip
    kept = float(warm.outcomes.top_speed[1 + INDOORS])
    speeds += [kept] if np.isfinite(kept) else []
    wanted = float(fmt.number("temperature", warm.temperature))
    shapes = [parts.level(wanted, colour="@text", dash="dot")]
    notes = [parts.level_name(f"wanted, {fmt('temperature', warm.temperature)}", wanted, left=True)]
    if np.isfinite(kept):
        level = float(fmt.number("speed", kept))
        shapes.append(parts.level(level, colour="@muted", dash="dot", yref="y2"))
        words = f"kept at {fmt('temperature', warm.temperature)} beforehand"
        notes.append(parts.level_name(words, level, yref="y2"))
    low, high = (float(fmt.number("speed", value)) for value in (min(speeds), max(speeds)))
    coldest = float(fmt.number("temperature", warm.now))
    warmest = max(wanted, float(fmt.number("temperature", warm.axis[-1])))
    time = [0.0, 1.03 * longest]
    return {
        "data": data,
        "layout": {
            **parts.LAYOUT,
            "showlegend": True,
            "xaxis": parts.axis(range=time, showticklabels=False),
            "yaxis": parts.axis(f"pack, {degrees}", range=parts.steady(coldest, warmest + 2, 4), domain=[0.54, 1]),
            "xaxis2": parts.axis("warm-up, min", range=time, matches="x", anchor="y2"),
            "yaxis2": parts.axis(
                f"top speed, {unit}", range=parts.steady(low - 1, high + 2, 4), domain=[0.0, 0.44]
            ),
            "shapes": shapes,
            "annotations": notes,
            "uirevision": f"warm-up {unit}",
        },
    }
