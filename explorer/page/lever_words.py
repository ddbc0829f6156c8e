"""Levers in words: what each is called, where it stands, and what is changed."""

from __future__ import annotations

import math

from explorer.format import UnitFormatter
from physics.components.road_load import POSTURES
from physics.components.tyre import DEFAULT_ROLLING_FACTOR
from physics.studies.target import PairChange
from physics.studies.target.levers import PART, SETTING, TODAY, Lever

# lever: name, quantity of the UnitFormatter or a plain unit, digits
_LEVERS = {
    "charge": ("Charge", "charge", 0),
    "pack_temperature": ("Pack temperature", "temperature", 1),
    "drag_area": ("Drag area", "area", 3),
    "line_limit": ("Line limit", "current", 0),
    "phase_limit": ("Phase limit", "A peak", 0),
    "field_weakening": ("Field-weakening current", "A peak", 0),
    "rear_teeth": ("Rear sprocket", "teeth", 0),
    "front_teeth": ("Front sprocket", "teeth", 0),
    "rolling_radius": ("Rear tyre", "tyre", 0),
    "throttle_ramp": ("Throttle ramp", "time", 1),
    "bike_mass": ("Bike weight", "mass", 1),
    "pack_resistance": ("Pack resistance", "resistance", 1),
    "pack_capacity": ("Pack capacity", "Ah", 1),
    "pack_rating": ("Pack continuous current", "current", 0),
    "cells_in_series": ("Cells in series", "", 0),
}

PLAIN = ("", "teeth", "A peak", "Ah")
"""Quantities that are the same in all units."""

CAUTIONS = {
    "field_weakening": (
        "Field weakening: if the controller shuts down at speed, the motor's full back-EMF hits "
        "controller and pack at once. Keep to the motor and controller makers' speed and voltage ratings."
    ),
    "cells_in_series": (
        "More cells raise the voltage everywhere: controller, converter, charger and wiring must be "
        "rated for a full pack's voltage. Leave work on a pack to people trained for it."
    ),
    "pack_temperature": (
        "Warm a pack only as its maker allows: gently, in a warm room, never with a flame or heat gun, never "
        "unattended."
    ),
    "phase_limit": (
        "Phase limit: never above what the makers of motor and controller allow. Torque rises with it, "
        "heat with its square."
    ),
    "line_limit": (
        "Line limit: never above the pack maker's current rating, and low enough that the pack never cuts out."
    ),
    "pack_rating": (
        "Another pack: the page takes the seller's figures as true and the cells as typical of that rating. Ask "
        "for the cell maker's data sheet; charger, fuse and wiring must suit it too."
    ),
    "pack_capacity": (
        "More cells in parallel: the current rating is assumed to grow with them. With the same BMS it does not."
    ),
}
"""What a change asks for, by lever."""

KINDS = {TODAY: "On the day", SETTING: "Controller settings", PART: "Other parts"}


def name(lever: Lever) -> str:
    """What a lever is called."""
    return _LEVERS[lever.key][0]


def quantity(lever: Lever) -> str:
    """The UnitFormatter's quantity of a lever, or a plain unit."""
    return _LEVERS[lever.key][1]


def value_text(lever: Lever, value: float, fmt: UnitFormatter, unit: bool = True) -> str:
    """Where a lever stands, in the rider's units.

    Parameters
    ----------
    lever : Lever
        The lever.
    value : float
        In the build's unit.
    fmt : UnitFormatter
        The rider's units.
    unit : bool
        Whether the unit follows.
    """
    _, quantity, digits = _LEVERS[lever.key]
    if quantity == "tyre":
        diameter = value / DEFAULT_ROLLING_FACTOR * 2
        return (
            fmt("length", diameter, 0 if fmt.system == "metric" else 1)
            if unit
            else fmt.digits("length", diameter, 0 if fmt.system == "metric" else 1)
        )
    if quantity in PLAIN:
        text = f"{value:.{digits}f}"
        text = text.rstrip("0").rstrip(".") if "." in text else text
        return f"{text} {quantity}".strip() if unit else text
    if quantity == "area" and fmt.system == "US":
        digits -= 1
    text = fmt.digits(quantity, value, digits)
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return f"{text} {fmt.unit(quantity)}".strip() if unit else text


def change_text(lever: Lever, present: float, value: float, fmt: UnitFormatter) -> str:
    """What is changed: "Rear sprocket 56 → 54 teeth"."""
    before, after = value_text(lever, present, fmt, unit=False), value_text(lever, value, fmt)
    text = f"{name(lever)} {before} → {after}"
    if lever.key == "drag_area":
        return text + _seat(value)
    if lever.key == "rolling_radius":
        return text + " diameter"
    if lever.key == "pack_capacity":
        return text + f" ({'more' if value > present else 'fewer'} cells in parallel)"
    if lever.key == "pack_rating":
        return text + " (another pack, with higher-current cells)"
    return text


def _seat(area: float) -> str:
    """Between what seat positions a drag area lies."""
    known = sorted((posture.drag_area, posture.label) for posture in POSTURES.values())
    for value, label in known:
        if math.isclose(area, value, abs_tol=2e-3):
            return f" ({label})"
    below = [label for value, label in known if value < area]
    above = [label for value, label in known if value > area]
    return f" (between {below[-1]} and {above[0]})" if below and above else ""


def pair_text(pair: PairChange, fmt: UnitFormatter) -> str:
    """Two changes in one phrase."""
    both = [change_text(*one, fmt) for one in zip(pair.levers, pair.present, pair.values, strict=True)]
    return f"{both[0]}, and {both[1][0].lower()}{both[1][1:]}"
