"""What charts of force against speed share: curves that tell power and acceleration too, a run's path, the axes."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from explorer.charts import parts
from explorer.charts.cursor import READ, readings
from explorer.format import UnitFormatter
from physics.limits import LIMITS
from physics.simulation.result import RunResult


def forward(force: NDArray[Any]) -> NDArray[Any]:
    """A force where it drives; NaN where it brakes."""
    return np.where(force > 0, force, np.nan)


def curve(
    speed: ArrayLike, force: ArrayLike, name: str, colour: str, mass: float, fmt: UnitFormatter, **more: Any
) -> dict[str, Any]:
    """One curve; pointing at it says force, power and force over mass.

    Parameters
    ----------
    speed, force : array, shape (s,), m/s and N
        NaN where it is not to be seen.
    name, colour : str
        For legend and hover; a token such as "@blue".
    mass : float, kg
        That has to be speeded up.
    fmt : UnitFormatter
        The rider's units.
    **more
        Look and other attributes of the trace.
    """
    force, speed = np.asarray(force, dtype=float), np.asarray(speed, dtype=float)
    numbers = np.column_stack([fmt.number("power", force * speed), fmt.number("acceleration", force / mass)])
    hover = (
        f"%{{x:.0f}} {fmt.unit('speed')}: %{{y:.0f}} {fmt.unit('force')}, "
        f"%{{customdata[0]:.1f}} {fmt.unit('power')}, %{{customdata[1]:.2f}} {fmt.unit('acceleration')}"
    )
    x, y = fmt.number("speed", speed), fmt.number("force", force)
    return parts.line(x, y, name, colour, hover=hover, customdata=numbers, **more)


def path(run: RunResult, name: str, colour: str, fmt: UnitFormatter, **more: Any) -> dict[str, Any]:
    """The way of one run (one row); pointing at it says when that was, what the pack gave and what held it back."""
    *numbers, speed, force, limit = parts.thinned(*readings(run), run.speed[0], run.drive_force[0], run.limit[0])
    rows = np.column_stack(numbers).round(3).tolist()
    told = [[*row, LIMITS[place]] for row, place in zip(rows, limit, strict=True)]
    hover = (
        f"at %{{customdata[0]:.1f}} s: %{{x:.1f}} {fmt.unit('speed')}, %{{y:.0f}} {fmt.unit('force')}<br>"
        f"{READ.format(1, 2, 3)}<br>%{{customdata[4]}}"
    )
    x, y = fmt.number("speed", speed), fmt.number("force", force)
    return parts.line(x, y, name, colour, hover=hover, customdata=told, **more)


def axes(end: float, top: float, mass: float, fmt: UnitFormatter) -> dict[str, Any]:
    """Speed, force, and on the right force over mass; `end` and `top` in the rider's units, `mass` in kg."""
    per_mass = top * float(fmt.number("acceleration", 1.0) / fmt.number("force", 1.0) / mass)
    return {
        "xaxis": parts.axis(f"speed, {fmt.unit('speed')}", range=[0, end]),
        "yaxis": parts.axis(f"force at the wheel, {fmt.unit('force')}", range=[0, top]),
        "yaxis2": parts.axis(
            f"force over mass, {fmt.unit('acceleration')}",
            range=[0, per_mass], overlaying="y", side="right", showgrid=False, tickmode="auto", nticks=6,
            fixedrange=True,
        ),
    }  # fmt: skip


RIGHT_AXIS = {"type": "scatter", "x": [None], "y": [None], "yaxis": "y2", "showlegend": False}
"""A trace without points: an axis is drawn only where something stands on it."""
