"""Temperatures of the four parts: with full throttle held, and over repeated pulls. No Streamlit."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from explorer.charts import parts
from explorer.format import UnitFormatter
from physics.scenarios.repeated_pulls import RepeatedPulls
from physics.simulation.thermal import HEATED_PARTS
from physics.studies.full_power import FullPower

HEIGHT = 400
LOOKS: dict[str, dict[str, Any]] = {
    "pack": {"colour": "@blue", "dash": "solid"},
    "winding": {"colour": "@brick", "dash": "longdash"},
    "case": {"colour": "@amber", "dash": "dash"},
    "controller": {"colour": "@violet", "dash": "dot"},
}


def held_figure(held: FullPower, fmt: UnitFormatter) -> dict[str, Any]:
    """Temperature of each part against time, with the threshold of those that come near theirs.

    Parameters
    ----------
    held : FullPower
    fmt : UnitFormatter
        The rider's units.
    """
    data, end = [], float(held.instants[-1])
    for part, temperature in zip(HEATED_PARTS, held.temperatures, strict=True):
        time, values = parts.thinned(held.instants / 60, fmt.number("temperature", temperature))
        data.append(parts.line(time, values, part, hover=_hover(fmt, "%{x:.1f} min"), width=2.6, **LOOKS[part]))
    ends = [0, end / 60]
    figure = _figure(data, "time with the throttle held, min", ends, fmt, held.thresholds, held.fraction)
    for instant, text in ((held.cut_out_time, "cut-out"), (held.empty_time, "empty")):
        if np.isfinite(instant):
            shape, words = parts.event(instant / 60, text)
            left = instant > 0.8 * end
            words |= {"xanchor": "right", "xshift": -5} if left else {}
            figure["layout"]["shapes"].append(shape)
            figure["layout"]["annotations"].append(words)
    return figure


def pulls_figure(pulls: RepeatedPulls, thresholds: NDArray[np.float64], fmt: UnitFormatter) -> dict[str, Any]:
    """Temperature of each part at the start and the end of every pull.

    Parameters
    ----------
    pulls : RepeatedPulls
        One row.
    thresholds : array, shape (4,), K
        Of the parts.
    fmt : UnitFormatter
        The rider's units.
    """
    before, after = pulls.temperatures_before[0], pulls.temperatures_after[0]
    count = len(after)
    data = []
    for row, part in enumerate(HEATED_PARTS):
        number = np.repeat(np.arange(1, count + 1), 2) + np.tile([0.0, 0.55], count)
        values = np.stack([before[:, row], after[:, row]], axis=1).ravel()
        data.append(
            parts.line(
                number,
                fmt.number("temperature", values),
                part,
                width=2.2,
                **LOOKS[part],
                hover=_hover(fmt, "pull %{x:.0f}"),
                mode="lines+markers",
                marker={"size": 5},
            )
        )
    fraction = (after.max(axis=0) - before[0]) / np.maximum(thresholds - before[0], 1e-6)
    figure = _figure(data, "pull (rising), then cooling", [0.8, count + 0.8], fmt, thresholds, fraction)
    figure["layout"]["xaxis"] |= {"tick0": 1, "dtick": 1 + count // 11}
    return figure


def _hover(fmt: UnitFormatter, at: str) -> str:
    return at + ": %{y:.0f} " + fmt.unit("temperature")


def _figure(
    data: list[dict[str, Any]],
    title: str,
    ends: list[float],
    fmt: UnitFormatter,
    thresholds: NDArray[np.float64],
    fraction: NDArray[np.float64],
) -> dict[str, Any]:
    shapes, notes = [], []
    highest = max(float(np.max(trace["y"])) for trace in data)
    for row, part in enumerate(HEATED_PARTS):
        if np.isfinite(thresholds[row]) and fraction[row] > 0.55:
            level = float(fmt.number("temperature", thresholds[row]))
            highest = max(highest, level)
            shapes.append(parts.level(level, colour=LOOKS[part]["colour"], dash="dot"))
            what = "pack cuts out" if part == "pack" else f"{part} cuts power"
            notes.append(parts.level_name(f"{what}, {fmt('temperature', thresholds[row])}", level, left=True))
    lowest = min(float(np.min(trace["y"])) for trace in data)
    room = 0.08 * max(highest - lowest, 5.0)
    return {
        "data": data,
        "layout": {
            **parts.LAYOUT,
            "xaxis": parts.axis(title, range=ends),
            "yaxis": parts.axis(
                f"temperature, {fmt.unit('temperature')}", range=[lowest - room, highest + 2 * room]
            ),
            "shapes": shapes,
            "annotations": notes,
            "uirevision": f"heat {title} {ends}",
        },
    }
