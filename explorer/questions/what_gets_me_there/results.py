"""What reaches the target: single changes first, then pairs, searched beside the page. Numbers only."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from physics.build import Build
from physics.studies.target import (
    Goal,
    Lever,
    PairChange,
    Survival,
    TargetResult,
    best_pairs,
    reach_target,
    what_saves,
)
from physics.studies.uncertainty import Tolerance

SINGLES_SHARE = 60
"""How much of the whole work the single changes are, in percent."""

MOST_PAIRS = 20


@dataclass(frozen=True)
class Ways:
    """What was found.

    Attributes
    ----------
    single : TargetResult
        Every lever alone.
    pairs : tuple of PairChange
        The best pairs.
    complete : bool
        False where the search was stopped.
    saved : Survival or None
        What keeps the pack on for the whole run, where it cuts out as entered.
    """

    single: TargetResult
    pairs: tuple[PairChange, ...]
    complete: bool
    saved: Survival | None = None


@dataclass(frozen=True)
class Worse:
    """How much worse than entered things may be where the pack is to stay on.

    Attributes
    ----------
    margin : float
        1 as wrong as each value may well be.
    known : tuple of Tolerance
        How well each unknown is known.
    levers : tuple of Lever
        What may be changed for it.
    """

    margin: float = 0.0
    known: tuple[Tolerance, ...] = ()
    levers: tuple[Lever, ...] = ()


def search(
    build: Build,
    goal: Goal,
    levers: tuple[Lever, ...],
    prices: tuple[tuple[str, float], ...],
    worse: Worse | None = None,
) -> Callable[[Callable[[int, int], None], Callable[[], bool]], Ways]:
    """The work of a background job.

    Parameters
    ----------
    build, goal, levers
        As `physics.studies.target.reach_target` takes them.
    prices : tuple of (str, float)
        Lever and price.
    worse : Worse, optional
        Where a cut-out is looked at too.

    Returns
    -------
    callable
        For `explorer.frame.background_job.Job`.
    """

    def work(progress: Callable[[int, int], None], cancelled: Callable[[], bool]) -> Ways:
        def first(done: int, total: int) -> None:
            progress(SINGLES_SHARE * done, 100 * total)

        def second(done: int, total: int) -> None:
            progress(SINGLES_SHARE * total + (100 - SINGLES_SHARE) * done, 100 * total)

        single = reach_target(build, goal, levers, dict(prices), progress=first, cancelled=cancelled)
        pairs = () if cancelled() else best_pairs(single, MOST_PAIRS, progress=second, cancelled=cancelled)
        saved = None
        if worse is not None and single.present.cut_out_rule >= 0 and not cancelled():
            saved = what_saves(build, goal.duration, 0.0, worse.margin, worse.known, worse.levers)
        return Ways(single, pairs, single.complete and not cancelled(), saved)

    return work


def mixed(pairs: Sequence[PairChange], most: int = 4, each: int = 2) -> list[PairChange]:
    """The best pairs, no lever in more than so many of them."""
    chosen: list[PairChange] = []
    used: dict[str, int] = {}
    for pair in pairs:
        if len(chosen) < most and all(used.get(lever.key, 0) < each for lever in pair.levers):
            chosen.append(pair)
            for lever in pair.levers:
                used[lever.key] = used.get(lever.key, 0) + 1
    return chosen
