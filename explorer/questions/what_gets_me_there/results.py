"""What reaches the target: single changes first, then pairs, searched beside the page. Numbers only."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from physics.build import Build
from physics.studies.target import Goal, Lever, PairChange, TargetResult, best_pairs, reach_target

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
    """

    single: TargetResult
    pairs: tuple[PairChange, ...]
    complete: bool


def search(
    build: Build, goal: Goal, levers: tuple[Lever, ...], prices: tuple[tuple[str, float], ...]
) -> Callable[[Callable[[int, int], None], Callable[[], bool]], Ways]:
    """The work of a background job.

    Parameters
    ----------
    build, goal, levers
        As `physics.studies.target.reach_target` takes them.
    prices : tuple of (str, float)
        Lever and price.

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
        return Ways(single, pairs, single.complete and not cancelled())

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
