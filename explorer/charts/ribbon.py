"""The ribbon under the run: which limit holds at each moment, told by words, by pattern and by colour."""

from __future__ import annotations

from typing import Any

import numpy as np

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
    "low voltage foldback": ("amber", "-"),
    "speed cap": ("violet", "|"),
    "cut-out": ("text", ""),
}


def stretches(time, limit, since=None) -> list[tuple[int, float, float]]:
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
    time, limit = np.asarray(time, dtype=float), np.asarray(limit, dtype=int)
    starts = np.flatnonzero(np.r_[True, np.diff(limit) != 0])
    since = time if since is None else np.asarray(since, dtype=float)
    edges = np.r_[time[0], np.clip(since[starts[1:]], time[starts[1:] - 1], time[starts[1:]]), time[-1]]
    return [
        (int(limit[start]), float(edges[place]), float(edges[place + 1]))
        for place, start in enumerate(starts)
        if edges[place + 1] > edges[place]
    ]


def longer_stretches(time, limit, since=None, shortest: float = 0.01) -> list[tuple[int, float, float]]:
    """The same, with those shorter than a share of the whole given to the one before."""
    found: list[tuple[int, float, float]] = []
    all_of_them = stretches(time, limit, since)
    whole = all_of_them[-1][2] - all_of_them[0][1] if all_of_them else 0.0
    for kind, start, end in all_of_them:
        if found and (found[-1][0] == kind or end - start < shortest * whole):
            found[-1] = (found[-1][0], found[-1][1], end)
        else:
            found.append((kind, start, end))
    return found


NAME = "what holds it back"
_TEXT_SIZE = 12
ONE_SIZE = {"minsize": _TEXT_SIZE, "mode": "hide"}
"""For a layout: names that do not fit their stretch are left out, never drawn smaller."""


def trace(time, limit, since=None, *, name: str = NAME, xaxis: str = "x", yaxis: str = "y2") -> dict[str, Any]:
    """The ribbon: one bar for each stretch, all in one trace, since a browser's work grows with the traces."""
    found = stretches(time, limit, since)
    names = [LIMITS[kind] for kind, _, _ in found]
    looks = [LOOKS[limit] for limit in names]
    return {
        "type": "bar",
        "orientation": "h",
        "y": [""] * len(found),
        "base": [start for _, start, _ in found],
        "x": [end - start for _, start, end in found],
        "width": 0.9,
        "name": name,
        "meta": {"texts": True},
        "text": names,
        "textposition": "inside",
        "insidetextanchor": "middle",
        "textangle": 0,
        "textfont": {"color": "@text", "size": _TEXT_SIZE},
        "customdata": [[start, end] for _, start, end in found],
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
