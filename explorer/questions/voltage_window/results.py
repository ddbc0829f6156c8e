"""Voltage window and pulls, cached. Numbers only."""

from __future__ import annotations

import streamlit as st

from explorer.page.page import Page
from explorer.page.results import BY_BUILD, pulls
from physics.build import Build
from physics.components.pack import rest_voltage
from physics.scenarios.pull import Pull
from physics.scenarios.repeated_pulls import RepeatedPulls
from physics.studies.voltage_window import VoltageWindow, voltage_window

MOST_PULLS = 30


def window_of(page: Page) -> VoltageWindow:
    """From what rest voltage the target is within reach."""
    return _window(page.build, page.target_speed, page.duration)


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=BY_BUILD)
def _window(build: Build, target_speed: float, duration: float) -> VoltageWindow:
    return voltage_window(build, target_speed, duration)


def pulls_of(page: Page) -> RepeatedPulls:
    """Pulls to the target, one after another, until the pack gives no more."""
    values = page.inputs
    pull = Pull(page.duration, page.target_speed, float(values["pulls_hold"]))
    return pulls(page.build, pull, 60.0 * values["pulls_rest"], MOST_PULLS, float(values["pulls_current"]))


def resting_now(page: Page) -> float:
    """Rest voltage of the pack at today's charge, V."""
    pack = page.build.pack
    return float(rest_voltage(pack.chemistry, pack.cells_in_series, page.build.conditions.charge))
