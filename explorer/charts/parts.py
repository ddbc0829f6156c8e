"""Pieces the charts share. Figures are plain dicts; colours are tokens of the palette."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

MARGIN = {"l": 58, "r": 18, "t": 34, "b": 44}
"""The same for charts over time, so that their time axes stand under each other."""
LEGEND = {"orientation": "h", "x": 0, "y": 1.01, "yanchor": "bottom", "traceorder": "normal"}
LAYOUT: dict[str, Any] = {"margin": MARGIN, "hovermode": "closest", "legend": LEGEND}
"""What the layouts of most charts begin with."""
MOST_POINTS = 500

PLAIN: dict[str, Any] = {"dash": "solid", "width": 2.6}
FAINT: dict[str, Any] = {"dash": "dot", "width": 1.6}
RULE_LOOKS: dict[str, dict[str, Any]] = {
    "continuous current": {"colour": "@amber", "dash": "solid"},
    "timed over-current": {"colour": "@amber", "dash": "dashdot"},
    "fast over-current": {"colour": "@violet", "dash": "dash"},
    "under-voltage": {"colour": "@blue", "dash": "longdash"},
    "pack temperature": {"colour": "@brick", "dash": "dot"},
}
"""Colour and dash of each rule of the protection, the same in every chart."""


def line(
    x: ArrayLike,
    y: ArrayLike,
    name: str,
    colour: str,
    *,
    hover: str,
    dash: str = "solid",
    width: float = 2.4,
    **more: Any,
) -> dict[str, Any]:
    """One line of a chart.

    Parameters
    ----------
    x, y : array
        Numbers in the rider's units.
    name : str
        For legend and hover.
    colour : str
        A token such as "@blue".
    hover : str
        Plotly hover template, without the trailing box.
    dash, width : str, float
        The line's look: the second cue beside its colour.
    **more
        Other trace attributes.
    """
    trace: dict[str, Any] = {
        "type": "scatter",
        "mode": "lines",
        "x": np.asarray(x, dtype=float),
        "y": np.asarray(y, dtype=float),
        "name": name,
        "line": {"color": colour, "dash": dash, "width": width},
        "hovertemplate": hover + "<extra>" + name + "</extra>",
    }
    return trace | more


def points(
    x: ArrayLike, y: ArrayLike, name: str, colour: str, symbol: str, *, hover: str, size: int = 11, **more: Any
) -> dict[str, Any]:
    """Single points of a chart, told apart by symbol and colour; the `hover` template brings its own box."""
    return {
        "type": "scatter",
        "mode": "markers",
        "x": np.asarray(x, dtype=float),
        "y": np.asarray(y, dtype=float),
        "name": name,
        "marker": {
            "symbol": symbol,
            "size": size,
            "color": colour,
            "line": {"color": "@background", "width": 1.5},
        },
        "hovertemplate": hover,
        "cliponaxis": False,
    } | more


def between(
    x: ArrayLike, low: ArrayLike, high: ArrayLike, name: str, colour: str, **more: Any
) -> list[dict[str, Any]]:
    """A band between two lines, as two traces; its legend entry is the second's."""
    base: dict[str, Any] = {
        "type": "scatter",
        "mode": "lines",
        "x": np.asarray(x, dtype=float),
        "hoverinfo": "skip",
    }
    base |= more
    nothing = {"width": 0}
    return [
        base | {"y": np.asarray(low, dtype=float), "line": nothing, "showlegend": False},
        base
        | {
            "y": np.asarray(high, dtype=float),
            "line": nothing,
            "fill": "tonexty",
            "fillcolor": colour,
            "name": name,
            "showlegend": bool(name),
        },
    ]


def area(x: ArrayLike, low: ArrayLike, high: ArrayLike, colour: str) -> dict[str, Any]:
    """What lies between two lines that are drawn themselves: shaded, in one trace, with no entry in the legend."""
    x, low, high = (np.asarray(values, dtype=float) for values in (x, low, high))
    return {
        "type": "scatter",
        "mode": "lines",
        "x": np.r_[x, x[::-1]],
        "y": np.r_[low, high[::-1]],
        "name": "",
        "line": {"width": 0},
        "fill": "toself",
        "fillcolor": colour,
        "hoverinfo": "skip",
        "showlegend": False,
    }


def level(y: float, *, colour: str, dash: str = "dash", yref: str = "y", width: float = 1.4) -> dict[str, Any]:
    """A level drawn across the whole chart, as a shape."""
    return {
        "type": "line",
        "xref": "paper",
        "x0": 0,
        "x1": 1,
        "yref": yref,
        "y0": float(y),
        "y1": float(y),
        "line": {"color": colour, "dash": dash, "width": width},
    }


def level_name(text: str, y: float, *, yref: str = "y", above: bool = True, left: bool = False) -> dict[str, Any]:
    """The words that stand at a level, at its right or left end."""
    return {
        "xref": "paper",
        "x": 0.0 if left else 1.0,
        "xanchor": "left" if left else "right",
        "yref": yref,
        "y": float(y),
        "yanchor": "bottom" if above else "top",
        "text": text,
        "showarrow": False,
        "xshift": 4 if left else -2,
        "font": {"size": 12, "color": "@muted"},
    }


def event(
    x: float, text: str, *, colour: str = "@text", end: float | None = None, late: float = 0.85
) -> tuple[dict[str, Any], dict[str, Any]]:
    """An event marked across the whole height of a chart: its shape and its words.

    The words stand after it; before it where it is beyond a share `late` of the axis, whose end is `end`.
    """
    before = end is not None and x > late * end
    shape = {
        "type": "line",
        "xref": "x",
        "x0": float(x),
        "x1": float(x),
        "yref": "paper",
        "y0": 0,
        "y1": 1,
        "line": {"color": colour, "dash": "longdashdot", "width": 1.6},
    }
    words = {
        "xref": "x",
        "x": float(x),
        "xanchor": "right" if before else "left",
        "xshift": -5 if before else 5,
        "yref": "paper",
        "y": 1.0,
        "yanchor": "top",
        "text": text,
        "showarrow": False,
        "font": {"size": 12, "color": "@text"},
    }
    return shape, words


def axis(title: str = "", **more: Any) -> dict[str, Any]:
    """One axis."""
    return ({"title": {"text": title}} if title else {}) | more


def steady(low: float, high: float, steps: int = 8) -> list[float]:
    """The range of an axis that holds low and high, from one round number to another.

    Small changes leave it as it is: a line is then seen to move while a slider is held, rather than its axis, and
    a browser is spared drawing the axis anew.

    Parameters
    ----------
    low, high : float
        What must be inside, with whatever room it needs; high above low.
    steps : int
        How many steps there are at least from low to high. Fewer stand still for longer.

    Returns
    -------
    list of float
        Both ends, on steps of 1, 2 or 5 times a power of ten.

    Examples
    --------
    >>> steady(0.0, 137.2), steady(66.3, 84.9)
    ([0.0, 140.0], [66.0, 86.0])
    """
    size = 10.0 ** np.floor(np.log10((high - low) / steps))
    step = size * max(each for each in (1, 2, 5) if each * size <= (high - low) / steps)
    return [float(np.floor(low / step) * step), float(np.ceil(high / step) * step)]


_LARGE = 18
_THICKER = 1.4


def large(figure: dict[str, Any]) -> dict[str, Any]:
    """The same figure to be read from the back of a room: every letter of 18 pixels, lines and marks thicker."""
    data, layout = [], dict(figure["layout"])
    for trace in figure["data"]:
        changes: dict[str, Any] = {}
        if trace["type"] == "scatter" and "line" in trace:
            changes["line"] = trace["line"] | {"width": _THICKER * trace["line"]["width"]}
        if trace["type"] == "bar":
            changes["textfont"] = trace["textfont"] | {"size": _LARGE}
        data.append(trace | changes)
    font = {"size": _LARGE}
    for name, part in layout.items():
        if name.startswith(("xaxis", "yaxis")):
            title = {"title": part["title"] | {"font": font}} if "title" in part else {}
            layout[name] = part | title | {"tickfont": font}
    if "uniformtext" in layout:
        layout["uniformtext"] = layout["uniformtext"] | {"minsize": _LARGE}
    layout["annotations"] = [note | {"font": note.get("font", {}) | font} for note in layout.get("annotations", [])]
    margin = {side: round(_THICKER * room) for side, room in layout["margin"].items()}
    return {"data": data, "layout": layout | {"font": font, "margin": margin, "hoverlabel": {"font": font}}}


def thinned(*arrays: ArrayLike, keep: Iterable[int] = ()) -> list[NDArray[Any]]:
    """At most MOST_POINTS entries, the same of several arrays along their last axis, always with both ends.

    Parameters
    ----------
    *arrays : array, shape (t,)
        Arrays of one length.
    keep : iterable of int
        Indices that must stay, such as where something happens.
    """
    whole = [np.asarray(array) for array in arrays]
    count = whole[0].shape[-1]
    if count <= MOST_POINTS:
        return whole
    indices = np.linspace(0, count - 1, MOST_POINTS).round().astype(int)
    indices = np.union1d(indices, np.asarray(list(keep), dtype=int))
    return [array[indices] for array in whole]
