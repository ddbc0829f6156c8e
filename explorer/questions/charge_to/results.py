"""What the rider wants to charge to, and how, cached. Numbers only."""

from __future__ import annotations

from dataclasses import dataclass

import streamlit as st

from explorer.inputs.catalogue import INPUTS
from explorer.page.page import Page
from explorer.page.regen import headroom_today
from explorer.page.results import BY_BUILD, window_of
from explorer.page.tolerances import tolerances
from physics.build import Build
from physics.components.pack import charge_from_rest_voltage
from physics.studies.day.charge_to import ChargePlan, ChargeToAnswer, charge_to
from physics.studies.uncertainty import Tolerance
from physics.studies.voltage_window import NEVER_REACHED

REGEN, TARGET, OWN, NO_REGEN, OUT_OF_REACH = "regen", "target", "own", "no regen", "out of reach"
CHARGER_EFFICIENCY = 0.9
"""Of what a charger takes from the wall, that reaches the pack; common practice, no source."""
HALF_FULL = 0.5


@dataclass(frozen=True)
class Asked:
    """What the rider wants.

    Attributes
    ----------
    charge : float
        Wanted, at rest, 0 to 1.
    at_most : bool
        Whether that is the most, or the least.
    reason : str
        REGEN, TARGET, OWN, NO_REGEN (full, as no regen is allowed at any charge) or OUT_OF_REACH (full, as the
        target is).
    """

    charge: float
    at_most: bool
    reason: str


def asked_of(page: Page) -> Asked:
    """What the pack is to rest at."""
    values, pack = page.inputs, page.build.pack
    if values["charge_own"] is not None:
        charge = charge_from_rest_voltage(pack.chemistry, pack.cells_in_series, values["charge_own"])
        return Asked(float(charge), True, OWN)
    if values["charge_for"] == TARGET:
        window = window_of(page)
        if window.status == NEVER_REACHED:
            return Asked(1.0, True, OUT_OF_REACH)
        return Asked(min(window.lowest_charge, 1.0), False, TARGET)
    today = headroom_today(page).today
    if not page.build.controller.regen_current or not today.allowed:
        return Asked(1.0, True, NO_REGEN)
    return Asked(float(today.highest_charge), True, REGEN)


def plan_of(page: Page) -> ChargePlan:
    """The charger, and the pack's temperature."""
    values = page.inputs
    power = values["charger_power"]
    return ChargePlan(
        current=float(values["charger_current"]),
        temperature=INPUTS["charge_temperature"].si(values["charge_temperature"]),
        power=float("inf") if power is None else 1000.0 * power * CHARGER_EFFICIENCY,
        at_most=asked_of(page).at_most,
    )


def charge_to_of(page: Page) -> ChargeToAnswer:
    """How to charge; see `physics.studies.day.charge_to.charge_to`."""
    pack, rests = page.build.pack, page.inputs["charge_from"]
    start = HALF_FULL
    if rests is not None:
        start = float(charge_from_rest_voltage(pack.chemistry, pack.cells_in_series, rests))
    build = page.build.change({"conditions.charge": start})
    return _charge_to(build, asked_of(page).charge, plan_of(page), tolerances(page.inputs))


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=BY_BUILD | {ChargePlan: repr})
def _charge_to(build: Build, charge: float, plan: ChargePlan, known: tuple[Tolerance, ...]) -> ChargeToAnswer:
    return charge_to(build, charge, plan, known)
