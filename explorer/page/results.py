"""Cached calls into physics. No widgets, no figures: numbers only.

A build is frozen, so its text tells it apart from every other; that is what the cache goes by.
"""

from __future__ import annotations

import streamlit as st

from explorer.page.beside import in_turn
from explorer.page.run_and_band import run_and_band
from physics.build import Build
from physics.build.batch import Batch
from physics.simulation.result import RunResult
from physics.simulation.run import run
from physics.studies.uncertainty import Tolerance

BY_BUILD = {Build: repr}
"""How the cache tells builds apart; give it as `hash_funcs`."""


def side_by_side(builds: list[Build], baseline: Build | None, duration: float) -> list[RunResult]:
    """Runs of builds, and of their baseline, in one batch; as `runs`, one result for each build. Not kept.

    Parameters
    ----------
    builds : list of Build
        Row 0 of each result.
    baseline : Build or None
        Row 1 of all of them, where there is one.
    duration : float, s
        Length of the runs.
    """
    result = run(Batch.of(builds if baseline is None else [*builds, baseline]), duration)
    return [result.take([place] if baseline is None else [place, -1]) for place in range(len(builds))]


@st.cache_data(max_entries=200, show_spinner=False, hash_funcs=BY_BUILD | {Tolerance: repr})
def runs(
    build: Build, baseline: Build | None, duration: float, known: tuple[Tolerance, ...] = ()
) -> tuple[RunResult, tuple | None]:
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
        A RunResult of one row or two, and the band: time, s, lowest and highest likely speed, m/s, or None.
    """
    return in_turn(run_and_band, build, baseline, duration, known)
