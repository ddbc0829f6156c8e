"""The front wheel in each power level: at what throttle it goes light and lifts, what phase limit keeps it down.

With torque control the throttle asks for a share of the phase limit, so force rises with throttle in a straight
line until the line limit or the voltage holds it. Everything here is read off the operating point of a rested pack
at the build's temperatures, with the front wheel and the rear tyre holding nothing back: the run's own rule that
the front is kept down (`bike.hold_front_down`) plays no part.

"Light" is half of the load that the front carries standing on level ground; "lifted" is none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from physics.build import Build, PowerLevel
from physics.build.batch import NUMBER_PATHS, Batch
from physics.components import load_transfer, motor
from physics.simulation.operating_point import Machine, operating_point
from physics.simulation.plant import Plant

LIGHT, LIFTED = 0.5, 0.0
"""Shares of the standing load on the front wheel."""

_FAINT_THROTTLE = 1e-3
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
    speed: np.ndarray
    full_force: np.ndarray
    force_per_throttle: np.ndarray
    used_throttle: np.ndarray
    light_force: np.ndarray
    lift_force: np.ndarray
    slip_force: np.ndarray
    light_throttle: np.ndarray
    lift_throttle: np.ndarray
    slips_first: np.ndarray
    mass: float

    def least(self, name: str) -> np.ndarray:
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

    def fastest(self, name: str) -> np.ndarray:
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


class _Stand:
    """A build at some power levels, held at some speeds: n elements, one for each level."""

    def __init__(self, build: Build, levels: Sequence[PowerLevel]):
        self.levels = tuple(levels)
        free = build.change({"bike.hold_front_down": False, "bike.grip": np.inf})
        limits = {
            "controller.phase_current_limit": [level.phase_current_limit for level in self.levels],
            "controller.line_current_limit": [level.line_current_limit for level in self.levels],
        }
        self.batch = Batch.vary(free, limits)
        self.grip = build.bike.grip
        plant = Plant(self.batch)
        self.machine = plant.machine
        temperatures = plant.heat.start
        self.winding, self.controller = temperatures[1], temperatures[3]
        self.rest, _, factor = plant.pack.look(plant.charge, temperatures[0])
        self.resistance = plant.pack.ohmic * factor

    def at(self, speed, throttle, machine: Machine | None = None, places=slice(None)):
        """The operating point; speed and throttle broadcast to (..., n)."""
        shape = np.broadcast_shapes(np.shape(speed), np.shape(throttle), self.rest[places].shape)
        rest = self.rest[places]
        return operating_point(
            machine or self.machine, np.broadcast_to(speed, shape), throttle, rest, self.resistance[places],
            self.winding[places], self.controller[places],
        )  # fmt: skip

    def resistances(self, speed):
        """Drag and rolling resistance at some speeds of the first level (they are the same for all), N."""
        m = self.machine
        drag = m.drag_factor[0] * (speed + m.headwind[0]) * np.abs(speed + m.headwind[0])
        return drag, m.rolling_constant[0] + m.rolling_squared[0] * speed**2

    def front_force(self, speed, fraction: float):
        """Drive force at which the front carries a share of its standing load, N, like the speed."""
        drag, rolling = self.resistances(speed)
        return load_transfer.front_load_force(
            self.machine.mass[0], *self._stance()[:2], drag, *self._stance()[2:], fraction, rolling
        )

    def slip_force(self, speed):
        """Drive force at which the rear tyre slips, N, like the speed."""
        if not np.isfinite(self.grip):
            return np.full(np.shape(speed), np.inf)
        drag, rolling = self.resistances(speed)
        to_rear, height, drag_height, slope = self._stance()
        return load_transfer.rear_slip_force(
            self.machine.mass[0], self.batch["bike.wheelbase"][0], to_rear, height, drag, drag_height, slope,
            self.grip, rolling,
        )  # fmt: skip

    def _stance(self):
        names = (
            "bike.centre_of_gravity_to_rear_axle", "bike.centre_of_gravity_height", "bike.drag_height",
            "conditions.slope",
        )  # fmt: skip
        return [float(self.batch[name][0]) for name in names]

    def current_for(self, force, speed):
        """Torque current that a drive force needs, A, like the force: the chain of the drive read backwards."""
        m = self.machine
        iron = motor.iron_loss_drag_torque(m.iron_torque[0], m.iron_damping[0], speed * m.speed_ratio[0])
        return (force / (m.speed_ratio[0] * m.efficiency[0]) + iron) / m.torque_per_ampere[0]


def front_wheel(build: Build, speed, levels: Sequence[PowerLevel] | None = None) -> FrontWheel:
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
    The drive force for a load on the front wheel is the line of `load_transfer.front_load_force`; throttle is the
    current it needs over the current that full throttle asks for.

    Examples
    --------
    >>> from physics.build import example_build
    >>> build = example_build().change({"motor.kv_rpm_per_volt": 35.0, "controller.phase_current_limit": 700.0})
    >>> found = front_wheel(build, [5.0])
    >>> bool(found.light_throttle[0, 0] < found.lift_throttle[0, 0] < 1)
    True
    """
    stand = _Stand(build, levels or levels_of(build))
    speed = np.asarray(speed, dtype=float)
    full = stand.at(speed[:, None], np.ones(len(stand.levels)))
    faint = stand.at(speed[:, None], np.full(len(stand.levels), _FAINT_THROTTLE))
    asked = np.maximum(faint.quadrature.T / _FAINT_THROTTLE, 1e-9)
    m = stand.machine
    force = full.drive_force.T
    marks = {}
    for name, fraction in (("light", LIGHT), ("lift", LIFTED)):
        marked = stand.front_force(speed, fraction)
        throttle = stand.current_for(marked, speed) / asked
        marks[name] = marked, np.where(force >= marked, np.maximum(throttle, 0.0), np.nan)
    lift_force = marks["lift"][0]
    slip = stand.slip_force(speed)
    return FrontWheel(
        stand.levels, speed, force, asked * (m.torque_per_ampere * m.speed_ratio * m.efficiency)[:, None],
        np.minimum(full.quadrature.T / asked, 1.0), marks["light"][0], lift_force, slip, marks["light"][1],
        marks["lift"][1], slip < lift_force, float(m.inertia[0]),
    )  # fmt: skip


def force_against_throttle(
    build: Build, speed: float, throttle, levels: Sequence[PowerLevel] | None = None
) -> np.ndarray:
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
    stand = _Stand(build, levels or levels_of(build))
    return stand.at(float(speed), np.asarray(throttle, dtype=float)[:, None]).drive_force.T


def phase_limit_that_holds(
    build: Build, levels: Sequence[PowerLevel] | None = None, fraction: float = LIFTED, fastest: float = 40.0
) -> np.ndarray:
    """The phase limit at which full throttle just leaves a share of its standing load on the front wheel.

    Parameters
    ----------
    build : Build
        Bike, rider and posture.
    levels : sequence of PowerLevel, optional
        Their line limits count; by default the build's own.
    fraction : float
        Share of the standing load: 0 just stays down, 0.5 just goes light.
    fastest : float, m/s
        Speeds from standing to this are looked at; the worst decides.

    Returns
    -------
    array, shape (levels,), A peak
        Infinite where no phase limit is needed: the line limit or the voltage keeps the front down.

    Notes
    -----
    A root of (force at full throttle - force for that load), largest over speed, through the operating point, by
    scipy.optimize.elementwise.find_root.

    Examples
    --------
    >>> from physics.build import example_build
    >>> build = example_build().change({"motor.kv_rpm_per_volt": 35.0, "controller.phase_current_limit": 700.0})
    >>> bool(200 < phase_limit_that_holds(build)[0] < 700)
    True
    """
    from scipy.optimize import elementwise

    stand = _Stand(build, levels or levels_of(build))
    speed = np.linspace(0.0, fastest, _SPEEDS)
    marked = stand.front_force(speed, fraction)[:, None]

    def excess(limit, place):
        limit, place = np.broadcast_arrays(np.asarray(limit, dtype=float), np.asarray(place, dtype=int))
        machine = stand.machine.take(place.ravel())
        machine.phase_limit = limit.ravel()
        force = stand.at(speed[:, None], np.ones(place.size), machine, place.ravel()).drive_force
        return (force - marked).max(axis=0).reshape(limit.shape)

    accepts = NUMBER_PATHS["controller.phase_current_limit"]
    low, high = np.full((2, len(stand.levels)), [[accepts.low], [accepts.high]])
    place = np.arange(len(stand.levels))
    needed = excess(high, place) > 0
    found = np.full(len(place), np.inf)
    lifts_at_once = excess(low, place) > 0
    found[lifts_at_once] = 0.0
    search = needed & ~lifts_at_once
    if search.any():
        root = elementwise.find_root(excess, (low[search], high[search]), args=(place[search],))
        found[search] = root.x
    return found
