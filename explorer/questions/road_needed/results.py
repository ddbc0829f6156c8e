"""The road a test needs, cached. Numbers only."""

from __future__ import annotations

import streamlit as st

from explorer.page.page import Page
from explorer.page.results import BY_BUILD
from explorer.page.tolerances import iron, tolerances
from physics.build import Build
from physics.studies.day.road_needed import (
    DRY_BRAKING,
    DRY_GRIP,
    WET_BRAKING,
    WET_GRIP,
    RoadNeeded,
    RoadPlan,
    road_needed,
)
from physics.studies.uncertainty import Tolerance


def plan_of(page: Page) -> RoadPlan:
    """What the rider does after the run-up."""
    values = page.inputs
    dry = values["road_surface"] == "dry"
    own = values["road_deceleration"]
    return RoadPlan(
        hold=float(values["road_hold"]),
        reaction=float(values["road_reaction"]),
        deceleration=float(own) if own is not None else DRY_BRAKING if dry else WET_BRAKING,
        grip=DRY_GRIP if dry else WET_GRIP,
        brakes=str(values["road_brakes"]),
    )


def road_of(page: Page) -> RoadNeeded:
    """The road that a run to the target and the stop after it need."""
    known = tolerances(page.inputs) + iron(page.build, page.inputs)  # less torque is a longer way to the target
    return _road(page.build, page.target_speed, plan_of(page), page.duration, known)


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=BY_BUILD | {RoadPlan: repr})
def _road(
    build: Build, target_speed: float, plan: RoadPlan, duration: float, known: tuple[Tolerance, ...]
) -> RoadNeeded:
    return road_needed(build, target_speed, plan, duration, known)
