"""What single change makes a build reach its target, and what that costs elsewhere.

For each lever a list of values on both sides of the present one is run in one batch. Where the answer turns, or may
turn, between two of them, all levers are narrowed down together in further batches. A change counts only if the
protection stays closed for the whole run.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from physics.build import Build
from physics.studies.target.levers import Lever, default_levers
from physics.studies.target.outcome import Goal, Outcome, outcomes, trials
from physics.studies.target.search import LEAST_GAIN, ROUNDS, Side, narrow_down, sides_of

REACHES, CUTS_OUT, SHORT, NO_ROOM, NOT_SEARCHED = "reaches", "cuts out", "short", "no room", "not searched"
"""What a lever can do alone: reach the target; reach the speed but only with a cut-out; not reach it; not move; or
the search was stopped before it."""

SAME_SPEED = LEAST_GAIN
"""Speeds closer than this, m/s, count as the same when the most a lever can do is told."""


@dataclass(frozen=True)
class Change:
    """The smallest change of one lever that reaches the target, or the most it can do.

    Attributes
    ----------
    lever : Lever
        What is changed.
    present : float
        Where it stands.
    value : float
        Where it must go, rounded to what can be set; where it cannot reach the target, where it does most.
    exact : float
        The same without rounding.
    fraction : float
        How much of the allowed range on that side it uses, 0 to 1.
    status : str
        REACHES, CUTS_OUT, SHORT, NO_ROOM or NOT_SEARCHED.
    outcome : Outcome or None
        The run with `value`; None where there is none.
    speed_gained : float, m/s
        Top speed with it less top speed now.
    price : float
        Of making the change; NaN where none was given.
    """

    lever: Lever
    present: float
    value: float
    exact: float
    fraction: float
    status: str
    outcome: Outcome | None
    speed_gained: float
    price: float = float("nan")

    @property
    def price_per_speed(self) -> float:
        """Price for each metre per second gained; NaN where there is no price or no gain."""
        return self.price / self.speed_gained if self.speed_gained > 0 else float("nan")


@dataclass(frozen=True)
class TargetResult:
    """Every lever's answer.

    Attributes
    ----------
    build : Build
        As it is now.
    goal : Goal
        What was asked.
    present : Outcome
        The build's own run.
    reached : bool
        Whether it reaches the target as it is, without a cut-out.
    changes : tuple of Change
        One for each lever: first those that reach the target, the least of the allowed range first; then the rest,
        the most helpful first. Empty where the target is reached.
    complete : bool
        False where the search was cancelled: changes that were found hold, but may be larger than needed.
    message : str
        A sentence on how the search ended.
    """

    build: Build
    goal: Goal
    present: Outcome
    reached: bool
    changes: tuple[Change, ...]
    complete: bool
    message: str

    def change(self, key: str) -> Change:
        """The answer of one lever.

        Parameters
        ----------
        key : str
            The lever's.

        Returns
        -------
        Change

        Raises
        ------
        KeyError
            When that lever was not searched.
        """
        for change in self.changes:
            if change.lever.key == key:
                return change
        raise KeyError(f"No answer for {key!r}; there is one for {[change.lever.key for change in self.changes]}.")


def reach_target(
    build: Build,
    goal: Goal | float,
    levers: Sequence[Lever] | None = None,
    prices: dict[str, float] | None = None,
    *,
    progress: Callable[[int, int], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
    **options: Any,
) -> TargetResult:
    """The smallest change of each lever alone that reaches a target speed without a cut-out.

    Parameters
    ----------
    build : Build
        As it is now.
    goal : Goal, or float, m/s
        Target speed, length of the run, and the lower speed whose time is reported; or the speed alone.
    levers : sequence of Lever, optional
        What may be changed, and how far; by default all, `physics.studies.target.levers.default_levers`.
    prices : dict of str to float, optional
        Price of making a change, by lever.
    progress : callable, optional
        Called with (stages done, stages in all).
    cancelled : callable, optional
        Asked between stages and chunks; true ends the search with what is known.
    **options
        Of `physics.studies.sweep.sweep`, such as `executor`.

    Returns
    -------
    TargetResult

    Raises
    ------
    BuildError
        When a lever's range leaves what its field accepts.

    Examples
    --------
    >>> from physics.build import example_build
    >>> build = example_build()
    >>> from physics.studies.target.levers import default_levers
    >>> rear = [lever for lever in default_levers(build) if lever.key == "rear_teeth"]
    >>> rear_teeth = reach_target(build, Goal(31.5, 20.0), rear).change("rear_teeth")
    >>> rear_teeth.status, rear_teeth.value < 56
    ('reaches', True)
    """
    goal = goal if isinstance(goal, Goal) else Goal(goal)
    levers = default_levers(build) if levers is None else tuple(levers)
    prices = prices or {}
    progress = progress or (lambda done, total: None)
    options = options | {"cancelled": cancelled or (lambda: False)}
    stages = ROUNDS + 2
    present = outcomes(build, [{}], goal)[0]
    if present.good:
        progress(stages, stages)
        return TargetResult(build, goal, present, True, (), True, "The target is reached as it is.")
    sides = sides_of(build, levers)
    complete = narrow_down(
        sides,
        lambda changes: trials(build, changes, goal, **options),
        lambda stage: progress(stage, stages),
    )
    changes = _answers(build, goal, levers, sides, present, prices)
    progress(stages, stages)
    message = "Every lever was searched."
    if not complete:
        message = "The search was stopped; what was found holds, but may be more than needed."
    return TargetResult(build, goal, present, False, tuple(changes), complete, message)


def _answers(
    build: Build,
    goal: Goal,
    levers: Sequence[Lever],
    sides: Sequence[Side],
    present: Outcome,
    prices: dict[str, float],
) -> list[Change]:
    """Round what was found to what can be set, run it once more, and put the answers in order."""
    plans = [_plan(lever, [side for side in sides if side.lever is lever], build) for lever in levers]
    candidates = [
        (index, value)
        for index, (lever, plan) in enumerate(zip(levers, plans, strict=True))
        if plan.status not in (NO_ROOM, NOT_SEARCHED)
        for value in dict.fromkeys(
            (
                lever.rounded(plan.present, plan.exact),
                *([lever.rounded(plan.present, plan.exact, back=True)] if plan.status == SHORT else []),
                plan.exact,
            )
        )
    ]
    found: dict[int, tuple[float, Outcome | None]] = {}
    if candidates:
        tried = outcomes(build, [levers[index].changes(build, [value]) for index, value in candidates], goal)
        for (index, value), run in zip(candidates, tried, strict=True):
            status, before = plans[index].status, found.get(index, (value, None))[1]
            holds = run.good if status == REACHES else run.cut_out_rule < 0 or status == CUTS_OUT
            better = before is None or (status == SHORT and run.top_speed > before.top_speed + SAME_SPEED)
            if better and (holds or (before is None and value == plans[index].exact)):
                found[index] = value, run
    changes = []
    for index, (lever, plan) in enumerate(zip(levers, plans, strict=True)):
        value, outcome = found.get(index, (plan.exact, None))
        gained = outcome.top_speed - present.top_speed if outcome else 0.0
        fraction = float(lever.fraction(plan.present, value))
        price = float(prices.get(lever.key, np.nan))
        changes.append(
            Change(lever, plan.present, value, plan.exact, fraction, plan.status, outcome, gained, price)
        )
    order = (REACHES, CUTS_OUT, SHORT, NO_ROOM, NOT_SEARCHED)
    return sorted(changes, key=lambda change: (order.index(change.status), _rank(change)))


def _rank(change: Change) -> float:
    return change.fraction if change.status == REACHES else -change.speed_gained


@dataclass(frozen=True)
class _Plan:
    """What one lever comes to before rounding."""

    present: float
    exact: float
    status: str


def _plan(lever: Lever, sides: list[Side], build: Build) -> _Plan:
    present = lever.present(build)
    if not sides:
        return _Plan(present, present, NO_ROOM)
    good = [value for side in sides if (value := side.nearest()) is not None]
    if good:
        return _Plan(present, min(good, key=lambda value: float(lever.fraction(present, value))), REACHES)
    if not all(side.done for side in sides):
        return _Plan(present, present, NOT_SEARCHED)
    values = np.concatenate([side.value(side.at[1:]) for side in sides])
    fractions = np.asarray(lever.fraction(present, values))
    spare = np.concatenate([side.speed[1:] for side in sides])
    if (spare >= 0).any():  # the speed is there, with a cut-out: say so at the nearest such value
        return _Plan(present, float(values[np.where(spare >= 0, fractions, np.inf).argmin()]), CUTS_OUT)
    intact = np.concatenate([side.intact[1:] for side in sides])
    speeds = np.where(intact, spare, -np.inf) if intact.any() else spare
    most = speeds >= speeds.max() - SAME_SPEED
    return _Plan(present, float(values[np.where(most, fractions, np.inf).argmin()]), SHORT)
