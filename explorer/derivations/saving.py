"""The derivation behind what would have saved a pull: the weakest cell, the timed rules, and what is left out."""

from __future__ import annotations

import math

from explorer.derivations import pack
from explorer.derivations.derivation import Step, put
from explorer.derivations.sources import PRACTICE
from physics.studies.target import Survival


def saving(saved: Survival) -> list[Step]:
    """What the line limit that saves a pull asks of the weakest cell and of the timed rules; what is left out."""
    build = saved.build
    line = next((one for one in saved.savings if one.lever.key == "line_limit" and one.found), None)
    current = line.value if line is not None else build.controller.line_current_limit
    steps = [pack.weakest_after_ten_seconds(build, current)]
    steps += pack.overcurrent(build, current * (1 + build.controller.overshoot))
    if math.isfinite(saved.time):
        steps.append(
            Step(
                "How much earlier to roll off",
                r"\Delta t = t_c - t_r",
                f"{put(saved.time, 5)} − {put(saved.roll_off, 5)}",
                saved.time - saved.roll_off,
                "s",
                "t_c the cut-out as entered; t_r when to roll off, half a second before the cut-out in the "
                f"worst of {len(saved.cases)} cases: common practice, no source. Left out: a rider who rides "
                "differently because of the change, a pack that is not evenly warm, and what is still settling "
                "from before the pull",
                PRACTICE,
                digits=1,
            )
        )
    return steps
