"""The front wheel in each power level: at what throttle it goes light and lifts, what phase limit keeps it down.

With torque control the throttle asks for a fraction of the phase limit, so force rises with throttle in a straight
line until the line limit or the voltage holds it. Everything here is read off the operating point of a rested pack
at the build's temperatures, with the front wheel and the rear tyre holding nothing back: the run's own rule that
the front is kept down (`bike.hold_front_down`) plays no part.

"Light" is half of the load that the front carries standing on level ground; "lifted" is none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from physics.arrays import Floats
from physics.build import Build, PowerLevel
from physics.build.batch import NUMBER_PATHS, Batch
from physics.studies.force.stand import Stand

LIGHT, LIFTED = 0.5, 0.0
"""Fractions of the standing load on the front wheel."""

_FAINT_THROTTLE = 1e-3
_ROUNDING = 1e-9
_SPEEDS = 121
"""Speeds at which a phase limit is judged, from standing to the fastest."""


@dataclass(frozen=True)
class FrontWheel:
    """Throttle and force against speed, for some power levels. SI; throttle 0 to 1.

    Attributes
    ----------
    levels : tuple of PowerLevel
    speed : array, shape (s,), m/s
    full_force : array, shape (levels, s), N
        Drive force at full throttle.
    force_per_throttle : array, shape (levels, s), N
        How steeply force rises with throttle, per unit of throttle.
    used_throttle : array, shape (levels, s)
        The throttle past which more does nothing.
    light_force, lift_force, slip_force : array, shape (s,), N
        Drive force at which the front is light, at which it lifts, and at which the rear tyre slips with the front
        still down (infinite where it cannot slip before).
    light_throttle, lift_throttle : array, shape (levels, s)
        NaN where even full throttle does not do it.
    slips_first : array of bool, shape (s,)
        Where the rear tyre slips before the front lifts.
    mass : float, kg
        That has to be speeded up, rotating parts included.
    """

    levels: tuple[PowerLevel, ...]
    speed: Floats
    full_force: Floats
    force_per_throttle: Floats
    used_throttle: Floats
    light_force: Floats
    lift_force: Floats
    slip_force: Floats
    light_throttle: Floats
    lift_throttle: Floats
    slips_first: NDArray[np.bool_]
    mass: float

    def least(self, name: str) -> Floats:
        """The least throttle over all speeds at which something happens.

        Parameters
        ----------
        name : str
            "light_throttle" or "lift_throttle".

        Returns
        -------
        array, shape (levels,)
            NaN where it happens at no speed.
        """
        values = getattr(self, name)
        least = np.where(np.isnan(values), np.inf, values).min(axis=1)
        return np.where(np.isfinite(least), least, np.nan)

    def fastest(self, name: str) -> Floats:
        """The highest speed at which something can still happen, m/s; NaN where it happens at none."""
        happens = np.isfinite(getattr(self, name))
        last = happens.shape[1] - 1 - happens[:, ::-1].argmax(axis=1)
        return np.where(happens.any(axis=1), self.speed[last], np.nan)


def levels_of(build: Build) -> tuple[PowerLevel, ...]:
    """The power levels of a build; where none are saved, the limits it is ridden with.

    Parameters
    ----------
    build : Build

    Returns
    -------
    tuple of PowerLevel
        At least one.
    """
    control = build.controller
    now = PowerLevel("Limits in use", control.phase_current_limit, control.line_current_limit)
    return control.power_levels or (now,)


def _stand(builds: Build | Sequence[Build], levels: Sequence[PowerLevel]) -> Stand:
    """A build in some power levels, or one in each, with front wheel and rear tyre holding nothing back."""
    batch = Batch.of(builds)
    if len(batch) < len(levels):
        batch = batch.take(np.zeros(len(levels), dtype=int))
    return Stand(
        batch.change(
            {
                "controller.phase_current_limit": [level.phase_current_limit for level in levels],
                "controller.line_current_limit": [level.line_current_limit for level in levels],
                "bike.hold_front_down": 0.0,
                "bike.grip": np.inf,
            }
        )
    )


def front_wheel(build: Build, speed: ArrayLike, levels: Sequence[PowerLevel] | None = None) -> FrontWheel:
    """At what throttle the front wheel goes light and lifts, against speed, for each power level.

    Parameters
    ----------
    build : Build
        Bike, rider, posture, motor, pack and conditions.
    speed : array, shape (s,), m/s
        Zero or above.
    levels : sequence of PowerLevel, optional
        By default the build's own.

    Returns
    -------
    FrontWheel

    Notes
    -----
    The drive force for a load on the front wheel is the line of `load_transfer.front_load_limit`; throttle is the
    current it needs over the current that full throttle asks for.

    Examples
    --------
    >>> from physics.build import example_build
    >>> build = example_build().change({"motor.kv_rpm_per_volt": 35.0, "controller.phase_current_limit": 700.0})
    >>> result = front_wheel(build, [5.0])
    >>> bool(result.light_throttle[0, 0] < result.lift_throttle[0, 0] < 1)
    True
    """
    levels = levels or levels_of(build)
    stand = _stand(build, levels)
    speed = np.asarray(speed, dtype=float)
    point = stand.at(speed[:, None], np.array([1.0, _FAINT_THROTTLE])[:, None, None])
    used, faint = point.i_q
    asked = np.maximum(faint.T / _FAINT_THROTTLE, 1e-9)
    m = stand.machine
    force = point.drive_force[0].T
    light_force, lift_force = (stand.front_force(speed[:, None], fraction)[:, 0] for fraction in (LIGHT, LIFTED))
    slip = stand.slip_force(speed[:, None], build.bike.grip)[:, 0]

    def throttle_for(marked: Floats) -> Floats:
        throttle = stand.current_for(marked[:, None], speed[:, None]).T / asked
        return np.where(force >= marked, np.maximum(throttle, 0.0), np.nan)

    return FrontWheel(
        levels=tuple(levels),
        speed=speed,
        full_force=force,
        force_per_throttle=asked * stand.force_per_ampere[:, None],
        used_throttle=np.minimum(used.T / asked, 1.0),
        light_force=light_force,
        lift_force=lift_force,
        slip_force=slip,
        light_throttle=throttle_for(light_force),
        lift_throttle=throttle_for(lift_force),
        slips_first=slip < lift_force,
        mass=float(m.inertia[0]),
    )


def force_against_throttle(
    build: Build, speed: float, throttle: ArrayLike, levels: Sequence[PowerLevel] | None = None
) -> Floats:
    """Drive force at one speed for some throttle positions in each power level.

    Parameters
    ----------
    build : Build
        As for `front_wheel`.
    speed : float, m/s
        Zero or above.
    throttle : array, shape (t,)
        0 to 1.
    levels : sequence of PowerLevel, optional
        By default the build's own.

    Returns
    -------
    array, shape (levels, t), N
        Below zero where the motor's iron loss brakes.

    Examples
    --------
    >>> from physics.build import example_build
    >>> low, half, full = force_against_throttle(example_build(), 5.0, [0.0, 0.5, 1.0])[0]
    >>> bool(low < 0 < half < full)
    True
    """
    levels = levels or levels_of(build)
    stand = _stand(build, levels)
    return stand.at(float(speed), np.asarray(throttle, dtype=float)[:, None]).drive_force.T


def throttle_for_acceleration(
    build: Build, acceleration: float, speed: float, levels: Sequence[PowerLevel] | None = None
) -> Floats:
    """The throttle that gives an acceleration at a speed in each power level.

    Parameters
    ----------
    build : Build
        As for `front_wheel`.
    acceleration : float, m/s2
        Wanted.
    speed : float, m/s
        Zero or above.
    levels : sequence of PowerLevel, optional
        By default the build's own.

    Returns
    -------
    array, shape (levels,)
        0 to 1; NaN where even full throttle does not give it.

    Examples
    --------
    >>> from physics.build import example_build
    >>> bool(0 < throttle_for_acceleration(example_build(), 2.0, 5.0)[0] < 1)
    True
    """
    levels = levels or levels_of(build)
    stand = _stand(build, levels)
    force = stand.machine.inertia * acceleration + stand.road_load(speed)
    point = stand.at(speed, np.array([[1.0], [_FAINT_THROTTLE]]))
    asked = np.maximum(point.i_q[1] / _FAINT_THROTTLE, 1e-9)
    throttle = np.clip(stand.current_for(np.maximum(force, 0.0), speed) / asked, 0.0, 1.0)
    return np.where(point.drive_force[0] >= force, throttle, np.nan)


def phase_limit_that_holds(
    builds: Build | Sequence[Build],
    levels: Sequence[PowerLevel] | None = None,
    fraction: ArrayLike = LIFTED,
    fastest: float = 40.0,
) -> Floats:
    """The phase limit at which full throttle just leaves a fraction of its standing load on the front wheel.

    Parameters
    ----------
    builds : Build, or sequence of Build
        Bike, rider and posture; of several, one for each level.
    levels : sequence of PowerLevel, optional
        Their line limits count; by default a build's own.
    fraction : float or array, shape (levels,)
        Fraction of the standing load: 0 just stays down, 0.5 just goes light.
    fastest : float, m/s
        Speeds from standing to this are looked at; the worst decides.

    Returns
    -------
    array, shape (levels,), A peak
        Infinite where no phase limit is needed: the line limit or the voltage keeps the front down.

    Notes
    -----
    A force needs the same torque current whatever the phase limit is, and that much field-weakening current as the
    voltage asks for: the phase limit that gives it, and no more, is the size of the two together. Of all speeds at
    which that force is within reach the least counts.

    Examples
    --------
    >>> from physics.build import example_build
    >>> build = example_build().change({"motor.kv_rpm_per_volt": 35.0, "controller.phase_current_limit": 700.0})
    >>> bool(200 < phase_limit_that_holds(build)[0] < 700)
    True
    """
    levels = levels or levels_of(builds if isinstance(builds, Build) else builds[0])
    stand = _stand(builds, levels)
    speed = np.linspace(0.0, fastest, _SPEEDS)
    marked = stand.front_force(speed[:, None], np.broadcast_to(fraction, len(levels)))

    accepts = NUMBER_PATHS["controller.phase_current_limit"]
    machine = stand.machine.take(slice(None))
    machine.phase_limit = np.full(len(levels), accepts.high)
    needed = stand.current_for(marked, speed[:, None])
    left = np.maximum(stand.heat_share, _ROUNDING)
    by_table = False if machine.has_table is None else machine.has_table  # of torque, which no phase limit changes
    throttle = np.where(by_table, 1.0, np.minimum(needed / (left * accepts.high), 1.0))
    point = stand.at(speed[:, None], throttle, machine)
    reached = point.i_q >= needed * (1.0 - _ROUNDING)
    limit = np.where(reached, np.hypot(np.maximum(needed, 0.0), point.i_d) / left, np.inf).min(axis=0)
    return np.where((limit < accepts.low) | by_table & np.isfinite(limit), 0.0, limit)
