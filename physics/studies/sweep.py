"""Sweeps: grids and samples of builds, run as batches in chunks that keep memory bounded.

Of every run only what a reducer takes from it is kept, so a sweep of any size needs the memory of a few chunks.
The chunks go through this process, or through any `concurrent.futures.Executor`: a process pool on this machine, or
the executor that a cluster engine offers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Executor, wait
from dataclasses import dataclass

import numpy as np

from physics.build.batch import Batch
from physics.build.samples import Samples
from physics.limits import RULES
from physics.simulation.result import CHANNELS, RunResult
from physics.simulation.run import run, time_grid

COMPLETE, CANCELLED, FAILED = 0, 1, 2
"""Status of a sweep: 0 every build is done, 1 it was cancelled, 2 a chunk failed. What is finished is kept."""

DEFAULT_MEMORY = 64 * 2**20
"""What one chunk's run may take, bytes."""

BYTES_PER_INSTANT = 2 * 8 * (len(CHANNELS) + 1 + len(RULES))
"""What a run keeps of one build at one instant (channels, limit, trip timers), twice for what a reducer derives."""

_POLL = 0.1

Done = tuple[int, int, dict[str, np.ndarray] | None, BaseException | None]
"""A chunk that came back: its first build and the one after its last, its values, and why it failed."""


@dataclass(frozen=True)
class SweepResult:
    """What a sweep has done so far.

    Attributes
    ----------
    values : dict of str to array, shape (n, ...)
        What the reducer took from each run; where a build is not done it holds NaN, or 0 in arrays that cannot.
    done : array of bool, shape (n,)
        Which builds are done.
    status : int
        0 every build is done, 1 it was cancelled, 2 a chunk failed.
    message : str
        The same as a sentence.
    shape : tuple of int
        Shape of the grid.
    error : Exception or None
        What a failed chunk raised.
    """

    values: dict[str, np.ndarray]
    done: np.ndarray
    status: int
    message: str
    shape: tuple[int, ...]
    error: BaseException | None = None

    def __getitem__(self, name: str) -> np.ndarray:
        return self.values[name]

    def on_grid(self, name: str) -> np.ndarray:
        """One of the arrays in the grid's shape.

        Parameters
        ----------
        name : str
            A name the reducer gave.

        Returns
        -------
        array, shape (*shape, ...)
        """
        values = self.values[name]
        return values.reshape(self.shape + values.shape[1:])

    def checked(self) -> SweepResult:
        """This result, or the error of the chunk that failed."""
        if self.error is not None:
            raise self.error
        return self


def end_values(result: RunResult) -> dict[str, np.ndarray]:
    """The default reducer: the single numbers of each run.

    Parameters
    ----------
    result : RunResult
        Runs of one chunk.

    Returns
    -------
    dict of str to array, shape (n,)
        top_speed (m/s, under power), minimum_voltage and minimum_cell_voltage (V), holding_limit, cut_out_rule,
        cut_out_time (s), allowance_used (the most of any rule, 0 to 1), energy_used (J), distance (m), settled.
    """
    return {
        "top_speed": result.top_speed,
        "minimum_voltage": result.minimum_voltage,
        "minimum_cell_voltage": result.minimum_cell_voltage,
        "holding_limit": result.holding_limit,
        "cut_out_rule": result.cut_out_rule,
        "cut_out_time": result.cut_out_time,
        "allowance_used": result.allowance_used.max(axis=1),
        "energy_used": result.energy_used,
        "distance": result.distance[:, -1],
        "settled": result.settled,
    }


def chunk_size(duration: float, steps: int | None = None, memory: float = DEFAULT_MEMORY) -> int:
    """How many builds one chunk may hold.

    Parameters
    ----------
    duration : float, s
        Length of the runs.
    steps : int, optional
        Time steps; by default those `run` would take.
    memory : float, bytes
        What one chunk's run may take.

    Returns
    -------
    int
        At least 1.

    Examples
    --------
    >>> chunk_size(20.0, steps=200, memory=2**26)
    772
    """
    return max(1, int(memory // (BYTES_PER_INSTANT * len(time_grid(duration, steps)))))


def sweep(
    builds: Samples | Batch,
    duration: float = 30.0,
    *,
    reducer: Callable[[RunResult], dict] = end_values,
    steps: int | None = None,
    memory: float = DEFAULT_MEMORY,
    executor: Executor | None = None,
    in_flight: int = 16,
    progress: Callable[[int, int], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
    resume: SweepResult | None = None,
) -> SweepResult:
    """Run many builds in chunks and keep what a reducer takes from each.

    Parameters
    ----------
    builds : Samples or Batch
        What is run.
    duration : float, s
        Length of the runs.
    reducer : callable
        RunResult to a dict of arrays, shape (n, ...). It must be picklable for executors that leave the process.
    steps : int, optional
        Time steps of each run.
    memory : float, bytes
        What one chunk's run may take; it sets the chunks. The same chunks are used with and without executor, so
        that results are identical.
    executor : concurrent.futures.Executor, optional
        Where chunks run; by default here.
    in_flight : int
        Most chunks handed to the executor at a time.
    progress : callable, optional
        Called with (done, total) after each chunk, in this thread.
    cancelled : callable, optional
        Asked before each chunk, and while waiting; true ends the sweep, keeping what is finished.
    resume : SweepResult, optional
        An earlier result of the same sweep; only what it lacks is run.

    Returns
    -------
    SweepResult
        A failing chunk ends the sweep and is told by `status` and `error`; what is finished is kept.

    Raises
    ------
    ValueError
        When the result to resume from belongs to another number of builds.

    Examples
    --------
    >>> from physics.build import example_build
    >>> from physics.build.samples import grid
    >>> result = sweep(grid(example_build(), {"conditions.charge": [1.0, 0.5]}), duration=5.0)
    >>> bool(result["minimum_voltage"][0] > result["minimum_voltage"][1])
    True
    """
    keeper = _Keeper(builds, resume)
    size = chunk_size(duration, steps, memory)
    work = _Work(reducer, duration, steps)
    waiting = iter([start for start in range(0, len(builds), size) if not keeper.done[start : start + size].all()])
    progress = progress or (lambda done, total: None)
    cancelled = cancelled or (lambda: False)
    spread = _here if executor is None else _spread(executor, in_flight)
    error = None
    for start, stop, values, failure in spread(work, builds, waiting, size, cancelled):
        if values is not None:
            keeper.take(start, stop, values)
            progress(int(keeper.done.sum()), len(builds))
        error = error or failure
    status = FAILED if error else COMPLETE if keeper.done.all() else CANCELLED
    return keeper.result(status, error)


@dataclass(frozen=True)
class _Work:
    """One chunk's work, picklable."""

    reducer: Callable[[RunResult], dict]
    duration: float
    steps: int | None

    def __call__(self, part: Samples | Batch) -> dict[str, np.ndarray]:
        batch = part.batch() if isinstance(part, Samples) else part
        kept = self.reducer(run(batch, self.duration, steps=self.steps))
        values = {name: np.asarray(array) for name, array in kept.items()}
        for name, array in values.items():
            if array.shape[:1] != (len(batch),):
                raise ValueError(
                    f"The reducer's {name} has shape {array.shape}; its first axis must be the {len(batch)} builds."
                )
        return values


class _Keeper:
    """The arrays that fill up as chunks come back, in any order."""

    def __init__(self, builds: Samples | Batch, resume: SweepResult | None) -> None:
        self.count = len(builds)
        self.shape = builds.shape if isinstance(builds, Samples) else (self.count,)
        self.values: dict[str, np.ndarray] = {}
        self.done = np.zeros(self.count, dtype=bool)
        if resume is not None:
            if len(resume.done) != self.count:
                raise ValueError(
                    f"The result to resume from holds {len(resume.done)} builds; this sweep has {self.count}."
                )
            self.values = {name: kept.copy() for name, kept in resume.values.items()}
            self.done = resume.done.copy()

    def take(self, start: int, stop: int, values: dict[str, np.ndarray]) -> None:
        for name, kept in values.items():
            if name not in self.values:
                empty = np.nan if np.issubdtype(kept.dtype, np.inexact) else np.zeros((), dtype=kept.dtype)
                self.values[name] = np.full((self.count, *kept.shape[1:]), empty, dtype=kept.dtype)
            self.values[name][start:stop] = kept
        self.done[start:stop] = True

    def result(self, status: int, error: BaseException | None) -> SweepResult:
        done = int(self.done.sum())
        message = {
            COMPLETE: f"All {self.count} builds are done.",
            CANCELLED: f"Stopped with {done} of {self.count} builds done; those are kept.",
            FAILED: f"A chunk failed with {done} of {self.count} builds done; those are kept. It said: {error}",
        }[status]
        return SweepResult(self.values, self.done, status, message, self.shape, error)


def _chunk(builds: Samples | Batch, start: int, size: int) -> tuple[int, Samples | Batch]:
    stop = min(start + size, len(builds))
    return stop, builds.part(start, stop) if isinstance(builds, Samples) else builds.take(slice(start, stop))


def _here(
    work: _Work, builds: Samples | Batch, waiting: Iterator[int], size: int, cancelled: Callable[[], bool]
) -> Iterator[Done]:
    """Chunk after chunk in this thread; a failing one is the last."""
    for start in waiting:
        if cancelled():
            return
        stop, part = _chunk(builds, start, size)
        try:
            values = work(part)
        except Exception as failure:
            yield start, stop, None, failure
            return
        yield start, stop, values, None


def _spread(executor: Executor, in_flight: int) -> Callable[..., Iterator[Done]]:
    """Chunks through an executor, in the order in which they finish; none that finishes is dropped."""

    def through(
        work: _Work, builds: Samples | Batch, waiting: Iterator[int], size: int, cancelled: Callable[[], bool]
    ) -> Iterator[Done]:
        running: dict = {}
        ended = False
        try:
            while True:
                ended = ended or cancelled()
                while not ended and len(running) < max(1, in_flight) and (start := next(waiting, None)) is not None:
                    stop, part = _chunk(builds, start, size)
                    try:
                        running[executor.submit(work, part)] = (start, stop)
                    except Exception as failure:
                        ended = True
                        yield start, stop, None, failure
                if ended:
                    for future in running:
                        future.cancel()
                if not running:
                    return
                finished, _ = wait(running, timeout=_POLL, return_when=FIRST_COMPLETED)
                for future in finished:
                    start, stop = running.pop(future)
                    if future.cancelled():
                        continue
                    raised = future.exception()
                    ended = ended or raised is not None
                    yield start, stop, None if raised else future.result(), raised
        finally:
            for future in running:
                future.cancel()

    return through
