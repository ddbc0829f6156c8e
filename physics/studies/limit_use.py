"""What a pull uses of the pack's rules and ratings at a line limit, as entered or where things are worse."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from physics.build import Build
from physics.build.batch import Batch
from physics.limits import CONTINUOUS_CURRENT, RULES
from physics.scenarios.pull import Pull, PullResult, make_pull
from physics.simulation.ratings import rating_use
from physics.studies.uncertainty.worse import AS_ENTERED, WorseCase

BINDS = (*RULES, "continuous current rating", "peak current rating")
"""What can bind a line limit: the protection's rules, then the pack's ratings."""
CONTINUOUS_RATING, PEAK_RATING = len(RULES), len(RULES) + 1


@dataclass(frozen=True, eq=False)
class LimitUse:
    """One pull at several line limits, in several cases; arrays of shape (cases, limits) unless noted.

    Attributes
    ----------
    limit : array, shape (limits,), A
    used : array, shape (cases, limits, len(RULES))
        How much of each rule's allowance is used: 0 none, 1 a cut-out.
    volts_left : array, V
        Lowest voltage of the weakest cell less the under-voltage threshold; below zero the rule's time runs.
    binds : array of int
        Index in BINDS of the rule that cuts out or the rating that is passed, or -1.
    """

    limit: np.ndarray
    used: np.ndarray
    volts_left: np.ndarray
    binds: np.ndarray


def binding(index: int) -> str:
    """One of BINDS in a sentence.

    Parameters
    ----------
    index : int
        Of it.

    Returns
    -------
    str

    Examples
    --------
    >>> binding(RULES.index("under-voltage")), binding(PEAK_RATING)
    ('the under-voltage rule', 'the peak current rating')
    """
    return f"the {BINDS[index]} rule" if index < len(RULES) else f"the {BINDS[index]}"


def limit_use(
    build: Build,
    pull: Pull,
    limits: ArrayLike,
    cases: Sequence[WorseCase] = (AS_ENTERED,),
    steps: int | None = None,
) -> LimitUse:
    """How much of each rule's allowance a pull uses at several line limits, today.

    Parameters
    ----------
    build : Build
        The bike in its conditions.
    pull : Pull
        What is ridden.
    limits : array, shape (k,), A
        Line limits.
    cases : sequence of WorseCase
        In which of them; by default as entered.
    steps : int, optional
        Time steps of each run.

    Returns
    -------
    LimitUse

    Examples
    --------
    >>> from physics.build import example_build
    >>> rules = {"pack.protection.continuous_current": 100.0, "pack.protection.peak_current": 150.0}
    >>> use = limit_use(example_build().change(rules), Pull(20.0), [95.0, 200.0])
    >>> use.used[0, :, 0], BINDS[use.binds[0, 1]]
    (array([0., 1.]), 'peak current rating')
    """
    tried = np.asarray(limits, dtype=float)
    entered = Batch.vary(build, {"controller.line_current_limit": tried})
    batch = Batch.join([case.applied(entered) for case in cases])
    made = make_pull(batch, pull, None, steps)
    shape = (len(cases), len(tried))
    volts_left = made.minimum_cell_voltage - batch["pack.protection.cell_undervoltage"]
    return LimitUse(
        tried,
        made.used.reshape(*shape, len(RULES)),
        volts_left.reshape(shape),
        what_binds(batch, made).reshape(shape),
    )


def what_binds(batch: Batch, made: PullResult, share_of_peak_time: float = 1.0) -> NDArray[np.int_]:
    """Which rule cuts a pull out, or which rating it passes.

    Parameters
    ----------
    batch : Batch
        What was ridden.
    made : PullResult
        How it went.
    share_of_peak_time : float
        How much of the peak time may be spent above the continuous current.

    Returns
    -------
    array of int, shape (n,)
        Index in BINDS, or -1 where none does. A rule that looks at no rating comes before a rating.

    Examples
    --------
    >>> from physics.build import example_build
    >>> batch = Batch.of(example_build().change({"pack.protection.peak_current": 100.0}))
    >>> BINDS[what_binds(batch, make_pull(batch, Pull(5.0)))[0]]
    'peak current rating'
    """
    use = rating_use(batch, made.run, made.flat_out_end)
    if made.held is not None:
        use = use.then(rating_use(batch, made.held), made.reached)
    opened = np.where(made.worst >= 1, made.rule, -1)
    long = use.time_above > share_of_peak_time * use.peak_time
    rated = np.where(use.passes_peak, PEAK_RATING, np.where(long, CONTINUOUS_RATING, -1))
    return np.where((rated >= 0) & (opened <= CONTINUOUS_CURRENT), rated, opened)
