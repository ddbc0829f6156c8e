"""What meets the rider's rule, cached. Numbers only."""

from __future__ import annotations

import streamlit as st

from explorer.inputs.catalogue import INPUTS
from explorer.page.page import Page
from explorer.page.results import BY_BUILD
from explorer.page.tolerances import doubts, tolerances
from physics.build import Build
from physics.studies.day.rule_limits import RADIUS_DOUBT, RuleLimits, rule_limits
from physics.studies.uncertainty import Tolerance


def allowed(page: Page, key: str) -> float | None:
    """What the rule allows, SI; None where it says nothing."""
    value = page.inputs[key]
    return None if value is None else INPUTS[key].si(value)


def radius_doubt(page: Page) -> float:
    """Share by which the tyre may be larger than entered."""
    known = {item.path: item.half_width for item in doubts(page.inputs)}
    return known.get("bike.rolling_radius", RADIUS_DOUBT)


def rule_of(page: Page) -> RuleLimits | None:
    """What to set; None while no rule is entered."""
    power, speed = allowed(page, "rule_power"), allowed(page, "rule_speed")
    if power is None and speed is None:
        return None
    return _rule(page.build, power, speed, radius_doubt(page), tolerances(page.inputs))


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=BY_BUILD)
def _rule(
    build: Build, power: float | None, speed: float | None, doubt: float, known: tuple[Tolerance, ...]
) -> RuleLimits:
    return rule_limits(build, power, speed, doubt, known)
