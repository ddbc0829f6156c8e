"""Hill start: the steepest slope that starts, for how long until heat folds back, and the highest kerb.

At the steepest slope nothing is left to speed up, so three balances of statics, each of the form
A cos s - B sin s >= C, tell the angle s in closed form:

    drive         F - D >= m g (sin s + c cos s)
    front wheel   m g b cos s - m g h sin s >= D h_d                  with the fork topped out
    rear tyre     grip (m g (w - b) cos s + m g h sin s + D h_d) / w >= D + m g (sin s + c cos s)

F is the drive force at full throttle with the motor at one turn in six seconds, iron and chain drag taken off. The
advice is the least of the cases in which things are as much worse than entered as they may well be.

Heat is the run's own model (`physics.simulation.thermal`) at the stall current, the winding's resistance rising
with its temperature: a linear pair of equations, solved by its eigenvalues. A motor that stands quite still has its
current in the phases as they stand: at worst one of them carries the peak and takes 2/3 of the copper's heat, twice
its share. That time is worked out with twice the losses of winding and controller.

Left out: momentum of a run-up, a clutch, a rider who shifts forward, loose ground, and brakes that hold the bike.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from physics.arrays import Floats, Numbers
from physics.build import Build, PowerLevel
from physics.build.batch import Batch
from physics.components import motor
from physics.components.air import STANDARD_GRAVITY
from physics.components.controller import controller_loss
from physics.components.kerb import front_kerb, rear_kerb
from physics.components.road_load import combined_centre_of_gravity
from physics.simulation.thermal import start_temperatures
from physics.studies.force.front_wheel import levels_of
from physics.studies.force.stand import Stand
from physics.studies.uncertainty.tolerance import Tolerance, default_tolerances
from physics.studies.uncertainty.worse import worse_cases

DRIVE, FRONT_LIFTS, REAR_SLIPS = 0, 1, 2
ENDS = ("the motor runs out of pull", "the front wheel lifts", "the rear tyre slips")
"""What ends it, in the order of their numbers."""
LONGEST = 1800.0
"""Seconds after which heat counts as no limit."""

_HALVINGS = 50


@dataclass(frozen=True)
class Passenger:
    """Somebody behind the rider.

    Attributes
    ----------
    mass : float, kg
        With gear; 0 or above.
    to_rear_axle, height : float, m
        Of the passenger's own centre of gravity ahead of the rear axle, and above the ground. Common practice, no
        source.

    Raises
    ------
    ValueError
        For a mass below 0 or a height that is not above 0.
    """

    mass: float = 0.0
    to_rear_axle: float = 0.15
    height: float = 1.10

    def __post_init__(self) -> None:
        if not (self.mass >= 0 and self.height > 0):
            raise ValueError(f"A passenger of {self.mass!r} kg at {self.height!r} m: accepts 0 or more, above 0 m.")

    def on(self, batch: Batch) -> Batch:
        """Builds with this passenger: more weight, and another centre of gravity."""
        mass = batch["bike.bike_mass"] + batch["bike.rider_mass"]
        along, height = combined_centre_of_gravity(
            mass,
            batch["bike.centre_of_gravity_to_rear_axle"],
            batch["bike.centre_of_gravity_height"],
            self.mass,
            self.to_rear_axle,
            self.height,
        )
        return batch.change(
            {
                "bike.rider_mass": batch["bike.rider_mass"] + self.mass,
                "bike.centre_of_gravity_to_rear_axle": along,
                "bike.centre_of_gravity_height": height,
            }
        )


@dataclass(frozen=True, eq=False)
class HillStart:
    """What starts, for some power levels and sprocket pairs; arrays of shape (levels, pairs).

    Attributes
    ----------
    levels : tuple of PowerLevel
    front_teeth, rear_teeth : array of int, shape (pairs,)
    angle, angle_entered : array, rad
        Of the steepest slope that starts, at worst and as entered; below 0 where not even the level does.
    end : array of int
        Place in ENDS: what ends it at worst.
    lifts, slips : float, rad
        At worst, where the front lifts and where the rear slips, of any pair.
    force, current : array, N and A peak
        Drive force and phase current at full throttle, as entered.
    time, still_time : array, s
        At that current until winding or controller folds back, creeping and standing quite still; infinite past
        LONGEST.
    kerb : array, m
        The highest that both wheels climb, at worst.
    """

    levels: tuple[PowerLevel, ...]
    front_teeth: NDArray[np.int_]
    rear_teeth: NDArray[np.int_]
    angle: Floats
    angle_entered: Floats
    end: NDArray[np.int_]
    lifts: float
    slips: float
    force: Floats
    current: Floats
    time: Floats
    still_time: Floats
    kerb: Floats

    @property
    def message(self) -> str:
        """The answer of the last level and first pair in a sentence."""
        return f"Starts on {100 * np.tan(self.angle[-1, 0]):.0f} %: then {ENDS[self.end[-1, 0]]}."


def hill_start(
    build: Build,
    pairs: Sequence[tuple[int, int]] = (),
    passenger: Passenger | None = None,
    tolerances: Sequence[Tolerance] | None = None,
) -> HillStart:
    """The steepest slope that starts in each power level, with each pair of sprockets.

    Parameters
    ----------
    build : Build
        Its slope is left aside; a headwind is not.
    pairs : sequence of (front teeth, rear teeth), optional
        Empty is the build's own.
    passenger : Passenger, optional
    tolerances : sequence of Tolerance, optional
        How well the unknowns are known; None is `default_tolerances`.

    Returns
    -------
    HillStart

    Examples
    --------
    >>> from physics.build import example_build
    >>> hill_start(example_build(), tolerances=[]).message
    'Starts on 48 %: then the motor runs out of pull.'
    """
    known = default_tolerances(build) if tolerances is None else tuple(tolerances)
    line = build.driveline
    front, rear = np.array(pairs or [(line.front_teeth, line.rear_teeth)], dtype=int).T
    levels, size = levels_of(build), (len(levels_of(build)), front.size)
    free = Batch.of(build.change({"bike.hold_front_down": False, "controller.throttle": 1.0}))
    entered = (passenger or Passenger()).on(free).take(np.zeros(size[0] * size[1], dtype=int))
    entered = entered.change(
        {
            "controller.phase_current_limit": np.repeat([one.phase_current_limit for one in levels], front.size),
            "controller.line_current_limit": np.repeat([one.line_current_limit for one in levels], front.size),
            "driveline.front_teeth": np.tile(front, len(levels)),
            "driveline.rear_teeth": np.tile(rear, len(levels)),
            "conditions.slope": 0.0,
        }
    )
    batch = Batch.join([case.applied(entered) for case in worse_cases(known)])
    grip = batch["bike.grip"]
    stand = Stand(batch.change({"bike.grip": np.inf}))
    speed = 1.0 / stand.machine.turns_per_speed  # the motor turns at 1 rad/s: iron and chain drag are whole there
    point = stand.at(speed, np.ones(len(batch)))
    angles = _angles(batch, point.drive_force, point.drag_force, grip).reshape(3, -1, *size)
    least = angles.min(axis=0)
    worst = least.argmin(axis=0)
    end = np.take_along_axis(angles.argmin(axis=0), worst[None], 0)[0]
    own = slice(0, size[0] * size[1])  # as entered
    current = np.hypot(point.i_q, point.i_d)[own]
    push = np.maximum(point.drive_force, 0.0)
    kerb = np.minimum(front_kerb(stand.stance, push, grip), rear_kerb(stand.stance, push, grip))
    return HillStart(
        levels=levels,
        front_teeth=front,
        rear_teeth=rear,
        angle=least.min(axis=0),
        angle_entered=least[0],
        end=end,
        lifts=float(angles[FRONT_LIFTS].min()),
        slips=float(angles[REAR_SLIPS].min()),
        force=point.drive_force[own].reshape(size),
        current=current.reshape(size),
        time=stall_time(entered, current).reshape(size),
        still_time=stall_time(entered, current, 2.0).reshape(size),
        kerb=kerb.reshape(-1, *size).min(axis=0),
    )


def _angles(batch: Batch, force: Floats, drag: Floats, grip: Floats) -> Floats:
    """The steepest angle by each of ENDS, rad, shape (3, n)."""
    stance, rolling = batch.stance(), batch["bike.rolling_coefficient"]
    weight, base = stance.mass * STANDARD_GRAVITY, np.asarray(stance.wheelbase)
    along, height = stance.centre_of_gravity_to_rear_axle, stance.centre_of_gravity_height
    tilted_along, tilted_height = stance.tilted(0.0)
    held = np.where(np.isfinite(grip), grip, 1e6)
    return np.array(
        [
            _steepest(-weight * rolling, weight, drag - force),
            _steepest(weight * tilted_along, weight * tilted_height, drag * stance.drag_height),
            _steepest(
                weight * (held * (base - along) / base - rolling),
                weight * (1.0 - held * height / base),
                drag * (1.0 - held * stance.drag_height / base),
            ),
        ]
    )


def _steepest(cosine: Numbers, sine: Numbers, least: Numbers) -> Floats:
    """The largest angle, rad, with `cosine` cos s - `sine` sin s >= `least`; within a right angle either way."""
    size = np.hypot(cosine, sine)
    angle = np.arccos(np.clip(np.divide(least, size), -1.0, 1.0)) - np.arctan2(sine, cosine)
    return np.clip(angle, -np.pi / 2, np.pi / 2)


def stall_time(batch: Batch, current: Floats, share: float = 1.0) -> Floats:
    """How long a phase current may flow with the motor hardly turning until heat begins to fold it back.

    Parameters
    ----------
    batch : Batch
        n builds, at the temperatures of their conditions.
    current : array, shape (n,), A peak
        Held.
    share : float
        What the hottest phase and its switches take over an equal share: 1 turning, at most 2 standing still.

    Returns
    -------
    array, shape (n,), s
        Infinite past LONGEST; 0 where a part is too hot at once.

    Examples
    --------
    >>> from physics.build import example_build
    >>> bool(200 < stall_time(Batch.of(example_build()), np.array([400.0]))[0] < 300)
    True
    """
    start = start_temperatures(batch)
    heat = 1.5 * share * motor.winding_resistance(batch["motor.phase_resistance"], start[1]) * current**2
    warmer = 1.5 * share * motor.winding_resistance(batch["motor.phase_resistance"], start[1] + 1.0) * current**2
    table = np.array([len(rows) > 0 for rows in batch.torque_tables])
    heat, rise = np.where(table, 0.0, heat), np.where(table, 0.0, warmer - heat)
    winding, case = batch["motor.winding_heat_capacity"], batch["motor.case_heat_capacity"]
    path, out = batch["motor.winding_to_case"], batch["motor.case_to_air"]
    pair = np.moveaxis(
        np.array([[(rise - path) / winding, path / winding], [path / case, -(path + out) / case]]), 2, 0
    )
    source = np.array([heat / winding, out * (batch["conditions.air_temperature"] - start[2]) / case])
    rates, vectors = np.linalg.eig(pair)  # real: what couples the two has one sign
    parts = np.linalg.solve(vectors, source.T[..., None])[..., 0]
    fixed, per_ampere, square = (
        batch[f"controller.{name}"] for name in ("fixed_loss", "loss_per_ampere", "loss_resistance")
    )
    lost = fixed + share * controller_loss(0.0, per_ampere, square, np.where(table, 0.0, current))
    cooling, capacity = batch["controller.thermal_conductance"], batch["controller.heat_capacity"]
    gained = (lost - cooling * (start[3] - batch["conditions.air_temperature"])) / capacity
    room = np.array(
        [
            batch["motor.winding_foldback_start"] - start[1],
            batch["controller.foldback_start_temperature"] - start[3],
        ]
    )

    def risen(time: Floats) -> Floats:
        grown = parts[None] * _grown(rates, time[..., None])
        return np.array([(vectors[:, 0] * grown[0]).sum(axis=1), gained * _grown(-cooling / capacity, time[1])])

    low, high = np.zeros(room.shape), np.full(room.shape, LONGEST)
    never = risen(high) < room
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        there = risen(middle) >= room
        low, high = np.where(there, low, middle), np.where(there, middle, high)
    return np.where(never, np.inf, high).min(axis=0)


def _grown(rate: Numbers, time: Floats) -> Floats:
    """Integral of exp(rate t): the time itself where the rate is nothing."""
    none = np.abs(rate) < 1e-12
    safe = np.where(none, 1.0, rate)
    return np.where(none, time, np.expm1(np.minimum(safe * time, 600.0)) / safe)
