"""The numbers of the tank sticker: bands of rest voltage with what each allows, on the safe side. Numbers only."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import streamlit as st

from explorer.inputs.origins import entered
from explorer.page.page import Page
from explorer.page.results import BY_BUILD, LIMIT_STEP, home_of, window_of
from explorer.page.tolerances import tolerances
from explorer.questions.headroom.results import headroom_of
from explorer.questions.regen.results import regen_of
from physics.arrays import Floats
from physics.build import Build
from physics.build.batch import Batch
from physics.components.pack import SECONDS_PER_HOUR, charge_from_rest_voltage, rest_voltage
from physics.scenarios.pull import Pull
from physics.scenarios.repeated_pulls import repeated_pulls
from physics.studies.line_limit import line_limit
from physics.studies.uncertainty import Tolerance

MOST_BANDS = 10
LEAST_CHARGE = 0.1
_STEPS = (1.0, 2.0, 3.0, 4.0, 5.0, 10.0, 20.0)
_LOOKED_AT = 5


@dataclass(frozen=True, eq=False)
class Bands:
    """What each band of rest voltage allows; arrays of shape (k,), fullest first.

    Attributes
    ----------
    upper, lower : array, V
        Ends of each band.
    upper_charge, lower_charge : array
        The same in charge.
    line : array, A
        Highest line limit at the lower end: infinite where none is needed, 0 where none is low enough.
    regen : array, A
        Most regen at the upper end.
    pulls : array of int
        Pulls to the target left at the lower end, with the way home kept where it is known; as entered.
    turn_back : float or None, V
        Lowest rest voltage from which the way home is safe, infinite where there is none; None where the rider has
        not said how far it is.
    """

    upper: Floats
    lower: Floats
    upper_charge: Floats
    lower_charge: Floats
    line: Floats
    regen: Floats
    pulls: np.ndarray
    turn_back: float | None


def bands_of(page: Page) -> Bands:
    """Bands of rest voltage from full down to LEAST_CHARGE, with today's pack temperature."""
    pack = page.build.pack

    def volts(charge: float) -> float:
        return float(rest_voltage(pack.chemistry, pack.cells_in_series, charge))

    full, least = volts(1.0), volts(LEAST_CHARGE)
    step = next((one for one in _STEPS if (full - least) / one <= MOST_BANDS - 1), full - least)
    edges = np.arange(math.floor(full / step) * step, least - step, -step)
    if full - edges[0] >= 0.05:  # else it would print like the next
        edges = np.concatenate([[full], edges])
    charges = np.asarray(charge_from_rest_voltage(pack.chemistry, pack.cells_in_series, edges))
    charges = np.concatenate([[1.0], charges[1:]])
    upper, lower = edges[:-1], edges[1:]
    home = home_of(page) if entered(page.inputs, "home_distance") else None
    limits = _limits(page.build, page.pull, page.pull_margin, tuple(charges[1:]), tolerances(page.inputs))
    return Bands(
        upper=upper,
        lower=lower,
        upper_charge=charges[:-1],
        lower_charge=charges[1:],
        line=limits,
        regen=_regen(page, upper),
        pulls=_pulls(page, charges[1:], home.charge if home else 0.0),
        turn_back=home.rest_voltage if home else None,
    )


@st.cache_data(max_entries=20, show_spinner=False, hash_funcs=BY_BUILD)
def _limits(
    build: Build, pull: Pull, margin: float, charges: tuple[float, ...], known: tuple[Tolerance, ...]
) -> Floats:
    limits = line_limit(build, pull, margin, None, sorted(charges), LIMIT_STEP, tolerances=known)
    return limits.limit[0][np.searchsorted(limits.charge, charges)]


def _regen(page: Page, upper: Floats) -> Floats:
    """The most regen at the upper end of each band: that of the next whole volt above it, A."""
    answer = regen_of(page)
    row = np.searchsorted(-answer.rest_voltage, -upper, side="right") - 1  # volts fall from row to row
    from_full = float(headroom_of(page).today.highest_charge) >= 1.0
    at_full = min(page.build.controller.regen_current, float(answer.current[0])) if from_full else 0.0
    return np.where(row >= 0, answer.current[row.clip(0)], at_full)


def _pulls(page: Page, charges: Floats, home_charge: float) -> np.ndarray:
    """Pulls to the target left at some charges, each taken to need as much as the one that needs most."""
    window = window_of(page)
    if not np.isfinite(window.lowest_charge):
        return np.zeros(charges.size, dtype=int)
    values = page.inputs
    pull = Pull(page.duration, page.target_speed, float(values["pulls_hold"]))
    starts = np.linspace(window.lowest_charge, min(window.highest_charge, 1.0), _LOOKED_AT)
    made = repeated_pulls(Batch.vary(page.build, {"conditions.charge": starts}), pull, most=1)
    if not made.pulls.any():
        return np.zeros(charges.size, dtype=int)
    taken = float(np.max((starts - made.charge_left)[made.pulls > 0]))
    ride_back = 60.0 * values["pulls_rest"] * float(values["pulls_current"])
    taken += ride_back / (page.build.pack.capacity_ah * SECONDS_PER_HOUR)
    to_target = np.floor((charges - window.lowest_charge) / taken) + 1
    to_home = np.floor((charges - home_charge) / taken)
    return np.minimum(to_target, to_home).clip(0).astype(int)
