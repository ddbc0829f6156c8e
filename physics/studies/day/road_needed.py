"""The road that a test needs: run-up to the target, what is ridden there, reaction, and the stop.

The run-up is the longest of the cases in which things are as much worse than entered as they may well be; a run
that then misses the target counts up to its end. The stop is with the wind, drag and weight that help least. What
a rider achieves is far below what tyres and balance allow: the smaller of both counts. Regen is not counted: in
the cold, with a full pack and after a cut-out there is none.

Cautions: the road is needed empty, straight and dry to its end, with room behind it. Nothing here is permission to
ride that fast, and no calculation stops a bike.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from physics.arrays import Floats
from physics.build import Build
from physics.build.batch import Batch
from physics.components import air, road_load
from physics.components.braking import BOTH, braking_limit
from physics.scenarios.state import at_instant
from physics.simulation.run import run
from physics.studies.uncertainty.tolerance import Tolerance, default_tolerances
from physics.studies.uncertainty.worse import WorseCase, worse_cases

DRY_BRAKING, WET_BRAKING = 7.0, 3.5
"""Mean deceleration of a motorcycle on a dry and on a wet road, m/s2: Finnish Road Safety Council (Liikenneturva),
stopping distance of a motorcycle, which adds 1 s of reaction. Of riders measured on dry pavement 90 % reached 3.3
and more, on wet 2.75: S. R. Davoodi and H. Hamid, Motorcyclist braking performance in stopping distance
situations, J. Transp. Eng. 139 (2013), abstract; title and year from memory."""
DRY_GRIP, WET_GRIP = 0.9, 0.5
"""Grip of a tyre on a dry and on a wet road; common practice, no source."""

_LEAST = {"bike.drag_area": -1, "bike.bike_mass": 1, "conditions.headwind": -1, "conditions.air_temperature": 1}
_STEPS = 200


@dataclass(frozen=True)
class RoadPlan:
    """What is ridden after the run-up, and how it is stopped.

    Attributes
    ----------
    hold : float, s
        The target speed is held; 0 or above.
    reaction : float, s
        From the decision to the brakes' full force; 0 or above.
    deceleration : float, m/s2
        That the rider achieves on a level road; above 0.
    grip : float
        Of the tyres, above 0.
    brakes : str
        One of `braking.BRAKES`.
    """

    hold: float = 0.0
    reaction: float = 1.0
    deceleration: float = DRY_BRAKING
    grip: float = DRY_GRIP
    brakes: str = BOTH

    def __post_init__(self) -> None:
        rows = [("hold", self.hold >= 0), ("reaction", self.reaction >= 0)]
        rows += [("deceleration", self.deceleration > 0), ("grip", self.grip > 0)]
        for name, good in rows:
            if not good:  # catches NaN as well
                got = getattr(self, name)
                raise ValueError(f"Road plan, {name}: got {got!r}; accepts 0 or more, of braking and grip above 0.")


@dataclass(frozen=True, eq=False)
class RoadNeeded:
    """The road a test needs, on the safe side.

    Attributes
    ----------
    run_up, hold, reaction, braking : float, m
        Its four parts; braking is infinite where the slope is more than the brakes.
    speed : float, m/s
        From which it is stopped: the target, or the most that is reached.
    reached : bool
        Whether the target is reached in the run, as entered.
    case : WorseCase
        That has the longest run-up.
    deceleration : float, m/s2
        At that speed.
    limit_deceleration : float, m/s2
        What tyres and balance allow there.
    end : int
        Place in `braking.ENDS`: what ends braking there.
    by_rider : bool
        Whether it is the rider's own deceleration that counts.
    stop_distance, stop_speed : array, shape (k,), m and m/s
        From where the brakes act.
    run_distance, run_speed : array, shape (t,), m and m/s
        The run-up as entered.
    """

    run_up: float
    hold: float
    reaction: float
    braking: float
    speed: float
    reached: bool
    case: WorseCase
    deceleration: float
    limit_deceleration: float
    end: int
    by_rider: bool
    stop_distance: Floats
    stop_speed: Floats
    run_distance: Floats
    run_speed: Floats

    @property
    def total(self) -> float:
        """All of it, m."""
        return self.run_up + self.hold + self.reaction + self.braking

    @property
    def message(self) -> str:
        """The answer in a sentence."""
        if not np.isfinite(self.total):
            return "No road is long enough: the slope is more than the brakes hold."
        return f"You need {np.ceil(self.total / 10.0) * 10.0:.0f} m of road."


def road_needed(
    build: Build,
    target_speed: float,
    plan: RoadPlan,
    duration: float = 40.0,
    tolerances: Sequence[Tolerance] | None = None,
) -> RoadNeeded:
    """The road that a run to the target and the stop after it need.

    Parameters
    ----------
    build : Build
        The bike and its day.
    target_speed : float, m/s
        To be reached; above 0.
    plan : RoadPlan
        What follows.
    duration : float, s
        After which the rider gives up.
    tolerances : sequence of Tolerance, optional
        How well the unknowns are known; None is `default_tolerances`.

    Returns
    -------
    RoadNeeded

    Examples
    --------
    >>> from physics.build import example_build
    >>> road_needed(example_build(), 20.0, RoadPlan()).message
    'You need 110 m of road.'
    """
    known = default_tolerances(build) if tolerances is None else tuple(tolerances)
    cases = worse_cases(known)  # both ends: where the target is missed, a better bike goes farther
    entered = Batch.of(build)
    made = run(Batch.join([case.applied(entered) for case in cases]), duration)
    times = made.time_to(target_speed)
    there = np.isfinite(times)
    until = np.where(there, times, duration)
    lengths = at_instant(made.time, made.distance, until)
    worst = int(np.argmax(lengths))
    fastest = float(min(target_speed, made.speed.max()))
    slow = {path: side for path, side in _LEAST.items() if path in {item.path for item in known}}
    ends = [WorseCase(((item, float(slow[item.path])),)) for item in known if item.path in slow]
    least = entered
    for case in ends:  # all at once: the stop is what must not fail
        least = case.applied(least)
    speed = np.linspace(fastest, 0.0, _STEPS + 1)
    slowing, most, end, by_rider = _slowing(least, speed, plan)
    if slowing.min() > 0.0:
        inverse = speed / slowing
        distance = np.r_[0.0, np.cumsum(0.5 * (inverse[1:] + inverse[:-1]) * -np.diff(speed))]
    else:
        distance = np.r_[0.0, np.full(_STEPS, np.inf)]
    before = made.time <= until[0]
    return RoadNeeded(
        run_up=float(lengths[worst]),
        hold=fastest * plan.hold,
        reaction=fastest * plan.reaction,
        braking=float(distance[-1]),
        speed=fastest,
        reached=bool(there[0]),
        case=cases[worst],
        deceleration=float(slowing[0]),
        limit_deceleration=float(most[0]),
        end=int(end[0]),
        by_rider=bool(by_rider[0]),
        stop_distance=distance,
        stop_speed=speed,
        run_distance=made.distance[0, before],
        run_speed=made.speed[0, before],
    )


def _slowing(
    batch: Batch, speed: Floats, plan: RoadPlan
) -> tuple[Floats, Floats, NDArray[np.int_], NDArray[np.bool_]]:
    """Deceleration at speeds, what tyres and balance allow, what ends it, and whether the rider does before."""
    stance = batch.stance()
    density = air.air_density(
        batch["conditions.air_temperature"], batch["conditions.air_pressure"], batch["conditions.humidity"]
    )
    factor = road_load.drag_factor(density, batch["bike.drag_area"])
    drag, _ = road_load.drag_force(factor, speed + batch["conditions.headwind"])
    back = road_load.slope_force(stance.mass, stance.slope)
    limit = braking_limit(stance, plan.grip, plan.brakes, drag)
    most = (limit.force + drag + back) / stance.mass
    rider = plan.deceleration + back / stance.mass
    return np.minimum(most, rider), most, np.asarray(limit.end), rider < most
