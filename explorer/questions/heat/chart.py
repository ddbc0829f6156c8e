"""Temperatures of the four parts: with full throttle held, and over repeated pulls. No Streamlit."""

from __future__ import annotations

from typing import Any

import numpy as np

from explorer.charts import parts
from explorer.format import UnitFormatter
from physics.scenarios.repeated_pulls import RepeatedPulls
from physics.simulation.thermal import HEATED_PARTS
from physics.studies.full_power import FullPower

HEIGHT = 400
LOOKS = {
    "pack": {"colour": "@blue", "dash": "solid"},
    "winding": {"colour": "@brick", "dash": "longdash"},
    "case": {"colour": "@amber", "dash": "dash"},
    "controller": {"colour": "@violet", "dash": "dot"},
}


def held_figure(found: FullPower, fmt: UnitFormatter) -> dict[str, Any]:
    """Temperature of each part against time, with the threshold of those that come near theirs.

    Parameters
    ----------
    found : FullPower
        One row.
    fmt : UnitFormatter
        The rider's units.
    """
    end = min(float(found.run.time[0, -1]), float(found.empty_time[0]))
    inside = found.run.time[0] <= end
    data = []
    for part in HEATED_PARTS:
        time, values = found.run.time[0][inside] / 60, getattr(found.run, f"{part}_temperature")[0][inside]
        time, values = parts.thinned(time, fmt.number("temperature", values))
        data.append(parts.line(time, values, part, hover=_hover(fmt, "%{x:.1f} min"), width=2.6, **LOOKS[part]))
    ends = [0, end / 60]
    figure = _figure(data, "time with the throttle held, min", ends, fmt, found.thresholds[0], found.fraction[0])
    for moment, text in ((found.cut_out_time[0], "cut-out"), (found.empty_time[0], "empty")):
        if np.isfinite(moment):
            shape, words = parts.moment(moment / 60, text)
            left = moment > 0.8 * end
            words |= {"xanchor": "right", "xshift": -5} if left else {}
            figure["layout"]["shapes"].append(shape)
            figure["layout"]["annotations"].append(words)
    return figure


def pulls_figure(found: RepeatedPulls, thresholds, fmt: UnitFormatter) -> dict[str, Any]:
    """Temperature of each part at the start and the end of every pull.

    Parameters
    ----------
    found : RepeatedPulls
        One row.
    thresholds : array, shape (4,), K
        Of the parts.
    fmt : UnitFormatter
        The rider's units.
    """
    before, after = found.temperatures_before[0], found.temperatures_after[0]
    count = len(after)
    data = []
    for row, part in enumerate(HEATED_PARTS):
        place = np.repeat(np.arange(1, count + 1), 2) + np.tile([0.0, 0.55], count)
        values = np.stack([before[:, row], after[:, row]], axis=1).ravel()
        data.append(
            parts.line(place, fmt.number("temperature", values), part, width=2.2, **LOOKS[part],
                       hover=_hover(fmt, "pull %{x:.0f}"), mode="lines+markers", marker={"size": 5})
        )  # fmt: skip
    share = (after.max(axis=0) - before[0]) / np.maximum(thresholds - before[0], 1e-6)
    figure = _figure(data, "pull (rising), then cooling", [0.8, count + 0.8], fmt, thresholds, share)
    figure["layout"]["xaxis"] |= {"tick0": 1, "dtick": 1 + count // 11}
    return figure


def _hover(fmt: UnitFormatter, at: str) -> str:
    return at + ": %{y:.0f} " + fmt.unit("temperature")


def _figure(data, title, ends, fmt, thresholds, share) -> dict[str, Any]:
    shapes, notes = [], []
    highest = max(float(np.max(trace["y"])) for trace in data)
    for row, part in enumerate(HEATED_PARTS):
        if np.isfinite(thresholds[row]) and share[row] > 0.55:
            level = float(fmt.number("temperature", thresholds[row]))
            highest = max(highest, level)
            shapes.append(parts.level(level, colour=LOOKS[part]["colour"], dash="dot"))
            what = "pack cuts out" if part == "pack" else f"{part} folds back"
            notes.append(parts.level_name(f"{what}, {fmt('temperature', thresholds[row])}", level, left=True))
    lowest = min(float(np.min(trace["y"])) for trace in data)
    room = 0.08 * max(highest - lowest, 5.0)
    return {
        "data": data,
        "layout": {
            "margin": parts.MARGIN,
            "hovermode": "closest",
            "legend": parts.LEGEND,
            "xaxis": parts.axis(title, range=ends),
            "yaxis": parts.axis(
                f"temperature, {fmt.unit('temperature')}", range=[lowest - room, highest + 2 * room]
            ),
            "shapes": shapes,
            "annotations": notes,
            "uirevision": f"heat {title} {ends}",
        },
    }
