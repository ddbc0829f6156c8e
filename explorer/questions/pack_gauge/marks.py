"""What the pack gauge marks, in numbers and in words: each mark is a stretch of charge with a short text.

To add one, write a function from a page to a `Mark` and name it in `of`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from explorer.inputs.catalogue import INPUTS
from explorer.inputs.origins import entered
from explorer.page.page import CHARGES, Page
from explorer.page.regen import FLAT, headroom_today
from explorer.page.results import home_of
from physics.arrays import Floats
from physics.components.pack import charge_from_rest_voltage, rest_voltage
from physics.studies.headroom import NOTHING
from physics.studies.headroom_curves import REGEN

_STEP = 0.5
"""V, to which the lowest rest voltage for the target is rounded up: it lies between charges that were run."""


@dataclass(frozen=True)
class Mark:
    """One mark of the gauge.

    Attributes
    ----------
    name, colour : str
        For hover and legend; a token of the palette.
    low, high : float
        From what charge to what charge, 0 to 1; equal where there is none.
    text : str
        What it says, short enough to stand on a phone.
    plan : float or None
        Charge at which the rider plans to be, where that belongs to the mark.
    """

    name: str
    colour: str
    low: float
    high: float
    text: str
    plan: float | None = None


def of(page: Page) -> list[Mark]:
    """The marks of a page, from top to bottom."""
    return [mark for mark in (regen(page), target(page), home(page)) if mark is not None]


def charge_and_volts(page: Page) -> tuple[float, float]:
    """Charge, 0 to 1, and rest voltage, V, of the pack now."""
    return page.build.conditions.charge, volts_at(page, page.build.conditions.charge)


def volts_at(page: Page, charge: float) -> float:
    """Rest voltage, V, at a charge."""
    pack = page.build.pack
    return float(rest_voltage(pack.chemistry, pack.cells_in_series, charge))


def regen(page: Page) -> Mark:
    """From empty up to where regen may push current back, should things be as much worse as they may well be."""
    fmt, answer = page.fmt, headroom_today(page)
    today = answer.today
    regen_current = page.build.controller.regen_current
    wanted = volts_at(page, 1.0) - page.headroom_wanted
    pack = page.build.pack
    plan = float(charge_from_rest_voltage(pack.chemistry, pack.cells_in_series, wanted))

    def mark(text: str, high: float = 0.0) -> Mark:
        return Mark("regen", "@teal", 0.0, high, text, plan)

    if today.status in (-1, -2):
        return mark(f"No regen today: the pack is too {'cold' if today.status == -1 else 'hot'} to charge")
    if not regen_current:
        return mark("No regen set")
    current = fmt.at_most("current", float(today.current), 0 if today.current >= 10 else 1)
    if today.status == -3:
        return mark(f"No regen of {current}: too much even when nearly empty")
    lead, lowered = f"Regen {current}", answer.current_limit != REGEN
    if lowered:
        lead += f", not {fmt('current', regen_current)}"
    if today.binding == NOTHING:
        return mark(f"{lead}: from a full pack", 1.0)
    highest = float(today.highest_charge)
    volts = fmt.at_most("voltage", today.highest_rest_voltage)
    charge = fmt.at_most("charge", highest)
    flat = pack.chemistry in FLAT
    place = charge if flat else volts if lowered else f"{volts} ({charge})"
    return mark(f"{lead}: up to {place}{_over(page, highest)}", highest)


def _over(page: Page, highest: float) -> str:
    """By how much the pack is above the highest allowed now, by the numbers as printed."""
    fmt, (charge, volts) = page.fmt, charge_and_volts(page)
    if charge <= highest:
        return ""
    if page.build.pack.chemistry in FLAT:
        return f"; now {fmt.at_least('charge', charge - highest)} over"
    allowed = np.floor(10.0 * volts_at(page, highest) + 1e-6) / 10.0
    return f"; now {fmt('voltage', round(volts, 1) - allowed)} over"


def target(page: Page) -> Mark | None:
    """From what charge on the target is within reach; None while that is not known."""
    if page.tops is None:
        return None
    fmt, speed = page.fmt, page.fmt.entered("speed", page.target_speed)
    stretch = reached_between(page.tops, page.target_speed)
    if stretch is None:
        return Mark("target", "@amber", 0.0, 0.0, f"{speed}: out of reach at any charge")
    low, high = stretch
    if low <= CHARGES[0]:
        return Mark("target", "@amber", 0.0, high, f"{speed}: within reach even at {fmt('charge', CHARGES[0])}")
    if page.build.pack.chemistry in FLAT:
        needs, more = fmt.at_least("charge", low), ""
    else:
        volts = np.ceil(volts_at(page, low) / _STEP) * _STEP
        needs = f"{fmt('voltage', volts)} ({fmt.at_least('charge', low)})"
        now = round(charge_and_volts(page)[1], 1)
        more = f"; now {fmt('voltage', volts - now)} short" if now < volts else ""
    return Mark("target", "@amber", low, high, f"{speed}: from {needs} up{more}")


def home(page: Page) -> Mark | None:
    """From what charge on the way home is safe from a cut-out; only for a rider who has said how far it is."""
    fmt, inputs = page.fmt, page.inputs
    if not entered(inputs, "home_distance"):
        return None
    way = fmt("road distance", INPUTS["home_distance"].si(inputs["home_distance"]))
    if page.rough:
        return Mark("home", "@violet", 0.0, 0.0, f"{way} home: let go of the slider to see")
    answer = home_of(page)
    if not answer.reachable:
        return Mark("home", "@violet", 0.0, 0.0, f"{way} home: too far or too fast for any charge")
    needs = fmt.at_least("charge", answer.charge)
    if page.build.pack.chemistry not in FLAT:
        needs = f"{fmt.at_least('voltage', answer.rest_voltage)} ({needs})"
    return Mark("home", "@violet", answer.charge, 1.0, f"{way} home: needs {needs} or more")


def reached_between(tops: Floats, speed: float) -> tuple[float, float] | None:
    """Between what charges a speed is within reach: the topmost stretch, by straight lines between CHARGES.

    Parameters
    ----------
    tops : array, m/s
        How fast the run gets from each of CHARGES.
    speed : float, m/s
        The speed.

    Examples
    --------
    >>> reached_between(np.linspace(10.0, 20.0, len(CHARGES)), 30.0) is None
    True
    """
    there = np.flatnonzero(tops >= speed)
    if not there.size:
        return None
    top = int(there[-1])
    gaps = np.flatnonzero(tops[:top] < speed)
    bottom = int(gaps[-1]) + 1 if gaps.size else 0

    def between(outside: int, inside: int) -> float:
        share = (speed - tops[outside]) / (tops[inside] - tops[outside])
        return float(CHARGES[outside] + share * (CHARGES[inside] - CHARGES[outside]))

    low = between(bottom - 1, bottom) if bottom else float(CHARGES[0])
    high = between(top + 1, top) if top + 1 < len(CHARGES) else 1.0
    return low, high


def now_text(page: Page) -> str:
    """Where the pack is now."""
    charge, volts = charge_and_volts(page)
    return f"now {page.fmt('voltage', volts)}, {page.fmt('charge', charge)}"


def sentence(page: Page, rows: list[Mark]) -> str:
    """The whole gauge in one sentence, to be read aloud."""
    ends = f"{page.fmt('voltage', volts_at(page, 0.0))} empty to {page.fmt('voltage', volts_at(page, 1.0))} full"
    at = page.fmt("temperature", page.batch["conditions.pack_temperature"][0])
    texts = [row.text[:1].lower() + row.text[1:] if row.text[1:2].islower() else row.text for row in rows]
    plan = f"you plan {page.fmt('voltage', page.headroom_wanted)} below full"
    return f"Pack gauge at {at}, {ends}: {'; '.join([now_text(page), plan, *texts])}."
