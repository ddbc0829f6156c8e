"""Charge headroom: the volts below full that are needed, against regen current and against temperature."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from explorer.charts import parts
from explorer.format import UnitFormatter
from physics.studies.headroom_curves import HeadroomAnswer

HEIGHT = 340


def against_current(answer: HeadroomAnswer, regen: float, wanted: float, fmt: UnitFormatter) -> dict[str, Any]:
    """Volts below full against regen current, at today's pack temperature.

    Parameters
    ----------
    answer : HeadroomAnswer
        The curves.
    regen : float, A
        The build's regen current.
    wanted : float, V
        The headroom the rider plans.
    fmt : UnitFormatter
        The rider's units.
    """
    where = f"at {fmt('temperature', answer.pack_temperature)}"
    figure = _figure(
        answer.current,
        answer.volts_by_current,
        "regen current, A",
        hover="%{x:.0f} A " + where,
        x_now=regen,
        needed=_needed(answer),
        wanted=wanted,
        name="needed with today's pack",
        key=f"current {answer.current[-1]:g}",
    )
    if not np.isfinite(answer.volts_by_current).any():
        low, high = figure["layout"]["xaxis"]["range"]
        figure["layout"]["shapes"].append(_closed(low, high))
        figure["layout"]["annotations"].append(_closed_words((low + high) / 2, f"no regen {where}"))
    return figure


def against_temperature(answer: HeadroomAnswer, regen: float, wanted: float, fmt: UnitFormatter) -> dict[str, Any]:
    """Volts below full against pack temperature, at the build's regen current."""
    unit = fmt.unit("temperature")
    figure = _figure(
        fmt.number("temperature", answer.temperature),
        answer.volts_by_temperature,
        f"pack temperature, {unit}",
        hover=f"{fmt('current', regen)} at %{{x:.0f}} {unit}",
        x_now=float(fmt.number("temperature", answer.pack_temperature)),
        needed=_needed(answer),
        wanted=wanted,
        name="needed with your regen",
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


def _needed(answer: HeadroomAnswer) -> float:
    return float(answer.today.volts_below_full) if answer.today.allowed else float("nan")


def _figure(
    x: NDArray[np.float64],
    volts: NDArray[np.float64],
    title: str,
    *,
    hover: str,
    x_now: float,
    needed: float,
    wanted: float,
    name: str,
    key: str,
) -> dict[str, Any]:
    highest = float(np.nanmax([*volts[np.isfinite(volts)], wanted, 1.0]))
    data = [
        parts.line(x, volts, name, "@blue", hover=hover + ": %{y:.1f} V below full", **parts.PLAIN),
        _point(x_now, wanted, "your plan", "@amber", "square", "%{y:.1f} V planned"),
    ]
    if np.isfinite(needed):
        data.append(_point(x_now, needed, "needed today", "@blue", "diamond", "%{y:.1f} V needed"))
    return {
        "data": data,
        "layout": {
            "margin": parts.MARGIN,
            "hovermode": "closest",
            "legend": parts.LEGEND,
            "xaxis": parts.axis(title, range=[float(x[0]), float(x[-1])]),
            "yaxis": parts.axis("volts below full, V", range=parts.steady(0, 1.08 * highest, steps=4)),
            "shapes": [parts.level(wanted, colour="@amber", dash="dash")],
            "annotations": [],
            "uirevision": f"headroom {key}",
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
