"""The line limit and the speed cap that keep a bike within a power and a speed that a rule allows.

Power follows the bus voltage times the line current, so it is highest with a full, rested pack of little
resistance, as hot as it may be, and a cold motor. There, at every speed, in every case in which things are as off
as they may well be, and with the controller's own overshoot on top, power must stay at or below what is allowed.
Front wheel and rear grip hold nothing back, as on a roller bench.

Counted at the shaft is what the motor gives, at the wheel what the chain leaves of it. Left out: losses of motor or
controller that are less than entered (`certain` holds whatever they are), what rollers take, and how a rule wants
power and speed to be measured. Which rule holds is for local law, the club and licensed practice to say.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from physics.arrays import Floats
from physics.build import Build
from physics.build.batch import NUMBER_PATHS, Batch
from physics.components import motor, pack
from physics.studies.force.front_wheel import levels_of
from physics.studies.force.stand import Stand
from physics.studies.uncertainty.tolerance import Tolerance, default_tolerances
from physics.studies.uncertainty.worse import worse_cases

RADIUS_DOUBT = 0.02
"""Share by which a tyre may be larger than its code says; common practice, no source."""
COLDEST = 253.15
"""K, of a motor that has stood in the cold."""

_SPEEDS, _ROUNDS = 33, 4
_MOST = int(NUMBER_PATHS["controller.line_current_limit"].high)


@dataclass(frozen=True, eq=False)
class RuleLimits:
    """What to set.

    Attributes
    ----------
    shaft, wheel : float, A
        The highest whole line limit with which power there stays within what is allowed: infinite where none is
        needed, 0 where even 1 A is too much, NaN where the rule has no power.
    certain : float, A
        The highest whole line limit with which it does even if nothing were lost at all.
    highest : float, W
        Power at the shaft without a line limit, at the most; NaN where the rule has no power.
    speed_cap, motor_speed : float, m/s and rad/s
        That keep the speed within what is allowed; NaN where the rule has no speed.
    speed, shaft_power, wheel_power : array, shape (s,), m/s, W and W
        At the line limit for the shaft, at the most; empty without one.
    """

    shaft: float
    wheel: float
    certain: float
    highest: float
    speed_cap: float
    motor_speed: float
    speed: Floats
    shaft_power: Floats
    wheel_power: Floats

    @property
    def message(self) -> str:
        """The answer in a sentence."""
        parts = []
        if not math.isnan(self.shaft):
            parts.append(f"line limit {self.shaft:.0f} A at the shaft, {self.wheel:.0f} A at the wheel")
        if not math.isnan(self.speed_cap):
            parts.append(f"speed cap {self.speed_cap:.1f} m/s")
        return "Set: " + "; ".join(parts) + "."


def rule_limits(
    build: Build,
    power: float | None,
    speed: float | None = None,
    radius_doubt: float = RADIUS_DOUBT,
    tolerances: Sequence[Tolerance] | None = None,
) -> RuleLimits:
    """The line limit and speed cap that meet a rule.

    Parameters
    ----------
    build : Build
        Of its power levels the largest phase limit counts.
    power : float, W, optional
        Allowed; above 0. None is no such rule.
    speed : float, m/s, optional
        Allowed; above 0. None is no such rule.
    radius_doubt : float
        Share by which the rolling radius may be larger than entered.
    tolerances : sequence of Tolerance, optional
        How well the unknowns are known; None is `default_tolerances`.

    Returns
    -------
    RuleLimits

    Raises
    ------
    ValueError
        For a power or a speed that is not above 0.

    Examples
    --------
    >>> from physics.build import example_build
    >>> found = rule_limits(example_build(), 5000.0, 20.0)
    >>> found.certain <= found.shaft <= found.wheel, round(found.speed_cap, 2)
    (True, 19.61)
    """
    for name, value in (("power", power), ("speed", speed)):
        if value is not None and not value > 0:
            raise ValueError(f"Rule, {name}: got {value!r}; accepts a number above 0.")
    turns = float(Stand(Batch.of(build)).machine.turns_per_speed[0])
    cap = math.nan if speed is None else speed / (1.0 + radius_doubt)
    shaft = wheel = certain = highest = math.nan
    curves = (np.empty(0), np.empty(0), np.empty(0))
    if power is not None:
        worst = worst_batch(build, default_tolerances(build) if tolerances is None else tuple(tolerances))
        full = float(pack.rest_voltage(build.pack.chemistry, build.pack.cells_in_series, 1.0))
        certain = float(math.floor(power / full / (1.0 + build.controller.overshoot) + 1e-9))
        most = [float(peak.max()) for peak in peak_power(worst, _MOST)]
        shaft = math.inf if most[0] <= power else _highest_limit(worst, power, False, certain)
        wheel = math.inf if most[1] <= power else _highest_limit(worst, power, True, shaft)
        highest = most[0]
        curves = _curves(worst, shaft)
    return RuleLimits(shaft, wheel, certain, highest, cap, cap * turns, *curves)


def worst_batch(build: Build, known: Sequence[Tolerance]) -> Batch:
    """A full, hot, rested pack and a cold or a warm motor, in every case of the unknowns; held back by no wheel.

    Parameters
    ----------
    build : Build
        As entered.
    known : sequence of Tolerance
        How well the unknowns are known.

    Returns
    -------
    Batch
        Twice as many builds as there are cases.

    Examples
    --------
    >>> from physics.build import example_build
    >>> len(worst_batch(example_build(), []))
    2
    """
    free = build.change({"bike.hold_front_down": False, "bike.grip": np.inf, "controller.speed_cap": np.inf})
    full = Batch.of(free).change(
        {
            "conditions.charge": 1.0,
            "conditions.pack_temperature": build.pack.protection.discharge_temperature_maximum,
            "controller.throttle": 1.0,
            "controller.phase_current_limit": max(level.phase_current_limit for level in levels_of(build)),
            "conditions.controller_temperature": COLDEST,
        }
    )
    cases = [case.applied(full).change({"conditions.charge": 1.0}) for case in worse_cases(known)]
    cold = Batch.join(cases).change({"conditions.motor_temperature": COLDEST})
    return Batch.join([*cases, cold])


def peak_power(batch: Batch, limit: float) -> tuple[Floats, Floats]:
    """The highest power at the shaft and at the wheel over all speeds, W, shape (n,), with a line limit set.

    Parameters
    ----------
    batch : Batch
        n builds, such as those of `worst_batch`.
    limit : float, A
        As set; the controller's overshoot comes on top.

    Returns
    -------
    tuple of arrays, shape (n,), W

    Examples
    --------
    >>> from physics.build import example_build
    >>> shaft, wheel = peak_power(worst_batch(example_build(), []), 50.0)
    >>> bool(4000 < wheel[0] < shaft[0] < 50.0 * 1.03 * 100.8)
    True
    """
    stand = _limited(batch, limit)
    shaft, wheel = (list(_peaks(stand, _fastest(batch, stand), at_wheel))[-1] for at_wheel in (False, True))
    return shaft, wheel


def _peaks(stand: Stand, fastest: Floats, at_wheel: bool) -> Iterator[Floats]:
    """The highest power, W, shape (n,), as found in rounds that look ever closer around it: it never falls."""
    low, high = np.zeros(len(fastest)), fastest
    for _ in range(_ROUNDS):
        speeds = low + (high - low) * np.linspace(0.0, 1.0, _SPEEDS)[:, None]
        powers = _powers(stand, speeds)[at_wheel]
        yield powers.max(axis=0)
        top = powers.argmax(axis=0)
        low, high = (np.take_along_axis(speeds, np.clip(top + by, 0, _SPEEDS - 1)[None], 0)[0] for by in (-1, 1))


def _limited(batch: Batch, limit: float) -> Stand:
    return Stand(batch.change({"controller.line_current_limit": limit * (1.0 + batch["controller.overshoot"])}))


def _powers(stand: Stand, speeds: Floats) -> tuple[Floats, Floats]:
    point = stand.at(speeds, np.ones(speeds.shape[-1]))
    return (point.air_gap_torque - point.iron_torque) * point.motor_speed, point.drive_force * speeds


def _fastest(batch: Batch, stand: Stand) -> Floats:
    """Speeds beyond which no power is made, m/s: far past the no-load speed where the field may be weakened."""
    machine = stand.machine
    past = np.where(batch["controller.field_weakening_current"] > 0, 2.5, 1.1)
    turns = past * motor.no_load_speed(batch["motor.kv_rpm_per_volt"], stand.rest, batch["controller.modulation"])
    table = np.array([rows[-1][0] if rows else 0.0 for rows in batch.torque_tables])
    return np.where(table > 0, table, turns) / machine.turns_per_speed


def _highest_limit(worst: Batch, power: float, at_wheel: bool, known: float) -> float:
    """The highest whole line limit that keeps the peak within a power, where the largest of all does not.

    One that is known to be low enough saves steps: the search widens from there.
    """

    def within(limit: int) -> bool:
        stand = _limited(worst, limit)
        return all(peak.max() <= power for peak in _peaks(stand, _fastest(worst, stand), at_wheel))

    low = int(known) if known < _MOST and (known < 1 or within(int(known))) else 0
    high, step = low, max(1, low // 8)
    while high < _MOST:
        high, step = min(high + step, _MOST), 2 * step
        if high == _MOST or not within(high):
            break
        low = high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if within(middle) else (low, middle)
    return float(low)


def _curves(worst: Batch, limit: float) -> tuple[Floats, Floats, Floats]:
    """The largest powers against speed with a line limit."""
    stand = _limited(worst, float(np.clip(limit, 1, _MOST)))
    speeds = np.linspace(0.0, float(_fastest(worst, stand).max()), 121)
    shaft, wheel = (power.max(axis=1) for power in _powers(stand, speeds[:, None] + np.zeros(len(worst))))
    used = speeds <= speeds[np.flatnonzero(shaft > 0)[-1]] if (shaft > 0).any() else speeds >= 0
    return speeds[used], np.maximum(shaft, 0.0)[used], np.maximum(wheel, 0.0)[used]
