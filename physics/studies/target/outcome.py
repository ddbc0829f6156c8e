"""What a run comes to when it is held against a target: the few numbers by which changes are compared.

Where the protection opens, a search looks at the same run with trip timers so slow that none comes to its end.
Speed and allowance then stay smooth functions of a change, and say how far beyond a cut-out a run would have been.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from physics.build import Build
from physics.build.batch import Batch
from physics.simulation.result import reaches
from physics.simulation.run import run
from physics.studies.sweep import end_values, sweep

SLOWED = 1e7
"""How many times slower trip timers run in a search: more than the longest run over the shortest delay."""

DELAYS = tuple(
    f"pack.protection.{name}" for name in ("peak_time", "fast_delay", "undervoltage_delay", "temperature_delay")
)
"""Every time within which a rule opens on discharge; all trip timers run in proportion to one of them."""


@dataclass(frozen=True)
class Outcome:
    """One run in a few numbers, SI.

    Attributes
    ----------
    top_speed : float, m/s
        Highest speed within the run, before any cut-out.
    time_to_target, time_to_low_speed : float, s
        When the target and a lower speed are reached; NaN where they are not.
    holding_limit : int
        Index in LIMITS of what holds at the highest speed.
    cut_out_rule : int
        Index in RULES, or -1.
    cut_out_time : float, s
        NaN without a cut-out.
    margin : float
        What is left of the protection's most used allowance: 1 untouched, 0 cut out.
    cell_margin : float, V
        Lowest voltage of the weakest cell less the under-voltage threshold.
    energy_per_distance : float, J/m
        Energy taken from the cells over distance covered.
    settled : bool
        Whether the speed had stopped rising.
    """

    top_speed: float
    time_to_target: float
    time_to_low_speed: float
    holding_limit: int
    cut_out_rule: int
    cut_out_time: float
    margin: float
    cell_margin: float
    energy_per_distance: float
    settled: bool

    @property
    def good(self) -> bool:
        """Whether the target is reached and the pack stays closed for the whole run."""
        return bool(np.isfinite(self.time_to_target)) and self.cut_out_rule < 0


@dataclass(frozen=True)
class Goal:
    """What is asked of a run.

    Attributes
    ----------
    speed : float, m/s
        To be reached.
    duration : float, s
        Within which.
    low_speed : float, m/s
        A lower speed, whose time says what a change costs.
    """

    speed: float
    duration: float = 30.0
    low_speed: float = 50 / 3.6


@dataclass(frozen=True)
class Trials:
    """Runs of a list of builds, each held against a goal. Arrays of shape (n,).

    Attributes
    ----------
    goal : Goal
        What is asked.
    free_speed : array, m/s
        Highest speed if nothing opened; NaN where it was not run.
    used : array
        How much of its allowance the rule that comes nearest would use if nothing opened.
    intact : array of bool
        Where the protection stays closed.
    done : array of bool
        Which were run.
    """

    goal: Goal
    free_speed: np.ndarray
    used: np.ndarray
    intact: np.ndarray
    done: np.ndarray

    @property
    def fast_enough(self) -> np.ndarray:
        """Where the target would be reached if nothing opened."""
        return reaches(self.free_speed, self.goal.speed)

    @property
    def good(self) -> np.ndarray:
        """Where the target is reached and the protection stays closed."""
        return self.fast_enough & self.intact


def trials(build: Build, changes: list[dict], goal: Goal, **options: Any) -> Trials:
    """Run one build with lists of changes and hold each run against a goal.

    Parameters
    ----------
    build : Build
        What all of them share.
    changes : list of dict
        Each as `Batch.vary` takes them; all of them run as one sweep, in this order.
    goal : Goal
        What is asked.
    **options
        Of `physics.studies.sweep.sweep`, such as `executor`, `progress`, `cancelled`.

    Returns
    -------
    Trials
        What a cancelled sweep did not come to counts as not fast enough.

    Examples
    --------
    >>> from physics.build import example_build
    >>> tried = trials(example_build(), [{"bike.drag_area": [0.4, 0.6]}], Goal(25.0))
    >>> bool(tried.free_speed[0] > tried.free_speed[1])
    True
    """
    batch = Batch.join([Batch.vary(build, change) for change in changes])
    held = sweep(batch, goal.duration, **options).checked()
    if not held.done.any():
        none = np.full(len(batch), np.nan)
        return Trials(goal, none, none, held.done, held.done)
    speed, used, opened = held["top_speed"], held["allowance_used"], held.done & (held["cut_out_rule"] >= 0)
    if opened.any():
        some = batch.take(opened)
        slowed = some.change({path: SLOWED * some[path] for path in DELAYS})
        quiet = {name: value for name, value in options.items() if name not in ("progress", "cancelled")}
        freed = sweep(slowed, goal.duration, **quiet).checked()
        speed[opened], used[opened] = freed["top_speed"], SLOWED * freed["allowance_used"]
    return Trials(goal, speed, used, held.done & ~opened, held.done)


def outcomes(build: Build, changes: list[dict], goal: Goal) -> list[Outcome]:
    """Run one build with lists of changes, its protection as it is, each run in a few numbers.

    Parameters
    ----------
    build : Build
        What all of them share.
    changes : list of dict
        Each as `Batch.vary` takes them; all of them run as one batch, in this order.
    goal : Goal
        What is asked.

    Returns
    -------
    list of Outcome

    Examples
    --------
    >>> from physics.build import example_build
    >>> heavy, light = outcomes(example_build(), [{"bike.bike_mass": [150.0, 90.0]}], Goal(25.0))
    >>> light.time_to_low_speed < heavy.time_to_low_speed
    True
    """
    result = run(Batch.join([Batch.vary(build, change) for change in changes]), goal.duration)
    numbers = end_values(result)
    energy = numbers["energy_used"] / np.maximum(numbers["distance"], 1e-9)
    columns = (
        numbers["top_speed"],
        result.time_to(goal.speed),
        result.time_to(goal.low_speed),
        numbers["holding_limit"],
        numbers["cut_out_rule"],
        numbers["cut_out_time"],
        1.0 - numbers["allowance_used"],
        numbers["minimum_cell_voltage"] - build.pack.protection.cell_undervoltage,
        energy,
        numbers["settled"],
    )
    return [Outcome(*(value.item() for value in row)) for row in zip(*columns, strict=True)]
