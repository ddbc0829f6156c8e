"""The run of a build, and the band in which it is likely to lie. Without Streamlit, so that helpers do it too."""

from __future__ import annotations

import numpy as np

from physics.build import Build
from physics.build.batch import Batch
from physics.simulation.result import RunResult
from physics.simulation.run import run
from physics.studies.uncertainty import Tolerance
from physics.studies.uncertainty.tolerance import quick_points, sample_builds

LIKELY = (5.0, 95.0)
"""Percentiles between which nine in ten runs lie."""

_LIKELY_RUNS = 48


def run_and_band(
    build: Build, baseline: Build | None, duration: float, known: tuple[Tolerance, ...]
) -> tuple[RunResult, tuple | None]:
    """As `explorer.page.results.runs`."""
    batch = Batch.of([build] if baseline is None else [build, baseline])
    own = len(batch)
    if not known:
        return run(batch, duration), None
    likely = sample_builds(build, known, quick_points(len(known), _LIKELY_RUNS)).batch()
    result = run(Batch.join([batch, likely]), duration)
    longest = int(np.isnan(result.cut_out_time).argmax())
    instants = np.unique(result.time[longest])
    speeds = [np.interp(instants, *each) for each in zip(result.time[own:], result.speed[own:], strict=True)]
    low, high = np.percentile(speeds, LIKELY, axis=0)
    return result.take(slice(0, own)), (instants, low, high)
