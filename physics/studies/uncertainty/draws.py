"""Builds drawn from how well their unknowns are known.

The points are those of a scrambled Sobol' sequence, the same ones every time.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from physics.build import Build
from physics.build.batch import Batch
from physics.build.samples import Samples
from physics.studies.uncertainty.tolerance import Tolerance

SEED = 20260501


def spread_points(dimensions: int, count: int, seed: int = SEED) -> np.ndarray:
    """Points that fill the unit cube evenly: a scrambled Sobol' sequence.

    Parameters
    ----------
    dimensions, count : int
        How many unknowns, and how many points; a power of two fills best.
    seed : int
        Of the scrambling. The same seed gives the same points.

    Returns
    -------
    array, shape (count, dimensions)
        0 to 1.

    Notes
    -----
    A. B. Owen, Scrambling Sobol' and Niederreiter-Xing points, Journal of Complexity 14 (1998) 466-489; as built
    by scipy.stats.qmc.Sobol.

    Examples
    --------
    >>> spread_points(2, 4).shape
    (4, 2)
    """
    from scipy.stats import qmc

    sequence = qmc.Sobol(dimensions, rng=np.random.default_rng(seed))
    return sequence.random_base2(max(0, int(np.ceil(np.log2(count)))))[:count]


_SPREAD = Path(__file__).parents[2] / "components" / "data" / "spread_points.csv"


@functools.cache
def _stored_points() -> np.ndarray:
    return np.loadtxt(_SPREAD, delimiter=",", comments="#")


def quick_points(dimensions: int, count: int = 64) -> np.ndarray:
    """The first points of a kept `spread_points`, without the second that importing scipy.stats takes.

    Parameters
    ----------
    dimensions, count : int
        How many unknowns, at most 28, and how many points, at most 64; a power of two fills best.

    Returns
    -------
    array, shape (count, dimensions)
        0 to 1.

    Raises
    ------
    ValueError
        When more are wanted than are kept.

    Examples
    --------
    >>> quick_points(10, 32).shape
    (32, 10)
    """
    stored = _stored_points()
    if not (0 <= dimensions <= stored.shape[1] and 0 <= count <= stored.shape[0]):
        size = f"{stored.shape[0]} points of {stored.shape[1]} dimensions"
        raise ValueError(f"Kept are {size}; got {count} of {dimensions}.")
    return stored[:count, :dimensions]


def sample_builds(build: Build, tolerances: Sequence[Tolerance], points: ArrayLike) -> Samples:
    """Builds at places of the unknowns' distributions.

    Parameters
    ----------
    build : Build
        The middle.
    tolerances : sequence of Tolerance
        The unknowns, one for each column.
    points : array, shape (n, len(tolerances))
        Cumulative probabilities.

    Returns
    -------
    Samples
        One build for each row.

    Raises
    ------
    ValueError
        When columns and unknowns do not match.

    Examples
    --------
    >>> from physics.build import example_build
    >>> from physics.studies.uncertainty import UNIFORM
    >>> some = sample_builds(example_build(), [Tolerance("bike.drag_area", 0.1, UNIFORM)], [[0.0], [1.0]])
    >>> some.changes["bike.drag_area"].round(2)
    array([0.45, 0.65])
    """
    points = np.asarray(points, dtype=float)
    if points.ndim != 2 or points.shape[1] != len(tolerances):
        raise ValueError(
            f"Places of shape {points.shape} do not fit {len(tolerances)} unknowns: one column is needed for each."
        )
    return Samples(build, values_at(build, tolerances, points), (len(points),))


def values_at(build: Build, tolerances: Sequence[Tolerance], points: np.ndarray) -> dict[str, np.ndarray]:
    """Values at places of the unknowns' distributions.

    Parameters
    ----------
    build : Build
        The middle.
    tolerances : sequence of Tolerance
        The unknowns, one for each column.
    points : array, shape (n, len(tolerances))
        Cumulative probabilities.

    Returns
    -------
    dict of str to array, shape (n,)
        Path to values, of what goes along with an unknown too.

    Examples
    --------
    >>> from physics.build import example_build
    >>> list(values_at(example_build(), [Tolerance("bike.drag_area", 0.1)], np.array([[0.5]])))
    ['bike.drag_area']
    """
    present, found = Batch.of(build), dict[str, np.ndarray]()
    for column, item in enumerate(tolerances):
        found |= item.changes(present, item.values(float(present[item.path][0]), points[:, column]))
    return found
