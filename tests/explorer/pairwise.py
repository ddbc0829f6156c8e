"""Few rows of settings in which every pair of values of every two inputs stands at least once.

Greedy, one row after the other (after D. M. Cohen and others, The AETG system: an approach to testing based on
combinatorial design, IEEE Trans. Software Engineering 23 (1997); from memory), and the same rows every time.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Hashable, Mapping, Sequence
from typing import Any

import numpy as np

Values = Mapping[str, Sequence[Hashable]]
Row = dict[str, Any]
Pair = tuple[tuple[str, Any], tuple[str, Any]]

ATTEMPTS = 8
"""Rows that are tried for one pair before it counts as impossible."""


def rows(values: Values, accepted: Callable[[Row], bool] = lambda row: True) -> tuple[list[Row], set[Pair]]:
    """Rows that hold every pair, and the pairs that no accepted row was found for.

    Parameters
    ----------
    values : mapping of str to sequence
        Each input's values.
    accepted : callable
        Whether a row may stand as it is.

    Returns
    -------
    tuple of (list of dict, set of pairs)
    """
    chance = random.Random(len(values))
    places = [(name, value) for name, each in values.items() for value in each]
    owner = np.array([name for name, _ in places])
    open_pairs = owner[:, None] != owner[None, :]
    spans = {name: np.flatnonzero(owner == name) for name in values}
    made: list[Row] = []

    def add(first, second) -> bool:
        tried = [_row((first, second), spans, open_pairs, owner, chance) for _ in range(ATTEMPTS)]
        tried = [each for each in tried if accepted(dict(places[place] for place in sorted(each)))]
        for best in sorted(tried, key=lambda each: open_pairs[np.ix_(each, each)].sum())[-1:]:
            open_pairs[np.ix_(best, best)] = False
            made.append(dict(places[place] for place in sorted(best)))
        return bool(tried)

    put_off = []
    while open_pairs.any():
        first = int(open_pairs.sum(1).argmax())
        second = int(np.flatnonzero(open_pairs[first])[0])
        if not add(first, second):
            open_pairs[first, second] = open_pairs[second, first] = False
            put_off.append(tuple(sorted((first, second))))
    # With no pair open all else is drawn by lot, so that no other impossible pair is drawn in again and again.
    never = set()
    for first, second in put_off:
        pair = (places[first], places[second])
        if not any(set(pair) <= row.items() for row in made) and not add(first, second):
            never.add(pair)
    return made, never


def _row(start, spans, open_pairs, owner, chance) -> list[int]:
    """One row from a pair: each further input takes the value that closes most open pairs."""
    chosen = list(start)
    left = [name for name in spans if name not in owner[chosen]]
    chance.shuffle(left)
    for name in left:
        closed = open_pairs[np.ix_(spans[name], chosen)].sum(1)
        chosen.append(int(chance.choice(spans[name][closed == closed.max()])))
    return chosen
