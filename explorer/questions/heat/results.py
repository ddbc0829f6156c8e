"""Heat, kept: full throttle held, and pulls one after another. Numbers only."""

from __future__ import annotations

import streamlit as st

from explorer.page.page import Page
from explorer.page.pool import ask
from explorer.page.results import BY_BUILD
from physics.build import Build
from physics.scenarios.pull import Pull
from physics.scenarios.repeated_pulls import RepeatedPulls, repeated_pulls
from physics.simulation.result import RunResult
from physics.studies.full_power import FullPower, full_power


def work_out(page: Page) -> FullPower | RepeatedPulls:
    """What the view that is chosen shows."""
    return held_of(page) if page.inputs["heat_view"] == "held" else pulls_of(page)


def held_of(page: Page) -> FullPower:
    """How long full power lasts."""
    return _held(page.build, 60.0 * page.inputs["heat_time"], page.run)


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=BY_BUILD)
def _held(build: Build, duration: float, _begun: RunResult) -> FullPower:
    return full_power(build, duration, _begun)


def pulls_of(page: Page) -> RepeatedPulls:
    """Pulls flat out with a rest between them."""
    values = page.inputs
    pull = Pull(float(values["heat_pull"]))
    return ask(
        repeated_pulls, page.build, pull, 60.0 * values["heat_rest"], int(values["heat_count"]), 0.0
    ).result()
