"""What the way home is measured against, and the pulls before it. Numbers only."""

from __future__ import annotations

from explorer.inputs.catalogue import INPUTS
from explorer.page.page import Page
from explorer.page.pool import ask
from physics.components.pack import rest_voltage
from physics.scenarios.pull import Pull
from physics.scenarios.repeated_pulls import RepeatedPulls, repeated_pulls

MOST_PULLS = 10


def distance_of(page: Page) -> float:
    """The way home, m."""
    return INPUTS["home_distance"].si(page.inputs["home_distance"])


def rest_voltage_now(page: Page) -> float:
    """Rest voltage of the pack at today's charge, V."""
    pack = page.build.pack
    return float(rest_voltage(pack.chemistry, pack.cells_in_series, page.build.conditions.charge))


def pulls_of(page: Page) -> RepeatedPulls:
    """The first pulls to the target of today's charge, as planned where they are counted."""
    values = page.inputs
    pull = Pull(page.duration, page.target_speed, float(values["pulls_hold"]))
    rest, current = 60.0 * values["pulls_rest"], float(values["pulls_current"])
    return ask(repeated_pulls, page.build, pull, rest, MOST_PULLS, current).result()
