"""The plant: a batch of builds that can be evaluated at one instant and moved on over one time step.

Speed is predicted by an exponential two-step method of second order: within a step the acceleration is taken as a
line in speed, with the slope that the operating point gives, plus a drift in time, known from the step before. That
linear problem is solved exactly, so that a step stays stable however steep the voltage limit is. Resistor-capacitor
pairs and temperatures take their exact solution for a mean source. See M. Hochbruck and A. Ostermann, Exponential
integrators, Acta Numerica 19 (2010) 209-286, section 2, for the functions phi_1 and phi_2. What is found at the end
of the step corrects it by the formula of Adams and Moulton of third order (E. Hairer and others, Solving Ordinary
Differential Equations I, 1993, section III.1; here for steps of unequal length).
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from physics.build.batch import Batch
from physics.components import cell
from physics.components.cell_resistance import (
    COLD_STEP,
    HIGHEST_TEMPERATURE,
    LOWEST_TEMPERATURE,
    PULL_RATE,
    REFERENCE_TEMPERATURE,
    TRANSFER_VOLTAGE,
)
from physics.components.controller import controller_loss, throttle_position
from physics.limits import CONTROLLER_HEAT, CUT_OUT, RULES, WINDING_HEAT
from physics.simulation.charge_transfer import Transfer
from physics.simulation.machine import Machine
from physics.simulation.operating_point import OperatingPoint, operating_point
from physics.simulation.per_build import PerBuild
from physics.simulation.protection import TripTimers
from physics.simulation.thermal import FOLDED, ThermalModel, held

SECONDS_PER_HOUR = 3600.0

STATE = (
    "speed", "charge", "pair_1_voltage", "pair_2_voltage", "pair_3_voltage",
    "pack_temperature", "winding_temperature", "case_temperature", "controller_temperature",
)  # fmt: skip
"""Rows of the state."""

POWERS = (
    "pack", "winding", "iron", "controller", "driveline", "leads", "polarisation", "drag", "rolling", "climbing",
    "cells",
)  # fmt: skip
"""Where power goes, and last where it comes from; the heat of the four lumped parts first."""

READINGS = (
    "acceleration", "pack_voltage", "weakest_cell_voltage", "rest_voltage", "polarisation_heat", "ohmic_resistance",
    "i_q", "i_d", "line_current", "transfer_voltage", "drive_force", "slope",
)  # fmt: skip
"""What else is known at an instant; `slope` is the change of acceleration with speed."""

PAIRS, HEAT = slice(2, 5), slice(5, 9)
"""Rows of the state: voltages of the pairs, temperatures."""

RATES = slice(1, 9)
"""Rows of the integrands that move the state: line current, A, then what speeds up pairs and temperatures, V/s and
K/s, which decay by themselves (`Plant.decay`)."""

WORK = slice(9, 9 + len(POWERS))
"""Rows of the integrands whose integrals are energies, as in POWERS."""

_READINGS = len(STATE)
_INTEGRANDS = _READINGS + len(READINGS)
_SIGNALS = _INTEGRANDS + WORK.stop

_FOLDING = np.array([[WINDING_HEAT], [CONTROLLER_HEAT]])
"""Limits by which a part's own heat takes current away; rows as in `thermal.FOLDED`."""


class Snapshot(PerBuild):
    """Everything at one instant; the last axis is the builds.

    Parameters
    ----------
    values : array, shape (k, n)
        One array, so that builds are copied by one call; all but what follows here are views of it.
    limit, held_by_line : array, shape (n,)
        Index in LIMITS of the limit that holds; whether that is the line limit.

    Attributes
    ----------
    state, channels : array
        Rows as in STATE; and as in READINGS, but for slope, below them.
    integrands : array
        What a step integrates: speed times acceleration, the rates, the powers, the rate of the first trip timer.
    signals : array, shape (len(RULES), n)
        Of the protection.
    """

    def __init__(self, values: np.ndarray, limit: np.ndarray, held_by_line: np.ndarray) -> None:
        self.values, self.limit, self.held_by_line = values, limit, held_by_line
        self.state, self.channels = values[:_READINGS], values[: _INTEGRANDS - 1]
        self.integrands, self.signals = values[_INTEGRANDS : _SIGNALS + 1], values[_SIGNALS:]
        self.speed, self.charge, self.temperatures = values[0], values[1], values[HEAT]
        self.acceleration, self.pack_voltage, self.weakest_cell_voltage = values[_READINGS : _READINGS + 3]
        self.voltages = values[_READINGS + 1 : _READINGS + 3]
        self.currents = values[_READINGS + 6 : _READINGS + 9]
        self.line_current, self.slope = values[_READINGS + 8], values[_READINGS + 11]

    def take(self, indices: Any) -> "Snapshot":
        """The builds at some indices, copied."""
        return Snapshot(self.values[:, indices], self.limit[indices], self.held_by_line[indices])

    def put(self, indices: Any, other: "Snapshot") -> None:
        """Write the builds at some indices."""
        self.values[:, indices], self.limit[indices] = other.values, other.limit
        self.held_by_line[indices] = other.held_by_line

    def between(self, then: "Snapshot", indices: Any, fraction: Any) -> "Snapshot":
        """Some builds at a fraction of the way to a later snapshot, by straight lines; what holds is that one's."""
        start, end = self.values[:, indices], then.take(indices)
        end.values += (fraction - 1.0) * (end.values - start)
        return end


@dataclass(frozen=True)
class Prediction:
    """Where a step leads before its end is known."""

    state: np.ndarray  # (len(STATE), n), at its end
    acceleration: np.ndarray  # (n,), m/s2, there, as the linear problem has it
    mean: np.ndarray  # (8, n): what the rates were taken to be over the step
    kept: np.ndarray  # (7, n): share of a correction of pairs and temperatures that is left at the end


class PackModel(PerBuild):
    """The pack's side of a batch: voltages and resistances from charge and temperature.

    Parameters
    ----------
    batch : Batch
        The builds.
    """

    SHARED = ("table",)

    def __init__(self, batch: Batch) -> None:
        tables = cell.chemistry_tables()
        row = batch.chemistry
        curves = np.concatenate([tables.open_circuit_voltage, tables.discharge_resistance_factor])
        self.table, self.points = curves, curves.shape[1]
        self.starts = np.array([row, row, row + len(tables.open_circuit_voltage)]) * self.points
        self.series = batch["pack.cells_in_series"]
        self.warmth = np.log(batch.conduction_growth()) / COLD_STEP  # K, activation energy over gas constant
        self.warmth_at_reference = self.warmth / REFERENCE_TEMPERATURE
        reference = batch.small_current_resistance()
        self.ohmic, self.transfer = (
            tables.ohmic_fraction[row] * reference,
            tables.transfer_fraction[row] * reference,
        )
        pairs = tables.pair_1_fraction, tables.pair_2_fraction, tables.pair_3_fraction
        self.pairs = np.array([each[row] for each in pairs]) * reference
        self.pair_times = np.array(cell.PAIR_TIMES)[:, None] + np.zeros(len(batch))
        self.pair_rise = self.pairs / self.pair_times  # V/s per A
        self.straight = PULL_RATE * batch["pack.capacity_ah"]
        self.transfer_scale = TRANSFER_VOLTAGE * self.series  # V/K
        none = np.zeros(len(batch))
        self.behind = np.array([none, batch["pack.charge_spread"], none])
        self.weak_share = (1 + batch["pack.resistance_spread"]) / self.series
        self.charge_per_ampere = 1 / (batch["pack.capacity_ah"] * SECONDS_PER_HOUR)

    def evaluate(
        self, charge: np.ndarray, temperature: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray, Transfer]:
        """Open-circuit voltage of pack and weakest cell, the factor on ohmic part and pairs, and charge transfer.

        The same as `cell.open_circuit_voltage` and the two factors of `cell_resistance`, in one reading.
        """
        position = np.minimum(np.maximum(charge - self.behind, 0.0), 1.0) * (self.points - 1)
        lower = np.minimum(position.astype(np.intp), self.points - 2)
        start, table = self.starts + lower, self.table.ravel()
        low = table[start]
        voltage, weakest, factor = low + (table[start + 1] - low) * (position - lower)
        within = np.minimum(np.maximum(temperature, LOWEST_TEMPERATURE), HIGHEST_TEMPERATURE)
        arrhenius = np.exp(self.warmth / within - self.warmth_at_reference)
        scale = factor * self.transfer_scale * within
        factor = factor * arrhenius
        return (
            voltage * self.series,
            weakest,
            factor,
            Transfer(self.transfer * factor * arrhenius, scale, self.straight),
        )

    def pulse_resistance(self, charge: Any, temperature: Any, current: Any, seconds: float = 10.0) -> np.ndarray:
        """Sag over current so long into a constant current from rest, ohm: charge and temperature held.

        Parameters
        ----------
        charge, temperature, current : array, shape (n,), 0 to 1, K and A
            The current above 0.
        seconds : float, s
            At least 0.
        """
        _, _, factor, transfer = self.evaluate(charge, temperature)
        risen = self.ohmic - (self.pairs * np.expm1(-seconds / self.pair_times)).sum(axis=0)
        return factor * risen + transfer.voltage(current) / current


class Plant(PerBuild):
    """A batch of builds as one thing.

    Parameters
    ----------
    batch : Batch
        The builds.
    """

    def __init__(self, batch: Batch) -> None:
        self.machine, self.pack, self.thermal = Machine(batch), PackModel(batch), ThermalModel(batch)
        self.rules, self.charge = TripTimers(batch), batch["conditions.charge"]
        self.decay = np.concatenate([-1 / self.pack.pair_times, self.thermal.decay_rate])  # 1/s

    def start(self, speed: Any) -> np.ndarray:
        """The state at the start of the conditions, settled: rows as in STATE."""
        state = np.zeros((len(STATE), self.machine.count))
        state[0], state[1], state[HEAT] = speed, self.charge, self.thermal.start
        return state

    def evaluate(
        self, state: np.ndarray, time: np.ndarray, opened: np.ndarray | None = None, guess: Any = None
    ) -> Snapshot:
        """Everything at one instant.

        Parameters
        ----------
        state : array, shape (len(STATE), n)
            Rows as in STATE.
        time : array, shape (n,), s
            Since the start of the run.
        opened : array of int, optional
            Indices of the builds whose protection has opened.
        guess : array, shape (3, n), A, optional
            i_q, i_d and line current to begin the search at.
        """
        m, pack = self.machine, self.pack
        speed, pairs, temperatures = state[0], state[PAIRS], state[HEAT]
        rest, weakest, factor, transfer = pack.evaluate(state[1], temperatures[0])
        ohmic, polarisation = pack.ohmic * factor, pairs[0] + pairs[1] + pairs[2]
        source_voltage = np.maximum(rest - polarisation, 0.05 * rest)
        throttle = throttle_position(time, m.throttle, m.ramp_time)
        if opened is not None:
            throttle[opened] = 0.0
        near = transfer.one_hour if guess is None else np.maximum(guess[2], 0.0)
        battery = source_voltage, ohmic, transfer
        at = _feeding(m, speed, throttle, battery, temperatures, guess)
        point, transferred, off = transfer.line(at, source_voltage, near)
        if opened is not None:
            off[opened] = False
        if np.count_nonzero(off):  # not foreseen there: again, with a line that touches nearer to the current
            _again(off.nonzero()[0], point, transferred, (m, speed, throttle, battery, temperatures, guess))
        limit, phase_squared = point.limit, point.i_q * point.i_q + point.i_d * point.i_d
        total = np.sqrt(phase_squared)
        loss = np.asarray(controller_loss(m.fixed_loss, m.loss_per_ampere, m.loss_resistance, total))
        current, voltage, i_d = point.line_current, point.voltage, point.i_d
        if opened is not None:
            current[opened], i_d[opened], phase_squared[opened], loss[opened] = 0.0, 0.0, 0.0, 0.0
            voltage[opened], limit[opened], transferred[opened] = source_voltage[opened], CUT_OUT, 0.0
        acceleration, slope = point.acceleration, point.slope
        if np.count_nonzero(speed) < speed.size:
            moving = (speed > 0.0) | (acceleration > 0.0)
            acceleration, slope = acceleration * moving, slope * moving
        pair_heat = (pairs * pairs / pack.pairs).sum(axis=0) / factor
        motor_speed = point.motor_speed
        air_gap = point.air_gap_torque * motor_speed
        iron = point.iron_torque * motor_speed
        cell_voltage = weakest - (polarisation + current * ohmic + transferred) * pack.weak_share
        readings = (
            acceleration, voltage, cell_voltage, rest, pair_heat, ohmic, point.i_q, i_d, current, transferred,
            point.drive_force, slope,
        )  # fmt: skip
        powers = (
            current * (current * ohmic + transferred) + pair_heat,
            1.5 * point.winding_resistance * phase_squared + (m.shaft_gain - 1.0) * air_gap,
            iron,
            loss,
            air_gap - iron - point.drive_force * speed,
            current * current * m.lead_resistance,
            polarisation * current - pair_heat,
            point.drag_force * speed,
            point.rolling_force * speed,
            m.slope_force * speed,
            rest * current,
        )
        values = np.empty((_SIGNALS + len(RULES), speed.size))
        values[:_READINGS], integrands = state, values[_INTEGRANDS:_SIGNALS]
        for row, each in enumerate(readings, _READINGS):  # half as long as to assign them in one call
            values[row] = each
        for row, each in enumerate(powers, WORK.start):
            integrands[row] = each
        integrands[0], integrands[1] = speed * acceleration, current
        integrands[2:5] = pack.pair_rise * (factor * current)
        integrands[5:9] = self.thermal.sources(temperatures, integrands[WORK][:4])
        values[_SIGNALS:] = self.rules.signals(current, cell_voltage, temperatures[0])
        return Snapshot(values, limit, point.held_by_line)

    def predict(self, now: Snapshot, past: Snapshot, ratio: np.ndarray, duration: Any) -> Prediction:
        """Where a step leads, each build's step of its own length.

        Parameters
        ----------
        now, past : Snapshot
            At the start of this step and of the one before.
        ratio : array, shape (n,)
            This step's length over that of the one before; zero where that says nothing.
        duration : array, shape (n,), s
            Of this step.
        """
        speed, acceleration, slope = now.speed, now.acceleration, now.slope
        exponent = np.minimum(slope * duration, 1.0)
        exponent = np.where(np.abs(exponent) < 1e-5, 1e-5, exponent)
        phi_1 = np.expm1(exponent) / exponent
        drift = ratio * (acceleration - past.acceleration - slope * (speed - past.speed))
        bent = np.abs(slope - past.slope)
        drift *= (bent * duration < 1.0) | (2.0 * bent < np.abs(slope))  # a steep line has a drift of its own
        gain = duration * (phi_1 * acceleration + (phi_1 - 1.0) / exponent * drift)  # phi_2 with the drift
        rates = now.integrands[RATES]
        mean = rates + (ratio / 2.0) * (rates - past.integrands[RATES])
        mean[:4] = np.maximum(mean[:4], 0.0)  # the current, and what it does to the pairs
        hold = held(self.decay, duration)
        kept, folding = hold / duration, now.limit == _FOLDING
        if np.count_nonzero(folding):
            heat, left = now.integrands[WORK][FOLDED], self.machine.heat_end - now.temperatures[FOLDED]
            heat[1] -= self.machine.fixed_loss  # which stays
            fall = folding * (left > 1e-6) * 2 * heat / np.maximum(left, 1e-6)
            instants = [(one.temperatures, one.integrands[RATES][4:]) for one in (now, past)]
            drifts = ratio * (past.limit == _FOLDING)
            self.thermal.fold(folding, fall, instants, drifts, duration, mean[4:], kept[3:])
        state = np.empty(now.state.shape)
        state[0] = np.maximum(speed + gain, 0.0)
        state[1] = np.maximum(now.charge - mean[0] * duration * self.pack.charge_per_ampere, 0.0)
        state[2:] = now.state[2:] + (mean[1:] + self.decay * now.state[2:]) * hold
        return Prediction(state, acceleration + slope * (state[0] - speed) + drift, mean, kept)

    def correct(
        self, now: Snapshot, then: Snapshot, integral: np.ndarray, duration: Any, prediction: Prediction
    ) -> None:
        """Put the state at a step's end right by what was found there.

        Speed follows from the kinetic energy gained, so that energy closes; where a limit is too steep for that it
        keeps to its prediction.

        Parameters
        ----------
        now, then : Snapshot
            At both ends of the step; the second one's state is as predicted, and changed here.
        integral : array, shape (10 + len(POWERS), n)
            Of the integrands over the step.
        duration : array, shape (n,), s
            Of the step.
        prediction : Prediction
            Of the step.
        """
        state, speed = then.state, prediction.state[0]
        steepest = np.minimum(np.minimum(now.slope, then.slope), 0.0)
        fraction = np.minimum(np.maximum(1.5 + 2.0 * duration * steepest, 0.0), 1.0) * (speed > 0.0)
        by_energy = np.sqrt(np.maximum(now.speed * now.speed + 2.0 * integral[0], 0.0))
        state[0] += fraction * (by_energy - speed)
        more = integral[RATES] - prediction.mean * duration
        state[1] = np.minimum(np.maximum(state[1] - more[0] * self.pack.charge_per_ampere, 0.0), now.charge)
        state[2:] += more[1:] * prediction.kept


def _feeding(
    m: Machine, speed: np.ndarray, throttle: np.ndarray, battery: tuple, temperatures: np.ndarray, guess: Any
) -> Callable[[np.ndarray, np.ndarray], OperatingPoint]:
    """See `Transfer.solve`; the battery is its source voltage, its ohmic part and its charge transfer."""
    source, ohmic, _ = battery
    _, winding, case, controller = temperatures  # the magnets' heat goes the way of the case, in minutes
    through = ohmic + m.lead_resistance

    def at(offset: np.ndarray, slope: np.ndarray) -> OperatingPoint:
        bus = source - offset, through + slope
        return operating_point(m, speed, throttle, *bus, winding, controller, guess, case)

    return at


def _again(places: np.ndarray, point: OperatingPoint, transferred: np.ndarray, asked: tuple) -> None:
    """Put right the operating points of some builds and the voltage over their charge transfer."""
    m, speed, throttle, (source, ohmic, transfer), temperatures, guess = asked
    battery = source[places], ohmic[places], transfer.take(places)
    guess = None if guess is None else guess[:, places]
    at = _feeding(m.take(places), speed[places], throttle[places], battery, temperatures[:, places], guess)
    better, over = battery[2].solve(at, battery[0], point.line_current[places])
    for name, values in vars(better).items():
        getattr(point, name)[places] = values
    transferred[places] = over
