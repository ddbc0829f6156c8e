"""Cached runs of several builds at once. Numbers only."""

from __future__ import annotations

import streamlit as st

from explorer.page.results import BY_BUILD
from physics.build import Build
from physics.simulation.result import RunResult
from physics.simulation.run import run


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=BY_BUILD)
def runs_of(builds: tuple[Build, ...], duration: float) -> RunResult:
    """The runs of several builds in one batch.

    Parameters
    ----------
    builds : tuple of Build
        One row each.
    duration : float, s
        Length of all runs.

    Returns
    -------
    RunResult
    """
    return run(list(builds), duration)
