"""Cached calls into physics that several parts of the page share. No widgets, no figures: numbers only.

A build is frozen, so its text tells it apart from every other; that is what the cache goes by.
"""

from __future__ import annotations

import math
import os
import threading
from collections.abc import Callable
from concurrent.futures import CancelledError, Future, ProcessPoolExecutor
from functools import cache
from multiprocessing import get_context, parent_process
from typing import Any

import numpy as np
import streamlit as st
from numpy.typing import NDArray
from streamlit import runtime

from explorer.inputs.catalogue import INPUTS
from explorer.page.page import CHARGES, Band, Page
from explorer.page.tolerances import tolerances
from physics.build import Build, PowerLevel
from physics.build.batch import Batch
from physics.scenarios.pull import Pull
from physics.scenarios.repeated_pulls import RepeatedPulls, repeated_pulls
from physics.simulation.result import RunResult
from physics.simulation.run import run
from physics.studies.day.way_home import Way, WayHome, way_home
from physics.studies.uncertainty import Tolerance
from physics.studies.uncertainty.draws import quick_points, sample_builds
from physics.studies.voltage_window import VoltageWindow, voltage_window

BY_BUILD: dict[str | type[Any], Callable[[Any], Any]] = dict.fromkeys((Build, PowerLevel, Pull, Tolerance), repr)
"""How the cache tells builds, and what else is frozen, apart; give it as `hash_funcs`."""
LIMIT_STEP = 5.0
"""A, steps in which riders set their line limit."""
STEPS = 70
"""Steps of time in each of the many runs from which a plan is made."""
LIKELY = (5.0, 95.0)
"""Percentiles between which nine in ten runs lie."""
_LIKELY_RUNS = 48
POOL_AFTER = 4.0
"""Seconds from the first run to the start of the processes that take over from then on."""
LONGEST_WAIT = 20.0
"""Seconds for a process of the pool to answer; a run takes a fraction of one."""


Runs = tuple[RunResult, Band | None, NDArray[np.float64]]


@st.cache_data(max_entries=200, show_spinner=False, hash_funcs=BY_BUILD)
def runs(build: Build, baseline: Build | None, duration: float, known: tuple[Tolerance, ...] = ()) -> Runs:
    """The run of a build, of its baseline, from other charges, and of builds as they are likely to be: one batch.

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
        A RunResult of one row or two, the band where there is one, and how fast the build gets from each of
        CHARGES, m/s.
    """
    served = runtime.exists() and type(runtime.get_instance()) is runtime.Runtime  # AppTest only plays a server
    if served and _soon().finished.is_set():
        pool, started = _pool()
        if started.done():
            try:
                return pool.submit(_runs, build, baseline, duration, known).result(LONGEST_WAIT)
            except (
                RuntimeError,
                TimeoutError,
                CancelledError,
            ):  # one died or hangs; a fault of the run comes again
                _replace(pool)
    return _runs(build, baseline, duration, known)


@cache
def _soon() -> threading.Timer:
    """Begins `_pool` a little later: its start takes what the first visit's first charts need."""
    timer = threading.Timer(POOL_AFTER, _pool)
    timer.daemon = True
    timer.start()
    return timer


@cache
def _pool() -> tuple[ProcessPoolExecutor, Future]:
    """Processes that compute while this one draws for several sessions, and what is done once they are there.

    Threads of one process compute in turn, and the one that draws for ten sessions has no time to compute for them.
    """
    pool = ProcessPoolExecutor(max((os.cpu_count() or 2) - 1, 1), get_context("spawn"), _end_with_the_server)
    return pool, pool.submit(os.getpid)


def _replace(pool: ProcessPoolExecutor) -> None:
    """Put new processes in place of those of a pool of which one died or hangs."""
    if _pool()[0] is pool:  # another session may have done so
        _pool.cache_clear()
    for process in list((getattr(pool, "_processes", None) or {}).values()):
        process.kill()  # one that hangs would keep the server from ending
    pool.shutdown(wait=False, cancel_futures=True)


def _end_with_the_server() -> None:
    """In a process of the pool: end when the server has gone, even where it was killed."""

    def watch() -> None:
        if server := parent_process():
            server.join()
            os._exit(0)

    threading.Thread(target=watch, daemon=True).start()


def _runs(build: Build, baseline: Build | None, duration: float, known: tuple[Tolerance, ...]) -> Runs:
    batch = Batch.of([build] if baseline is None else [build, baseline])
    parts = [batch, Batch.vary(build, {"conditions.charge": CHARGES})]
    if known:
        parts.append(sample_builds(build, known, quick_points(len(known), _LIKELY_RUNS)).batch())
    result, own = run(Batch.join(parts), duration), len(batch)
    kept, tops = result.take(slice(0, own)), result.top_speed[own : own + len(CHARGES)]
    if not known:
        return kept, None, tops
    low, high = np.percentile(result.speed[own + len(CHARGES) :], LIKELY, axis=0)
    return kept, (result.time, low, high), tops


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=BY_BUILD)
def pulls(build: Build, pull: Pull, rest_time: float, most: int, current: float) -> RepeatedPulls:
    """See `physics.scenarios.repeated_pulls.repeated_pulls`."""
    return repeated_pulls(build, pull, rest_time, most, current, steps=STEPS)


def window_of(page: Page) -> VoltageWindow:
    """From what rest voltage the target is within reach."""
    return _window(page.build, page.target_speed, page.duration)


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=BY_BUILD)
def _window(build: Build, target_speed: float, duration: float) -> VoltageWindow:
    return voltage_window(build, target_speed, duration)


def home_of(page: Page) -> WayHome:
    """The way home, as the rider says it: at what rest voltage to turn back, and the range."""
    values = page.inputs

    def si(key: str) -> float:
        return INPUTS[key].si(values[key])

    slope = math.atan(si("home_slope"))
    way = Way(si("home_distance"), si("home_speed"), slope, si("home_wind"), si("home_stops"))
    return _home(page.build, way, tolerances(values))


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=BY_BUILD | {Way: repr})
def _home(build: Build, way: Way, known: tuple[Tolerance, ...]) -> WayHome:
    return way_home(build, way, known)


def axis_with(values: NDArray[np.float64], own: float, apart: float) -> NDArray[np.float64]:
    """Even values with the rider's own among them; those nearer than `apart` would print like it and give way."""
    return np.union1d(values[np.abs(values - own) >= apart], [own])
