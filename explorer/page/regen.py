"""Charge headroom of a page: what pushes current back, and today's answer. Numbers only."""

from __future__ import annotations

import math

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
    values, phase = page.inputs, page.inputs["regen_phase"]
    length = values["event_duration"]
    return RegenPlan(
        **({"stop_speed": stop_speed(page)} if length is None else {"duration": float(length)}),
        off_below=off_below(page),
        phase_limit=math.inf if phase is None else float(phase),
        events=int(values["event_count"]),
        pause=float(values["event_pause"]),
        descent_height=float(values["descent_height"]),
        descent_slope=math.atan(values["descent_slope"] / 100.0),
        descent_speed=INPUTS["ride_off_speed"].si(values["ride_off_speed"]),
    )


@once
def headroom_today(page: Page) -> HeadroomAnswer:
    """Charge headroom today without its curves; it takes a few milliseconds."""
    return headroom_curves.headroom_answer(
        page.build, plan_of(page), page.batch, tolerances(page.inputs), curves=False
    )
