"""Cached calls into physics. No widgets, no figures: numbers only.

A build is frozen, so its text tells it apart from every other; that is what the cache goes by.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import streamlit as st

from explorer.page.page import Band
from physics.build import Build
from physics.build.batch import Batch
from physics.simulation.result import RunResult
from physics.simulation.run import run
from physics.studies.uncertainty import Tolerance
from physics.studies.uncertainty.tolerance import quick_points, sample_builds

BY_BUILD: dict[str | type, Callable[[Any], Any]] = {Build: repr}
"""How the cache tells builds apart; give it as `hash_funcs`."""
LIKELY = (5.0, 95.0)
"""Percentiles between which nine in ten runs lie."""
_LIKELY_RUNS = 48


@st.cache_data(max_entries=200, show_spinner=False, hash_funcs=BY_BUILD | {Tolerance: repr})
def runs(
    build: Build, baseline: Build | None, duration: float, known: tuple[Tolerance, ...] = ()
) -> tuple[RunResult, Band | None]:
    """The run of a build, of its baseline, and of builds as they are likely to be, all in one batch.

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

    Returns
    -------
    tuple
        A RunResult of one row or two, and the band where there is one.
    """
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
