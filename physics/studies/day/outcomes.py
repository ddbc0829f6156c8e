"""The same pull from several starts of one bike: as it stands, and as something done before leaves it.

What is left behind counts whole: charge, the heat of every part, and voltage that has not yet relaxed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from physics.arrays import Floats
from physics.build import Build
from physics.build.batch import Batch
from physics.scenarios.pull import Pull
from physics.scenarios.state import BikeState, run_from, together
from physics.simulation.plant import PackModel
from physics.studies.line_limit import line_limit
from physics.studies.uncertainty.tolerance import Tolerance

PAYS, SAME, COSTS = 1, 0, -1
"""Whether one start is better than another."""

_LITTLE_TIME, _LITTLE_SPEED = 0.1, 0.5 / 3.6  # s and m/s, differences that a rider would not notice


@dataclass(frozen=True, eq=False)
class Outcomes:
    """Runs of the pull that counts from several starts; arrays of shape (k,).

    Attributes
    ----------
    temperature, charge : array, K and 0 to 1
        Of the pack at the start; NaN where there is no such start, in all that follows too.
    resistance : array, ohm
        Ten-second resistance then, at the current the build's own was measured with.
    top_speed, time_to_target : array, m/s and s
        Infinite time where the target is not reached.
    minimum_cell_voltage, used : array, V and 0 to 1
        Of the weakest cell, and the most of any rule's allowance.
    """

    temperature: Floats
    charge: Floats
    resistance: Floats
    top_speed: Floats
    time_to_target: Floats
    minimum_cell_voltage: Floats
    used: Floats

    def take(self, index: Sequence[int] | NDArray[np.int_]) -> Outcomes:
        """Some of them."""
        return Outcomes(*(values[np.asarray(index)] for values in vars(self).values()))

    def pays(self, row: int, other: int = 0) -> int:
        """Whether one start is better than another: PAYS, SAME or COSTS.

        The target reached where it was not, or sooner, or, where neither start reaches it, a higher top speed.
        """
        times = self.time_to_target[[row, other]]
        there = np.isfinite(times)
        if there.any():
            gain = _LITTLE_TIME * (PAYS if there[0] else COSTS) if there.sum() == 1 else times[1] - times[0]
            return int(np.sign(gain)) if abs(gain) >= _LITTLE_TIME else SAME
        gain = self.top_speed[row] - self.top_speed[other]
        return int(np.sign(gain)) if abs(gain) >= _LITTLE_SPEED else SAME


def outcomes_from(
    build: Build, starts: Sequence[BikeState | None], target_speed: float, duration: float
) -> Outcomes:
    """Run a pull from a standstill from each start, all in one batch.

    Parameters
    ----------
    build : Build
        What is ridden.
    starts : sequence of BikeState or None
        Of one build each; at least one is not None.
    target_speed, duration : float, m/s and s
        To be reached within.

    Returns
    -------
    Outcomes
        One row for each start.

    Examples
    --------
    >>> from physics.build import example_build
    >>> build = example_build()
    >>> made = outcomes_from(build, [BikeState.rested(Batch.of(build)), None], 20.0, 20.0)
    >>> bool(np.isfinite(made.time_to_target[0])), bool(np.isnan(made.top_speed[1]))
    (True, True)
    """
    rows = [state for state in starts if state is not None]
    state, batch = together(rows), Batch.of(build).take(np.zeros(len(rows), dtype=int))
    result = run_from(batch, state, duration, np.zeros(len(rows)))
    times = result.time_to(target_speed)
    current = batch["pack.resistance_current"]
    columns = [
        state.temperatures[0],
        state.charge,
        PackModel(batch).pulse_resistance(state.charge, state.temperatures[0], current),
        result.top_speed,
        np.where(np.isfinite(times), times, np.inf),
        result.minimum_cell_voltage,
        result.allowance_used.max(axis=1),
    ]
    spread = np.full((len(columns), len(starts)), np.nan)
    spread[:, [state is not None for state in starts]] = columns
    return Outcomes(*spread)


def line_limits(
    build: Build,
    outcomes: Outcomes,
    pull: Pull,
    margin: float = 1.0,
    step: float = 1.0,
    tolerances: Sequence[Tolerance] | None = None,
) -> Floats:
    """The highest line limit that survives a pull from each start.

    Parameters
    ----------
    build : Build
        What is ridden.
    outcomes : Outcomes
        Their temperatures and charges count; motor and controller are as the day has them.
    pull, margin, step, tolerances
        See `physics.studies.line_limit.line_limit`.

    Returns
    -------
    array, shape (k,), A
        Infinite where none is needed, 0 where none survives, NaN where there is no such start.

    Examples
    --------
    >>> from physics.build import example_build
    >>> build = example_build()
    >>> made = outcomes_from(build, [BikeState.rested(Batch.of(build)), None], 20.0, 20.0)
    >>> np.isnan(line_limits(build, made, Pull(5.0), 0.0, 50.0, ())).tolist()
    [False, True]
    """
    warm, charge = outcomes.temperature, outcomes.charge
    some = np.isfinite(warm)
    limits = line_limit(build, pull, margin, warm[some], charge[some], step, None, tolerances)
    values = np.full(warm.size, np.nan)
    values[some] = limits.limit[
        np.searchsorted(limits.temperature, warm[some]), np.searchsorted(limits.charge, charge[some])
    ]
    return values
