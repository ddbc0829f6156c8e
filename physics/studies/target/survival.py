"""What would have saved a pull: the least change of each lever with which it ends without a cut-out, with margin.

The search is that of `physics.studies.target.search`, with another goal: no speed, but that the protection stays
closed as entered and in every worse case (see `physics.studies.uncertainty.worse`), as for today's line limit.
First a few cases take part; what is found there is tried in all of them, and those that fail take part from then
on.

Left out: a rider who rides otherwise because of the change, and a pack that is not evenly warm.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from physics.arrays import Floats
from physics.build import Build
from physics.build.batch import Batch
from physics.simulation.ratings import rating_use
from physics.simulation.result import RunResult
from physics.simulation.run import run
from physics.studies.limit_search import stricter
from physics.studies.target.levers import Lever, saving_levers
from physics.studies.target.outcome import DELAYS, SLOWED, Goal, Trials
from physics.studies.target.search import Side, narrow_down, sides_of
from physics.studies.uncertainty.tolerance import Tolerance, default_tolerances
from physics.studies.uncertainty.worse import WorseCase, worse_cases

STANDSTILL = Goal(0.0)
"""A speed that every run has: only the protection decides."""
LINE_LIMIT = "line_limit"
IN_HAND = 0.5
"""Seconds before a cut-out by which a rider must have rolled off; common practice, no source."""
_ROUNDS = 3


@dataclass(frozen=True)
class Saving:
    """The least change of one lever that keeps the pack on.

    Attributes
    ----------
    lever : Lever
        What is changed.
    present, value : float
        Where it stands, and where it must go, rounded away from there to what can be set; NaN where no value in its
        range does it.
    top_speed : float, m/s
        Within the pull, with the change, everything as entered; NaN likewise.
    """

    lever: Lever
    present: float
    value: float
    top_speed: float

    @property
    def found(self) -> bool:
        """Whether it saves the pull alone."""
        return math.isfinite(self.value)


@dataclass(frozen=True)
class Survival:
    """What would have saved a pull.

    Attributes
    ----------
    build : Build
        As it was ridden.
    duration, start_speed : float, s and m/s
        Of the pull, flat out.
    rule : int
        Index in RULES of the rule that opens as entered, or -1.
    time, speed : float, s and m/s
        When, and how fast the bike is then; NaN where none opens.
    top_speed : float, m/s
        As entered, before a cut-out.
    cases : tuple of WorseCase
        In which a change must hold.
    case : WorseCase
        In which the pack opens soonest; as entered where none does.
    survives : bool
        Whether the pull needs no change in any of them.
    roll_off : float, s
        How long the pull may last in all of them with IN_HAND to spare, a whole number of tenths; the duration
        where it survives.
    savings : tuple of Saving
        One for each lever, those that save the pull first, the one that keeps the most speed before the others.
    """

    build: Build
    duration: float
    start_speed: float
    rule: int
    time: float
    speed: float
    top_speed: float
    cases: tuple[WorseCase, ...]
    case: WorseCase
    survives: bool
    roll_off: float
    savings: tuple[Saving, ...]

    @property
    def message(self) -> str:
        """The answer in a sentence, in SI."""
        if self.survives:
            return "The pull survives as it is."
        saving = [f"{one.lever.key} {one.value:.6g}" for one in self.savings if one.found]
        return "; ".join([f"Roll off after {self.roll_off:.1f} s", *saving]) + "."


def what_saves(
    build: Build,
    duration: float,
    start_speed: float = 0.0,
    margin: float = 1.0,
    tolerances: Sequence[Tolerance] | None = None,
    levers: Sequence[Lever] | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Survival:
    """The least change of each lever with which a pull survives where things are as much worse as they may be.

    Parameters
    ----------
    build : Build
        The bike and its conditions at the start of the pull.
    duration : float, s
        Of the pull, at the build's throttle.
    start_speed : float, m/s
        At its start.
    margin : float
        How wrong values may be, 0 to 2; see `worse_cases`.
    tolerances : sequence of Tolerance, optional
        How well the unknowns are known; None is `default_tolerances`.
    levers : sequence of Lever, optional
        What may be changed, and how far; None is `saving_levers`.
    progress : callable, optional
        Called with (rounds done, rounds in all).

    Returns
    -------
    Survival
        A line limit passes no rating of the pack either, and every lower one that was tried holds too.

    Raises
    ------
    ValueError
        When duration, start speed or margin are not accepted.

    Examples
    --------
    >>> from physics.build import example_build
    >>> weak = example_build().change({"pack.protection.fast_current": 150.0})
    >>> answer = what_saves(weak, 5.0, levers=saving_levers(weak)[:1])
    >>> answer.savings[0].value < 150.0 / 1.03
    True
    """
    cases = worse_cases(default_tolerances(build) if tolerances is None else tolerances, margin)
    search = _Survives(build, duration, start_speed, cases)
    present = run(stricter(Batch.join([case.applied(Batch.of(build)) for case in cases])), duration, start_speed)
    entered = run(build, duration, start_speed)
    times = np.where(np.isnan(present.cut_out_time), np.inf, present.cut_out_time)
    first = int(times.argmin())
    survives = not np.isfinite(times[first])
    found: list[Saving] = []
    if not survives:
        levers = saving_levers(build) if levers is None else tuple(levers)
        found = search.savings(levers, progress or (lambda done, total: None))
    return Survival(
        build=build,
        duration=duration,
        start_speed=start_speed,
        rule=int(entered.cut_out_rule[0]),
        time=float(entered.cut_out_time[0]),
        speed=float(entered.cut_out_speed[0]) if entered.cut_out_rule[0] >= 0 else math.nan,
        top_speed=float(entered.top_speed[0]),
        cases=cases,
        case=cases[0 if survives else first],
        survives=survives,
        roll_off=duration if survives else max(math.floor(10.0 * (times[first] - IN_HAND)), 0) / 10.0,
        savings=tuple(sorted(found, key=lambda one: -one.top_speed if one.found else math.inf)),
    )


@dataclass(frozen=True)
class _Survives:
    """Changes of one pull, held against the worse cases."""

    build: Build
    duration: float
    start_speed: float
    cases: tuple[WorseCase, ...]

    def savings(self, levers: Sequence[Lever], progress: Callable[[int, int], None]) -> list[Saving]:
        """One answer for each lever."""
        takes_part = [index for index, case in enumerate(self.cases) if not case.alone]
        values = dict.fromkeys(levers, math.nan)
        left = list(levers)
        for done in range(_ROUNDS):
            if done == _ROUNDS - 1:
                takes_part = list(range(len(self.cases)))
            asked = self._searched(left, takes_part)
            tried = [(lever, value) for lever in left for value in asked[lever]]
            fails = self._fails([lever.changes(self.build, [value]) for lever, value in tried])
            holds = np.logical_not(fails.any(axis=0)).tolist()
            for (lever, value), good in zip(reversed(tried), reversed(holds), strict=True):
                values[lever] = value if good else values[lever]
            left = [lever for lever in left if math.isnan(values[lever]) and asked[lever]]
            takes_part = sorted({*takes_part, *np.flatnonzero(fails.any(axis=1)).tolist()})
            progress(done + 1, _ROUNDS)
            if not left:
                break
        return self._with_speeds(values)

    def _searched(self, levers: Sequence[Lever], takes_part: Sequence[int]) -> dict[Lever, list[float]]:
        """For each lever what to try: what can be set, then as it was found; none where nothing saves the pull."""
        sides = sides_of(self.build, levers)
        cases = [self.cases[index] for index in takes_part]
        narrow_down(sides, lambda changes: self._trials(changes, cases))
        result = {}
        for lever in levers:
            own = [side for side in sides if side.lever is lever]
            present = lever.present(self.build)
            good = [value for side in own if (value := _value(side)) is not None]
            exact = min(good, key=lambda value: float(lever.fraction(present, value)), default=None)
            result[lever] = [] if exact is None else [lever.rounded(present, exact), exact]
        return result

    def _runs(self, changes: Sequence[dict], cases: Sequence[WorseCase]) -> tuple[Batch, NDArray[np.bool_]]:
        """Every change in every case, and which of the rows are another line limit."""
        parts = [Batch.vary(self.build, change) for change in changes]
        set_limit = np.repeat(
            ["controller.line_current_limit" in change for change in changes], list(map(len, parts))
        )
        entered = Batch.join(parts)
        batch = stricter(Batch.join([case.applied(entered) for case in cases]))
        return batch, np.tile(set_limit, len(cases))

    def _trials(self, changes: Sequence[dict], cases: Sequence[WorseCase]) -> Trials:
        """The worst of the cases for each change."""
        batch, set_limit = self._runs(changes, cases)
        made = run(batch, self.duration, self.start_speed)
        opened, used = made.cut_out_rule >= 0, made.allowance_used.max(axis=1)
        if opened.any():
            some = batch.take(opened)
            slowed = run(
                some.change({path: SLOWED * some[path] for path in DELAYS}), self.duration, self.start_speed
            )
            used[opened] = SLOWED * slowed.allowance_used.max(axis=1)
        bad = opened | (set_limit & _past_rating(batch, made))
        good = np.array(np.logical_not(bad))
        shape = (len(cases), -1)
        count = len(batch) // len(cases)
        return Trials(
            STANDSTILL,
            np.zeros(count),
            np.where(bad & ~opened, 1.0, used).reshape(shape).max(axis=0),
            np.array(good.reshape(shape).all(axis=0)),
            np.ones(count, dtype=bool),
        )

    def _fails(self, changes: Sequence[dict]) -> NDArray[np.bool_]:
        """Which changes fail in which case, shape (cases, changes)."""
        if not changes:
            return np.zeros((len(self.cases), 0), dtype=bool)
        batch, set_limit = self._runs(changes, self.cases)
        made = run(batch, self.duration, self.start_speed)
        bad = (made.cut_out_rule >= 0) | (set_limit & _past_rating(batch, made))
        return bad.reshape(len(self.cases), -1)

    def _with_speeds(self, values: dict[Lever, float]) -> list[Saving]:
        """Top speeds with the changes that were found, as entered."""
        found = [(lever, value) for lever, value in values.items() if math.isfinite(value)]
        speeds: Floats = np.zeros(0)
        if found:
            batch = Batch.join(
                [Batch.vary(self.build, lever.changes(self.build, [value])) for lever, value in found]
            )
            speeds = run(batch, self.duration, self.start_speed).top_speed
        top = dict(zip((lever for lever, _ in found), speeds.tolist(), strict=True))
        return [
            Saving(lever, lever.present(self.build), value, top.get(lever, math.nan))
            for lever, value in values.items()
        ]


def _value(side: Side) -> float | None:
    """Where a side begins to be good: of line limits so that every lower one is good too."""
    return side.secure() if side.lever.key == LINE_LIMIT else side.nearest()


def _past_rating(batch: Batch, made: RunResult) -> NDArray[np.bool_]:
    use = rating_use(batch, made)
    return use.passes_peak | use.passes_continuous
