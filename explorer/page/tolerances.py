"""What is known of each unknown, as the rider says it: for the band beside the run, and for how sure it all is."""

from __future__ import annotations

from typing import Any

from explorer.format import UnitFormatter
from explorer.inputs.catalogue import INPUTS
from explorer.inputs.how_sure import TYPICAL_DRAG, TYPICAL_RESISTANCE
from physics.studies.uncertainty import NORMAL, UNIFORM, Tolerance, unmeasured_cold_growth
from physics.studies.uncertainty.worse import WorseCase, in_words

UNKNOWNS = {
    "sure_drag": ("bike.drag_area", NORMAL, True),
    "sure_rolling": ("bike.rolling_coefficient", NORMAL, True),
    "sure_resistance": ("pack.resistance", NORMAL, True),
    "sure_kv": ("motor.kv_rpm_per_volt", NORMAL, True),
    "sure_weight": ("bike.bike_mass", NORMAL, False),
    "sure_air": ("conditions.air_temperature", UNIFORM, False),
    "sure_pack_temperature": ("conditions.pack_temperature", NORMAL, False),
    "sure_wind": ("conditions.headwind", NORMAL, False),
    "sure_charge": ("conditions.charge", NORMAL, False),
    "sure_weakest": ("pack.charge_spread", NORMAL, False),
    "sure_cold_growth": ("pack.cold_growth", NORMAL, True),
}
"""Input to field path, shape, and whether it is a fraction of the value."""

_MEASURED: dict[str, tuple[str, int | None]] = {
    "bike.bike_mass": ("mass", None),
    "conditions.air_temperature": ("temperature difference", None),
    "conditions.pack_temperature": ("temperature difference", None),
    "conditions.headwind": ("wind", None),
    "conditions.charge": ("charge", None),
    "pack.charge_spread": ("charge", 1),
}
"""Quantity and digits in which an unknown that is no fraction of its value is off."""


def tolerances(inputs: dict[str, Any]) -> tuple[Tolerance, ...]:
    """How well each unknown is known, as the rider says it; a typical value counts as badly known.

    Parameters
    ----------
    inputs : dict
        Every input by key, in home units.

    Returns
    -------
    tuple of Tolerance
        One for each of UNKNOWNS, in that order.
    """
    result = []
    for key, (path, shape, relative) in UNKNOWNS.items():
        value = float(inputs[key])
        if key == "sure_drag" and inputs["drag_area"] is None:
            value = max(value, TYPICAL_DRAG)
        if key == "sure_resistance" and inputs["pack_resistance"] is None:
            value, shape = max(value, TYPICAL_RESISTANCE), UNIFORM
        if key == "sure_cold_growth" and inputs["cold_growth"] is None:
            result.append(unmeasured_cold_growth(inputs["chemistry"]))
            continue
        result.append(Tolerance(path, abs(INPUTS[key].si(value)), shape, relative))
    return tuple(result)


def with_case(case: WorseCase, fmt: UnitFormatter) -> str:
    """A worse case as a clause that begins a sentence: "with a pack 3 °C colder"; empty for all as entered."""
    if case.alone is None:
        return "with everything a little worse at once" if case.away else ""
    path, amount, relative = case.alone
    quantity, digits = ("share", None) if relative else _MEASURED[path]
    return f"with {in_words(path, amount > 0, fmt(quantity, abs(amount), digits))}"
