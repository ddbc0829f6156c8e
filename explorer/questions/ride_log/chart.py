"""A ride log: its parts, a pull with its prediction, and the residuals of a fit. No Streamlit."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from explorer.charts import parts
from explorer.format import UnitFormatter
from physics.ridelog.reader import RideLog
from physics.ridelog.segments import Segment
from physics.ridelog.track import Track

RIDE_HEIGHT, SPEEDS_HEIGHT, PULL_HEIGHT, RESIDUAL_HEIGHT = 330, 220, 560, 260
MOST_READINGS = 150
"""Of a pull, so that lines can still be seen."""
_LOOKS = {
    "pull": ("@blue", "solid", 3.0),
    "coast-down": ("@amber", "dash", 3.0),
    "steady": ("@violet", "dot", 3.4),
    "standstill": ("@teal", "longdashdot", 3.0),
}
_PANELS = (
    ("speed", "speed", (0.60, 1.0)),
    ("pack_voltage", "voltage", (0.31, 0.55)),
    ("line_current", "current", (0.0, 0.26)),
)
_NAMES = {"speed": "speed", "pack_voltage": "voltage", "line_current": "line current"}


def whole_ride(
    log: RideLog, segments: Sequence[Segment], chosen: Sequence[bool], fmt: UnitFormatter
) -> dict[str, Any]:
    """Speed over the ride, its parts drawn over it; those left out stay thin.

    Parameters
    ----------
    log : RideLog
        With speed.
    segments : sequence of Segment
        All of them.
    chosen : sequence of bool
        Which of them are used.
    fmt : UnitFormatter
        The rider's units.
    """
    time, speed = log.column("time"), fmt.number("speed", log.column("speed"))
    unit = fmt.unit("speed")
    hover = "%{x:.1f} s: %{y:.1f} " + unit
    x, y = parts.thinned(time, speed)
    data = [parts.line(x, y, "the log", "@muted", hover=hover, width=1.2)]
    for kind, (colour, dash, width) in _LOOKS.items():
        times: list[float] = []
        speeds: list[float] = []
        for segment, used in zip(segments, chosen, strict=True):
            if segment.kind == kind and used:
                rows = slice(segment.first, segment.last)
                a, b = parts.thinned(time[rows], speed[rows])
                step = max(1, a.size // 80)
                times += [*a[::step], np.nan]
                speeds += [*b[::step], np.nan]
        if times:
            data.append(parts.line(times, speeds, kind, colour, hover=hover, dash=dash, width=width))
    layout = {
        **parts.LAYOUT,
        "xaxis": parts.axis("time, s", range=[0, float(time[-1])]),
        "yaxis": parts.axis(f"speed, {unit}", rangemode="tozero"),
        "uirevision": f"ride {time[-1]:.1f} {unit}",
    }
    return {"data": data, "layout": layout}


def speeds(track: Track, fmt: UnitFormatter) -> dict[str, Any]:
    """How long each speed was ridden.

    Parameters
    ----------
    track : Track
        The ride by its speed.
    fmt : UnitFormatter
        The rider's units.
    """
    edges, unit = fmt.number("speed", track.bin_edges), fmt.unit("speed")
    data = [
        {
            "type": "bar",
            "x": 0.5 * (edges[1:] + edges[:-1]),
            "y": track.bin_times / 60.0,
            "width": np.diff(edges),
            "marker": {"color": "@blue", "line": {"color": "@paper", "width": 1}},
            "hovertemplate": f"about %{{x:.0f}} {unit}: %{{y:.1f}} min<extra></extra>",
            "showlegend": False,
        }
    ]
    layout = {
        "margin": parts.MARGIN,
        "xaxis": parts.axis(f"speed, {unit}", range=[0.0, float(edges[-1])]),
        "yaxis": parts.axis("time, min", rangemode="tozero"),
        "uirevision": f"speeds {track.duration:.1f} {unit}",
    }
    return {"data": data, "layout": layout}


def pull(
    log: RideLog,
    segment: Segment,
    runs: Sequence[tuple[np.ndarray, ...]],
    shifts: Sequence[float],
    names: Sequence[str],
    fmt: UnitFormatter,
) -> dict[str, Any]:
    """One pull: speed, voltage and line current of the log, and what was predicted.

    Parameters
    ----------
    log : RideLog
        The log.
    segment : Segment
        The pull.
    runs : sequence of (time, speed, voltage, current)
        Predictions from the start of the pull.
    shifts : sequence of float, s
        When each begins after the segment's start.
    names : sequence of str
        What each is.
    fmt : UnitFormatter
        The rider's units.
    """
    t = log.column("time")
    rows = (t >= segment.start - 1.0) & (t <= segment.end + 3.0)
    clock = t[rows] - segment.start
    looks = (("@blue", "solid", 2.4), ("@amber", "dash", 2.4))
    data: list[dict[str, Any]] = []
    ends = [float(clock[0]), float(clock[-1])]
    layout: dict[str, Any] = {
        **parts.LAYOUT,
        "uirevision": f"pull {segment.start:.1f} {fmt.unit('speed')}",
    }
    for panel, (name, quantity, domain) in enumerate(_PANELS, start=1):
        number = "" if panel == 1 else str(panel)
        unit = fmt.unit(quantity)
        hover = f"%{{x:.1f}} s: %{{y:.1f}} {unit}"
        axes = {"xaxis": f"x{number}", "yaxis": f"y{number}", "showlegend": panel == 1}
        step = max(1, clock.size // MOST_READINGS)
        x, y = clock[::step], fmt.number(quantity, log.column(name)[rows])[::step]
        data.append(
            {
                "type": "scatter",
                "mode": "markers",
                "x": x,
                "y": y,
                "name": "the log",
                "marker": {"symbol": "circle", "size": 4, "color": "@muted"},
                "hovertemplate": hover + "<extra>the log</extra>",
            }
            | axes
        )
        for (time, *values), shift, label, (colour, dash, width) in zip(runs, shifts, names, looks, strict=False):
            inside = time + shift <= ends[1]
            x, y = parts.thinned((time + shift)[inside], fmt.number(quantity, values[panel - 1])[inside])
            line = parts.line(x, y, label, colour, hover=hover, dash=dash, width=width)
            data.append(line | axes | {"legendgroup": label})
        layout[f"xaxis{number}"] = parts.axis(
            "time since the pull began, s" if panel == 3 else "",
            range=ends,
            anchor=f"y{number}",
            showticklabels=panel == 3,
            **({} if panel == 1 else {"matches": "x"}),
        )
        layout[f"yaxis{number}"] = parts.axis(f"{_NAMES[name]}, {unit}", domain=list(domain))
    return {"data": data, "layout": layout}


def residuals(time: ArrayLike, values: ArrayLike, title: str, what: str) -> dict[str, Any]:
    """What a fit leaves over, against time.

    Parameters
    ----------
    time : array
        Seconds; empty where only the order is known.
    values : array
        Observed less fitted, in the unit of `title`.
    title : str
        The quantity with its unit.
    what : str
        The fit, for zoom.
    """
    known = np.size(time) == np.size(values)
    axis = np.asarray(time, dtype=float) if known else np.arange(np.size(values), dtype=float)
    x, y = parts.thinned(axis, np.asarray(values, dtype=float))
    data = [
        {
            "type": "scatter",
            "mode": "markers",
            "x": x,
            "y": y,
            "name": "error",
            "showlegend": False,
            "marker": {"symbol": "circle", "size": 4, "color": "@blue"},
            "hovertemplate": "%{x:.1f}: %{y:.3g}<extra></extra>",
        }
    ]
    reach = 1.1 * float(np.percentile(np.abs(y), 99.5)) if y.size else 1.0
    layout = {
        "margin": parts.MARGIN,
        "hovermode": "closest",
        "xaxis": parts.axis("time, s" if known else "reading"),
        "yaxis": parts.axis(title, range=[-reach or -1.0, reach or 1.0]),
        "shapes": [parts.level(0.0, colour="@text", width=1.0, dash="solid")],
        "uirevision": f"residuals {what} {x.size}",
    }
    return {"data": data, "layout": layout}
