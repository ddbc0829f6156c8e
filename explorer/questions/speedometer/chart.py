"""Indicated against true speed: the legal band, the readings, and where the display stands. No Streamlit."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from explorer.charts import parts
from explorer.format import UnitFormatter
from physics.studies.legal_speed import approval_test_speeds, legal_band

HEIGHT = 440


def figure(
    indicated: Sequence[float],
    measured: Sequence[float],
    disagrees: Sequence[bool],
    ratio: float,
    top_speed: float,
    vehicle_class: str,
    fmt: UnitFormatter,
) -> dict[str, Any]:
    """The chart.

    Parameters
    ----------
    indicated, measured : sequence of float, m/s
        The readings.
    disagrees : sequence of bool
        Which of them are flagged.
    ratio : float
        Measured over indicated speed of the display as it is set; NaN where it is not known.
    top_speed : float, m/s
        Of the build.
    vehicle_class : str
        For the band.
    fmt : UnitFormatter
        The rider's units.
    """
    shown, true = np.asarray(indicated, dtype=float), np.asarray(measured, dtype=float)
    unit = fmt.unit("speed")
    end = 1.12 * max([top_speed, *shown, *true])
    axis = np.linspace(0.0, end, 61)
    low, high = legal_band(axis, vehicle_class)

    def number(values: ArrayLike) -> Any:
        return fmt.number("speed", np.asarray(values, dtype=float))

    hover = "true %{x:.1f}, shows %{y:.1f} " + unit
    data: list[dict[str, Any]] = [
        *parts.between(number(axis), number(low), number(high), "what the regulation allows", "@teal/0.28"),
        parts.line(number(axis), number(low), "shows the true speed", "@text", hover=hover, dash="dot", width=1.4),
        parts.line(
            number(axis),
            number(high),
            "the most it may show",
            "@teal",
            hover=hover,
            dash="longdash",
            width=1.4,
            showlegend=False,
        ),
    ]
    if np.isfinite(ratio) and ratio > 0:
        data.append(parts.line(number(axis), number(axis / ratio), "your display now", "@blue", hover=hover))
    flags = np.asarray(disagrees, dtype=bool)
    for chosen, name, symbol, colour in (
        (~flags, "readings", "circle", "@blue"),
        (flags, "outlier, left out", "x", "@brick"),
    ):
        if chosen.any():
            data.append(_points(number(true[chosen]), number(shown[chosen]), name, symbol, colour, hover))
    tests = np.array(approval_test_speeds(max(top_speed, 3.0)))
    data.append(
        _points(
            number(tests),
            number(legal_band(tests, vehicle_class)[1]),
            "test speeds",
            "line-ew-open",
            "@teal",
            "tested at %{x:.0f}: at most %{y:.1f} " + unit,
        )
    )
    reach = [0, float(number(end))]
    layout = {
        "margin": {"l": 58, "r": 18, "t": 58, "b": 48},
        "hovermode": "closest",
        "legend": parts.LEGEND,
        "xaxis": parts.axis(f"true speed, {unit}", range=reach),
        "yaxis": parts.axis(f"indicated speed, {unit}", range=[0, float(number(legal_band(end)[1]))]),
        "uirevision": f"speedometer {unit} {reach[1]:.0f}",
    }
    return {"data": data, "layout": layout}


def _points(x: ArrayLike, y: ArrayLike, name: str, symbol: str, colour: str, hover: str) -> dict[str, Any]:
    open_symbol = symbol.endswith("-open")
    return {
        "type": "scatter",
        "mode": "markers",
        "x": np.atleast_1d(x),
        "y": np.atleast_1d(y),
        "name": name,
        "marker": {
            "symbol": symbol,
            "size": 16 if open_symbol else 11,
            "color": colour,
            "line": {"color": colour if open_symbol else "@background", "width": 2 if open_symbol else 1.5},
        },
        "hovertemplate": hover + "<extra>" + name + "</extra>",
    }
