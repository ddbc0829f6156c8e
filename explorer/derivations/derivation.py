"""One step of a derivation: an equation with its numbers put in, its result and its source. No Streamlit.

`Step.numbers` is plain arithmetic, so that it can be worked out again as it is printed. Inputs of a formula are
printed to four significant digits or more, results to three or four. Formulas are in SI; the rider's unit follows.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from explorer.format import UnitFormatter
from physics.build import Build
from physics.build.batch import Batch
from physics.components import motor, tyre
from physics.limits import LIMITS
from physics.simulation.result import RunResult


@dataclass(frozen=True)
class Step:
    """One step of a derivation.

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


class Instant:
    """One instant of one run, with the constants of its build. SI throughout.

    Parameters
    ----------
    build : Build
        Whose run it is.
    runs : RunResult
        Any number of rows.
    row, index : int
        Which run, and which of its instants.
    """

    def __init__(self, build: Build, runs: RunResult, row: int, index: int) -> None:
        def now(values: NDArray[np.float64]) -> float:
            return float(values[row, index])

        def own(values: NDArray[np.float64]) -> float:
            return float(np.asarray(values)[row])

        self.build, self.limit = build, LIMITS[int(runs.limit[row, index])]
        self.time, self.speed, self.acceleration = float(runs.time[index]), now(runs.speed), now(runs.acceleration)
        self.pack_voltage, self.rest_voltage, self.sag = (
            now(runs.pack_voltage),
            now(runs.rest_voltage),
            now(runs.sag),
        )
        self.weakest_cell_voltage, self.charge = now(runs.weakest_cell_voltage), now(runs.charge)
        self.ohmic_resistance = now(runs.ohmic_resistance)
        self.polarisation_voltage = now(runs.polarisation_voltage)
        self.transfer_voltage = now(runs.transfer_voltage)
        self.line_current, self.phase_current = now(runs.line_current), now(runs.phase_current)
        self.i_q, self.i_d = now(runs.i_q), now(runs.i_d)
        self.drive_force, self.drag_force = now(runs.drive_force), now(runs.drag_force)
        self.rolling_force, self.slope_force = now(runs.rolling_force), now(runs.slope_force)
        self.winding_temperature = now(runs.winding_temperature)
        self.controller_temperature = now(runs.controller_temperature)

        self.case_temperature = now(runs.case_temperature)

        machine: Any = runs.machine
        self.mass, self.inertia = own(machine.mass), own(machine.inertia)
        self.stance = Batch.of(build).stance()
        self.efficiency, self.pole_pairs = own(machine.efficiency), own(machine.pole_pairs)
        share = float(motor.magnet_share(own(machine.magnet_weakening), self.case_temperature))
        share *= float(motor.saturation_share(self.i_q, own(machine.saturation_current)))
        saturated = motor.saturation_share(self.i_q, own(machine.inductance_saturation_current))
        self.inductance = build.motor.phase_inductance * float(saturated)
        self.flux_share, self.flux = share, own(machine.flux) * share
        self.torque_per_ampere = own(machine.torque_per_ampere) * share
        self.ratio = build.driveline.primary_ratio * build.driveline.rear_teeth / build.driveline.front_teeth
        self.radius = self.ratio / own(machine.speed_ratio)
        area = build.bike.drag_area
        self.density = own(machine.drag_factor) / (0.5 * area) if area else 0.0
        slip = tyre.drive_slip(self.drive_force, own(machine.rear_load), own(machine.slip_stiffness))
        self.motor_speed = self.speed * own(machine.speed_ratio) * (1 + float(slip))
        self.rpm = self.motor_speed * 60 / (2 * math.pi)
        iron = own(machine.iron_torque), own(machine.iron_damping)
        self.iron_torque = float(motor.iron_loss_drag_torque(*iron, self.motor_speed))
        self.iron_torque += own(machine.chain_torque) * min(self.motor_speed, 1.0)
        self.winding_resistance = float(
            motor.winding_resistance(own(machine.resistance_20), self.winding_temperature)
            * motor.eddy_factor(self.motor_speed, own(machine.eddy_speed))
        )


def fastest(build: Build, runs: RunResult, row: int = 0) -> Instant:
    """The instant just before a run is fastest under power: what holds there is named as what holds it back."""
    run = runs.one(row)
    return Instant(build, run, 0, max(int(np.argmax(run.speed_under_power[0])) - 1, 0))
