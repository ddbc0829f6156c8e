"""Between what rest voltages the pack is wanted: what regen allows at most. Numbers only, shared by several
questions.

It takes less time than to tell builds apart, so nothing is kept from one run of the page to the next. What the
target needs at least takes longer: `explorer.page.results.window_of`.
"""

from __future__ import annotations

import math

from explorer.inputs.catalogue import INPUTS
from explorer.page.page import Page, once
from explorer.page.tolerances import tolerances
from physics.studies import headroom_curves
from physics.studies.headroom_curves import HeadroomAnswer, RegenPlan


@once
def plan_of(page: Page) -> RegenPlan:
    """What pushes current back, as the rider says it."""
    values = page.inputs
    return RegenPlan(
        duration=float(values["event_duration"]),
        events=int(values["event_count"]),
        pause=float(values["event_pause"]),
        descent_height=float(values["descent_height"]),
        descent_slope=math.atan(values["descent_slope"] / 100.0),
        descent_speed=INPUTS["ride_off_speed"].si(values["ride_off_speed"]),
    )


@once
def headroom_of(page: Page) -> HeadroomAnswer:
    """Charge headroom today and its curves; see `headroom_curves.headroom_answer`."""
    return headroom_curves.headroom_answer(page.build, plan_of(page), page.batch, tolerances(page.inputs))
