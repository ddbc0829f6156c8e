"""Cached calls into physics that several parts of the page share. No widgets, no figures: numbers only.

A build is frozen, so its text tells it apart from every other; that is what the cache goes by.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import streamlit as st
from numpy.typing import NDArray

from explorer.page.beside import in_turn
from explorer.page.run_and_band import run_and_band
from physics.build import Build, PowerLevel
from physics.build.batch import Batch
from physics.scenarios.pull import Pull
from physics.scenarios.repeated_pulls import RepeatedPulls, repeated_pulls
from physics.simulation.result import RunResult
from physics.simulation.run import run
from physics.studies.uncertainty.tolerance import Tolerance

BY_BUILD: dict[str | type[Any], Callable[[Any], Any]] = dict.fromkeys((Build, PowerLevel, Pull, Tolerance), repr)
"""How the cache tells builds, and what else is frozen, apart; give it as `hash_funcs`."""
LIMIT_STEP = 5.0
"""A, steps in which riders set their line limit."""
STEPS = 70
"""Steps of time in each of the many runs from which a plan is made."""


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
    return [result.take([row] if baseline is None else [row, -1]) for row in range(len(builds))]


@st.cache_data(max_entries=200, show_spinner=False, hash_funcs=BY_BUILD)
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


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=BY_BUILD)
def pulls(build: Build, pull: Pull, rest_time: float, most: int, current: float) -> RepeatedPulls:
    """See `physics.scenarios.repeated_pulls.repeated_pulls`."""
    return repeated_pulls(build, pull, rest_time, most, current, steps=STEPS)


def axis_with(values: NDArray[np.float64], own: float, apart: float) -> NDArray[np.float64]:
    """Even values with the rider's own among them; those nearer than `apart` would print like it and give way."""
    return np.union1d(values[np.abs(values - own) >= apart], [own])
