"""One step of a working: an equation with its numbers put in, its result and its source. No Streamlit.

`Step.numbers` is plain arithmetic, so that it can be worked out again as it is printed. Inputs of a formula are
printed to four significant digits or more, results to three or four. Formulas are in SI; the rider's unit follows.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np

from explorer.format import UnitFormatter
from physics.build import Build
from physics.components import motor
from physics.limits import LIMITS
from physics.simulation.result import RunResult


@dataclass(frozen=True)
class Step:
    """One step of a working.

    Attributes
    ----------
    heading : str
        What is worked out.
    equation : str
        LaTeX.
    numbers : str
        The right-hand side with the numbers in, as plain arithmetic (× √ ² exp).
    value : float
        What it comes to, in `unit`.
    unit : str
        As printed.
    symbols : str
        What the letters stand for, with their units.
    source : str
        Author or body, title, place, year as far as known; or "common practice, no source".
    quantity : str
        Of `UnitFormatter`, where the value is SI and the rider may see it in another unit as well.
    digits : int
        Significant digits of the result.
    places : int, optional
        Places after the point instead.
    name : str
        Whose numbers they are, where several stand under one equation.
    """

    heading: str
    equation: str
    numbers: str
    value: float
    unit: str
    symbols: str
    source: str
    quantity: str = ""
    digits: int = 3
    places: int | None = None
    name: str = ""

    def title(self, shared: bool = False) -> str:
        """The heading; for several under one equation without what is one's own ("at 114 km/h")."""
        return re.sub(r" at [^ ]*\d.*", "", self.heading) if shared else self.heading

    def result(self, fmt: UnitFormatter) -> str:
        """The result with its unit, and again in the rider's unit where that is another."""
        number = significant(self.value, self.digits)
        if self.places is not None:
            number = f"{round(self.value, self.places) + 0.0:.{self.places}f}".replace("-", "−")
        text = f"{number} {self.unit}".strip()
        if self.quantity and fmt.unit(self.quantity) != self.unit:
            text += f" ({fmt(self.quantity, self.value)})"
        return text


def significant(value: float, digits: int = 4) -> str:
    """A number with that many significant digits; without its last zeros where it is exact without them.

    Examples
    --------
    >>> significant(1.26341), significant(0.48), significant(16.0004), significant(-0.5)
    ('1.263', '0.48', '16.00', '−0.5')
    """
    value = float(value)
    if not math.isfinite(value):
        return "no limit" if value > 0 else "not known"
    if abs(value) < 1e-12:
        return "0"
    places = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{places}f}"
    short = text.rstrip("0").rstrip(".") if "." in text else text
    exact = math.isclose(float(short), value, rel_tol=1e-9)
    return (short if exact else text).replace("-", "−")


def put(value: float, digits: int = 4) -> str:
    """A number as it is put into a formula: below zero in brackets."""
    text = significant(value, digits)
    return f"({text})" if text.startswith("−") else text


class Moment:
    """One instant of one run, with the constants of its build. SI throughout.

    Parameters
    ----------
    build : Build
        Whose run it is.
    runs : RunResult
        Any number of rows.
    row, place : int
        Which run, and which of its instants.
    """

    def __init__(self, build: Build, runs: RunResult, row: int, place: int):
        machine = runs.machine
        self.build, self.row, self.place = build, row, place
        self.limit = LIMITS[int(runs.limit[row, place])]
        for name in (
            "speed", "acceleration", "pack_voltage", "rest_voltage", "weakest_cell_voltage", "charge",
            "polarisation_voltage", "ohmic_resistance", "line_current", "i_q", "i_d",
            "drive_force", "drag_force", "rolling_force", "slope_force", "phase_current", "sag", "pack_temperature",
            "winding_temperature", "controller_temperature",
        ):  # fmt: skip
            setattr(self, name, float(getattr(runs, name)[row, place]))
        self.time = float(runs.time[place])
        for name in ("mass", "speed_ratio", "efficiency", "inertia", "torque_per_ampere", "pole_pairs", "flux"):
            setattr(self, name, float(np.asarray(getattr(machine, name))[row]))
        self.ratio = build.driveline.primary_ratio * build.driveline.rear_teeth / build.driveline.front_teeth
        self.radius = self.ratio / self.speed_ratio
        area = build.bike.drag_area
        self.density = float(machine.drag_factor[row]) / (0.5 * area) if area else 0.0
        self.motor_speed = self.speed * self.speed_ratio
        self.rpm = self.motor_speed * 60 / (2 * math.pi)
        drag_torque = (machine.iron_torque[row], machine.iron_damping[row], self.motor_speed)
        self.iron_torque = float(motor.iron_loss_drag_torque(*drag_torque))
        resistance = motor.winding_resistance(machine.resistance_20[row], self.winding_temperature)
        self.winding_resistance = float(resistance)


def fastest(build: Build, runs: RunResult, row: int = 0) -> Moment:
    """The instant just before a run is fastest: what holds there is named as what holds it back."""
    run = runs.one(row)
    return Moment(build, run, 0, max(int(np.argmax(run.speed[0])) - 1, 0))
