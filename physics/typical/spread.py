"""A typical value with the ends of what is usual."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from physics.arrays import Floats, Numbers


class Typical(NamedTuple):
    """What a value most likely is.

    Attributes
    ----------
    low, middle, high : float or array
        About nine in ten lie between the ends: common practice, no source, where the rule names none.
    """

    low: Floats
    middle: Floats
    high: Floats


def around(middle: Numbers, low: float, high: float) -> Typical:
    """A middle with ends at fixed shares of it.

    Parameters
    ----------
    middle : float or array
        In any unit.
    low, high : float
        The ends over the middle.

    Returns
    -------
    Typical

    Examples
    --------
    >>> [float(value) for value in around(50.0, 0.5, 2.0)]
    [25.0, 50.0, 100.0]
    """
    value = np.asarray(middle, dtype=float)
    return Typical(value * low, value * 1.0, value * high)
