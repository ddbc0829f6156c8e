"""Pulls, one after another, with rests between: how many a charge gives, and how hot each part becomes.

Many builds go through the same pulls in one batch.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from physics.arrays import Floats
from physics.build.batch import Batch, Builds
from physics.components import cell
from physics.scenarios.pull import Pull, PullResult, make_pull
from physics.scenarios.state import BikeState, rest

COUNT_REACHED, TARGET_MISSED, CUT_OUT_STOPS = 0, 1, 2
"""Why a count of pulls ended: no more were asked for; the target stayed out of reach; the protection cut out."""


@dataclass(frozen=True, eq=False)
class RepeatedPulls:
    """Pulls of many builds, one after another, with rests between; arrays of shape (n, pulls) unless noted.

    Columns past a build's own last pull are worked out all the same; `pulls` says how many count.

    Attributes
    ----------
    pulls : array of int, shape (n,)
        How many pulls count: with a target, those that reached it without a cut-out; else those without a cut-out.
    status : array of int, shape (n,)
        COUNT_REACHED, TARGET_MISSED or CUT_OUT_STOPS.
    charge, rest_voltage : array, and V
        At the start of each pull; the voltage settled, not yet relaxed voltage left out.
    top_speed : array, m/s
        Up to the pull's end.
    time_to_target : array, s
        Infinite where there is no target or it is not reached.
    minimum_cell_voltage : array, V
        Of the weakest cell.
    used : array, shape (n, pulls, len(RULES))
        Share of each rule's allowance.
    temperatures_before, temperatures_after : array, shape (n, pulls, 4), K
        Of each part in HEATED_PARTS, at the start and the end of each pull.
    charge_left : array, shape (n,)
        At the end of the last pull that counts, or at the start where none does.
    """

    pulls: np.ndarray
    status: np.ndarray
    charge: np.ndarray
    rest_voltage: np.ndarray
    top_speed: np.ndarray
    time_to_target: np.ndarray
    minimum_cell_voltage: np.ndarray
    used: np.ndarray
    temperatures_before: np.ndarray
    temperatures_after: np.ndarray
    charge_left: np.ndarray

    @property
    def message(self) -> tuple[str, ...]:
        """One sentence for each build."""
        ends = ("no more were asked for", "the target is then out of reach", "the protection then cuts out")
        return tuple(
            f"{count} pull{'' if count == 1 else 's'}: {ends[status]}."
            for count, status in zip(self.pulls, self.status, strict=True)
        )


def repeated_pulls(
    builds: Builds,
    pull: Pull,
    rest_time: float = 300.0,
    most: int = 10,
    current_between: float = 0.0,
    steps: int | None = None,
    progress: Callable[[int], None] | None = None,
) -> RepeatedPulls:
    """Pull, rest, pull, until no build can do one more.

    Parameters
    ----------
    builds : Build, sequence of Build, or Batch
        What is ridden, all in one batch.
    pull : Pull
        The same for all.
    rest_time : float, s
        Between the end of one pull and the start of the next, 0 or above.
    most : int
        Largest number of pulls, 1 to 1000.
    current_between : float, A
        Mean line current during the rest, such as of a slow ride back.
    steps : int, optional
        Time steps of each pull.
    progress : callable, optional
        Called after each pull with the number made.

    Returns
    -------
    RepeatedPulls
        It ends early when no build has a pull left.

    Raises
    ------
    ValueError
        When the rest, the count or the current are not accepted.

    Examples
    --------
    >>> from physics.build import example_build
    >>> repeated_pulls(example_build(), Pull(10.0), rest_time=120.0, most=3).message
    ('3 pulls: no more were asked for.',)
    """
    if not (0 <= rest_time <= 1e6 and 1 <= most <= 1000 and 0 <= current_between <= 5000):
        raise ValueError(
            f"Repeated pulls: got a rest of {rest_time!r} s, {most!r} pulls and {current_between!r} A between; "
            "accepts a rest from 0 to 1e6 s, 1 to 1000 pulls, and 0 to 5000 A."
        )
    batch = Batch.of(builds)
    state = BikeState.rested(batch)
    count = np.zeros(len(batch), dtype=int)
    status = np.full(len(batch), COUNT_REACHED)
    left = state.charge.copy()
    rows: list[dict] = []
    longest = pull.duration
    going = np.ones(len(batch), dtype=bool)
    for number in range(most):
        result = _one_pull(batch, pull, state, steps, longest, going)
        longest = min(1.25 * result.flat_out_end[going].max() + 1.0, pull.duration)
        row = _row(batch, state, result)
        rows.append(row)
        closed = result.worst < 1
        reached = result.reached | (pull.target_speed is None)
        status = np.where(going & ~closed, CUT_OUT_STOPS, np.where(going & ~reached, TARGET_MISSED, status))
        going = going & closed & reached
        count = count + going
        left = np.where(going, result.after.charge, left)
        if progress is not None:
            progress(number + 1)
        if not going.any():
            break
        state = rest(batch, result.after, rest_time, current_between)
    columns = {name: np.stack([row[name] for row in rows], axis=1) for name in rows[0]}
    return RepeatedPulls(count, status, charge_left=left, **columns)


def _one_pull(
    batch: Batch, pull: Pull, state: BikeState, steps: int | None, longest: float, going: NDArray[np.bool_]
) -> PullResult:
    """A pull, looked at no longer than it needs: first as long as the one before took, with some to spare."""
    if pull.target_speed is not None and longest < pull.duration:
        fewer = None if steps is None else max(30, round(steps * (longest / pull.duration) ** 0.5))
        result = make_pull(batch, replace(pull, duration=longest), state, fewer)
        if result.reached[going].all():
            return result
    return make_pull(batch, pull, state, steps)


def _row(batch: Batch, state: BikeState, result: PullResult) -> dict[str, Floats]:
    """What is kept of one pull."""
    open_circuit = cell.open_circuit_voltage(batch.chemistry, state.charge)
    return {
        "charge": state.charge,
        "rest_voltage": open_circuit * batch["pack.cells_in_series"],
        "top_speed": result.top_speed,
        "time_to_target": result.time_to_target,
        "minimum_cell_voltage": result.minimum_cell_voltage,
        "used": result.used,
        "temperatures_before": state.temperatures.T,
        "temperatures_after": result.after.temperatures.T,
    }
