"""Power levels side by side: how soon, how fast, how near to a cut-out, and how long the front wheel decides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from physics import limits
from physics.build import Build, PowerLevel
from physics.build.batch import Batch
from physics.simulation.result import RunResult
from physics.simulation.run import run
from physics.studies.force import levels_of


@dataclass(frozen=True)
class LevelRuns:
    """One run in each power level. Arrays of shape (levels,), SI.

    Attributes
    ----------
    levels : tuple of PowerLevel
    low_speed, target_speed : float, m/s
        The speeds whose times are compared.
    time_to_low_speed, time_to_target : array, s
        NaN where they are not reached.
    top_speed : array, m/s
    holding_limit : array of int
        Index in LIMITS of what holds at top speed.
    cut_out_time : array, s
        NaN without a cut-out.
    allowance_left : array
        What is left of the protection's most used allowance: 1 untouched, 0 cut out.
    cell_margin : array, V
        Lowest voltage of the weakest cell less the under-voltage threshold.
    highest_acceleration : array, m/s2
    front_time : array, s
        For how long the front wheel, not the controller, holds the force; 0 where nobody keeps it down.
    """

    levels: tuple[PowerLevel, ...]
    low_speed: float
    target_speed: float
    time_to_low_speed: np.ndarray
    time_to_target: np.ndarray
    top_speed: np.ndarray
    holding_limit: np.ndarray
    cut_out_time: np.ndarray
    allowance_left: np.ndarray
    cell_margin: np.ndarray
    highest_acceleration: np.ndarray
    front_time: np.ndarray


def level_runs(
    build: Build,
    low_speed: float,
    target_speed: float,
    duration: float = 30.0,
    levels: Sequence[PowerLevel] | None = None,
) -> LevelRuns:
    """Run a build in each of its power levels, all of them as one batch.

    Parameters
    ----------
    build : Build
        What the levels share.
    low_speed, target_speed : float, m/s
        The speeds whose times are compared.
    duration : float, s
        Length of the runs.
    levels : sequence of PowerLevel, optional
        By default the build's own.

    Returns
    -------
    LevelRuns

    Examples
    --------
    >>> from physics.build import example_build
    >>> levels = PowerLevel("mild", 150.0, 60.0), PowerLevel("strong", 400.0, 160.0)
    >>> build = example_build().change({"controller.power_levels": levels})
    >>> mild, strong = level_runs(build, 10.0, 20.0, 20.0).time_to_low_speed
    >>> bool(strong < mild)
    True
    """
    levels = tuple(levels or levels_of(build))
    changes = {
        "controller.phase_current_limit": [level.phase_current_limit for level in levels],
        "controller.line_current_limit": [level.line_current_limit for level in levels],
    }
    result = run(Batch.vary(build, changes), duration)
    used = np.where(result.cut_out_rule >= 0, 1.0, result.allowance_used.max(axis=1))
    return LevelRuns(
        levels,
        low_speed,
        target_speed,
        result.time_to(low_speed),
        result.time_to(target_speed),
        result.top_speed,
        result.holding_limit,
        result.cut_out_time,
        1 - used,
        result.minimum_cell_voltage - build.pack.protection.cell_undervoltage,
        result.acceleration.max(axis=1),
        time_held_by(result, limits.FRONT_WHEEL),
    )


def time_held_by(result: RunResult, limit: int) -> np.ndarray:
    """For how long one limit holds in each run.

    Parameters
    ----------
    result : RunResult
        The runs.
    limit : int
        Index in LIMITS.

    Returns
    -------
    array, shape (n,), s
        To the accuracy of the run's instants.

    Examples
    --------
    >>> from physics.build import example_build
    >>> bool(0 < time_held_by(run(example_build(), 20.0), limits.PHASE_CURRENT)[0] < 20)
    True
    """
    return (np.diff(result.time) * (result.limit[:, :-1] == limit)).sum(axis=1)
