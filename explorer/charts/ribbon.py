"""The ribbon under the run: which limit holds at each moment, told by words, by pattern and by colour."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from physics.limits import LIMITS

# limit: colour token, pattern
LOOKS = {
    "throttle": ("muted", ""),
    "phase current": ("blue", "/"),
    "line current": ("amber", "\\"),
    "voltage": ("teal", "."),
    "field weakening": ("violet", "x"),
    "front wheel": ("brick", "-"),
    "rear grip": ("olive", "|"),
    "winding heat": ("brick", "+"),
    "controller heat": ("olive", "x"),
    "low-voltage cutback": ("amber", "-"),
    "speed cap": ("violet", "|"),
    "cut-out": ("text", ""),
}


def stretches(time: ArrayLike, limit: ArrayLike, since: ArrayLike | None = None) -> list[tuple[int, float, float]]:
    """The stretches of a run over which one limit holds.

    Parameters
    ----------
    time : array, shape (t,), s
        Instants.
    limit : array of int, shape (t,)
        Place in LIMITS that holds from each instant on.
    since : array, shape (t,), s, optional
        Since when it has held, which may lie between two instants.

    Returns
    -------
    list of (int, float, float)
        Limit, start and end in seconds; in order, without gaps.

    Examples
    --------
    >>> stretches([0.0, 1.0, 2.0, 3.0], [1, 1, 2, 2])
    [(1, 0.0, 2.0), (2, 2.0, 3.0)]
    """
    times, limits = np.asarray(time, dtype=float), np.asarray(limit, dtype=int)
    starts = np.flatnonzero(np.r_[True, np.diff(limits) != 0])
    changes = starts[1:]
    held_since = times if since is None else np.asarray(since, dtype=float)
    edges = np.r_[times[0], np.clip(held_since[changes], times[changes - 1], times[changes]), times[-1]]
    return [
        (int(limits[first]), float(start), float(end))
        for first, start, end in zip(starts, edges[:-1], edges[1:], strict=True)
        if end > start
    ]


def longer_stretches(
    time: ArrayLike, limit: ArrayLike, since: ArrayLike | None = None, shortest: float = 0.01
) -> list[tuple[int, float, float]]:
    """The same, with those shorter than a fraction of the whole given to the one before."""
    longer: list[tuple[int, float, float]] = []
    every = stretches(time, limit, since)
    whole = every[-1][2] - every[0][1] if every else 0.0
    for kind, start, end in every:
        if longer and (longer[-1][0] == kind or end - start < shortest * whole):
            longer[-1] = (longer[-1][0], longer[-1][1], end)
        else:
            longer.append((kind, start, end))
    return longer


NAME = "what holds it back"
_TEXT_SIZE = 12
ONE_SIZE = {"minsize": _TEXT_SIZE, "mode": "hide"}
"""For a layout: names that do not fit their stretch are left out, never drawn smaller."""


def trace(
    time: ArrayLike,
    limit: ArrayLike,
    since: ArrayLike | None = None,
    *,
    name: str = NAME,
    xaxis: str = "x",
    yaxis: str = "y2",
) -> dict[str, Any]:
    """The ribbon: one bar for each stretch, all in one trace, since a browser's work grows with the traces."""
    bars = stretches(time, limit, since)
    names = [LIMITS[kind] for kind, _, _ in bars]
    looks = [LOOKS[limit] for limit in names]
    return {
        "type": "bar",
        "orientation": "h",
        "y": [""] * len(bars),
        "base": [start for _, start, _ in bars],
        "x": [end - start for _, start, end in bars],
        "width": 0.9,
        "name": name,
        "meta": {"texts": True},
        "text": names,
        "textposition": "inside",
        "insidetextanchor": "middle",
        "textangle": 0,
        "textfont": {"color": "@text", "size": _TEXT_SIZE},
        "customdata": [[start, end] for _, start, end in bars],
        "hovertemplate": "%{text}: %{customdata[0]:.1f} to %{customdata[1]:.1f} s<extra></extra>",
        "marker": {
            "color": [f"@{colour}/{0.45 if pattern else 0.16}" for colour, pattern in looks],  # of pattern or bar
            "line": {"color": [f"@{colour}" for colour, _ in looks], "width": 1.2},
            "pattern": {"shape": [pattern for _, pattern in looks], "size": 7, "solidity": 0.12},
        },
        "showlegend": False,
        "xaxis": xaxis,
        "yaxis": yaxis,
    }
