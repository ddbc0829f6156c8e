"""The result of a run: arrays of one row per build, with status and message as scipy's solvers have."""

from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any

import numpy as np

from physics import limits
from physics.components import motor, road_load, tyre
from physics.components.controller import controller_loss
from physics.limits import LIMITS, RULES
from physics.simulation.hermite import time_of_level, value_at
from physics.simulation.machine import Machine
from physics.simulation.plant import POWERS, READINGS, STATE

REACHED_END, CUT_OUT_STATUS = 0, 1
"""Status of a run: 0 it went on to its end, 1 the protection cut out and the bike coasted."""

CHANNELS = (*STATE, *READINGS[:-1], "limit_since")
"""What a run keeps at every instant, beside the limit and the trip timers."""

CUT_OUT = tuple(
    f"cut_out_{name}" for name in ("time", "current", "voltage", "cell_voltage", "speed", "acceleration")
)
"""What is kept of the moment just before a cut-out."""

SETTLED_ACCELERATION = 0.02
"""A speed that rises by less than this, m/s2, counts as settled."""


@dataclass(frozen=True)
class RunResult:
    """One simulated pull for each build of a batch.

    Everything is SI, arrays over time have shape (n, t). Discharge current is positive.

    Attributes
    ----------
    time : array, shape (t,), s
        The instants, the same for all builds.
    speed, acceleration : array, m/s and m/s2
    charge : array
        State of charge, 0 to 1.
    pair_1_voltage, pair_2_voltage, pair_3_voltage : array, V
        Over the pack's resistor-capacitor pairs.
    pack_temperature, winding_temperature, case_temperature, controller_temperature : array, K
    pack_voltage, rest_voltage, weakest_cell_voltage : array, V
        Loaded voltage at the controller, the open-circuit voltage at that moment's charge, and the weakest cell's
        loaded voltage.
    polarisation_heat : array, W
        Heat in the pairs.
    transfer_voltage : array, V
        Over charge transfer.
    ohmic_resistance : array, ohm
        Of the pack without its leads, at that moment's temperature and charge.
    i_q, i_d : array, A
        Torque and field part of the peak phase current.
    drive_force : array, N
        At the road.
    line_current : array, A
    limit_since : array, s
        Since when the limit has held: a moment inside the step in which it changed.
    limit : array of int
        Place in LIMITS of the limit that holds.
    trip_timers : array, shape (n, t, len(RULES))
        How much of each protection rule's allowance is used: 0 none, 1 opens.
    between : tuple of arrays, shape (k, 1 + len(CHANNELS) + 1 + len(RULES)), one for each build
        Where its own steps ended between two instants: time, channels, limit, trip timers. See `one`.
    cut_out_time, cut_out_current, cut_out_voltage, cut_out_cell_voltage : array, shape (n,), s, A, V and V
    cut_out_speed, cut_out_acceleration : array, shape (n,), m/s and m/s2
        Just before the protection opened; NaN where it stayed closed.
    cut_out_rule : array of int, shape (n,)
        Place in RULES, or -1.
    top_speed, holding_limit : array, shape (n,)
        Highest speed under power, m/s, and place in LIMITS of what holds there: what would have to give.
    maximum_line_current : array, shape (n,), A
    minimum_voltage, minimum_cell_voltage : array, shape (n,)
        Lowest voltage of the pack and of its weakest cell, V; a dip between two instants counts.
    allowance_used : array, shape (n, len(RULES))
        The most that each rule's trip timer stood at, 0 to 1.
    energies : array, shape (n, len(POWERS))
        Where energy went and came from, J, in the order of `plant.POWERS`.
    machine : Machine
        The constants of the builds that the derived arrays below need.
    """

    time: np.ndarray
    speed: np.ndarray
    acceleration: np.ndarray
    charge: np.ndarray
    pair_1_voltage: np.ndarray
    pair_2_voltage: np.ndarray
    pair_3_voltage: np.ndarray
    pack_temperature: np.ndarray
    winding_temperature: np.ndarray
    case_temperature: np.ndarray
    controller_temperature: np.ndarray
    pack_voltage: np.ndarray
    rest_voltage: np.ndarray
    weakest_cell_voltage: np.ndarray
    polarisation_heat: np.ndarray
    ohmic_resistance: np.ndarray
    i_q: np.ndarray
    i_d: np.ndarray
    drive_force: np.ndarray
    transfer_voltage: np.ndarray
    line_current: np.ndarray
    limit_since: np.ndarray
    limit: np.ndarray
    trip_timers: np.ndarray
    between: tuple[np.ndarray, ...]
    cut_out_time: np.ndarray
    cut_out_current: np.ndarray
    cut_out_voltage: np.ndarray
    cut_out_cell_voltage: np.ndarray
    cut_out_speed: np.ndarray
    cut_out_acceleration: np.ndarray
    cut_out_rule: np.ndarray
    top_speed: np.ndarray
    holding_limit: np.ndarray
    maximum_line_current: np.ndarray
    minimum_voltage: np.ndarray
    minimum_cell_voltage: np.ndarray
    allowance_used: np.ndarray
    energies: np.ndarray
    machine: Machine

    def __len__(self) -> int:
        return len(self.cut_out_rule)

    def take(self, indices: Any) -> "RunResult":
        """The runs at some indices (a slice, or an array of indices or of truths)."""
        chosen = np.atleast_1d(np.arange(len(self))[indices])
        values = {field.name: getattr(self, field.name) for field in fields(self)}
        time, machine = values.pop("time"), values.pop("machine").take(chosen)
        between = values.pop("between")
        taken = {name: value[chosen] for name, value in values.items()}
        return RunResult(time=time, **taken, between=tuple(between[i] for i in chosen), machine=machine)

    def one(self, index: int = 0) -> "RunResult":
        """One run with all its own steps as instants: a chart of it shows the corners and the edge of a cut-out."""
        run = self.take([index])
        rows = run.between[0]
        at = np.searchsorted(self.time, rows[:, 0])

        def insert(values: np.ndarray, own: np.ndarray) -> np.ndarray:
            return np.insert(values, at, own[None], axis=1)

        channels = zip((*CHANNELS, "limit"), rows[:, 1:].T, strict=False)
        inserted: dict[str, Any] = {name: insert(getattr(run, name), own) for name, own in channels}
        return replace(
            run,
            time=np.insert(self.time, at, rows[:, 0]),
            **inserted,
            trip_timers=insert(run.trip_timers, rows[:, -len(RULES) :]),
            between=(rows[:0],),
        )

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
    def settled(self) -> np.ndarray:
        """Whether the speed had stopped rising by the end, shape (n,)."""
        return (self.acceleration[:, -1] < SETTLED_ACCELERATION) & (self.cut_out_rule < 0)

    @cached_property
    def distance(self) -> np.ndarray:
        """Distance covered, m, shape (n, t): trapezoid with its end correction by the acceleration."""
        step = np.diff(self.time)
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
        return np.hypot(self.i_q, self.i_d)

    @property
    def speed_under_power(self) -> np.ndarray:
        """Speed, m/s, shape (n, t); 0 once the protection has opened, for what it then rolls at is no drive's."""
        return np.where(self.limit == limits.CUT_OUT, 0.0, self.speed)

    @property
    def polarisation_voltage(self) -> np.ndarray:
        """Sum of the voltages of the pack's resistor-capacitor pairs, V, shape (n, t)."""
        return self.pair_1_voltage + self.pair_2_voltage + self.pair_3_voltage

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
        """Where heat arises, W, shape (n, t) each: pack, leads, winding, iron, controller, driveline."""
        m = self.machine
        slip = tyre.drive_slip(self.drive_force, _column(m.rear_load), _column(m.slip_stiffness))
        motor_speed = self.speed * _column(m.speed_ratio) * (1 + slip)
        current = self.phase_current
        resistance = motor.winding_resistance(_column(m.resistance_20), self.winding_temperature)
        resistance = resistance * motor.eddy_factor(motor_speed, _column(m.eddy_speed))
        iron = motor.iron_loss_drag_torque(_column(m.iron_torque), _column(m.iron_damping), motor_speed)
        flux = motor.magnet_share(_column(m.magnet_weakening), self.case_temperature)
        flux = flux * motor.saturation_share(self.i_q, _column(m.saturation_current))
        air_gap = _column(m.torque_per_ampere) * flux * self.i_q * motor_speed
        fed = self.line_current > 0
        loss = controller_loss(
            _column(m.fixed_loss), _column(m.loss_per_ampere), _column(m.loss_resistance), current
        )
        return {
            "pack": self.line_current * (self.line_current * self.ohmic_resistance + self.transfer_voltage)
            + self.polarisation_heat,
            "leads": self.line_current**2 * _column(m.lead_resistance),
            "winding": 1.5 * resistance * current**2 + (_column(m.shaft_gain) - 1) * air_gap,
            "iron": iron * motor_speed,
            "controller": np.where(fed, loss, 0.0),
            "driveline": air_gap - iron * motor_speed - self.drive_force * self.speed,
        }

    def time_to(self, speed: Any) -> np.ndarray:
        """When each run first reaches a speed.

        Parameters
        ----------
        speed : float or array, shape (n,), m/s
            The speed to reach.

        Returns
        -------
        array, shape (n,), s
            NaN where it does not, see `reaches`. Cubic between the run's instants, through speed and acceleration.
        """
        speed = np.broadcast_to(np.asarray(speed, dtype=float), (len(self),))
        there = self.reaches(speed)
        times = np.where(there, time_of_level(*self._up_to_cut_outs(), speed), np.nan)
        for row in (there & np.isnan(times)).nonzero()[0]:  # it was that fast between two instants only
            times[row] = self.one(int(row)).time_to(speed[row])[0]
        return times

    def reaches(self, speed: Any) -> np.ndarray:
        """Whether each run reaches a speed, shape (n,): see `reaches` below."""
        return reaches(self.top_speed, speed)

    def _up_to_cut_outs(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Time, speed and acceleration with the instant just before each cut-out, where they have a kink."""
        opened, shape = self.cut_out_rule >= 0, self.speed.shape
        if not opened.any():
            return self.time, self.speed, self.acceleration
        last = np.where(opened, self.cut_out_time, self.time[-1])
        speed = np.where(opened, self.cut_out_speed, self.speed[:, -1])
        acceleration = np.where(opened, self.cut_out_acceleration, self.acceleration[:, -1])
        times = np.column_stack([np.broadcast_to(self.time, shape), last])
        order = np.argsort(times, axis=1, kind="stable")
        columns = times, np.column_stack([self.speed, speed]), np.column_stack([self.acceleration, acceleration])
        time, speeds, accelerations = (np.take_along_axis(each, order, axis=1) for each in columns)
        return time, np.where(time <= last[:, None], speeds, -np.inf), accelerations

    def distance_at(self, speed: Any) -> np.ndarray:
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
            "cells"; then "pack", "winding", "iron", "controller", "driveline", "leads" (heat), "polarisation"
            (what the resistor-capacitor pairs took up and may still hold, less their heat), "drag", "rolling",
            "climbing", "kinetic"; and "remainder", cells less all of those.
        """
        parts = dict(zip(POWERS, self.energies.T, strict=True))
        cells = parts.pop("cells")
        parts["kinetic"] = self.machine.inertia * (self.speed[:, -1] ** 2 - self.speed[:, 0] ** 2) / 2
        return {"cells": cells, **parts, "remainder": cells - sum(parts.values())}


def reaches(top_speed: Any, speed: Any) -> Any:
    """Whether a run reaches a speed: it passes it under power, before a cut-out and before its end.

    What a bike coasts to down a hill once its pack has cut out does not count; a later cut-out takes nothing away.

    Parameters
    ----------
    top_speed : float or array, m/s
        Of the run, as a RunResult holds it: the highest under power.
    speed : float or array, m/s
        The speed to reach.

    Returns
    -------
    bool or array of bool

    Examples
    --------
    >>> bool(reaches(25.0, 25.0)), bool(reaches(25.0, 25.1))
    (True, False)
    """
    return np.asarray(top_speed) >= speed


def _column(values: np.ndarray) -> np.ndarray:
    return np.asarray(values)[..., None]
