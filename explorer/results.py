"""Cached calls into physics. No widgets, no figures: numbers only.

A build is frozen, so its text tells it apart from every other; that is what the cache goes by.
"""

from __future__ import annotations

import streamlit as st

from physics.build import Build
from physics.result import RunResult
from physics.run import run

BY_BUILD = {Build: repr}
"""How the cache tells builds apart; give it as `hash_funcs`."""


@st.cache_data(max_entries=200, show_spinner=False, hash_funcs=BY_BUILD)
def runs(build: Build, baseline: Build | None, duration: float) -> RunResult:
    """The run of a build, and of its baseline, in one batch.

    Parameters
    ----------
    build : Build
        Row 0.
    baseline : Build or None
        Row 1, where there is one.
    duration : float, s
        Length of both runs.

    Returns
    -------
    RunResult
        One row or two.
    """
    return run([build] if baseline is None else [build, baseline], duration)
