"""Voltage window and pulls, cached. Numbers only."""

from __future__ import annotations

from explorer.page.page import Page
from explorer.page.results import pulls, window_of
from physics.components.pack import rest_voltage
from physics.scenarios.pull import Pull
from physics.scenarios.repeated_pulls import RepeatedPulls

__all__ = ["MOST_PULLS", "pulls_of", "resting_now", "window_of"]

MOST_PULLS = 30


def pulls_of(page: Page) -> RepeatedPulls:
    """Pulls to the target, one after another, until the pack gives no more."""
    values = page.inputs
    pull = Pull(page.duration, page.target_speed, float(values["pulls_hold"]))
    return pulls(page.build, pull, 60.0 * values["pulls_rest"], MOST_PULLS, float(values["pulls_current"]))


def resting_now(page: Page) -> float:
    """Rest voltage of the pack at today's charge, V."""
    pack = page.build.pack
    return float(rest_voltage(pack.chemistry, pack.cells_in_series, page.build.conditions.charge))
