"""The torque current of a machine whose flux, inductance or slip depends on that current itself.

Where torque per ampere falls with current, where the inductance does, or where the tyre slips under drive, the
operating point is worked out for an assumed current, and the assumed one is changed until the two agree.
"""

from collections.abc import Callable
from typing import Protocol, TypeVar

import numpy as np

CLOSE = 1e-6
"""How closely the current found is that at which the two agree, over the largest there can be."""

ASSUMED = 1e-5
"""How closely the assumed one is, where the current found hardly depends on it."""

_MOST_TURNS = 60

_NUDGE, _LEAST_NUDGE = 1e-4, 1e-12
"""So far from the first current assumed, over the largest, another is tried, to see how the gap falls; and A, where
there is no current at all."""


class Driven(Protocol):
    """What has a torque current."""

    i_q: np.ndarray


Point = TypeVar("Point", bound=Driven)


def at_own_current(
    evaluate: Callable[[np.ndarray], Point], start: np.ndarray, most: np.ndarray
) -> tuple[Point, np.ndarray]:
    """The point whose current is the one it was worked out for.

    Parameters
    ----------
    evaluate : callable
        Assumed torque currents, A, to a point whose own change continuously with them, from zero to `most`: of the
        shape of `most`, and two rows of that.
    start : array, A
        Where to begin, such as the current of a moment before.
    most : array, A
        No point has more.

    Returns
    -------
    tuple of (Point, array)
        At the root of its current less the assumed one: by the secant through two currents, first through the start
        and one beside it, inside a bracket that is halved where the secant leads out of it (W. H. Press and others,
        Numerical Recipes, 3rd ed., 2007, section 9.2, for both). Then how fast that gap closes there with the
        assumed current: whatever moves the current of a point by so much where the assumed one stays moves the root
        by that over this.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> found, fall = at_own_current(
    ...     lambda i: SimpleNamespace(i_q=100 / (1 + i / 200)), np.zeros(1), np.array([100.0])
    ... )
    >>> found.i_q.round(3).tolist(), fall.round(2).tolist()
    ([73.205], [1.27])
    """
    low, high, at = np.zeros(most.shape), most, np.minimum(start, most)
    close, assumed, far = CLOSE * most, ASSUMED * most, np.maximum(_NUDGE * most, _LEAST_NUDGE)
    beside = np.where(at < most / 2, at + far, at - far)
    pair = np.array([at, beside])
    gap, gap_beside = evaluate(pair).i_q - pair
    fall = (gap - gap_beside) / (beside - at)  # one where the point does not depend on the assumed current
    solved = np.zeros(most.shape, dtype=bool)
    for _ in range(_MOST_TURNS):
        low, high = np.where(~solved & (gap > 0), at, low), np.where(solved | (gap > 0), high, at)
        secant = at + gap / np.where(fall > 0, fall, 1.0)
        outside = (secant < low) | (secant > high)
        before_at, before_gap = at, gap
        at = np.where(solved, at, np.where(outside, (low + high) / 2, secant))
        point = evaluate(at)
        gap = point.i_q - at
        moved = np.abs(at - before_at) > far
        if np.count_nonzero(moved):
            fall = np.where(moved, (before_gap - gap) / np.where(moved, at - before_at, 1.0), fall)
        solved = (np.abs(gap) <= assumed) & (np.abs(gap - gap / np.where(fall > 0, fall, 1.0)) <= close)
        if np.count_nonzero(solved) == solved.size:
            break
    return point, np.where(fall > 0, fall, 1.0)
