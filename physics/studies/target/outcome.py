"""What a run comes to when it is held against a target: the few numbers by which changes are compared."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from physics.build import NO_RULES, Build
from physics.build.batch import Batch
from physics.simulation.result import RunResult, reaches
from physics.studies.sweep import SweepResult, end_values, sweep


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
    values : dict of str to array
        The reducer's arrays.
    free_speed : array, m/s
        Highest speed if the protection's rules did not exist.
    fast_enough : array of bool
        Whether that is the target or more.
    intact : array of bool
        Whether the protection stays closed.
    done : array of bool
        Which were run.
    floor : float, V
        Under-voltage threshold of the weakest cell.
    """

    values: dict[str, np.ndarray]
    free_speed: np.ndarray
    fast_enough: np.ndarray
    intact: np.ndarray
    done: np.ndarray
    floor: float

    @property
    def good(self) -> np.ndarray:
        """Where the target is reached and the protection stays closed."""
        return self.fast_enough & self.intact

    def outcome(self, index: int) -> Outcome:
        """One of them in a few numbers.

        Parameters
        ----------
        index : int
            Among the builds.

        Returns
        -------
        Outcome
        """
        one = {name: values[index] for name, values in self.values.items()}
        return Outcome(
            float(one["top_speed"]),
            float(one["time_to_target"]),
            float(one["time_to_low_speed"]),
            int(one["holding_limit"]),
            int(one["cut_out_rule"]),
            float(one["cut_out_time"]),
            1.0 - float(one["allowance_used"]),
            float(one["minimum_cell_voltage"]) - self.floor,
            float(one["energy_used"]) / max(float(one["distance"]), 1e-9),
            bool(one["settled"]),
        )


def numbers_against(result: RunResult, target_speed: float, low_speed: float) -> dict[str, np.ndarray]:
    """Reducer: the single numbers of each run, and its times to two speeds.

    Parameters
    ----------
    result : RunResult
        Runs of one chunk.
    target_speed, low_speed : float, m/s
        The speeds.

    Returns
    -------
    dict of str to array, shape (n,)
        Those of `end_values`, time_to_target and time_to_low_speed (s).
    """
    times = {"time_to_target": result.time_to(target_speed), "time_to_low_speed": result.time_to(low_speed)}
    return end_values(result) | times


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
    reducer = partial(numbers_against, target_speed=goal.speed, low_speed=goal.low_speed)
    batch = Batch.join([Batch.vary(build, change) for change in changes])
    held = sweep(batch, goal.duration, reducer=reducer, **options).checked()
    return _judged(build, changes, goal, held, options)


def _judged(build: Build, changes: list[dict], goal: Goal, held: SweepResult, options: dict[str, Any]) -> Trials:
    """Where the protection opened, run again without it: the speed must stay a smooth function of a change."""
    if not held.done.any():
        none = np.zeros(len(held.done), dtype=bool)
        return Trials({}, np.full(len(none), np.nan), none, none, held.done, 0.0)
    intact = held.done & (held["cut_out_rule"] < 0)
    free = np.array(held["top_speed"], dtype=float)
    opened = held.done & ~intact
    if opened.any():
        loose = build.change(NO_RULES)
        batch = Batch.join([Batch.vary(loose, change) for change in changes]).take(opened)
        quiet = {name: value for name, value in options.items() if name not in ("progress", "cancelled")}
        free[opened] = sweep(batch, goal.duration, **quiet).checked()["top_speed"]
    fast_enough = held.done & reaches(free, goal.speed)
    return Trials(held.values, free, fast_enough, intact, held.done, build.pack.protection.cell_undervoltage)
