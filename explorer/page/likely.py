"""The runs behind every page, as one batch of numbers. Other processes compute them too: no Streamlit here."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from explorer.page.page import CHARGES, Band
from physics.build import Build
from physics.build.batch import Batch
from physics.simulation.result import RunResult
from physics.simulation.run import run
from physics.studies.headroom_curves import HeadroomAnswer, RegenPlan, headroom_answer
from physics.studies.uncertainty import Tolerance
from physics.studies.uncertainty.draws import quick_points, sample_builds

LIKELY = (5.0, 95.0)
"""Percentiles between which nine in ten runs lie."""
_LIKELY_RUNS = 48

Runs = tuple[RunResult, Band | None, NDArray[np.float64], HeadroomAnswer]


def all_runs(
    build: Build,
    baseline: Build | None,
    duration: float,
    known: tuple[Tolerance, ...],
    plan: RegenPlan,
    charging: tuple[Tolerance, ...],
) -> Runs:
    """The run of a build, of its baseline, from other charges, and of builds as they are likely to be: one batch.

    Beside them stands charge headroom, for whoever draws the page has no time for it.

    Parameters
    ----------
    build : Build
        Row 0.
    baseline : Build or None
        Row 1, where there is one.
    duration : float, s
        Length of the runs.
    known : tuple of Tolerance
        How well the build's unknowns are known; none for no band.
    plan : RegenPlan
        What pushes current back into the pack.
    charging : tuple of Tolerance
        How well the unknowns are known for charge headroom.

    Returns
    -------
    tuple
        A RunResult of one row or two, the band where there is one, how fast the build gets from each of CHARGES,
        m/s, and charge headroom today, without its curves.
    """
    batch = Batch.of([build] if baseline is None else [build, baseline])
    parts = [batch, Batch.vary(build, {"conditions.charge": CHARGES})]
    if known:
        parts.append(sample_builds(build, known, quick_points(len(known), _LIKELY_RUNS)).batch())
    result, own = run(Batch.join(parts), duration), len(batch)
    kept, tops = result.take(range(own)), result.top_speed[own : own + len(CHARGES)]  # copies: the batch may go
    headroom = headroom_answer(build, plan, batch.take([0]), charging, curves=False)
    if not known:
        return kept, None, tops, headroom
    low, high = np.percentile(result.speed[own + len(CHARGES) :], LIKELY, axis=0)
    return kept, (result.time, low, high), tops, headroom
