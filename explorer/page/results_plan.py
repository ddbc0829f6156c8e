"""Cached calls for the sections that plan pulls: line limit, voltage window, pulls, burst, heat. Numbers only."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import streamlit as st

from explorer.page.results import BY_BUILD
from physics.build import Build
from physics.build.batch import Batch
from physics.scenarios.burst import Burst, burst_power, largest_power
from physics.scenarios.pull import Pull
from physics.scenarios.repeated_pulls import RepeatedPulls, repeated_pulls
from physics.studies.full_power import FullPower, full_power
from physics.studies.line_limit import LineLimits, allowance_against_limit, line_limit
from physics.studies.pre_warming import PreWarming, pre_warming
from physics.studies.voltage_window import VoltageWindow, voltage_window

KEYS = BY_BUILD | {Pull: repr}
LIMIT_STEP = 5.0
"""A, steps in which riders set their line limit."""
_STEPS = 70
CELSIUS = (-10.0, 0.0, 10.0, 20.0, 30.0, 40.0)
CHARGES = (0.2, 0.4, 0.6, 0.8, 1.0)
BURST_TIMES = np.geomspace(1.0, 300.0, 13)
WARM_CELSIUS = (10.0, 20.0, 30.0)


@dataclass(frozen=True, eq=False)
class LimitAnswer:
    """Today's line limit, its map, and how much of the allowance each limit uses.

    Attributes
    ----------
    limits : LineLimits
        The map; its axes hold today's pack temperature and charge.
    row, column : int
        Today's place in it.
    tried : array, A
        Line limits around the build's own.
    used : array, shape (k, rules)
        Share of each rule's allowance the pull uses today at those limits.
    used_now : array, shape (rules,)
        The same at the build's own limit.
    """

    limits: LineLimits
    row: int
    column: int
    tried: np.ndarray
    used: np.ndarray
    used_now: np.ndarray


@dataclass(frozen=True, eq=False)
class BurstAnswer:
    """Burst power: the rider's own question, and the pack's power against time at several temperatures.

    Attributes
    ----------
    asked : Burst
        One row.
    seconds : array, shape (k,), s
        Times.
    temperature : array, shape (t,), K
        Pack temperatures.
    power : array, shape (t, k), W
        The most the pack gives for so long.
    today : int
        Place of the pack as it is.
    """

    asked: Burst
    seconds: np.ndarray
    temperature: np.ndarray
    power: np.ndarray
    today: int


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=KEYS)
def limit_answer(build: Build, pull: Pull, margin: float) -> LimitAnswer:
    """Today's line limit with its map.

    Parameters
    ----------
    build : Build
        With today's conditions.
    pull : Pull
        What must be survived.
    margin : float
        Share of every allowance left over.

    Returns
    -------
    LimitAnswer
    """
    own = Batch.of(build)
    temperature, charge = own["conditions.pack_temperature"][0], own["conditions.charge"][0]
    rows = _axis_with(np.array(CELSIUS) + 273.15, temperature, 1.0)
    columns = _axis_with(np.array(CHARGES), charge, 0.01)
    limits = line_limit(build, pull, margin, rows, columns, LIMIT_STEP, _STEPS)
    row, column = int(np.searchsorted(rows, temperature)), int(np.searchsorted(columns, charge))
    mine = build.controller.line_current_limit
    top = max(mine, min(limits.largest_current[row, column], 2 * mine), 60.0)
    tried = np.append(np.linspace(0.25 * top, 1.15 * top, 37), mine)
    used = allowance_against_limit(build, pull, tried, _STEPS)
    return LimitAnswer(limits, row, column, tried[:-1], used[:-1], used[-1])


def _axis_with(values, own, apart):
    """Even values with the rider's own among them; those that would print alike give way."""
    return np.union1d(values[np.abs(values - own) >= apart], [own])


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=KEYS)
def window_answer(build: Build, target_speed: float, duration: float) -> VoltageWindow:
    """See `physics.studies.voltage_window.voltage_window`."""
    return voltage_window(build, target_speed, duration, steps=_STEPS)


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=KEYS)
def pulls_answer(build: Build, pull: Pull, rest_time: float, most: int, current: float) -> RepeatedPulls:
    """See `physics.scenarios.repeated_pulls.repeated_pulls`."""
    return repeated_pulls(build, pull, rest_time, most, current, steps=_STEPS)


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=KEYS)
def burst_answer(build: Build, power: float, seconds: float) -> BurstAnswer:
    """Whether the pack gives a power for a time, and its power against time.

    Parameters
    ----------
    build : Build
        With today's conditions.
    power : float, W
        Asked for.
    seconds : float, s
        For so long.

    Returns
    -------
    BurstAnswer
    """
    now = Batch.of(build)["conditions.pack_temperature"][0]
    axis = _axis_with(np.array(WARM_CELSIUS) + 273.15, now, 1.0)
    times, temperatures = np.meshgrid(BURST_TIMES, axis)
    most = largest_power(build, times.ravel(), temperatures.ravel()).reshape(times.shape)
    asked = burst_power(build, power, seconds)
    return BurstAnswer(asked, BURST_TIMES, axis, most, int(np.searchsorted(axis, now)))


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=KEYS)
def warming_answer(build: Build, pull: Pull, seconds: float, margin: float) -> PreWarming:
    """See `physics.studies.pre_warming.pre_warming`, at 10, 20 and 30 degrees C."""
    now = Batch.of(build)["conditions.pack_temperature"][0]
    warm = _axis_with(np.array(WARM_CELSIUS) + 273.15, now, 1.0)
    return pre_warming(build, pull, warm, seconds, margin, LIMIT_STEP, _STEPS)


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=KEYS)
def heat_answer(build: Build, duration: float) -> FullPower:
    """See `physics.studies.full_power.full_power`."""
    return full_power(build, duration, steps=300)
