"""The result of a run: arrays of one row per build, with status and message as scipy's solvers have."""

from dataclasses import dataclass, fields

import numpy as np

from physics.limits import LIMITS, RULES

REACHED_END, CUT_OUT_STATUS = 0, 1
"""Status of a run: 0 it went on to its end, 1 the protection cut out and the bike coasted."""


@dataclass(frozen=True)
class RunResult:
    """One simulated pull for each build of a batch.

    Arrays over time have shape (n, t); `time` differs between builds only where a cut-out placed two extra
    instants, one before and one after the opening. Everything is SI. Discharge current is positive.

    Attributes
    ----------
    time, speed, distance, acceleration : array, shape (n, t)
        s, m/s, m and m/s2.
    pack_voltage, rest_voltage, weakest_cell_voltage : array, shape (n, t)
        Loaded voltage, the open-circuit voltage at that moment's charge, and the weakest cell's loaded voltage, V.
    line_current, phase_current, field_current : array, shape (n, t)
        Pack current, peak phase current and its field-weakening part (zero or negative), A.
    charge : array, shape (n, t)
        State of charge, 0 to 1.
    drive_force, drag_force, rolling_force, slope_force : array, shape (n, t)
        At the road, N.
    limit : array of int, shape (n, t)
        The place in LIMITS of the limit that holds.
    pack_temperature, winding_temperature, case_temperature, controller_temperature : array, shape (n, t)
        K.
    polarisation_voltage : array, shape (n, t)
        Sum of the voltages of the pack's resistor-capacitor pairs, V.
    clocks : array, shape (n, t, len(RULES))
        How much of each protection rule's allowance is used: 0 none, 1 opens.
    heat_power : dict of str to array, shape (n, t)
        Where heat arises, W: "pack", "winding", "iron", "controller", "driveline".
    inertia : array, shape (n,)
        Equivalent mass, kg.
    top_speed, minimum_voltage, minimum_cell_voltage, energy_used : array, shape (n,)
        m/s, V, V and J taken from the cells (open-circuit voltage times current).
    settled : array of bool, shape (n,)
        Whether the speed had stopped rising by the end.
    cut_out_time, cut_out_current, cut_out_voltage, cut_out_cell_voltage : array, shape (n,)
        NaN where the protection stayed closed.
    cut_out_rule : array of int, shape (n,)
        Place in RULES, or -1.
    status : array of int, shape (n,)
        0 ran to its end, 1 cut out.
    message : tuple of str
        One sentence for each build.
    """

    time: np.ndarray
    speed: np.ndarray
    distance: np.ndarray
    acceleration: np.ndarray
    pack_voltage: np.ndarray
    rest_voltage: np.ndarray
    weakest_cell_voltage: np.ndarray
    line_current: np.ndarray
    phase_current: np.ndarray
    field_current: np.ndarray
    charge: np.ndarray
    drive_force: np.ndarray
    drag_force: np.ndarray
    rolling_force: np.ndarray
    slope_force: np.ndarray
    limit: np.ndarray
    pack_temperature: np.ndarray
    winding_temperature: np.ndarray
    case_temperature: np.ndarray
    controller_temperature: np.ndarray
    polarisation_voltage: np.ndarray
    clocks: np.ndarray
    heat_power: dict
    inertia: np.ndarray
    top_speed: np.ndarray
    minimum_voltage: np.ndarray
    minimum_cell_voltage: np.ndarray
    energy_used: np.ndarray
    settled: np.ndarray
    cut_out_time: np.ndarray
    cut_out_current: np.ndarray
    cut_out_voltage: np.ndarray
    cut_out_cell_voltage: np.ndarray
    cut_out_rule: np.ndarray
    status: np.ndarray
    message: tuple

    def __len__(self) -> int:
        return len(self.top_speed)

    def take(self, places) -> "RunResult":
        """The runs at some places (a slice, or an array of places or of truths)."""
        chosen = np.atleast_1d(np.arange(len(self))[places])
        values = {}
        for field in fields(self):
            value = getattr(self, field.name)
            if isinstance(value, dict):
                values[field.name] = {key: item[chosen] for key, item in value.items()}
            elif isinstance(value, tuple):
                values[field.name] = tuple(value[place] for place in chosen)
            else:
                values[field.name] = value[chosen]
        return RunResult(**values)

    def time_to(self, speed) -> np.ndarray:
        """When each run first reaches a speed.

        Parameters
        ----------
        speed : float or array, shape (n,), m/s
            The speed to reach.

        Returns
        -------
        array, shape (n,), s
            NaN where it is not reached. Linear between the run's instants.
        """
        return first_crossing(self.time, self.speed, speed)

    def distance_at(self, speed) -> np.ndarray:
        """Distance covered when each run first reaches a speed, m; NaN where it does not."""
        return first_crossing(self.distance, self.speed, speed)

    def limit_names(self, place: int = 0) -> list[str]:
        """The names of the limits that hold over one run, instant by instant."""
        return [LIMITS[limit] for limit in self.limit[place]]

    def cut_out_rule_names(self) -> list[str]:
        """For each run the rule that opened, or an empty text."""
        return [RULES[rule] if rule >= 0 else "" for rule in self.cut_out_rule]

    def energy_balance(self) -> dict[str, np.ndarray]:
        """Where the energy taken from the cells went, by trapezoid over the run's instants.

        Returns
        -------
        dict of str to array, shape (n,), J
            "cells", then "pack", "winding", "iron", "controller", "driveline" (heat), "polarisation" (what the
            resistor-capacitor pairs still hold is counted with the pack's heat), "drag", "rolling", "climbing",
            "kinetic", and "remainder", cells less all others.
        """
        balance = {"cells": integral(self.rest_voltage * self.line_current, self.time)}
        for name, power in self.heat_power.items():
            balance[name] = integral(power, self.time)
        balance["drag"] = integral(self.drag_force * self.speed, self.time)
        balance["rolling"] = integral(self.rolling_force * self.speed, self.time)
        balance["climbing"] = integral(self.slope_force * self.speed, self.time)
        balance["kinetic"] = self.inertia * (self.speed[:, -1] ** 2 - self.speed[:, 0] ** 2) / 2
        balance["remainder"] = 2 * balance["cells"] - sum(balance.values())
        return balance


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
    """
    return np.sum((values[..., 1:] + values[..., :-1]) * np.diff(time), axis=-1) / 2


def first_crossing(axis, values, level) -> np.ndarray:
    """Where rows of values first reach a level, on another axis, linear between points.

    Parameters
    ----------
    axis : array, shape (n, t)
        What to read off, such as time.
    values : array, shape (n, t)
        What has to reach the level.
    level : float or array, shape (n,)
        The level.

    Returns
    -------
    array, shape (n,)
        NaN where the level is not reached.

    Examples
    --------
    >>> float(first_crossing(np.array([[0.0, 1.0, 2.0]]), np.array([[0.0, 4.0, 8.0]]), 6.0)[0])
    1.5
    """
    level = np.broadcast_to(np.asarray(level, dtype=float), values.shape[:1])
    above = values >= level[:, None]
    reached = above.any(axis=1)
    place = np.where(reached, above.argmax(axis=1), 0)
    before = np.maximum(place - 1, 0)
    rows = np.arange(len(values))
    rise = values[rows, place] - values[rows, before]
    share = np.where(rise > 0, (level - values[rows, before]) / np.where(rise > 0, rise, 1), 1.0)
    found = axis[rows, before] + share * (axis[rows, place] - axis[rows, before])
    return np.where(reached, found, np.nan)
