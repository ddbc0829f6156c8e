"""The same thing done over and over, all times worked out at once: a few large batches in the place of many.

What a pull and the rest after it do to a state is a map, s_(k+1) = F(s_k), and one batch takes many states through
it. G is the map as guessed: by its slope at the first start, and bent as it is along charge alone. All starts are
guessed by it, and put right until they agree:

(1) s'_(k+1) = F(s_k) + G(s'_k) - G(s_k),

the parallel-in-time iteration of J.-L. Lions, Y. Maday and G. Turinici, Résolution d'EDP par un schéma en temps
« pararéel », Comptes Rendus de l'Académie des Sciences I 332 (2001) 661-668, from memory. After j turns the first j
starts are those of one after another, so it always ends.
"""

from collections.abc import Callable
from dataclasses import fields

import numpy as np
from numpy.typing import NDArray

from physics.arrays import Floats
from physics.build.batch import Batch
from physics.limits import RULES
from physics.scenarios.state import BikeState

GOES_ON = "goes_on"
"""The key of what is kept that says whether what follows counts, shape (n,)."""

_SIZES = (1, 4, 3, len(RULES))
_NUDGE = np.repeat([-0.01, 1.0, 0.1, 0.01], _SIZES)
"""From what change of charge, temperatures, K, pair voltages, V, and trip timers the slopes are taken."""
_CHARGES, _WARMTHS = np.linspace(1.0, 0.25, 6), np.linspace(0.0, 1.0, 4)
"""Where it is looked how the map bends: at shares of the first start's charge, and of how much warmer packs get."""
_WARMER = 30.0
"""K, how much warmer at the most."""
_LEAST = np.repeat([0.0, 100.0, -np.inf, 0.0], _SIZES)[:, None]
_MOST = np.repeat([1.0, 1000.0, np.inf, 1.0], _SIZES)[:, None]
_AGREE = 0.2 * np.abs(_NUDGE)[:, None]
"""By how much starts may still move: 0.2 K, 1/500 of the charge; they then move by a tenth of that again."""


def in_turn(
    batch: Batch,
    once: Callable[[Batch, BikeState], tuple[dict[str, np.ndarray], BikeState]],
    start: BikeState,
    most: int,
    until: float = np.inf,
) -> tuple[dict[str, np.ndarray], list[BikeState]]:
    """Do the same several times, each from what the one before left behind.

    Parameters
    ----------
    batch : Batch
        Of n builds.
    once : callable
        Does it once to the builds and states it is given: what is kept of it, arrays of a row for each, `GOES_ON`
        among them; and the states it leaves behind.
    start : BikeState
        Before the first.
    most : int
        How many times at most, 1 or more.
    until : float, K
        It ends once every pack that goes on is so warm.

    Returns
    -------
    tuple of (dict of arrays, list of BikeState)
        What is kept, arrays of shape (n, k, ...), and the k + 1 states before and after each; up to the last that
        counts for any build, or that ends its going on. Beyond its own last a build's are rough.

    Examples
    --------
    >>> from physics.build import example_build
    >>> from physics.scenarios.state import rest
    >>> batch = Batch.of(example_build())
    >>> def ten_minutes(batch, state):
    ...     return {GOES_ON: state.charge > 0.5}, rest(batch, state, 600.0, 20.0)
    >>> kept, states = in_turn(batch, ten_minutes, BikeState.rested(batch), 100)
    >>> bool(states[-2].charge[0] <= 0.5 < states[-3].charge[0]), len(states) - int(kept[GOES_ON].sum())
    (True, 2)
    """
    first = _flat(start)
    nudged = first + np.vstack([0.0 * _NUDGE, np.diag(_NUDGE)])[..., None]
    share, warmth = (axis.ravel()[:, None] for axis in np.meshgrid(_CHARGES, _WARMTHS, indexing="ij"))
    warmer = np.clip(until - first[1], 1.0, _WARMER)
    bent = np.stack([first] * share.size)
    bent[:, 0], bent[:, 1] = share * first[0], first[1] + warmth * warmer
    kept, after = _all(batch, once, np.clip(np.concatenate([nudged, bent]), _LEAST, _MOST))
    slopes = (after[1 : len(nudged)] - after[0]) / _NUDGE[:, None, None]
    bends = after[len(nudged) :] - after[0] - np.einsum("jin,kjn->kin", slopes, bent - first)
    bends = _carried_on(kept[GOES_ON][len(nudged) :], bends)
    builds = np.arange(len(batch))

    def guessed(state: Floats) -> Floats:
        emptier = (1.0 - state[0] / np.maximum(first[0], 1e-9)) / (_CHARGES[0] - _CHARGES[1])
        row, down = _between(emptier, len(_CHARGES))
        column, up = _between((state[1] - first[1]) / warmer / (_WARMTHS[1] - _WARMTHS[0]), len(_WARMTHS))
        low, high = (
            (1.0 - up) * bends[at, column, :, builds].T + up * bends[at, column + 1, :, builds].T
            for at in (row, row + 1)
        )
        return np.einsum("jin,jn->in", slopes, state) + (1.0 - down) * low + down * high

    def along(image: Floats, point: Floats, state: Floats) -> Floats:
        return np.clip(image + guessed(state) - guessed(point), _LEAST, _MOST)

    states, point, image, agree, going = [first], first, after[0], False, kept[GOES_ON][0]
    while True:
        known = len(states)
        while len(states) <= most and (len(states) == 1 or (going & (states[-1][1] < until)).any()):
            states.append(along(image, point, states[-1]))
        if agree and len(states) == known:
            return {name: np.swapaxes(values, 0, 1) for name, values in kept.items()}, list(map(_state, states))
        tried = np.stack(states[:-1])
        kept, after = _all(batch, once, tried)
        goes_on = kept[GOES_ON] & (after[:, 1] < until)
        counts = np.logical_and.accumulate(np.vstack([0 * going == 0, goes_on]))
        last = int(counts[:-1].any(axis=1).sum())
        better = [first]
        for before, then in zip(tried[:last], after[:last], strict=True):
            better.append(along(then, before, better[-1]))
        kept = {name: values[:last] for name, values in kept.items()}
        off = np.abs(np.stack(better[1:]) - np.stack(states[1 : last + 1])) > _AGREE
        agree = not (off & counts[:last, None]).any()
        states, point, image, going = better, tried[last - 1], after[last - 1], counts[last]


def _all(batch: Batch, once: Callable, states: Floats) -> tuple[dict[str, np.ndarray], Floats]:
    """States of each build, shape (k, size, n), each through it once: what is kept, and what comes of them."""
    count, size, builds = states.shape
    many = batch.take(np.tile(np.arange(builds), count))
    kept, after = once(many, _state(np.swapaxes(states, 0, 1).reshape(size, -1)))
    kept = {name: values.reshape(count, builds, *values.shape[1:]) for name, values in kept.items()}
    return kept, np.swapaxes(_flat(after).reshape(size, count, builds), 0, 1)


def _carried_on(goes_on: NDArray[np.bool_], bends: Floats) -> Floats:
    """How the map bends, shape (charges, warmths, size, n); where something ends it, as beside that."""
    shape = len(_CHARGES), len(_WARMTHS)
    goes_on, bends = goes_on.reshape(*shape, -1), bends.reshape(*shape, *bends.shape[1:])
    for row, column in np.ndindex(shape):
        if row or column:
            beside = bends[row - 1, column] if row else bends[row, column - 1]
            bends[row, column] = np.where(goes_on[row, column], bends[row, column], beside)
    return bends


def _between(place: Floats, count: int) -> tuple[NDArray[np.int_], Floats]:
    """Of places among so many points the point below, and how far behind it."""
    place = np.clip(place, 0.0, count - 1)
    low = np.minimum(place.astype(int), count - 2)
    return low, place - low


def _flat(state: BikeState) -> Floats:
    return np.vstack([getattr(state, field.name) for field in fields(state)])


def _state(flat: Floats) -> BikeState:
    charge, *others = np.split(flat, np.cumsum(_SIZES)[:-1])
    return BikeState(charge[0], *others)
