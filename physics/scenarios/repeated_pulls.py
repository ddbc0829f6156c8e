"""Pulls, one after another, with rests between: how many a charge gives, and how hot each part becomes.

Many builds go through the same pulls in one batch.
"""

from dataclasses import dataclass

import numpy as np

from physics.build.batch import Batch, Builds
from physics.components import cell
from physics.scenarios.in_turn import GOES_ON, in_turn
from physics.scenarios.pull import Pull, PullResult, make_pull
from physics.scenarios.state import BikeState, rest

COUNT_REACHED, TARGET_MISSED, CUT_OUT_STOPS = 0, 1, 2
"""Why a count of pulls ended: no more were asked for; the target stayed out of reach; the protection cut out."""


@dataclass(frozen=True, eq=False)
class RepeatedPulls:
    """Pulls of many builds, one after another, with rests between; arrays of shape (n, pulls) unless noted.

    Columns past the one that ends a build's own pulls are rough; `pulls` says how many count.

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

    def once(many: Batch, state: BikeState) -> tuple[dict[str, np.ndarray], BikeState]:
        made = make_pull(many, pull, state, steps)
        return _row(many, pull, state, made), rest(many, made.after, rest_time, current_between)

    columns, _ = in_turn(batch, once, BikeState.rested(batch), most)
    counts = np.logical_and.accumulate(columns.pop(GOES_ON), axis=1)
    count, rows = counts.sum(axis=1), np.arange(len(batch))
    ended = columns["used"][rows, np.minimum(count, counts.shape[1] - 1)].max(axis=1) >= 1
    status = np.where(ended, CUT_OUT_STOPS, TARGET_MISSED)
    charges = np.stack([columns["charge"][:, 0], *columns.pop("charge_after").T])
    return RepeatedPulls(
        count, np.where(counts.all(axis=1), COUNT_REACHED, status), charge_left=charges[count, rows], **columns
    )


def _row(batch: Batch, pull: Pull, state: BikeState, result: PullResult) -> dict[str, np.ndarray]:
    """What is kept of one pull."""
    open_circuit = cell.open_circuit_voltage(batch.chemistry, state.charge)
    return {
        GOES_ON: (result.worst < 1) & (result.reached | (pull.target_speed is None)),
        "charge": state.charge,
        "charge_after": result.after.charge,
        "rest_voltage": open_circuit * batch["pack.cells_in_series"],
        "top_speed": result.top_speed,
        "time_to_target": result.time_to_target,
        "minimum_cell_voltage": result.minimum_cell_voltage,
        "used": result.used,
        "temperatures_before": state.temperatures.T,
        "temperatures_after": result.after.temperatures.T,
    }
