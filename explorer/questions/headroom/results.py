"""Charge headroom of a page, and riding it off. Numbers only; the work is in headroom_curves.py and in physics.

It takes less time than to tell builds apart, so nothing is kept from one run of the page to the next.
"""

from __future__ import annotations

from explorer.page.page import Page, once
from explorer.page.regen import plan_of
from explorer.page.tolerances import tolerances
from physics.arrays import Floats
from physics.scenarios import cruise as steady
from physics.studies import headroom_curves
from physics.studies.headroom import HeadroomResult
from physics.studies.headroom_curves import HeadroomAnswer


@once
def headroom_of(page: Page) -> HeadroomAnswer:
    """Charge headroom today and its curves; see `headroom_curves.headroom_answer`."""
    return headroom_curves.headroom_answer(page.build, plan_of(page), page.batch, tolerances(page.inputs))


def needed(page: Page, current: Floats, temperature: Floats) -> HeadroomResult:
    """What currents, A, need at some pack temperatures, K; see `headroom_curves.needed`."""
    return headroom_curves.needed(
        page.build, current, temperature, plan_of(page), page.batch, tolerances(page.inputs)
    )


def cruise(page: Page, speed: float) -> tuple[float, float]:
    """Energy drawn from the cells at a steady speed, J/m, and the speed held, m/s."""
    energy, held = steady.cruise(page.batch, speed)
    return float(energy[0]), float(held[0])
