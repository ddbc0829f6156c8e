"""The result of a run: arrays of one row per build, with status and message as scipy's solvers have."""

from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np

from physics.components import motor, road_load
from physics.components.controller import controller_loss
from physics.limits import LIMITS, RULES
from physics.simulation.snapshot import POWERS

REACHED_END, CUT_OUT_STATUS = 0, 1
"""Status of a run: 0 it went on to its end, 1 the protection cut out and the bike coasted."""

_LEAST_TURN = 0.05
"""An acceleration that turns by less than this share of itself has died away: there is no peak on its way."""

SETTLED_ACCELERATION = 0.02
"""A speed that rises by less than this, m/s2, counts as settled."""


@dataclass(frozen=True)
class RunResult:
    """One simulated pull for each build of a batch.

    Arrays over time have shape (n, t). `time` differs between builds: an instant is moved to where another limit
    took over, and a cut-out placed two extra ones, one before and one after the opening. Everything is SI.
    Discharge current is positive.

    Attributes
    ----------
    time, speed, acceleration : array, shape (n, t)
        s, m/s and m/s2.
    pack_voltage, rest_voltage, weakest_cell_voltage : array, shape (n, t)
        Loaded voltage, the open-circuit voltage at that moment's charge, and the weakest cell's loaded voltage, V.
    polarisation_voltage : array, shape (n, t)
        Sum of the voltages of the pack's resistor-capacitor pairs, V.
    polarisation_heat : array, shape (n, t)
        Heat in those pairs, W.
    ohmic_resistance : array, shape (n, t)
        Of the pack, at that moment's temperature and charge, ohm.
    line_current, quadrature_current, field_current : array, shape (n, t)
        Pack current, and the torque and field parts of the peak phase current, A.
    charge : array, shape (n, t)
        State of charge, 0 to 1.
    drive_force : array, shape (n, t)
        At the road, N.
    limit : array of int, shape (n, t)
        The place in LIMITS of the limit that holds.
    limit_since : array, shape (n, t)
        Since when it has held, s: a moment inside the step in which it changed, where its end tells (see
        physics/simulation/landing.py), else the middle of that step.
    pack_temperature, winding_temperature, case_temperature, controller_temperature : array, shape (n, t)
        K.
    clocks : array, shape (n, t, len(RULES))
        How much of each protection rule's allowance is used: 0 none, 1 opens.
    cut_out_time, cut_out_current, cut_out_voltage, cut_out_cell_voltage : array, shape (n,)
        s, A, V and V at the moment of opening; NaN where the protection stayed closed.
    cut_out_rule : array of int, shape (n,)
        Place in RULES, or -1.
    minimum_voltage, minimum_cell_voltage : array, shape (n,)
        Lowest voltage of the pack and of its weakest cell, V; a dip between two instants counts.
    energies : array, shape (n, len(POWERS))
        Where energy went and came from, J, in the order of `moment.POWERS`.
    machine : Machine
        The constants of the builds that the derived arrays below need.
    """

    time: np.ndarray
    speed: np.ndarray
    acceleration: np.ndarray
    pack_voltage: np.ndarray
    rest_voltage: np.ndarray
    weakest_cell_voltage: np.ndarray
    polarisation_voltage: np.ndarray
    polarisation_heat: np.ndarray
    ohmic_resistance: np.ndarray
    line_current: np.ndarray
    quadrature_current: np.ndarray
    field_current: np.ndarray
    charge: np.ndarray
    drive_force: np.ndarray
    limit: np.ndarray
    limit_since: np.ndarray
    pack_temperature: np.ndarray
    winding_temperature: np.ndarray
    case_temperature: np.ndarray
    controller_temperature: np.ndarray
    clocks: np.ndarray
    cut_out_time: np.ndarray
    cut_out_current: np.ndarray
    cut_out_voltage: np.ndarray
    cut_out_cell_voltage: np.ndarray
    cut_out_rule: np.ndarray
    minimum_voltage: np.ndarray
    minimum_cell_voltage: np.ndarray
    energies: np.ndarray
    machine: object

    def __len__(self) -> int:
        return len(self.cut_out_rule)

    def take(self, places) -> "RunResult":
        """The runs at some places (a slice, or an array of places or of truths)."""
        chosen = np.atleast_1d(np.arange(len(self))[places])
        values = {field.name: getattr(self, field.name) for field in fields(self)}
        machine = values.pop("machine").take(chosen)
        return RunResult(**{name: value[chosen] for name, value in values.items()}, machine=machine)

    @cached_property
    def status(self) -> np.ndarray:
        """0 where a run went on to its end, 1 where the protection cut out; shape (n,)."""
        return np.where(self.cut_out_rule >= 0, CUT_OUT_STATUS, REACHED_END)

    @cached_property
    def message(self) -> tuple[str, ...]:
        """One sentence for each run."""
        return tuple(self._sentence(place) for place in range(len(self)))

    def _sentence(self, place: int) -> str:
        if self.cut_out_rule[place] >= 0:
            return (
                f"The protection cut out by its {RULES[self.cut_out_rule[place]]} rule after "
                f"{self.cut_out_time[place]:.2f} s at {self.cut_out_current[place]:.0f} A and "
                f"{self.cut_out_voltage[place]:.1f} V; the bike coasted on."
            )
        if self.settled[place]:
            return "The run went on to its end at a settled speed."
        return "The run went on to its end; the speed was still changing."

    @cached_property
    def top_speed(self) -> np.ndarray:
        """Highest speed of each run, m/s, shape (n,).

        Where acceleration turns between two instants, that of the cubic through speed and acceleration (Hermite's).
        """
        width, start = np.diff(self.time, axis=1), self.speed[:, :-1]
        first, last = self.acceleration[:, :-1] * width, self.acceleration[:, 1:] * width
        turns = (first > 0) & (last < -_LEAST_TURN * first)
        rise = self.speed[:, 1:] - start
        square, cube = 3 * rise - 2 * first - last, first + last - 2 * rise
        root = np.sqrt(np.maximum(square * square - 3 * cube * first, 0.0))
        share = first / np.where(turns, root - square, 1.0)
        peaks = start + share * (first + share * (square + share * cube))
        return np.maximum(self.speed.max(axis=1), np.where(turns, peaks, 0.0).max(axis=1))

    @cached_property
    def allowance_used(self) -> np.ndarray:
        """The most that each protection rule's clock stood at, 0 to 1, shape (n, len(RULES))."""
        return np.minimum(self.clocks.max(axis=1), 1.0)

    @cached_property
    def settled(self) -> np.ndarray:
        """Whether the speed had stopped rising by the end, shape (n,)."""
        return (self.acceleration[:, -1] < SETTLED_ACCELERATION) & (self.cut_out_rule < 0)

    @cached_property
    def holding_limit(self) -> np.ndarray:
        """Place in LIMITS of what holds at the highest speed: what would have to give; shape (n,)."""
        return self.limit[np.arange(len(self)), self.speed.argmax(axis=1)]

    @cached_property
    def distance(self) -> np.ndarray:
        """Distance covered, m, shape (n, t): trapezoid with its end correction by the acceleration."""
        step = np.diff(self.time, axis=1)
        mean = (self.speed[:, 1:] + self.speed[:, :-1]) / 2
        bend = np.where(step > 0, step * step * (self.acceleration[:, :-1] - self.acceleration[:, 1:]) / 12, 0.0)
        forward = np.maximum(step * mean + bend, 0.0)  # the bend is too much where it stops or sets out in a step
        return np.concatenate([np.zeros((len(self), 1)), np.cumsum(forward, axis=1)], axis=1)

    @property
    def energy_used(self) -> np.ndarray:
        """Energy taken from the cells, open-circuit voltage times current, J, shape (n,)."""
        return self.energies[:, -1]

    @property
    def phase_current(self) -> np.ndarray:
        """Peak phase current, A, shape (n, t)."""
        return np.hypot(self.quadrature_current, self.field_current)

    @property
    def drag_force(self) -> np.ndarray:
        """Aerodynamic drag, N, shape (n, t)."""
        m = self.machine
        return road_load.drag_force(_column(m.drag_factor), self.speed + _column(m.headwind))[0]

    @property
    def rolling_force(self) -> np.ndarray:
        """Rolling resistance, N, shape (n, t)."""
        m = self.machine
        return road_load.rolling_force(_column(m.rolling_constant), _column(m.rolling_squared), self.speed)[0]

    @property
    def slope_force(self) -> np.ndarray:
        """Weight along the road, N, shape (n, t)."""
        return np.broadcast_to(_column(self.machine.slope_force), self.speed.shape)

    @property
    def sag(self) -> np.ndarray:
        """Rest voltage less loaded voltage, V, shape (n, t)."""
        return self.rest_voltage - self.pack_voltage

    @property
    def heat_power(self) -> dict[str, np.ndarray]:
        """Where heat arises, W, shape (n, t) each: pack, winding, iron, controller, driveline."""
        m = self.machine
        motor_speed = self.speed * _column(m.speed_ratio)
        current = self.phase_current
        resistance = motor.winding_resistance(_column(m.resistance_20), self.winding_temperature)
        iron = motor.iron_loss_drag_torque(_column(m.iron_torque), _column(m.iron_damping), motor_speed)
        air_gap = _column(m.torque_per_ampere) * self.quadrature_current * motor_speed
        fed = self.line_current > 0
        loss = controller_loss(
            _column(m.fixed_loss), _column(m.loss_per_ampere), _column(m.loss_resistance), current
        )
        return {
            "pack": self.line_current**2 * self.ohmic_resistance + self.polarisation_heat,
            "winding": 1.5 * resistance * current**2 + (_column(m.shaft_gain) - 1) * air_gap,
            "iron": iron * motor_speed,
            "controller": np.where(fed, loss, 0.0),
            "driveline": air_gap - iron * motor_speed - self.drive_force * self.speed,
        }

    def time_to(self, speed) -> np.ndarray:
        """When each run first reaches a speed.

        Parameters
        ----------
        speed : float or array, shape (n,), m/s
            The speed to reach.

        Returns
        -------
        array, shape (n,), s
            NaN where it is not reached. Cubic between the run's instants, through speed and acceleration.
        """
        return time_of_level(self.time, self.speed, self.acceleration, speed)

    def distance_at(self, speed) -> np.ndarray:
        """Distance covered when each run first reaches a speed, m; NaN where it does not."""
        return value_at(self.time, self.distance, self.speed, self.time_to(speed))

    def limit_names(self, place: int = 0) -> list[str]:
        """The names of the limits that hold over one run, instant by instant."""
        return [LIMITS[limit] for limit in self.limit[place]]

    def cut_out_rule_names(self) -> list[str]:
        """For each run the rule that opened, or an empty text."""
        return [RULES[rule] if rule >= 0 else "" for rule in self.cut_out_rule]

    def energy_balance(self) -> dict[str, np.ndarray]:
        """Where the energy taken from the cells went, by trapezoid over every step that was made.

        Returns
        -------
        dict of str to array, shape (n,), J
            "cells"; then "pack", "winding", "iron", "controller", "driveline" (heat), "polarisation" (what the
            resistor-capacitor pairs took up and may still hold, less their heat), "drag", "rolling", "climbing",
            "kinetic"; and "remainder", cells less all of those.
        """
        parts = dict(zip(POWERS, self.energies.T, strict=True))
        cells = parts.pop("cells")
        parts["kinetic"] = self.machine.inertia * (self.speed[:, -1] ** 2 - self.speed[:, 0] ** 2) / 2
        return {"cells": cells, **parts, "remainder": cells - sum(parts.values())}


def _column(values):
    return np.asarray(values)[..., None]


def integral(values, time) -> np.ndarray:
    """Trapezoid over the last axis.

    Parameters
    ----------
    values : array, shape (..., t)
        What to integrate.
    time : array, shape (..., t)
        Instants, s.

    Returns
    -------
    array, shape (...)
        The integral.

    Examples
    --------
    >>> float(integral(np.array([0.0, 3.0, 0.0]), np.array([0.0, 0.5, 2.0])))
    3.0
    """
    return np.sum((values[..., 1:] + values[..., :-1]) * np.diff(time), axis=-1) / 2


def time_of_level(time, values, slopes, level) -> np.ndarray:
    """When rows of values first reach a level, by the cubic through values and slopes (Hermite's).

    Parameters
    ----------
    time, values, slopes : array, shape (n, t)
        Instants, s, values, and their derivatives with respect to time.
    level : float or array, shape (n,)
        The level.

    Returns
    -------
    array, shape (n,), s
        NaN where no instant is at or above the level.

    Examples
    --------
    >>> time = np.array([[0.0, 2.0]])
    >>> float(time_of_level(time, time**2, 2 * time, 1.0)[0].round(9))
    1.0
    """
    level = np.broadcast_to(np.asarray(level, dtype=float), values.shape[:1])
    above = values >= level[:, None]
    reached = above.any(axis=1)
    place = np.where(reached, above.argmax(axis=1), 0)
    before, rows = np.maximum(place - 1, 0), np.arange(len(values))
    start, end = values[rows, before], values[rows, place]
    width = time[rows, place] - time[rows, before]
    first, last = slopes[rows, before] * width, slopes[rows, place] * width
    rise = end - start
    share = np.where(rise > 0, (level - start) / np.where(rise > 0, rise, 1.0), 1.0)
    low, high = np.zeros(len(rows)), np.ones(len(rows))
    for _ in range(30):  # Newton's step or a bisection in one bracket: the cubic may bend but crosses it
        u = share
        value = start + u * (first + u * (3 * rise - 2 * first - last + u * (first + last - 2 * rise)))
        slope = first + u * (2 * (3 * rise - 2 * first - last) + 3 * u * (first + last - 2 * rise))
        low, high = np.where(value < level, u, low), np.where(value < level, high, u)
        newton = u - (value - level) / np.where(np.abs(slope) > 1e-12, slope, 1e-12)
        share = np.where((newton > low) & (newton < high), newton, (low + high) / 2)
        if (np.abs(share - u) < 1e-12).all():
            break
    share = np.where(rise > 0, share, 1.0)
    return np.where(reached, time[rows, before] + share * width, np.nan)


def value_at(time, values, slopes, when) -> np.ndarray:
    """What rows of values are at a moment of each, by the cubic through values and slopes (Hermite's).

    Parameters
    ----------
    time, values, slopes : array, shape (n, t)
        Instants, s, values, and their derivatives with respect to time.
    when : array, shape (n,), s
        Within the instants; NaN gives NaN.

    Returns
    -------
    array, shape (n,)
        The values.

    Examples
    --------
    >>> time = np.array([[0.0, 2.0]])
    >>> float(value_at(time, time**2, 2 * time, np.array([0.5]))[0].round(9))
    0.25
    """
    rows = np.arange(len(values))
    before = np.clip((time <= np.nan_to_num(when)[:, None]).sum(axis=1) - 1, 0, time.shape[1] - 2)
    start, rise = values[rows, before], values[rows, before + 1] - values[rows, before]
    width = time[rows, before + 1] - time[rows, before]
    first, last = slopes[rows, before] * width, slopes[rows, before + 1] * width
    u = (when - time[rows, before]) / np.where(width > 0, width, 1.0)
    return start + u * (first + u * (3 * rise - 2 * first - last + u * (first + last - 2 * rise)))
