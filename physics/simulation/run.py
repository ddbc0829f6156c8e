"""One simulated pull of a batch of builds, from the start to its end.

How one step is made stands in physics/simulation/plant.py, how steps follow each other in
physics/simulation/integrator.py.
"""

import math
from itertools import pairwise
from typing import Any

import numpy as np

from physics.build.batch import Batch
from physics.limits import RULES
from physics.simulation.integrator import Integrator
from physics.simulation.result import CHANNELS, CUT_OUT, RunResult

_INSTANTS_PER_ROOT_SECOND, _FEWEST_INSTANTS = 8, 24
_CROWDING = 2.0
"""Exponent of the time grid: instants crowd at the launch, where things change fastest."""

_CROWDED_ENOUGH = 0.87
"""Fraction of builds still under way below which those that are there are left out of the steps."""

_AFTER_THE_END = 1e9
"""No step of a build that has arrived is cut short by an instant, s."""


def time_grid(duration: float, steps: int | None = None) -> np.ndarray:
    """Instants of a run: crowded at the launch, wide near the end.

    Parameters
    ----------
    duration : float, s
        Length of the run.
    steps : int, optional
        How many steps; by default about eight times the root of the duration.

    Returns
    -------
    array, shape (steps + 1,), s
        From zero to the duration.

    Examples
    --------
    >>> time_grid(20.0, 4).round(2)
    array([ 0.  ,  1.25,  5.  , 11.25, 20.  ])
    """
    if steps is None:
        steps = max(_FEWEST_INSTANTS, math.ceil(_INSTANTS_PER_ROOT_SECOND * math.sqrt(duration)))
    return duration * (np.arange(steps + 1) / steps) ** _CROWDING


def run(builds: Any, duration: float = 30.0, initial_speed: Any = 0.0, steps: int | None = None) -> RunResult:
    """Simulate one pull of each build from the start of its conditions.

    Parameters
    ----------
    builds : Build, sequence of Build, or Batch
        What is ridden.
    duration : float, s
        Length of the run, above zero and at most 3600.
    initial_speed : float or array, shape (n,), m/s
        Speed at the start, zero or above.
    steps : int, optional
        How many instants are kept; by default enough for the accuracy below.

    Returns
    -------
    RunResult
        Times to a speed within 0.5 % or 10 ms, top speed within 0.1 %, lowest voltage within 0.2 %, moment of a
        cut-out within 20 ms of the exact solution of the same equations.

    Raises
    ------
    ValueError
        When the duration or the initial speed is not accepted.

    Examples
    --------
    >>> from physics.build import example_build
    >>> bool(run(example_build(), duration=10.0).top_speed[0] > 15)
    True
    """
    if not 0 < duration <= 3600:
        raise ValueError(f"duration: got {duration!r} s; accepts a number above 0, at most 3600 s.")
    batch = Batch.of(builds)
    speed = np.array(np.broadcast_to(np.asarray(initial_speed, dtype=float), (len(batch),)))
    if not ((speed >= 0) & (speed <= 200)).all():
        raise ValueError(f"initial_speed: got {initial_speed!r} m/s; accepts numbers from 0 to 200 m/s.")
    return integrate(Integrator.of(batch, speed), duration, steps)


def integrate(integrator: Integrator, duration: float, steps: int | None = None) -> RunResult:
    """Move builds on from the state they are in, and keep what they do.

    Parameters
    ----------
    integrator : Integrator
        At its start. `run` sets out from the conditions of a build; what goes on from an earlier run, such as the
        next pull of several, has its own state and trip timers.
    duration : float, s
        Length of the run.
    steps : int, optional
        How many instants are kept.

    Returns
    -------
    RunResult
        One row for each build.
    """
    recorder = _Recorder(integrator, time_grid(duration, steps))
    until = np.append(recorder.time, _AFTER_THE_END)
    index, last = np.ones(len(integrator.builds), dtype=int), len(recorder.time) - 1
    while True:
        stepped = integrator.step(until[index]) & (index <= last)
        arrived = integrator.time >= until[index]
        there = (stepped & arrived).nonzero()[0]
        recorder.keep(integrator, index, there, (stepped & ~arrived).nonzero()[0])
        index[there] += 1
        finished = there[index[there] > last]
        if finished.size:
            recorder.totals.put(integrator.builds[finished], integrator.totals.take(finished))
            under_way = (index <= last).nonzero()[0]
            if not under_way.size:
                return recorder.result()
            if under_way.size < _CROWDED_ENOUGH * index.size:
                integrator, index = integrator.take(under_way), index[under_way]


class _Recorder:
    """What is kept of a run: rows at every instant, rows where a step ended between two instants, and totals."""

    def __init__(self, integrator: Integrator, time: np.ndarray) -> None:
        count = len(integrator.builds)
        self.time, self.machine = time, integrator.plant.machine
        self.rows = np.empty((count, len(time), len(CHANNELS) + 1 + len(RULES)))
        self.rows[:, 0] = _rows(integrator)
        self.between: list[tuple[np.ndarray, np.ndarray]] = []
        self.totals = integrator.totals.take(np.arange(count))

    def keep(self, integrator: Integrator, index: np.ndarray, there: np.ndarray, on_the_way: np.ndarray) -> None:
        """Some builds at an instant, others between two."""
        rows = _rows(integrator)
        self.rows[integrator.builds[there], index[there]] = rows[there]
        if on_the_way.size:
            rows = np.column_stack([integrator.time[on_the_way], rows[on_the_way]])
            self.between.append((integrator.builds[on_the_way], rows))

    def result(self) -> RunResult:
        """Everything of all builds."""
        rows, totals = self.rows.transpose(2, 0, 1), self.totals
        return RunResult(
            time=self.time,
            **dict(zip(CHANNELS, rows, strict=False)),
            limit=rows[len(CHANNELS)].astype(np.int8),
            trip_timers=self.rows[..., -len(RULES) :],
            between=self._between(),
            cut_out_rule=totals.cut_out_rule,
            **dict(zip(CUT_OUT, totals.cut_out, strict=True)),
            top_speed=totals.top_speed,
            holding_limit=totals.holding_limit,
            maximum_line_current=totals.maximum_line_current,
            minimum_voltage=totals.lowest[0],
            minimum_cell_voltage=totals.lowest[1],
            allowance_used=totals.allowance_used.T,
            energies=totals.energies.T,
            machine=self.machine,
        )

    def _between(self) -> tuple[np.ndarray, ...]:
        """The rows between instants, for each build."""
        count = len(self.rows)
        if not self.between:
            return (np.empty((0, 1 + self.rows.shape[2])),) * count
        builds, rows = (np.concatenate(each) for each in zip(*self.between, strict=True))
        rows = rows[np.argsort(builds, kind="stable")]
        ends = np.cumsum(np.bincount(builds, minlength=count)).tolist()
        return tuple(rows[start:end] for start, end in pairwise([0, *ends]))


def _rows(integrator: Integrator) -> np.ndarray:
    """Channels, limit and trip timers, one row for each build."""
    now, since = integrator.now, integrator.limit_since
    return np.concatenate([now.channels, since[None], now.limit[None], integrator.timers]).T
