"""Cached calls into physics for gearing. Numbers only."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import streamlit as st

from explorer.inputs.catalogue import INPUTS
from explorer.page.results import BY_BUILD
from explorer.questions.gearing.chain_on_bike import Chain
from physics.build import Build
from physics.components.chain_fit import ChainFit
from physics.simulation.result import reaches
from physics.studies.gearing import GearingMap, gearing_map

FRONT_ROUND, REAR_ROUND = 3, 8
"""How far the near map goes from the present pair."""
AS_SOON = 1.01
"""Pairs within this factor of the least time count as equal: the one with the fewest new parts is suggested."""


@dataclass(frozen=True)
class GearingAnswer:
    """What the section shows.

    Attributes
    ----------
    table : GearingMap
        The pairs.
    here : int
        Index of the build's own.
    best : int or None
        Index of the suggested one.
    fit : ChainFit
        How the chain goes round each.
    chain : Chain
        The chain on the bike.
    """

    table: GearingMap
    here: int
    best: int | None
    fit: ChainFit
    chain: Chain


def near(build: Build) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """The sprockets around the present pair."""
    line = build.driveline
    return _span("front_teeth", line.front_teeth, FRONT_ROUND), _span("rear_teeth", line.rear_teeth, REAR_ROUND)


def every() -> tuple[tuple[int, ...], tuple[int, ...]]:
    """All sprockets the page offers."""
    return _span("front_teeth", 0, 1000), _span("rear_teeth", 0, 1000)


def _span(key: str, middle: int, room: int) -> tuple[int, ...]:
    spec = INPUTS[key]
    return tuple(range(max(int(spec.low), middle - room), min(int(spec.high), middle + room) + 1))


def without_sprockets(build: Build) -> Build:
    """The build with one fixed pair: a map does not depend on the present pair."""
    return build.change({"driveline.front_teeth": 12, "driveline.rear_teeth": 48})


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=BY_BUILD)
def near_map(
    build: Build, front: tuple[int, ...], rear: tuple[int, ...], speed: float, duration: float
) -> GearingMap:
    """Every pair of the sprockets given.

    Parameters
    ----------
    build : Build
        From `without_sprockets`.
    front, rear : tuple of int
        The sprockets.
    speed, duration : float, m/s and s
        The speed whose time is compared, and the length of the runs.
    """
    return gearing_map(build, front, rear, speed, duration)


def suggested(table: GearingMap, target_speed: float, here: int) -> int | None:
    """The pair that reaches the target without a cut-out and is soonest at the chosen speed; None where none does.

    Where none of those is ever at the chosen speed, the fastest.

    Parameters
    ----------
    table : GearingMap
        The pairs.
    target_speed : float, m/s
        To be reached.
    here : int
        Index of the present pair.
    """
    good = reaches(table.top_speed, target_speed) & np.isnan(table.cut_out_time)
    if not good.any():
        return None
    timed = good & np.isfinite(table.time_to_speed)
    time = (
        np.where(timed, table.time_to_speed, np.inf) if timed.any() else np.where(good, 1 / table.top_speed, np.inf)
    )
    front = np.abs(table.front_teeth - table.front_teeth[here])
    rear = np.abs(table.rear_teeth - table.rear_teeth[here])
    equal = np.flatnonzero(time <= AS_SOON * time.min())
    order = np.lexsort((time[equal], front[equal] + rear[equal], (front[equal] > 0) * 1 + (rear[equal] > 0)))
    return int(equal[order[0]])


def fastest_pair(table: GearingMap) -> int:
    """The pair with the highest top speed of those that do not cut out (of all, where all do)."""
    stays = np.isnan(table.cut_out_time) & table.done
    stays = stays if stays.any() else table.done
    return int(np.where(stays, table.top_speed, -np.inf).argmax())


def one_tooth_less(table: GearingMap, index: int) -> float:
    """What one tooth less at the rear does to top speed, m/s; NaN at the edge of the map."""
    if index % table.shape[1] == 0:
        return float("nan")
    return float(table.top_speed[index - 1] - table.top_speed[index])
