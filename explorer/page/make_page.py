"""Pages made of inputs: the one the rider sees, and those a held slider may be at. Numbers only."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from explorer.format import UnitFormatter
from explorer.inputs.catalogue import INPUTS
from explorer.inputs.to_build import make_build
from explorer.page import results
from explorer.page.page import Page
from explorer.state.state import State
from physics.build import Build
from physics.build.fields import BuildError
from physics.simulation.result import RunResult
from physics.studies.uncertainty import Tolerance


def page_of(state: State, values: dict[str, Any], known: tuple[Tolerance, ...] = ()) -> Page:
    """The page of some inputs.

    Parameters
    ----------
    state : State
        For the baseline, names and units.
    values : dict
        Inputs by key, in home units.
    known : tuple of Tolerance, optional
        How well the unknowns are known; without them there is no band.

    Raises
    ------
    BuildError
        Where the inputs make no build.
    """
    build = make_build(values, state.name)
    baseline = make_build(state.baseline, state.baseline_name) if state.baseline else None
    runs, band = results.runs(build, baseline, float(values["duration"]), known)
    return _page(state, values, build, baseline, runs, band)


def near(settled: Page, state: State, several: list[dict[str, Any]]) -> list[Page | None]:
    """Pages of inputs a held slider is at, or may be at next, from one batch of runs.

    Parameters
    ----------
    settled : Page
        The page as it stood before; its band is carried over.
    state : State
        For names and units.
    several : list of dict
        Inputs by key, in home units.

    Returns
    -------
    list of Page or None
        None where inputs make no build, or ask for a run of another length than the first.
    """
    pages: list[Page | None] = [None] * len(several)
    builds: dict[int, Build] = {}
    for place, values in enumerate(several):
        if values["duration"] == several[0]["duration"]:
            try:
                builds[place] = make_build(values, state.name)
            except BuildError:
                continue
    if builds:
        found = results.side_by_side(list(builds.values()), settled.baseline, float(several[0]["duration"]))
        for (place, build), runs in zip(builds.items(), found, strict=True):
            page = _page(state, several[place], build, settled.baseline, runs, None)
            if settled.band is not None:
                page = replace(page, band=carried(settled, page), rough=True)
            pages[place] = page
    return pages


def carried(settled: Page, moved: Page) -> tuple:
    """The band of a settled page, carried over to another run: at each moment as wide a share of its speed.

    A band's many builds take as long as all else; while a slider is held their spread is taken as it was, which is
    about right as long as the same limits hold.
    """
    instants, low, high = settled.band
    before = np.maximum(np.interp(instants, settled.run.time[0], settled.run.speed[0]), 0.1)
    now = np.interp(instants, moved.run.time[0], moved.run.speed[0])
    return instants, now * low / before, now * high / before


def _page(
    state: State, values: dict, build: Build, baseline: Build | None, runs: RunResult, band: tuple | None
) -> Page:
    return Page(
        build=build,
        baseline=baseline,
        runs=runs,
        target_speed=INPUTS["target"].si(values["target"]),
        duration=float(values["duration"]),
        headroom_wanted=float(values["headroom_wanted"]),
        fmt=UnitFormatter(state.units),
        inputs=dict(values),
        band=band,
    )
