"""How sure a prediction is: bands on every curve, and chances with their sampling error.

Builds are drawn from the tolerances of physics/studies/uncertainty/tolerance.py and run in chunks, so that memory
stays bounded. Which of the unknowns matters most is told by physics/studies/uncertainty/sensitivity.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from physics.build import Build
from physics.simulation.result import RunResult, reaches
from physics.simulation.run import time_grid
from physics.studies.sweep import end_values, sweep
from physics.studies.uncertainty.draws import SEED, sample_builds, spread_points
from physics.studies.uncertainty.tolerance import Tolerance, default_tolerances

PERCENTILES = (5.0, 50.0, 95.0)
"""The band's lower edge, its middle and its upper edge: nine in ten runs lie inside."""

CONFIDENCE = 0.95

CURVES = ("speed", "pack_voltage", "weakest_cell_voltage", "line_current", "winding_temperature")
"""Curves that get a band."""


@dataclass(frozen=True)
class Chance:
    """A chance estimated from samples.

    Attributes
    ----------
    count, of : int
        In how many of how many samples it happened.
    low, high : float
        95 % interval of the chance, 0 to 1.
    """

    count: int
    of: int
    low: float
    high: float

    @property
    def estimate(self) -> float:
        """The estimate, 0 to 1."""
        return self.count / self.of


def chance(count: int, of: int, confidence: float = CONFIDENCE) -> Chance:
    """A chance and its sampling error: the interval of Clopper and Pearson.

    Parameters
    ----------
    count, of : int
        In how many of how many samples it happened.
    confidence : float
        Of the interval.

    Returns
    -------
    Chance
        The interval is never too narrow; for evenly spread samples such as Sobol' points it is wider than need be.

    Notes
    -----
    C. J. Clopper, E. S. Pearson, Biometrika 26 (1934) 404-413, by scipy.stats.binomtest.

    Examples
    --------
    >>> found = chance(0, 20)
    >>> found.low, round(found.high, 4)
    (0.0, 0.1684)
    """
    from scipy.stats import binomtest

    interval = binomtest(int(count), int(of)).proportion_ci(confidence, method="exact")
    return Chance(int(count), int(of), float(interval.low), float(interval.high))


@dataclass(frozen=True)
class Likely:
    """Where runs are likely to be.

    Attributes
    ----------
    time : array, shape (t,), s
        The common instants.
    bands : dict of str to array, shape (3, t)
        Curve to its percentiles of PERCENTILES, SI.
    top_speed, time_to_target : array, shape (3,)
        m/s and s. The time's percentiles count a run that does not get there as infinitely late.
    reaches, cuts_out : Chance
        Of reaching the target speed within the run, and of a cut-out.
    count : int
        Samples that were run.
    complete : bool
        False where it was stopped; what was run by then counts.
    """

    time: np.ndarray
    bands: dict[str, np.ndarray]
    top_speed: np.ndarray
    time_to_target: np.ndarray
    reaches: Chance
    cuts_out: Chance
    count: int
    complete: bool

    def band(self, curve: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Time, lower and upper edge of one curve's band."""
        low, _, high = self.bands[curve]
        return self.time, low, high


def likely(
    build: Build,
    target_speed: float,
    tolerances: Sequence[Tolerance] | None = None,
    duration: float = 30.0,
    *,
    count: int = 1024,
    curves: Sequence[str] = CURVES,
    seed: int = SEED,
    **options: Any,
) -> Likely | None:
    """Bands and chances from builds drawn from their tolerances.

    Parameters
    ----------
    build : Build
        The middle.
    target_speed : float, m/s
        To be reached.
    tolerances : sequence of Tolerance, optional
        The unknowns; by default `default_tolerances`.
    duration : float, s
        Length of the runs.
    count : int
        Samples; a power of two fills the unknowns' ranges best.
    curves : sequence of str
        Arrays over time of a RunResult.
    seed : int
        The same seed gives the same samples.
    **options
        Of `physics.studies.sweep.sweep`, such as `progress`, `cancelled`, `executor`, `steps`.

    Returns
    -------
    Likely or None
        None where it was stopped before anything was run.

    Examples
    --------
    >>> from physics.build import example_build
    >>> found = likely(example_build(), 25.0, [Tolerance("bike.drag_area", 0.1)], 10.0, count=32)
    >>> _, low, high = found.band("speed")
    >>> bool((low <= high).all())
    True
    """
    steps = options.pop("steps", None)
    tolerances = default_tolerances(build) if tolerances is None else tolerances
    grid = time_grid(duration, steps)
    samples = sample_builds(build, tolerances, spread_points(len(tolerances), count, seed))
    reducer = partial(_reduced, curves=tuple(curves), target_speed=target_speed)
    swept = sweep(samples, duration, reducer=reducer, steps=steps, **options).checked()
    done = swept.done
    if not done.any():
        return None
    top_speed, time = swept["top_speed"][done], swept["time_to_target"][done]
    late = np.where(np.isnan(time), np.inf, time)
    total = int(done.sum())
    return Likely(
        grid,
        {name: np.percentile(swept[name][done], PERCENTILES, axis=0) for name in curves},
        np.percentile(top_speed, PERCENTILES),
        np.percentile(late, PERCENTILES, method="closest_observation"),
        chance(int(reaches(top_speed, target_speed).sum()), total),
        chance(int((swept["cut_out_rule"][done] >= 0).sum()), total),
        total,
        bool(done.all()),
    )


def _reduced(result: RunResult, curves: Sequence[str], target_speed: float) -> dict[str, np.ndarray]:
    """Reducer: curves as 32-bit floats, and single numbers."""
    arrays = {name: getattr(result, name).astype(np.float32) for name in curves}
    single = end_values(result)
    arrays |= {name: single[name] for name in ("top_speed", "cut_out_rule")}
    return arrays | {"time_to_target": result.time_to(target_speed)}
