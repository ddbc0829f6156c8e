"""Charge headroom of a page, and riding it off. Numbers only; the work is in headroom_curves.py and in physics.

It takes less time than to tell builds apart, so nothing is kept from one run of the page to the next.
"""

from __future__ import annotations

from explorer.page.page import Page, once
from physics.scenarios import cruise as steady
from physics.studies import headroom_curves
from physics.studies.headroom_curves import HeadroomAnswer


@once
def headroom_of(page: Page) -> HeadroomAnswer:
    """Charge headroom today and its curves; see `headroom_curves.headroom_answer`."""
    return headroom_curves.headroom_answer(page.build, float(page.inputs["event_duration"]), page.batch)


def cruise(page: Page, speed: float) -> tuple[float, float]:
    """Energy drawn from the cells at a steady speed, J/m, and the speed held, m/s."""
    energy, held = steady.cruise(page.batch, speed)
    return float(energy[0]), float(held[0])
