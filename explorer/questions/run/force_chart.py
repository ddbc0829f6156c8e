"""Force against speed: each limit a thin line, the envelope bold, the road load, and the run's own path."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from explorer.charts import cursor, force, parts
from explorer.charts.ribbon import LOOKS
from explorer.format import UnitFormatter
from physics import limits
from physics.limits import LIMITS
from physics.simulation.result import RunResult
from physics.studies.force import OWN_LIMITS, ForceAgainstSpeed

_LOOKS: dict[int, tuple[str, float, str]] = {
    limits.PHASE_CURRENT: ("dash", 0.97, "right"),
    limits.LINE_CURRENT: ("dashdot", 0.08, "right"),
    limits.VOLTAGE: ("dot", 0.08, "left"),
    limits.FIELD_WEAKENING: ("longdash", 0.08, "left"),
    limits.THROTTLE: ("2px,5px", 0.6, "left"),
    limits.FRONT_WHEEL: ("longdashdot", 0.3, "left"),
    limits.REAR_GRIP: ("dash", 0.6, "left"),
    limits.SPEED_CAP: ("solid", 0.85, "left"),
}
"""Dash of each limit's line; where along what is seen of it, as a share, its name stands, and to which side."""
_THIN = {"width": 1.4, "showlegend": False}
_ABOVE = 1.25
"""Height of the chart over the greatest force of the envelope."""
PATH, TOP = "this run", "top speed, rested pack"


def figure(
    found: ForceAgainstSpeed, run: RunResult, fmt: UnitFormatter, target_speed: float, baseline: bool = False
) -> dict[str, Any]:
    """Force against speed with every limit.

    Parameters
    ----------
    found : ForceAgainstSpeed
        Row 0 is the build's, row 1 the baseline's.
    run : RunResult
        One row: its path lies below the envelope by what the pack sags.
    fmt : UnitFormatter
        The rider's units.
    target_speed : float, m/s
        Drawn as a level across.
    baseline : bool
        Whether row 1 is drawn, faintly.

    Returns
    -------
    dict
        "data" and "layout".
    """
    mass, top_force = float(found.mass[0]), _ABOVE * float(np.nanmax(found.force))
    top = parts.steady(0.0, float(fmt.number("force", top_force)))[1]
    in_sight = top / float(fmt.number("force", 1.0))
    speed = fmt.number("speed", found.speed)
    data, notes = [], []
    for place, limit in enumerate(OWN_LIMITS):
        name = LIMITS[limit] if limit != limits.FRONT_WHEEL else "front wheel lifts"
        dash, share, side = _LOOKS[limit]
        colour = f"@{LOOKS[LIMITS[limit]][0]}"
        seen = np.where((found.own[place, 0] >= 0) & (found.own[place, 0] <= in_sight), found.own[place, 0], np.nan)
        data.append(force.curve(found.speed, seen, name, colour, mass, fmt, dash=dash, **_THIN))
        notes.append(_name(name, speed, fmt.number("force", seen), share, side, colour))
    if baseline:
        old = force.forward(found.force[1])
        data.append(force.curve(found.speed, old, "baseline", "@muted", float(found.mass[1]), fmt, **parts.FAINT))
    road = found.road_load[0]
    data.append(force.curve(found.speed, road, "road load", "@text", mass, fmt, **_THIN | {"width": 1.6}))
    seen = fmt.number("force", np.where(road <= in_sight, road, np.nan))
    notes.append(_name("road load", speed, seen, 0.35, "left", "@text"))
    envelope = force.forward(found.force[0])
    data.append(force.curve(found.speed, envelope, "all limits", "@blue", mass, fmt, width=4.0))
    data.append(force.path(run, PATH, "@blue", fmt, dash="dot", width=2.0))
    mark, words = _crossing(found, speed, fmt.number("force", road), fmt)
    data.append(mark)
    notes.append(words)
    end = float(speed[-1])
    target = float(fmt.number("speed", target_speed))
    shape, words = parts.event(target, f"target {fmt.entered('speed', target_speed)}", end=end, late=0.7)
    notes.append(words | {"y": 0.0, "yanchor": "bottom"})  # under the road load, where no curve is
    layout = {
        **parts.LAYOUT,
        "margin": parts.MARGIN | {"r": 56},
        "meta": cursor.along(PATH),
        **force.axes(end, top, mass, fmt),
        "shapes": [shape],
        "annotations": notes,
        "uirevision": f"force {end:g} {top:g} {fmt.unit('force')}",
    }
    return {"data": [*data, force.RIGHT_AXIS], "layout": layout}


def _name(
    name: str, speed: NDArray[Any], heights: NDArray[Any], share: float, side: str, colour: str, late: float = 0.8
) -> dict[str, Any]:
    """A limit's name on its line; beyond a share `late` of the axis before its place. Empty where out of sight."""
    places = np.flatnonzero(np.isfinite(heights))
    place = int(places[round(share * (places.size - 1))]) if places.size else None
    if place is not None and speed[place] > late * speed[-1]:
        side = "right"
    return {
        "x": float(speed[place]) if place is not None else 0.0,
        "y": float(heights[place]) if place is not None else 0.0,
        "text": name if place is not None else "",
        "showarrow": False,
        "xanchor": side,
        "yanchor": "bottom",
        "bgcolor": "@background/0.75",
        "font": {"size": 12, "color": colour},
    }


def _crossing(
    found: ForceAgainstSpeed, speed: NDArray[Any], road: NDArray[Any], fmt: UnitFormatter
) -> tuple[dict[str, Any], dict[str, Any]]:
    """The top speed, where envelope and road load cross, and its words."""
    at = float(found.top_speed[0])
    inside = 0 < at <= float(found.speed[-1])
    x = float(fmt.number("speed", at)) if inside else float("nan")
    y = float(np.interp(x, speed, road)) if inside else float("nan")
    hover = f"top speed, rested pack: {x:.0f} {fmt.unit('speed')}<extra></extra>"
    mark = parts.points([x], [y], TOP, "@blue", "diamond", hover=hover, cliponaxis=True, showlegend=False)
    heights = np.where(np.arange(speed.size) == np.searchsorted(speed, x), y, np.nan)
    return mark, _name(TOP, speed, heights, 0.0, "left", "@blue", late=0.5) | {"yshift": 6}
