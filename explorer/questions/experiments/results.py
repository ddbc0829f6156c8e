"""Cached runs and braking events of the experiments. Numbers only."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import streamlit as st
from numpy.typing import NDArray

from explorer.page.results import BY_BUILD
from physics.build import Build
from physics.build.batch import Batch
from physics.components.cell import chemistry
from physics.scenarios.charging import ChargeEvent, fullest_cell_voltages
from physics.simulation.result import RunResult
from physics.simulation.run import run
from physics.studies.force import ForceAgainstSpeed, around_cap, force_against_speed
from physics.studies.headroom import MARGIN
from physics.studies.headroom_curves import RegenPlan, charge_event, needed

ONE_EVENT = RegenPlan(duration=10.0, events=1)
"""One braking event."""
SERIES = RegenPlan(duration=10.0, events=10, pause=10.0)
"""About a lap's braking on a small circuit, with nothing drawn between."""
_STEPS = 60


@dataclass(frozen=True, eq=False)
class Braking:
    """One braking event, or several in a row, all unknowns as much worse as they may well be.

    Attributes
    ----------
    event : ChargeEvent
        Pack, how often, and the current, which is the build's own or what the cells take of it.
    time : array, shape (k,), s
        Since the first current began; NaN between two events.
    voltage : array, shape (k,), V
        Of the fullest cell; NaN there too.
    limit : float, V
        What it must stay below: the chemistry's highest, or the over-voltage rule less a margin.
    status : int
        Of `physics.studies.headroom.HeadroomResult`: -1 too cold, -2 too hot, -3 no charge is low enough, 3 at a
        smaller current than the build's.
    highest_charge, volts_below_full, temperature : float
        From where such events may start; V; K.
    """

    event: ChargeEvent
    time: NDArray[np.float64]
    voltage: NDArray[np.float64]
    limit: float
    status: int
    highest_charge: float
    volts_below_full: float
    temperature: float


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
def forces(before: Build, after: Build, end: float, points: int) -> ForceAgainstSpeed:
    """Force against speed of both builds, from a standstill to `end`, m/s."""
    caps = [build.controller.speed_cap for build in (before, after)]
    return force_against_speed([before, after], around_cap(np.linspace(0.0, end, points), caps))


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=BY_BUILD)
def braking(build: Build, plan: RegenPlan) -> Braking:
    """A build's braking events from its own charge."""
    cells, own, rules = build.pack, Batch.of(build), build.pack.protection
    temperature = float(own["conditions.pack_temperature"][0])
    today = needed(build, build.controller.regen_current, temperature, plan, own)
    event = charge_event(build, today.current, temperature, plan, own)
    steps = _STEPS // plan.events + 4
    volts = fullest_cell_voltages(event, build.conditions.charge, steps)
    starts = np.arange(plan.events)[:, None] * (plan.duration + plan.pause)
    gap = np.full((plan.events, 1), np.nan)
    return Braking(
        event=event,
        time=np.hstack([starts + np.linspace(0.0, plan.duration, steps + 1), gap]).ravel()[:-1],
        voltage=np.hstack([volts, gap]).ravel()[:-1],
        limit=float(min(chemistry(cells.chemistry).voltage_maximum, rules.cell_overvoltage - MARGIN)),
        status=int(today.status),
        highest_charge=float(today.highest_charge),
        volts_below_full=float(today.volts_below_full),
        temperature=temperature,
    )
