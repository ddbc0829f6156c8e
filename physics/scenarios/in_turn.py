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

from physics.arrays import Floats
from physics.build.batch import Batch
from physics.limits import RULES
from physics.scenarios.state import BikeState

GOES_ON = "goes_on"
"""The key of what is kept that says whether what follows counts, shape (n,)."""

_SIZES = (1, 4, 3, len(RULES))
_NUDGE = np.repeat([-0.01, 1.0, 0.1, 0.01], _SIZES)
"""From what change of charge, temperatures, K, pair voltages, V, and trip timers the slopes are taken."""
_EMPTIER, _EMPTIEST = 6, 0.25
"""At how many charges it is looked how the map bends, evenly from that of the first start to this share of it."""
_LEAST = np.repeat([0.0, 0.0, -np.inf, 0.0], _SIZES)[:, None]
_MOST = np.repeat([1.0, np.inf, np.inf, 1.0], _SIZES)[:, None]
_AGREE = 2e-2 * np.abs(_NUDGE)[:, None]
"""By how much starts may still move: 20 mK, 1/5,000 of the charge; they then move by a thirtieth of that again."""


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
    emptier = np.stack([first] * _EMPTIER)
    emptier[:, 0] *= np.linspace(1.0, _EMPTIEST, _EMPTIER)[:, None]
    kept, after = _all(batch, once, np.clip(np.concatenate([nudged, emptier]), _LEAST, _MOST))
    slopes = (after[1 : len(nudged)] - after[0]) / _NUDGE[:, None, None]
    bends = after[len(nudged) :] - after[0] - slopes[0] * (emptier[:, :1] - first[0])
    last_place = np.logical_and.accumulate(kept[GOES_ON][len(nudged) :]).sum(axis=0) - 1.0
    builds = np.arange(len(batch))

    def guessed(state: Floats) -> Floats:
        place = (_EMPTIER - 1) / (1.0 - _EMPTIEST) * (1.0 - state[0] / np.maximum(first[0], 1e-9))
        place = np.clip(place, 0.0, np.maximum(last_place, 0.0))
        low = np.minimum(place.astype(int), _EMPTIER - 2)
        low_bend, high_bend = bends[low, :, builds].T, bends[low + 1, :, builds].T
        return np.einsum("jin,jn->in", slopes, state) + low_bend + (place - low) * (high_bend - low_bend)

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


def _flat(state: BikeState) -> Floats:
    return np.vstack([getattr(state, field.name) for field in fields(state)])


def _state(flat: Floats) -> BikeState:
    charge, *others = np.split(flat, np.cumsum(_SIZES)[:-1])
    return BikeState(charge[0], *others)
