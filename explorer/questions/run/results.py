"""Force against speed of the build and its baseline: numbers of one page, worked out once."""

from __future__ import annotations

import numpy as np

from explorer.charts.parts import steady
from explorer.page.page import Page, once
from physics.studies.force import ForceAgainstSpeed, around_cap, force_against_speed

POINTS = 81
_BEYOND = 1.15
"""How much further than the fastest thing to be seen the speeds go."""


@once
def force_of(page: Page) -> ForceAgainstSpeed:
    """Row 0 is the build's, row 1, where there is one, the baseline's."""
    builds = [page.build, *([page.baseline] if page.baseline is not None else [])]
    caps = [build.controller.speed_cap for build in builds]
    return force_against_speed(builds, around_cap(np.linspace(0.0, fastest(page), POINTS), caps))


def fastest(page: Page) -> float:
    """The end of the axis, m/s: it stands still from value to value while a slider is held."""
    seen = _BEYOND * max(page.target_speed, float(np.nanmax(page.runs.speed)))
    end = steady(0.0, float(page.fmt.number("speed", seen)))[1]
    return end / float(page.fmt.number("speed", 1.0))
