"""Force at the wheel against road speed: every limit as a curve of its own, the envelope, and the road load.

The tractive-effort diagram of vehicle engineering: T. D. Gillespie, Fundamentals of Vehicle Dynamics (SAE, 1992),
chapter 2, "Power-limited acceleration" and "Traction-limited acceleration" (from memory). Where envelope and road
load cross is the top speed; the gap between them, over the mass to be speeded up, is the acceleration.

Everything is for the pack as it rests now: a run sags along its way and stays below the envelope.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from physics import limits
from physics.arrays import Floats
from physics.build import Build
from physics.build.batch import NUMBER_PATHS, Batch
from physics.simulation.operating_point import SPEED_CAP_TIME
from physics.studies.force.stand import Stand

OWN_LIMITS = (
    limits.PHASE_CURRENT,
    limits.LINE_CURRENT,
    limits.VOLTAGE,
    limits.FIELD_WEAKENING,
    limits.THROTTLE,
    limits.FRONT_WHEEL,
    limits.REAR_GRIP,
    limits.SPEED_CAP,
)
"""The limits that get a curve of their own; the first five by letting go of all the others."""
_ALONE = 5

_FREE_PHASE = NUMBER_PATHS["controller.phase_current_limit"].high
_FREE_LINE = NUMBER_PATHS["controller.line_current_limit"].high
_NO_VOLTAGE_LIMIT = 1e7
"""Peak of the phase voltage over the bus voltage that stands for no voltage limit."""
_NO_RESISTANCE = 1e-9
"""Ohm; a pack without it lets the phase limit alone hold."""
_ALLOWED = np.array([16.0, 12.0, 8.0, 6.0, 4.0, 3.0, 2.0, 1.0, 0.0, -1.0])
"""Accelerations allowed by a speed cap, m/s2, where its own curve gets a point."""
_FINER = 200
"""Points laid between the two of the grid where envelope and road load cross."""


@dataclass(frozen=True)
class ForceAgainstSpeed:
    """Force at the wheel against speed for b builds. SI.

    Attributes
    ----------
    speed : array, shape (s,), m/s
    force : array, shape (b, s), N
        The envelope: drive force at the build's throttle, all limits together.
    limit : array of int, shape (b, s)
        Index in LIMITS of the limit that holds there.
    line_current, voltage : array, shape (b, s), A and V
        Of the pack there.
    own : array, shape (len(OWN_LIMITS), b, s), N
        Drive force that each of OWN_LIMITS alone would allow; NaN where the build has no such limit.
    road_load : array, shape (b, s), N
        Drag, rolling resistance and slope.
    top_speed : array, shape (b,), m/s
        Where envelope and road load first cross; infinite where they do not up to the fastest of the speeds, zero
        where the road load is the greater from the start.
    mass : array, shape (b,), kg
        That has to be speeded up, rotating parts included.
    """

    speed: Floats
    force: Floats
    limit: NDArray[np.intp]
    line_current: Floats
    voltage: Floats
    own: Floats
    road_load: Floats
    top_speed: Floats
    mass: Floats

    @property
    def acceleration(self) -> Floats:
        """Shape (b, s), m/s2."""
        return (self.force - self.road_load) / self.mass[:, None]


def force_against_speed(builds: Sequence[Build], speed: ArrayLike) -> ForceAgainstSpeed:
    """Force at the wheel against road speed, for rested packs at today's charge and temperatures.

    Parameters
    ----------
    builds : sequence of Build
        b of them, such as a build and its baseline.
    speed : array, shape (s,), m/s
        From zero upward; as fine as the top speed is wanted to be bracketed.

    Returns
    -------
    ForceAgainstSpeed

    Notes
    -----
    A limit's own curve is the operating point with every other limit let go: of the phase limit with a pack and
    a voltage that hold nothing back, of the throttle with its share of that limit, of the line limit with any
    voltage, of the voltage with any phase and line current and no field weakening. Front wheel and rear grip are
    the lines of `load_transfer`, whether or not the build keeps its front down. The speed cap's falls within a
    fraction of a km/h: `around_cap` gives speeds that show it. A torque table of a motor stands in the place of
    the phase limit.

    Examples
    --------
    >>> from physics.build import example_build
    >>> result = force_against_speed([example_build()], np.linspace(0.0, 50.0, 101))
    >>> limits.LIMITS[result.limit[0, 2]], bool(20 < result.top_speed[0] < 45)
    ('phase current', True)
    >>> bool((result.force[0] <= np.nanmin(result.own[:4, 0], axis=0) + 1.0).all())
    True
    """
    speed = np.asarray(speed, dtype=float)
    count = len(builds)
    batch = Batch.of(builds)
    stand, single, throttle = Stand(batch), _Single(batch), batch["controller.throttle"]
    point = stand.at(speed[:, None], throttle)
    own = np.full((len(OWN_LIMITS), count, speed.size), np.nan)
    own[:_ALONE] = single.force(speed)
    front, rear, cap = (
        OWN_LIMITS.index(limit) for limit in (limits.FRONT_WHEEL, limits.REAR_GRIP, limits.SPEED_CAP)
    )
    own[front] = stand.front_force(speed[:, None]).T
    own[rear] = stand.slip_force(speed[:, None], batch["bike.grip"]).T
    own[cap] = stand.cap_force(speed[:, None], batch["controller.speed_cap"]).T
    road = stand.road_load(speed[:, None]).T
    return ForceAgainstSpeed(
        speed=speed,
        force=point.drive_force.T,
        limit=point.limit.T,
        line_current=point.line_current.T,
        voltage=point.voltage.T,
        own=np.where(np.isfinite(own), own, np.nan),
        road_load=road,
        top_speed=_crossing(stand, speed, throttle, point.drive_force.T - road),
        mass=stand.machine.inertia,
    )


def around_cap(speed: ArrayLike, caps: ArrayLike) -> Floats:
    """Speeds with more of them where speed caps let go, so that a line through the points shows how steeply.

    Parameters
    ----------
    speed : array, shape (s,), m/s
        From zero upward.
    caps : array, m/s
        Speed caps; those beyond the fastest of the speeds add none.

    Returns
    -------
    array, shape (k,), m/s
        All of them, in order.

    Examples
    --------
    >>> around_cap([0.0, 10.0, 20.0], [15.0, np.inf]).round(2)[-5:]
    array([14.9 , 14.95, 15.  , 15.05, 20.  ])
    """
    speed, caps = np.asarray(speed, dtype=float), np.atleast_1d(np.asarray(caps, dtype=float))
    near = caps[caps < speed[-1], None] - SPEED_CAP_TIME * _ALLOWED
    return np.union1d(speed, near[(near > speed[0]) & (near < speed[-1])])


class _Single:
    """Five rows for each build: phase limit, line limit, voltage, field weakening and throttle, each alone."""

    def __init__(self, batch: Batch) -> None:
        count = len(batch)
        phase, line, voltage, field, throttle = self.rows = np.arange(_ALONE * count).reshape(_ALONE, count)
        rows = batch.take(np.tile(np.arange(count), _ALONE))
        none = np.zeros(_ALONE * count)
        phase_limit, line_limit = none + _FREE_PHASE, none + _FREE_LINE
        foldback = [rows[f"controller.foldback_{end}_voltage"].copy() for end in ("start", "end")]
        weakening = none.copy()
        by_phase = np.r_[phase, throttle]
        phase_limit[by_phase] = np.tile(batch["controller.phase_current_limit"], 2)
        line_limit[line] = batch["controller.line_current_limit"]
        weakening[field] = batch["controller.field_weakening_current"]
        for each in foldback:
            each[np.r_[by_phase, voltage, field]] = 0.0
        self.stand = Stand(
            rows.change(
                {
                    "controller.phase_current_limit": phase_limit,
                    "controller.line_current_limit": line_limit,
                    "controller.field_weakening_current": weakening,
                    "controller.foldback_start_voltage": foldback[0],
                    "controller.foldback_end_voltage": foldback[1],
                    "controller.speed_cap": np.inf,
                    "controller.throttle": 1.0,
                    "bike.grip": np.inf,
                    "bike.hold_front_down": 0.0,
                }
            )
        )
        machine = self.stand.machine
        fraction = machine.voltage_fraction.copy()
        fraction[np.r_[by_phase, line]] = _NO_VOLTAGE_LIMIT
        machine.voltage_fraction = fraction
        self.stand.resistance[by_phase] = _NO_RESISTANCE
        self.throttle = np.ones(self.rows.size)
        self.throttle[throttle] = batch["controller.throttle"]
        table = np.array([len(each) > 0 for each in batch.torque_tables])
        self.missing = np.zeros(self.rows.shape, dtype=bool)
        self.missing[2:4] = table  # a table says nothing of the voltage behind it
        self.missing[3] |= batch["controller.field_weakening_current"] == 0.0
        self.missing[4] = batch["controller.throttle"] >= 1.0

    def force(self, speed: Floats) -> Floats:
        """Drive force of each row, N, shape (5, b, s)."""
        force = self.stand.at(speed[:, None], self.throttle).drive_force
        force = force.T.reshape(*self.rows.shape, speed.size)
        return np.where(self.missing[:, :, None], np.nan, force)


def _crossing(stand: Stand, speed: Floats, throttle: Floats, spare: Floats) -> Floats:
    """Where the spare force (b, s) first falls through zero, m/s: by straight lines on a finer grid there."""
    builds = np.arange(len(spare))
    falls = spare <= 0.0
    after = np.where(falls.any(axis=1), falls.argmax(axis=1), 0)
    low, high = speed[np.maximum(after - 1, 0)], speed[after]
    fine = low + (high - low) * np.linspace(0.0, 1.0, _FINER)[:, None]
    left = stand.at(fine, throttle).drive_force - stand.road_load(fine)
    place = np.clip((left <= 0.0).argmax(axis=0), 1, _FINER - 1)
    above, below = left[place - 1, builds], left[place, builds]
    share = np.where(above > below, above / np.where(above > below, above - below, 1.0), 0.0)
    crossing = fine[place - 1, builds] + share * (fine[place, builds] - fine[place - 1, builds])
    return np.where(falls[:, 0], 0.0, np.where(falls.any(axis=1), crossing, np.inf))
