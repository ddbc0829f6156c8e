"""Cached calls into physics that several parts of the page share. No widgets, no figures: numbers only.

A build is frozen, so its text tells it apart from every other; that is what the cache goes by.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache
from typing import Any

import numpy as np
import streamlit as st
from numpy.typing import NDArray
from streamlit import runtime

from explorer.inputs.catalogue import INPUTS
from explorer.page import pool
from explorer.page.likely import all_runs
from explorer.page.page import CHARGES, Page
from explorer.page.pool import Task, ask
from explorer.page.tolerances import tolerances
from physics.build import Build, PowerLevel
from physics.scenarios.pull import Pull
from physics.studies.day.way_home import Way, WayHome, way_home
from physics.studies.uncertainty import Tolerance
from physics.studies.voltage_window import VoltageWindow, voltage_window

BY_BUILD: dict[str | type[Any], Callable[[Any], Any]] = dict.fromkeys((Build, PowerLevel, Pull, Tolerance), repr)
"""How the cache tells builds, and what else is frozen, apart; give it as `hash_funcs`."""
LIMIT_STEP = 5.0
"""A, steps in which riders set their line limit."""


@lru_cache(maxsize=200)
def _runs(*what: Any) -> Task:
    return Task(all_runs, what)


def runs(*what: Any) -> Task:
    """Ask for `all_runs`, of another process where a server runs. What comes is kept, and nobody changes it."""
    served = runtime.exists() and type(runtime.get_instance()) is runtime.Runtime  # AppTest only plays a server
    asked = _runs(*what)
    if served and pool.soon().finished.is_set():
        asked.begin("the page", first=True)
    return asked


def window_of(page: Page) -> VoltageWindow:
    """From what rest voltage the target is within reach."""
    likely = None if page.tops is None else (tuple(CHARGES), tuple(page.tops))
    return ask(voltage_window, page.build, page.target_speed, page.duration, None, None, likely).result()


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
