"""Voltage window and pulls, cached. Numbers only."""

from __future__ import annotations

import streamlit as st

from explorer.page.page import Page
from explorer.page.results import BY_BUILD, STEPS, pulls
from physics.build import Build
from physics.components.pack import rest_voltage
from physics.scenarios.pull import Pull
from physics.scenarios.repeated_pulls import RepeatedPulls
from physics.studies.voltage_window import VoltageWindow, voltage_window

MOST_PULLS = 30
_LONGEST = 60.0


def window_of(page: Page) -> VoltageWindow:
    """From what rest voltage the target is within reach."""
    return _window(page.build, page.target_speed, longest_pull(page))


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=BY_BUILD)
def _window(build: Build, target_speed: float, duration: float) -> VoltageWindow:
    return voltage_window(build, target_speed, duration, steps=STEPS)


def pulls_of(page: Page) -> RepeatedPulls:
    """Pulls to the target, one after another, until the pack gives no more."""
    values = page.inputs
    pull = Pull(longest_pull(page), page.target_speed, float(values["pulls_hold"]))
    return pulls(page.build, pull, 60.0 * values["pulls_rest"], MOST_PULLS, float(values["pulls_current"]))


def longest_pull(page: Page) -> float:
    """How long the target may take to reach, s."""
    return min(max(page.duration, 20.0), _LONGEST)


def resting_now(page: Page) -> float:
    """Rest voltage of the pack at today's charge, V."""
    pack = page.build.pack
    return float(rest_voltage(pack.chemistry, pack.cells_in_series, page.build.conditions.charge))
