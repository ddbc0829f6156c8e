"""The warm-up as the rider plans it, worked out beside the page. Numbers only."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import streamlit as st

from explorer.inputs.catalogue import INPUTS
from explorer.page.page import Page
from explorer.page.pool import Task, ask
from explorer.page.results import BY_BUILD, LIMIT_STEP
from explorer.page.tolerances import tolerances
from physics.arrays import Floats
from physics.build import Build
from physics.build.batch import Batch
from physics.studies.day.warm_up import (
    USUAL_TEMPERATURE,
    WarmUp,
    WarmUpPlan,
    at_currents,
    warm_up,
    warm_up_and_limits,
)

SHARES = np.array([0.5, 0.75, 1.0, 1.5, 2.0, 3.0])
"""Of the rider's current: other currents to compare."""
_LOOK, _SOON = 0.05, 1.0  # s, until it is seen that a job is wanted no more


@dataclass(frozen=True, eq=False)
class Found:
    """A warm-up with what it was worked out for.

    Attributes
    ----------
    build : Build
        As it stands before.
    plan : WarmUpPlan
    warm : WarmUp
    limits : array, shape (4,), A
        Line limits that survive the pull, for each start of `warm.outcomes`.
    """

    build: Build
    plan: WarmUpPlan
    warm: WarmUp
    limits: Floats


def plan_of(page: Page) -> WarmUpPlan:
    """How the rider warms the pack up, and for what."""
    values = page.inputs
    wanted = values["warm_to"]
    return WarmUpPlan(
        current=float(values["warm_current"]),
        pull_time=float(values["warm_pull"]),
        pull_current=max(values["warm_share"] / 100.0 * page.build.controller.line_current_limit, 1.0),
        rest_time=60.0 * values["warm_rest"],
        target_speed=page.target_speed,
        duration=page.duration,
        temperature=None if wanted is None else INPUTS["warm_to"].si(wanted),
    )


def ahead(page: Page) -> list[Task]:
    """What can be worked out while the page above is drawn."""
    known, worse = tolerances(page.inputs), (page.pull, page.pull_margin, LIMIT_STEP)
    return [ask(warm_up_and_limits, page.build, plan_of(page), *worse, known, page.reaches_target)]


def warming(page: Page) -> Callable[[Callable[[int, int], None], Callable[[], bool]], Found | None]:
    """The work of a background job; nothing comes of one that was dropped."""
    build, plan, (asked,) = page.build, plan_of(page), ahead(page)

    def work(_: Callable[[int, int], None], cancelled: Callable[[], bool]) -> Found | None:
        while not asked.wait(_LOOK):
            if cancelled():
                return None
        if asked.dropped:
            time.sleep(_SOON)  # where a newer move wants something else, it is about to drop this job, too
        return None if cancelled() else Found(build, plan, *asked.result())

    return work


def applies(page: Page) -> bool:
    """Whether a warm-up stands on the setup sheet: wished for, or the target is missed with a pack that is cold."""
    cold = float(Batch.of(page.build)["conditions.pack_temperature"][0]) < USUAL_TEMPERATURE
    return page.inputs["warm_to"] is not None or (cold and not page.reaches_target)


def warm_up_of(page: Page) -> WarmUp:
    """The warm-up, worked out at once."""
    return ask(warm_up, page.build, plan_of(page), tolerances(page.inputs), page.reaches_target).result()


def other_currents(found: Found) -> tuple[Floats, Floats, Floats, Floats]:
    """Currents around the rider's, A, with speed, time and charge left; see `at_currents`."""
    wished = np.minimum(found.plan.current * SHARES, found.warm.most_current)
    current = np.unique(np.maximum(np.floor(wished), 1.0)).astype(float)
    return current, *_at_currents(found.build, tuple(map(float, current)), found.warm.temperature)


@st.cache_data(max_entries=20, show_spinner=False, hash_funcs=BY_BUILD)
def _at_currents(build: Build, currents: tuple[float, ...], temperature: float) -> tuple[Floats, Floats, Floats]:
    return at_currents(build, currents, temperature)
