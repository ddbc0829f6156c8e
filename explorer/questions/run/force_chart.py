"""Force against speed: each limit a thin line, the envelope bold, the road load, and the run's own path."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from explorer.charts import parts
from explorer.charts.ribbon import LOOKS
from explorer.format import UnitFormatter
from physics.limits import FRONT_WHEEL, LIMITS
from physics.simulation.result import RunResult
from physics.studies.force import OWN_LIMITS, ForceAgainstSpeed

_DASHES = ("dash", "dashdot", "dot", "longdash", "longdashdot", "dash")
_LABELLED_AT = ((0.97, "right"), (0.08, "right"), (0.08, "left"), (0.08, "left"), (0.3, "left"), (0.6, "left"))
"""Where along its visible part each limit's line carries its name, as a share of it, and to which side."""
_ABOVE = 1.25
"""Height of the chart over the greatest force of the envelope."""


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
    speed = fmt.number("speed", found.speed)
    force, road, own = (fmt.number("force", values) for values in (found.force, found.road_load, found.own))
    top = parts.steady(0.0, _ABOVE * float(np.nanmax(force)))[1]
    data, notes = [], []
    for place, limit in enumerate(OWN_LIMITS):
        name = LIMITS[limit] if limit != FRONT_WHEEL else "front wheel lifts"
        seen = np.where((own[place, 0] >= 0) & (own[place, 0] <= top), own[place, 0], np.nan)
        look = {"dash": _DASHES[place], "width": 1.4}
        data.append(_line(speed, seen, name, f"@{LOOKS[LIMITS[limit]][0]}", found, fmt, **look))
        notes.append(_name(name, speed, seen, *_LABELLED_AT[place], f"@{LOOKS[LIMITS[limit]][0]}"))
    if baseline:
        data.append(_line(speed, _forward(force[1]), "baseline", "@muted", found, fmt, **parts.FAINT))
    data.append(_line(speed, road[0], "road load", "@text", found, fmt, dash="solid", width=1.6))
    notes.append(_name("road load", speed, np.where(road[0] <= top, road[0], np.nan), 0.35, "left", "@text"))
    data.append(
        _line(speed, _forward(force[0]), "all limits together", "@blue", found, fmt, dash="solid", width=4.0)
    )
    path_speed, path_force = parts.thinned(
        fmt.number("speed", run.speed[0]), fmt.number("force", run.drive_force[0])
    )
    hover = f"%{{x:.0f}} {fmt.unit('speed')}: %{{y:.0f}} {fmt.unit('force')}"
    data.append(parts.line(path_speed, path_force, "this run", "@blue", hover=hover, dash="dot", width=2.0))
    data.append(_crossing(found, speed, road[0], fmt))
    end = float(speed[-1])
    target = float(fmt.number("speed", target_speed))
    shape, words = parts.event(target, f"target {fmt.entered('speed', target_speed)}", end=end)
    per_mass = top * float(fmt.number("acceleration", 1.0) / fmt.number("force", 1.0) / found.mass[0])
    unit, acceleration = fmt.unit("force"), fmt.unit("acceleration")
    layout = {
        "margin": parts.MARGIN | {"r": 56},
        "hovermode": "closest",
        "showlegend": True,
        "legend": parts.LEGEND,
        "xaxis": parts.axis(f"speed, {fmt.unit('speed')}", range=[0, end]),
        "yaxis": parts.axis(f"force at the wheel, {unit}", range=[0, top]),
        "yaxis2": parts.axis(
            f"force over mass, {acceleration}",
            range=[0, per_mass], overlaying="y", side="right", showgrid=False, tickmode="auto", nticks=6,
            fixedrange=True,
        ),
        "shapes": [shape],
        "annotations": [words, *notes],
        "uirevision": f"force {end:g} {top:g} {unit}",
    }  # fmt: skip
    data.append({"type": "scatter", "x": [None], "y": [None], "yaxis": "y2", "showlegend": False})
    return {"data": data, "layout": layout}


def _forward(force: NDArray[Any]) -> NDArray[Any]:
    return np.where(force > 0, force, np.nan)


def _line(
    speed: NDArray[Any], force: NDArray[Any], name: str, colour: str, found: ForceAgainstSpeed, fmt: UnitFormatter,
    **look: Any,
) -> dict[str, Any]:  # fmt: skip
    """One line; hovering says force, power and force over mass. Limits carry their names themselves."""
    newton = force / float(fmt.number("force", 1.0))
    power, pull = fmt.number("power", newton * found.speed), fmt.number("acceleration", newton / found.mass[0])
    hover = (
        f"%{{x:.0f}} {fmt.unit('speed')}: %{{y:.0f}} {fmt.unit('force')}, "
        f"%{{customdata[0]:.1f}} {fmt.unit('power')}, %{{customdata[1]:.2f}} {fmt.unit('acceleration')}"
    )
    in_legend = name in ("all limits together", "baseline")
    numbers = np.column_stack([power, pull])
    return parts.line(speed, force, name, colour, hover=hover, customdata=numbers, showlegend=in_legend, **look)


def _name(
    name: str, speed: NDArray[Any], force: NDArray[Any], share: float, side: str, colour: str
) -> dict[str, Any]:
    """A limit's name on its line; nothing where the line is out of sight."""
    places = np.flatnonzero(np.isfinite(force))
    place = int(places[round(share * (places.size - 1))]) if places.size else None
    return {
        "x": float(speed[place]) if place is not None else 0.0,
        "y": float(force[place]) if place is not None else 0.0,
        "text": name if place is not None else "",
        "showarrow": False,
        "xanchor": side,
        "yanchor": "bottom",
        "bgcolor": "@background/0.75",
        "font": {"size": 12, "color": colour},
    }


def _crossing(
    found: ForceAgainstSpeed, speed: NDArray[Any], road: NDArray[Any], fmt: UnitFormatter
) -> dict[str, Any]:
    """The top speed: where envelope and road load cross."""
    at = float(found.top_speed[0])
    inside = 0 < at <= float(found.speed[-1])
    x = float(fmt.number("speed", at)) if inside else float("nan")
    y = float(np.interp(x, speed, road)) if inside else float("nan")
    hover = f"top speed, rested pack: {x:.0f} {fmt.unit('speed')}<extra></extra>"
    return parts.points([x], [y], "top speed, rested pack", "@blue", "diamond", hover=hover, cliponaxis=True)
