"""Pages made of inputs: the one the rider sees, and those a held slider may be at. Numbers only."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from explorer.format import UnitFormatter
from explorer.inputs.catalogue import INPUTS
from explorer.inputs.to_build import make_build
from explorer.page import results
from explorer.page.page import CHARGES, Band, Page
from explorer.page.pool import Task
from explorer.page.regen import plan_for
from explorer.page.tolerances import tolerances
from explorer.state.state import State
from physics.arrays import Floats
from physics.build import Build
from physics.build.batch import Batch
from physics.build.fields import BuildError
from physics.simulation.result import RunResult
from physics.simulation.run import run
from physics.studies.headroom_curves import HeadroomAnswer
from physics.studies.uncertainty import Tolerance


def begun(
    state: State, values: dict[str, Any], known: tuple[Tolerance, ...] = ()
) -> tuple[Task, Callable[[], Page]]:
    """Ask for the runs of the page of some inputs.

    Parameters
    ----------
    state : State
        For the baseline, names and units.
    values : dict
        Inputs by key, in home units.
    known : tuple of Tolerance, optional
        How well the unknowns are known; without them there is no band.

    Returns
    -------
    tuple of (Task, callable)
        The runs, and what waits for them and makes the page.

    Raises
    ------
    BuildError
        Where the inputs make no build.
    """
    build = make_build(values, state.name)
    baseline = make_build(state.baseline, state.baseline_name) if state.baseline else None
    plan = plan_for(values, INPUTS["target"].si(values["target"]))
    asked = results.runs(build, baseline, float(values["duration"]), known, plan, tolerances(values))
    return asked, lambda: _page(state, values, build, baseline, *asked.result())


def page_of(state: State, values: dict[str, Any], known: tuple[Tolerance, ...] = ()) -> Page:
    """The page of some inputs; see `begun`."""
    return begun(state, values, known)[1]()


def near(settled: Page, state: State, inputs: Sequence[dict[str, Any]]) -> list[Page | None]:
    """Pages of inputs a held slider is at, or may be at next, from one batch of runs; nothing is kept.

    Parameters
    ----------
    settled : Page
        The page as it stood before; its baseline stays, its band is shifted.
    state : State
        For names and units.
    inputs : list of dict
        Inputs by key, in home units.

    Returns
    -------
    list of Page or None
        None where inputs make no build, or ask for a run of another length than the first.
    """
    pages: list[Page | None] = [None] * len(inputs)
    builds: dict[int, Build] = {}
    for index, values in enumerate(inputs):
        if values["duration"] == inputs[0]["duration"]:
            try:
                builds[index] = make_build(values, state.name)
            except BuildError:
                continue
    if not builds:
        return pages
    shared = [] if settled.baseline is None else [settled.baseline]
    result = run(Batch.of([*builds.values(), *shared]), float(inputs[0]["duration"]))
    for row, (index, build) in enumerate(builds.items()):
        runs = result.take([row, -1] if shared else [row])
        band = settled.band and shifted_band(settled.band, settled.run, runs)
        tops = None if settled.tops is None else shifted_tops(settled.tops, build.conditions.charge, runs)
        pages[index] = _page(state, inputs[index], build, settled.baseline, runs, band, tops, rough=True)
    return pages


def shifted_band(band: Band, before: RunResult, after: RunResult) -> Band:
    """A run's band, shifted to another run: at each moment as wide a fraction of its speed.

    A band's many builds take as long as all else; while a slider is held their spread is taken as it was, which is
    about right as long as the same limits hold.
    """
    time, low, high = band
    was = np.maximum(np.interp(time, before.time, before.speed[0]), 0.1)
    now = np.interp(time, after.time, after.speed[0])
    return time, now * low / was, now * high / was


def shifted_tops(before: Floats, charge: float, after: RunResult) -> Floats:
    """How fast a run gets from each of CHARGES, scaled so that it is right for the charge of a run that is known.

    As with the band: an estimate while a slider is held.
    """
    return before * (float(after.top_speed[0]) / max(float(np.interp(charge, CHARGES, before)), 0.1))


def _page(
    state: State,
    values: dict[str, Any],
    build: Build,
    baseline: Build | None,
    runs: RunResult,
    band: Band | None,
    tops: Floats | None,
    headroom: HeadroomAnswer | None = None,
    rough: bool = False,
) -> Page:
    return Page(
        build=build,
        baseline=baseline,
        runs=runs,
        target_speed=INPUTS["target"].si(values["target"]),
        duration=float(values["duration"]),
        headroom_wanted=float(values["headroom_wanted"]),
        fmt=UnitFormatter(state.units),
        inputs=values,
        band=band,
        tops=tops,
        rough=rough,
        headroom=headroom,
    )
