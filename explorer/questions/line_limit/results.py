"""Today's line limit, cached: its map, and how much of each allowance each limit uses. Numbers only."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import streamlit as st
from numpy.typing import NDArray

from explorer.page.page import Page
from explorer.page.results import BY_BUILD, LIMIT_STEP, axis_with
from explorer.page.tolerances import tolerances
from physics.build import Build
from physics.build.batch import Batch
from physics.scenarios.pull import Pull
from physics.studies.limit_use import LimitUse, limit_use
from physics.studies.line_limit import LineLimits, line_limit
from physics.studies.uncertainty import Tolerance

_CELSIUS = (-10.0, 0.0, 10.0, 20.0, 30.0, 40.0)
_CHARGES = (0.2, 0.4, 0.6, 0.8, 1.0)


@dataclass(frozen=True, eq=False)
class LimitAnswer:
    """Today's line limit, its map, and how much of the allowance each limit uses.

    Attributes
    ----------
    limits : LineLimits
        The map; its axes hold today's pack temperature and charge.
    row, column : int
        Where today stands in it.
    tried : array, A
        Line limits around the build's own.
    used : array, shape (k, rules)
        Fraction of each rule's allowance the pull uses today at those limits, with everything as entered.
    used_worse : array, shape (k,)
        The largest of those fractions with everything a little worse at once, or in the case that binds.
    mine : LimitUse
        The build's own limit in every case of the limits.
    """

    limits: LineLimits
    row: int
    column: int
    tried: NDArray[np.float64]
    used: NDArray[np.float64]
    used_worse: NDArray[np.float64]
    mine: LimitUse


def limit_of(page: Page) -> LimitAnswer:
    """Today's line limit for the rider's pull, with the rider's margin."""
    return limit_answer(page.build, page.pull, page.pull_margin, tolerances(page.inputs))


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=BY_BUILD)
def limit_answer(build: Build, pull: Pull, margin: float, known: tuple[Tolerance, ...]) -> LimitAnswer:
    """Today's line limit with its map.

    Parameters
    ----------
    build : Build
        With today's conditions.
    pull : Pull
        What must be survived.
    margin : float
        How much worse than entered things may be.
    known : tuple of Tolerance
        How well each unknown is known.

    Returns
    -------
    LimitAnswer
    """
    own = Batch.of(build)
    temperature, charge = own["conditions.pack_temperature"][0], own["conditions.charge"][0]
    rows = axis_with(np.array(_CELSIUS) + 273.15, temperature, 1.0)
    columns = axis_with(np.array(_CHARGES), charge, 0.01)
    limits = line_limit(build, pull, margin, rows, columns, LIMIT_STEP, tolerances=known)
    row, column = int(np.searchsorted(rows, temperature)), int(np.searchsorted(columns, charge))
    mine = build.controller.line_current_limit
    top = max(mine, min(limits.largest_current[row, column], 2 * mine), 60.0)
    tried = np.linspace(0.25 * top, 1.15 * top, 37)
    worse = [case for case in limits.cases if case.away and not case.alone]
    drawn = limit_use(build, pull, tried, [limits.cases[0], *worse, limits.cases[limits.case[row, column]]])
    at_mine = limit_use(build, pull, [mine], limits.cases)
    return LimitAnswer(limits, row, column, tried, drawn.used[0], drawn.used.max(axis=(0, 2)), at_mine)
