"""How sure: the likely band of one curve, and how much of the doubt each unknown brings."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from explorer.charts import parts

HEIGHT = 360
_ROW, _ROOM = 30, 90


def band(
    time: ArrayLike,
    low: ArrayLike,
    middle: ArrayLike,
    high: ArrayLike,
    now_time: ArrayLike,
    now: ArrayLike,
    title: str,
    unit: str,
) -> dict[str, Any]:
    """One curve's band over the time of the run, with the run itself.

    Parameters
    ----------
    time, low, middle, high : array, shape (t,)
        Seconds, and the band in the rider's unit.
    now_time, now : array
        The run as it is predicted.
    title, unit : str
        What is drawn.
    """
    hover = "%{x:.1f} s: %{y:.4~g} " + unit
    axis, lower, centre, upper = parts.thinned(time, low, middle, high)
    x, y = parts.thinned(now_time, now)
    data = [
        *parts.between(axis, lower, upper, "nine in ten", "@blue/0.28"),
        parts.line(axis, centre, "middle", "@muted", hover=hover, **parts.FAINT),
        parts.line(x, y, "this build", "@blue", hover=hover, **parts.PLAIN),
    ]
    layout = {
        **parts.LAYOUT,
        "xaxis": parts.axis("time, s", range=[0, float(axis[-1])]),
        "yaxis": parts.axis(f"{title}, {unit}"),
        "uirevision": f"sure {title} {unit} {axis[-1]:g}",
    }
    return {"data": data, "layout": layout}


def doubt_height(count: int) -> int:
    """Height of the chart of doubt, in pixels."""
    return _ROW * count + _ROOM


def doubt(names: Sequence[str], first: ArrayLike, low: ArrayLike, high: ArrayLike, title: str) -> dict[str, Any]:
    """How much of the variance of an outcome each unknown brings, the largest on top.

    Parameters
    ----------
    names : sequence of str
        Of the unknowns.
    first, low, high : array
        First-order indices and their intervals, 0 to 1.
    title : str
        What is in doubt.
    """
    percent, lower, upper = (100 * np.clip(np.asarray(values, dtype=float), 0, 1) for values in (first, low, high))
    order = np.argsort(-percent, kind="stable").tolist()
    names = [names[index] for index in order]
    percent, lower, upper = percent[order], lower[order], upper[order]
    data = [
        {
            "type": "bar",
            "orientation": "h",
            "y": names,
            "x": percent,
            "showlegend": False,
            "marker": {"color": "@blue/0.35", "line": {"color": "@blue", "width": 1.2}},
            "error_x": {
                "type": "data",
                "symmetric": False,
                "array": np.maximum(upper - percent, 0),
                "arrayminus": np.maximum(percent - lower, 0),
                "color": "@text",
                "thickness": 1.2,
                "width": 4,
            },
            "hovertemplate": "%{y}: %{x:.0f} %<extra></extra>",
        }
    ]
    layout = {
        "margin": {"l": 8, "r": 30, "t": 36, "b": 44},
        "title": {"text": title, "x": 0, "xanchor": "left", "xref": "container", "font": {"size": 14}},
        "bargap": 0.3,
        "hovermode": "closest",
        "xaxis": parts.axis(
            "share of the uncertainty, %", range=[0, float(min(100, 1.1 * upper.max(initial=10)))], fixedrange=True
        ),
        "yaxis": {
            "automargin": True,
            "fixedrange": True,
            "categoryorder": "array",
            "categoryarray": names[::-1],
            "showgrid": False,
        },
        "uirevision": "shares",
    }
    return {"data": data, "layout": layout}
