"""Charge headroom: how far below full is needed, against regen current and against temperature.

In volts, or in charge where a chemistry's rest voltage is flat.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from explorer.charts import parts
from explorer.format import UnitFormatter
from explorer.page.regen import FLAT
from physics.build import Build
from physics.studies.headroom_curves import REGEN, HeadroomAnswer

HEIGHT = 340


def against_current(answer: HeadroomAnswer, build: Build, wanted: float, fmt: UnitFormatter) -> dict[str, Any]:
    """How far below full against regen current, at today's pack temperature.

    Parameters
    ----------
    answer : HeadroomAnswer
        The curves.
    build : Build
        Whose pack and regen current.
    wanted : float, V
        The headroom the rider plans.
    fmt : UnitFormatter
        The rider's units.
    """
    where = f"at {fmt('temperature', answer.pack_temperature)}"
    flat = build.pack.chemistry in FLAT
    figure = _figure(
        answer.current,
        100.0 * answer.charge_by_current if flat else answer.volts_by_current,
        "regen current, A",
        flat=flat,
        hover="%{x:.0f} A " + where,
        x_now=float(answer.today.current if answer.today.allowed else build.controller.regen_current),
        needed=_needed(answer, flat),
        wanted=wanted,
        name="needed at today's temperature",
        key=f"current {answer.current[-1]:g}",
    )
    layout = figure["layout"]
    low, high = layout["xaxis"]["range"]
    if not np.isfinite(answer.volts_by_current).any():
        layout["shapes"].append(_closed(low, high))
        layout["annotations"].append(_closed_words((low + high) / 2, f"no regen {where}"))
    elif high - answer.allowed_current > 0.02 * (high - low):
        layout["shapes"].append(_closed(answer.allowed_current, high))
        if high - answer.allowed_current > 0.2 * (high - low):
            middle = (answer.allowed_current + high) / 2
            layout["annotations"].append(_closed_words(middle, "more than<br>the cells take"))
    return figure


def against_temperature(answer: HeadroomAnswer, build: Build, wanted: float, fmt: UnitFormatter) -> dict[str, Any]:
    """How far below full against pack temperature, at the build's regen current or what the cells take of it."""
    unit, flat = fmt.unit("temperature"), build.pack.chemistry in FLAT
    regen = fmt("current", build.controller.regen_current)
    figure = _figure(
        fmt.number("temperature", answer.temperature),
        100.0 * answer.charge_by_temperature if flat else answer.volts_by_temperature,
        f"pack temperature, {unit}",
        flat=flat,
        hover=f"at %{{x:.0f}} {unit}, {regen} or what the cells take",
        x_now=float(fmt.number("temperature", answer.pack_temperature)),
        needed=_needed(answer, flat),
        wanted=wanted,
        name="needed for your regen" if answer.current_limit == REGEN else "needed for what the cells take",
        key=f"temperature {unit}",
    )
    layout = figure["layout"]
    low, high = layout["xaxis"]["range"]
    closed = (
        (low, fmt.number("temperature", answer.floor), "too cold"),
        (fmt.number("temperature", answer.ceiling), high, "too hot"),
    )
    for start, end, reason in closed:
        if end - start > 0.02 * (high - low):
            layout["shapes"].append(_closed(float(start), float(end)))
            layout["annotations"].append(_closed_words(float(start + end) / 2, f"no regen:<br>{reason}"))
    return figure


def _needed(answer: HeadroomAnswer, flat: bool) -> float:
    today = answer.today
    if not today.allowed:
        return float("nan")
    return 100.0 * float(today.charge_below_full) if flat else float(today.volts_below_full)


def _figure(
    x: NDArray[np.float64],
    below: NDArray[np.float64],
    title: str,
    *,
    flat: bool,
    hover: str,
    x_now: float,
    needed: float,
    wanted: float,
    name: str,
    key: str,
) -> dict[str, Any]:
    unit, digits = ("%", 0) if flat else ("V", 1)
    highest = float(np.nanmax([*below[np.isfinite(below)], needed, 1.0 if flat else wanted, 1.0]))
    written = f"%{{y:.{digits}f}} {unit}"
    data = [parts.line(x, below, name, "@blue", hover=f"{hover}: {written} below full", **parts.PLAIN)]
    if not flat:
        data.append(_point(x_now, wanted, "your plan", "@amber", "square", f"{written} planned"))
    if np.isfinite(needed):
        data.append(_point(x_now, needed, "needed today", "@blue", "diamond", f"{written} needed"))
    axis = "charge below full, %" if flat else "volts below full, V"
    return {
        "data": data,
        "layout": {
            **parts.LAYOUT,
            "xaxis": parts.axis(title, range=[float(x[0]), float(x[-1])]),
            "yaxis": parts.axis(axis, range=parts.steady(0, 1.08 * highest, steps=4)),
            "shapes": [] if flat else [parts.level(wanted, colour="@amber", dash="dash")],
            "annotations": [],
            "uirevision": f"headroom {key} {unit}",
        },
    }


def _point(x: float, y: float, name: str, colour: str, symbol: str, hover: str) -> dict[str, Any]:
    return parts.points([x], [y], name, colour, symbol, hover=f"{hover}<extra>{name}</extra>")


def _closed(start: float, end: float) -> dict[str, Any]:
    return {
        "type": "rect",
        "xref": "x",
        "x0": start,
        "x1": end,
        "yref": "paper",
        "y0": 0,
        "y1": 1,
        "layer": "below",
        "line": {"width": 0},
        "fillcolor": "@brick/0.14",
    }


def _closed_words(x: float, text: str) -> dict[str, Any]:
    return {
        "xref": "x",
        "x": x,
        "xanchor": "center",
        "yref": "paper",
        "y": 0.96,
        "yanchor": "top",
        "text": text,
        "showarrow": False,
        "font": {"size": 12, "color": "@text"},
    }
