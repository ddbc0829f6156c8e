"""Cached runs of the experiments. Numbers only."""

from __future__ import annotations

import streamlit as st

from explorer.page.results import BY_BUILD
from explorer.questions.experiments import regen as experiment_regen
from explorer.questions.experiments.regen import Events
from physics.build import Build
from physics.simulation.result import RunResult
from physics.simulation.run import run


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=BY_BUILD)
def both_runs(before: Build, after: Build, duration: float) -> RunResult:
    """Both runs of an experiment, in one batch.

    Parameters
    ----------
    before, after : Build
        Rows 0 and 1.
    duration : float, s
        Length of both runs.

    Returns
    -------
    RunResult
        Two rows.
    """
    return run([before, after], duration)


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=BY_BUILD)
def both_events(before: Build, after: Build) -> Events:
    """Both events of the braking experiment; see `experiment_regen.events`."""
    return experiment_regen.events((before, after))
