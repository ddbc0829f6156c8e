"""Voltage window and pulls, asked for ahead. Numbers only."""

from __future__ import annotations

from explorer.page.page import Page
from explorer.page.pool import Task, ask
from explorer.page.results import window_of
from physics.components.pack import rest_voltage
from physics.scenarios.pull import Pull
from physics.scenarios.repeated_pulls import RepeatedPulls, repeated_pulls

__all__ = ["MOST_PULLS", "ahead", "pulls_of", "resting_now", "window_of", "work_out"]

MOST_PULLS = 30


def ahead(page: Page) -> list[Task]:
    """What can be worked out while the page above is drawn."""
    return [_pulls(page)]


def work_out(page: Page) -> None:
    """Window and pulls, so that both are there when they are drawn."""
    window_of(page)
    pulls_of(page)


def pulls_of(page: Page) -> RepeatedPulls:
    """Pulls to the target, one after another, until the pack gives no more."""
    return _pulls(page).result()


def _pulls(page: Page) -> Task:
    values = page.inputs
    pull = Pull(page.duration, page.target_speed, float(values["pulls_hold"]))
    rest, current = 60.0 * values["pulls_rest"], float(values["pulls_current"])
    return ask(repeated_pulls, page.build, pull, rest, MOST_PULLS, current)


def resting_now(page: Page) -> float:
    """Rest voltage of the pack at today's charge, V."""
    pack = page.build.pack
    return float(rest_voltage(pack.chemistry, pack.cells_in_series, page.build.conditions.charge))
