"""Which unknown matters most, and hence what to measure next: the variance-based indices of Sobol'.

The first-order index of an unknown is the share of an outcome's variance that would be gone, on average, if that
unknown were known exactly (the setting called factor prioritisation in A. Saltelli et al., Global Sensitivity
Analysis: The Primer, Wiley 2008, chapter 1; chapter from memory). The total index counts what it does together with
the others as well. Both are estimated from one design: A. Saltelli, P. Annoni, I. Azzini, F. Campolongo, M. Ratto,
S. Tarantola, Variance based sensitivity analysis of model output. Design and estimator for the total sensitivity
index, Computer Physics Communications 181 (2010) 259-270, as built into scipy.stats.sobol_indices.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from physics.arrays import Floats
from physics.build import Build
from physics.simulation.result import RunResult
from physics.studies.sweep import end_values, sweep
from physics.studies.uncertainty.draws import SEED, sample_builds, spread_points
from physics.studies.uncertainty.tolerance import Tolerance

OUTCOMES = ("top_speed", "minimum_cell_voltage", "allowance_used")
"""What unknowns are ranked by: speed, and how near the protection comes to a cut-out."""

_INTERVAL = (2.5, 97.5)
_RESAMPLES = 200


@dataclass(frozen=True)
class Sensitivity:
    """Which unknown matters how much for some outcomes.

    Attributes
    ----------
    tolerances : tuple of Tolerance
        The unknowns.
    spread : dict of str to float
        Outcome to its standard deviation, SI.
    first, total : dict of str to array, shape (d,)
        Outcome to the first-order and total indices of Sobol'; zeros where nothing varies.
    low, high : dict of str to array, shape (d,)
        95 % bootstrap interval of the first-order index.
    runs : int
        How many were made.
    """

    tolerances: tuple[Tolerance, ...]
    spread: dict[str, float]
    first: dict[str, np.ndarray]
    total: dict[str, np.ndarray]
    low: dict[str, np.ndarray]
    high: dict[str, np.ndarray]
    runs: int

    def order(self, outcome: str) -> list[int]:
        """Indices of the unknowns, the one that matters most first."""
        return [int(index) for index in np.argsort(-self.first[outcome], kind="stable")]


def sensitivity(
    build: Build,
    tolerances: Sequence[Tolerance],
    duration: float = 30.0,
    *,
    base: int = 256,
    outcomes: Sequence[str] = OUTCOMES,
    reducer: Callable[[RunResult], dict] = end_values,
    seed: int = SEED,
    **options: Any,
) -> Sensitivity | None:
    """Rank the unknowns by the variance they bring into some outcomes.

    Parameters
    ----------
    build : Build
        The middle.
    tolerances : sequence of Tolerance
        The unknowns, d of them; at least one.
    duration : float, s
        Length of the runs.
    base : int
        A power of two; base x (d + 2) builds are run.
    outcomes : sequence of str
        Arrays, shape (n,), that the reducer gives; finite in every run.
    reducer : callable
        As `physics.studies.sweep.sweep` takes it.
    seed : int
        Of samples and bootstrap.
    **options
        Of `physics.studies.sweep.sweep`.

    Returns
    -------
    Sensitivity or None
        None where it was stopped: the design is of use only as a whole.

    Examples
    --------
    >>> from physics.build import example_build
    >>> unknowns = [Tolerance("conditions.headwind", 1.0), Tolerance("bike.bike_mass", 1.0)]
    >>> sensitivity(example_build(), unknowns, 20.0, base=32).order("top_speed")
    [0, 1]
    """
    points = design(len(tolerances), base, seed)
    swept = sweep(sample_builds(build, tolerances, points), duration, reducer=reducer, **options).checked()
    if not swept.done.all():
        return None
    values = np.array([swept[name] for name in outcomes], dtype=float)
    first, total, low, high = indices(values, len(tolerances), base, seed)
    spread = values[:, : 2 * base].std(axis=1)
    return Sensitivity(
        tuple(tolerances),
        spread={name: float(value) for name, value in zip(outcomes, spread, strict=True)},
        first=dict(zip(outcomes, first, strict=True)),
        total=dict(zip(outcomes, total, strict=True)),
        low=dict(zip(outcomes, low, strict=True)),
        high=dict(zip(outcomes, high, strict=True)),
        runs=len(points),
    )


def design(dimensions: int, base: int, seed: int = SEED) -> np.ndarray:
    """The design of Saltelli et al. (2010), table 2: A, B, and A with one column from B at a time.

    Parameters
    ----------
    dimensions, base : int
        How many unknowns, and rows of A; base is a power of two.
    seed : int
        Of the points.

    Returns
    -------
    array, shape (base * (dimensions + 2), dimensions)
        0 to 1: the rows of A, of B, then of A with its first column from B, and so on.

    Raises
    ------
    ValueError
        When base is no power of two.

    Examples
    --------
    >>> design(3, 4).shape
    (20, 3)
    """
    if base < 2 or base & (base - 1):
        raise ValueError(f"base: got {base}; accepts a power of two from 2 up.")
    both = spread_points(2 * dimensions, base, seed)
    first, second = both[:, :dimensions], both[:, dimensions:]
    mixed = np.repeat(first[None], dimensions, axis=0)
    for column in range(dimensions):
        mixed[column, :, column] = second[:, column]
    return np.concatenate([first, second, mixed.reshape(-1, dimensions)])


def indices(values: ArrayLike, dimensions: int, base: int, seed: int = SEED) -> Floats:
    """First-order and total indices of Sobol' from outcomes of a design.

    Parameters
    ----------
    values : array, shape (outcomes, base * (dimensions + 2))
        In the order of `design`.
    dimensions, base : int
        Of the design.
    seed : int
        Of the bootstrap.

    Returns
    -------
    tuple of array, shape (outcomes, dimensions) each
        First-order, total, and the 95 % bootstrap interval of the first-order index.

    Examples
    --------
    >>> points = design(2, 256)
    >>> first, *_ = indices([points @ [2.0, 1.0]], 2, 256)
    >>> bool(abs(first[0, 0] - 0.8) < 0.05)
    True
    """
    values = np.asarray(values, dtype=float)
    result = np.zeros((4, len(values), dimensions))
    varies = np.ptp(values, axis=1) > 1e-12 * np.maximum(np.abs(values).max(axis=1), 1e-300)
    if varies.any():
        some = values[varies]
        mixed = some[:, 2 * base :].reshape(-1, dimensions, base).swapaxes(0, 1)
        parts = some[:, :base], some[:, base : 2 * base], mixed
        first, total = _sobol(*parts)
        rows = np.random.default_rng(seed).integers(base, size=(_RESAMPLES, base))
        again = [_sobol(*(part[..., row] for part in parts))[0] for row in rows]
        result[:, varies] = first, total, *np.percentile(again, _INTERVAL, axis=0)
    return result


def _sobol(first: Floats, second: Floats, mixed: Floats) -> tuple[Floats, Floats]:
    """First-order and total indices, shape (outcomes, dimensions) each."""
    from scipy.stats import sobol_indices

    result = sobol_indices(func={"f_A": first, "f_B": second, "f_AB": mixed}, n=first.shape[-1])
    shape = len(first), len(mixed)
    return result.first_order.reshape(shape), result.total_order.reshape(shape)
