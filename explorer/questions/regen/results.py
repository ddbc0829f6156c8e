"""Regen now, and one stop by it, cached. Numbers only."""

from __future__ import annotations

import streamlit as st

from explorer.page.page import Page
from explorer.page.regen import off_below, plan_of, stop_speed
from explorer.page.results import BY_BUILD
from explorer.page.tolerances import tolerances
from physics.build import Build
from physics.studies.day.regen import RegenAnswer, regen_answer
from physics.studies.day.road_needed import DRY_BRAKING
from physics.studies.headroom_curves import RegenPlan
from physics.studies.uncertainty import Tolerance


def regen_of(page: Page) -> RegenAnswer:
    """What may be set at each rest voltage, and what a stop from the target does."""
    phase = page.inputs["regen_phase"]
    build = page.build if phase is None else page.build.change({"controller.phase_current_limit": float(phase)})
    return _regen(build, stop_speed(page), plan_of(page), off_below(page), tolerances(page.inputs))


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=BY_BUILD | {RegenPlan: repr})
def _regen(build: Build, speed: float, plan: RegenPlan, least: float, known: tuple[Tolerance, ...]) -> RegenAnswer:
    return regen_answer(build, speed, plan, least, DRY_BRAKING, known)
