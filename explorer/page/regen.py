"""Charge headroom of a page: what pushes current back, and today's answer. Numbers only."""

from __future__ import annotations

import math
from typing import Any

from explorer.inputs.catalogue import INPUTS
from explorer.page.page import Page, once
from explorer.page.tolerances import tolerances
from physics.studies import headroom_curves
from physics.studies.headroom_curves import HeadroomAnswer, RegenPlan

FLAT = ("lfp",)
"""Chemistries whose rest voltage hardly tells charge."""


def off_below(page: Page) -> float:
    """The speed below which regen is off, m/s."""
    return INPUTS["regen_off_below"].si(page.inputs["regen_off_below"])


def stop_speed(page: Page) -> float:
    """From which it is stopped: the target, but faster than where regen is off, m/s."""
    return max(page.target_speed, off_below(page) + 0.5)


@once
def plan_of(page: Page) -> RegenPlan:
    """What pushes current back, as the rider says it."""
    return plan_for(page.inputs, page.target_speed)


def plan_for(values: dict[str, Any], target_speed: float) -> RegenPlan:
    """The same for some inputs and their target, m/s."""
    phase, length = values["regen_phase"], values["event_duration"]
    off = INPUTS["regen_off_below"].si(values["regen_off_below"])
    stop = {"stop_speed": max(target_speed, off + 0.5)}  # faster than where regen is off
    return RegenPlan(
        **(stop if length is None else {"duration": float(length)}),
        off_below=off,
        phase_limit=math.inf if phase is None else float(phase),
        events=int(values["event_count"]),
        pause=float(values["event_pause"]),
        descent_height=float(values["descent_height"]),
        descent_slope=math.atan(values["descent_slope"] / 100.0),
        descent_speed=INPUTS["ride_off_speed"].si(values["ride_off_speed"]),
    )


@once
def headroom_today(page: Page) -> HeadroomAnswer:
    """Charge headroom today without its curves: as it came with the runs, or in a few milliseconds."""
    return page.headroom or headroom_curves.headroom_answer(
        page.build, plan_of(page), page.batch, tolerances(page.inputs), curves=False
    )
