"""Every sprocket pair in a range: how fast, how soon, how hard it pulls, what holds it back, the best compromises.

Gearing trades force for top speed only where voltage holds the bike back at top speed: less reduction then lets the
same motor speed carry the bike further. Where power holds it back (the line limit, or the pack), top speed hardly
depends on gearing. "A few teeth off the rear for more speed" is common practice, no source, and true in the first
case only.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from physics import limits
from physics.arrays import Floats
from physics.build import Build
from physics.build.samples import Samples, grid
from physics.components import chain, load_transfer
from physics.simulation.machine import Machine
from physics.simulation.operating_point import operating_point
from physics.simulation.plant import PackModel
from physics.simulation.result import RunResult
from physics.studies.sweep import end_values, sweep

HELD = ("voltage", "power", "something else")
"""What kind of limit holds at top speed; its index in this tuple is what a map stores."""

HELD_BY_VOLTAGE, HELD_BY_POWER, HELD_BY_OTHER = range(len(HELD))

LOW_SPEED = 15 / 3.6
"""Speed at which pulling force is compared, m/s: past the throttle's ramp, before power limits it."""


@dataclass(frozen=True)
class GearingMap:
    """What each sprocket pair does. Arrays have shape (n,), pairs in rows of one front sprocket; SI throughout.

    Attributes
    ----------
    front_teeth, rear_teeth, ratio : array
        The pairs, and rear over front.
    shape : tuple of int
        Front sprockets, rear sprockets.
    top_speed : array, m/s
        Highest speed within the run.
    settled : array of bool
        Whether the speed had stopped rising by then.
    speed : float, m/s
        The chosen speed.
    time_to_speed : array, s
        When that speed is reached; NaN where it is not.
    low_speed : float, m/s
        Where `low_speed_force` is read.
    low_speed_force : array, N
        Drive force at the road there, if neither front wheel nor rear grip held it.
    front_lift_ratio : array
        Force that lifts the front wheel there over that force: below 1 the front wheel can lift.
    motor_speed : array, rad/s
        At top speed.
    wheel_speed : array, rad/s
        Of the rear wheel at top speed.
    holding_limit : array of int
        Index in LIMITS of what holds at top speed.
    held : array of int
        The same as an index in HELD: voltage (field weakening included), power (line limit, its foldback), or else.
    cut_out_time : array, s
        When the protection cuts out; NaN where it does not.
    best : array of bool
        The pairs that no other beats in both top speed and time; pairs that cut out are left out.
    done : array of bool
        Which pairs have been run.
    status : int
    message : str
        Of the sweep.
    """

    front_teeth: np.ndarray
    rear_teeth: np.ndarray
    ratio: np.ndarray
    shape: tuple[int, int]
    top_speed: np.ndarray
    settled: np.ndarray
    speed: float
    time_to_speed: np.ndarray
    low_speed: float
    low_speed_force: np.ndarray
    front_lift_ratio: np.ndarray
    motor_speed: np.ndarray
    wheel_speed: np.ndarray
    holding_limit: np.ndarray
    held: np.ndarray
    cut_out_time: np.ndarray
    best: np.ndarray
    done: np.ndarray
    status: int
    message: str

    def index(self, front_teeth: int, rear_teeth: int) -> int:
        """Index of a pair in the arrays.

        Parameters
        ----------
        front_teeth, rear_teeth : int
            The pair.

        Returns
        -------
        int

        Raises
        ------
        ValueError
            When the pair is not in the map.
        """
        matches = np.flatnonzero((self.front_teeth == front_teeth) & (self.rear_teeth == rear_teeth))
        if not matches.size:
            raise ValueError(
                f"The pair {front_teeth}/{rear_teeth} is not in this map; it holds "
                f"{self.front_teeth.min():.0f} to {self.front_teeth.max():.0f} front and "
                f"{self.rear_teeth.min():.0f} to {self.rear_teeth.max():.0f} rear teeth."
            )
        return int(matches[0])

    def on_grid(self, values: ArrayLike) -> np.ndarray:
        """An array of the map, or one made from them, with one row for each front sprocket.

        Parameters
        ----------
        values : array, shape (n,)
            One value for each pair.

        Returns
        -------
        array, shape (fronts, rears)
        """
        return np.asarray(values).reshape(self.shape)

    def chain_speed(self, pitch: float) -> np.ndarray:
        """Mean speed of a chain at top speed, m/s.

        Parameters
        ----------
        pitch : float, m
            Of the chain.

        Returns
        -------
        array, shape (n,)
        """
        return chain.chain_speed(pitch, self.rear_teeth, self.wheel_speed)


def gearing_map(
    build: Build,
    front_teeth: ArrayLike,
    rear_teeth: ArrayLike,
    speed: float,
    duration: float = 30.0,
    *,
    low_speed: float = LOW_SPEED,
    progress: Callable[[int, int], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
    **options: Any,
) -> GearingMap:
    """Run a build with every pair of sprockets.

    Parameters
    ----------
    build : Build
        Everything but the sprockets.
    front_teeth, rear_teeth : sequence of int
        The sprockets to try.
    speed : float, m/s
        The speed whose time is compared.
    duration : float, s
        Length of the runs.
    low_speed : float, m/s
        Where pulling force is compared.
    progress, cancelled : callable, optional
        As `physics.studies.sweep.sweep` takes them.
    **options
        More options of `physics.studies.sweep.sweep`, such as `executor`.

    Returns
    -------
    GearingMap

    Raises
    ------
    BuildError
        When a sprocket is not accepted.

    Examples
    --------
    >>> from physics.build import example_build
    >>> table = gearing_map(example_build(), [12], [44, 56], speed=50 / 3.6, duration=20.0)
    >>> bool(table.time_to_speed[1] < table.time_to_speed[0])
    True
    """
    pairs = grid(build, {"driveline.front_teeth": front_teeth, "driveline.rear_teeth": rear_teeth})
    swept = sweep(
        pairs, duration, reducer=partial(_numbers, speed=speed), progress=progress, cancelled=cancelled, **options
    ).checked()
    front, rear = pairs.changes["driveline.front_teeth"], pairs.changes["driveline.rear_teeth"]
    missing = np.full(len(pairs), np.nan)
    values = {name: swept.values.get(name, missing) for name in _NUMBERS}
    force, lift_ratio = pulling_force(pairs, low_speed)
    motor_per_road = rear / front * build.driveline.primary_ratio
    radius = pairs.part(0, 1).batch()["bike.rolling_radius"][0]
    holding = np.where(swept.done, values["holding_limit"], limits.THROTTLE).astype(int)
    cut_out = values["cut_out_time"]
    return GearingMap(
        front_teeth=front,
        rear_teeth=rear,
        ratio=rear / front,
        shape=(pairs.shape[0], pairs.shape[1]),
        top_speed=values["top_speed"],
        settled=np.nan_to_num(values["settled"]).astype(bool),
        speed=speed,
        time_to_speed=values["time_to_speed"],
        low_speed=low_speed,
        low_speed_force=force,
        front_lift_ratio=lift_ratio,
        motor_speed=values["top_speed"] / radius * motor_per_road,
        wheel_speed=values["top_speed"] / radius,
        holding_limit=holding,
        held=kind_of_limit(holding),
        cut_out_time=cut_out,
        best=pareto_set(values["top_speed"], values["time_to_speed"], swept.done & np.isnan(cut_out)),
        done=swept.done,
        status=swept.status,
        message=swept.message,
    )


_NUMBERS = ("top_speed", "settled", "holding_limit", "cut_out_time", "time_to_speed")


def _numbers(result: RunResult, speed: float) -> dict[str, np.ndarray]:
    return end_values(result) | {"time_to_speed": result.time_to(speed)}


def kind_of_limit(holding_limit: ArrayLike) -> NDArray[np.int_]:
    """Whether voltage, power or something else holds a bike back.

    Parameters
    ----------
    holding_limit : array of int
        Indices in LIMITS.

    Returns
    -------
    array of int
        Indices in HELD.

    Examples
    --------
    >>> [HELD[kind] for kind in kind_of_limit([limits.VOLTAGE, limits.LINE_CURRENT, limits.THROTTLE])]
    ['voltage', 'power', 'something else']
    """
    holding_limit = np.asarray(holding_limit)
    voltage = np.isin(holding_limit, (limits.VOLTAGE, limits.FIELD_WEAKENING))
    power = np.isin(holding_limit, (limits.LINE_CURRENT, limits.LOW_VOLTAGE_CUTBACK))
    return np.where(voltage, HELD_BY_VOLTAGE, np.where(power, HELD_BY_POWER, HELD_BY_OTHER))


def pareto_set(top_speed: ArrayLike, time: ArrayLike, allowed: ArrayLike = True) -> NDArray[np.bool_]:
    """The pairs that no other beats: none is at least as fast and as soon, and better in one of the two.

    Parameters
    ----------
    top_speed : array, shape (n,)
        More is better; NaN leaves a pair out.
    time : array, shape (n,)
        Less is better; NaN leaves a pair out.
    allowed : array of bool, shape (n,)
        Pairs that may be chosen.

    Returns
    -------
    array of bool, shape (n,)
        Pairs that are equal in both are in it together.

    Examples
    --------
    >>> pareto_set([100.0, 110.0, 105.0, 99.0], [3.0, 4.0, 4.5, 2.5])
    array([ True,  True, False,  True])
    """
    top_speed, time = np.asarray(top_speed, dtype=float), np.asarray(time, dtype=float)
    good = np.isfinite(top_speed) & np.isfinite(time) & np.broadcast_to(allowed, top_speed.shape)
    indices = np.flatnonzero(good)
    order = indices[np.lexsort((-top_speed[indices], time[indices]))]
    speeds, times = top_speed[order], time[order]
    before = np.r_[-np.inf, np.maximum.accumulate(speeds)[:-1]] if order.size else speeds
    stands_out = speeds > before
    # equal to the one that stood out before it: same speed at the same time
    last = np.maximum.accumulate(np.where(stands_out, np.arange(order.size), 0))
    chosen = np.zeros(top_speed.shape, dtype=bool)
    chosen[order] = stands_out | ((speeds == speeds[last]) & (times == times[last])) if order.size else False
    return chosen


def pulling_force(builds: Samples, speed: float) -> tuple[Floats, Floats]:
    """Drive force at a low speed if the wheels did not hold it, and how that compares with lifting the front wheel.

    Parameters
    ----------
    builds : Samples
        The builds, as they start their run.
    speed : float, m/s
        Above 0.

    Returns
    -------
    tuple of (array, array), shape (n,)
        Force at the road, N; and the force at which the front wheel lifts over that force.
    """
    free = builds.build.change({"bike.hold_front_down": False, "bike.grip": np.inf})
    batch = Samples(free, builds.changes, builds.shape).batch()
    pack, machine = PackModel(batch), Machine(batch)
    rest, _, factor, transfer = pack.evaluate(batch["conditions.charge"], batch["conditions.pack_temperature"])
    point, _ = transfer.solve(
        lambda offset, slope: operating_point(
            machine,
            np.full(len(batch), float(speed)),
            batch["controller.throttle"],
            rest - offset,
            pack.ohmic * factor + machine.lead_resistance + slope,
            batch["conditions.motor_temperature"],
            batch["conditions.controller_temperature"],
        ),
        rest,
    )
    lift = load_transfer.front_load_limit(batch.stance()).at(point.drag_force, point.rolling_force)
    return point.drive_force, lift / np.maximum(point.drive_force, 1e-9)
