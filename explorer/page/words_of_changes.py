"""Changes of a build in words: what is changed, what it brings, what it costs elsewhere; and cautions of speed."""

from __future__ import annotations

import math

import numpy as np

from explorer.format import UnitFormatter
from physics.components.road_load import POSTURES
from physics.components.tyre import DEFAULT_ROLLING_FACTOR, SPEED_SYMBOLS_KM_H, parse_tyre
from physics.limits import LIMITS, RULES
from physics.studies.target import Change, Lever, Outcome, PairChange
from physics.studies.target.levers import PART, SETTING, TODAY
from physics.studies.target.single_change import CUTS_OUT, NO_ROOM, NOT_SEARCHED, REACHES, SAME_SPEED

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
    "bike_mass": ("Weight of the bike", "mass", 1),
    "pack_resistance": ("Pack resistance", "resistance", 1),
    "pack_capacity": ("Pack capacity", "Ah", 1),
    "cells_in_series": ("Cells in series", "", 0),
}

PLAIN = ("", "teeth", "A peak", "Ah")
"""Quantities that are the same in all units."""

KINDS = {TODAY: "On the day", SETTING: "Settings of the controller", PART: "Other parts"}

IN_HAND = 0.2
"""Share of the cut-out allowance to keep in hand, as the line limit for the day does unless told otherwise."""

COMMON_SYMBOLS = ("J", "L", "M", "P", "S", "H")
"""Speed symbols that tyres of small motorcycles often carry; common practice, no source."""

CAUTIONS = {
    "field_weakening": (
        "Field weakening: if the controller stops at speed, the motor's full back-EMF reaches controller and pack "
        "at once. Keep to the motor and controller makers' highest speed and voltage."
    ),
    "cells_in_series": (
        "More cells raise the voltage everywhere: controller, converter, charger and wiring must be made for a "
        "full pack's voltage. Leave work on a pack to people trained for it."
    ),
    "pack_temperature": (
        "Warm a pack only as its maker allows: gently, in a warm room, never with a flame or heat gun, never "
        "unattended."
    ),
    "phase_limit": (
        "Phase limit: never above what the makers of motor and controller allow. Torque rises with it, heat with "
        "its square."
    ),
    "line_limit": (
        "Line limit: never above the pack maker's current rating, and low enough that the pack never cuts out."
    ),
}


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
        return text + (" tall" if value > present else " low")
    if lever.key == "pack_capacity":
        return text + f" ({'more' if value > present else 'fewer'} cells in parallel)"
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
    both = [
        change_text(*one, fmt) for one in zip(pair.levers, pair.present, pair.values, strict=True)
    ]  # fmt: skip
    return f"{both[0]}, and {both[1][0].lower()}{both[1][1:]}"


def brings(outcome: Outcome, present: Outcome, fmt: UnitFormatter, low_speed: float) -> str:
    """What a change brings and what it costs elsewhere, in one or two sentences."""
    limit = LIMITS[outcome.holding_limit]
    sentences = [f"{fmt('speed', outcome.top_speed, 1)}, then held by {limit}."]
    costs = [
        _later(outcome.time_to_low_speed, present.time_to_low_speed, fmt("speed", low_speed)),
        _margin(outcome.margin, present.margin, fmt),
        _energy(outcome.energy_per_distance, present.energy_per_distance, fmt),
    ]
    return " ".join([*sentences, _capital("; ".join(costs)) + "."])


def _later(after: float, before: float, speed: str) -> str:
    """How much later or sooner a low speed is reached; what is said where one of the two never reaches it."""
    if not np.isfinite(after):
        return f"{speed} {'no longer' if np.isfinite(before) else 'still not'} reached"
    if not np.isfinite(before):
        return f"{speed} after {after:.1f} s, not reached now"
    difference = after - before
    if abs(difference) < 0.05:
        return f"{speed} as soon as now"
    return f"{speed} {abs(difference):.1f} s {'later' if difference > 0 else 'sooner'}"


def _margin(margin: float, before: float, fmt: UnitFormatter) -> str:
    change = round(100 * margin) - round(100 * before)
    text = f"{fmt('share', margin)} of the cut-out allowance left"
    text += f" ({'+' if change > 0 else '−'}{abs(change)})" if change else ", as now"
    return f"only {text}, less than the {fmt('share', IN_HAND)} to keep in hand" if margin < IN_HAND else text


def _energy(energy: float, before: float, fmt: UnitFormatter) -> str:
    change = fmt.number("energy per distance", energy) - fmt.number("energy per distance", before)
    unit = fmt.unit("energy per distance")
    if abs(change) < 0.5:
        return "energy as now"
    return f"{abs(change):.0f} {unit} {'more' if change > 0 else 'less'}"


def cannot(change: Change, fmt: UnitFormatter, target: float) -> str:
    """Why a lever cannot do it alone."""
    if change.status == NO_ROOM:
        return "already at the end of what you allow"
    if change.status == NOT_SEARCHED:
        return "not searched"
    if change.status == CUTS_OUT:
        rule = RULES[change.outcome.cut_out_rule] if change.outcome and change.outcome.cut_out_rule >= 0 else ""
        return f"is fast enough, but the pack cuts out ({rule} rule)" if rule else "the pack cuts out"
    if does_nothing(change):
        return "brings no speed"
    return f"gets to {fmt.apart('speed', change.outcome.top_speed, target)}"


def does_nothing(change: Change) -> bool:
    """Whether a lever, inside what is allowed, does not raise the top speed at all."""
    nothing = change.status not in (REACHES, CUTS_OUT, NOT_SEARCHED)
    return nothing and (change.outcome is None or change.speed_gained <= SAME_SPEED)


def cost_text(price_per_speed: float, fmt: UnitFormatter) -> str:
    """Price for each unit of speed gained; empty without a price."""
    if not np.isfinite(price_per_speed):
        return ""
    per = price_per_speed / float(fmt.number("speed", 1.0))
    return f"{per:,.2f} for each {fmt.unit('speed')} gained."


def reaching(changes) -> list[Change]:
    """The changes that reach the target alone."""
    return [change for change in changes if change.status == REACHES]


def tyre_caution(tyre: str, speed: float, fmt: UnitFormatter) -> str:
    """What a speed asks of the tyres' speed symbol; empty for speeds that every common symbol covers.

    Parameters
    ----------
    tyre : str
        The rear tyre's size, perhaps with its symbol.
    speed : float, m/s
        The highest that is predicted.
    fmt : UnitFormatter
        The rider's units.
    """
    try:
        symbol = parse_tyre(tyre).speed_symbol
    except ValueError:
        symbol = ""
    km_h = 3.6 * speed
    if symbol in SPEED_SYMBOLS_KM_H:
        allowed = SPEED_SYMBOLS_KM_H[symbol]
        if km_h > allowed:
            return (
                f"{fmt.apart('speed', speed, allowed / 3.6)} is more than the tyre's speed symbol {symbol} "
                f"allows ({fmt('speed', allowed / 3.6)}): fit tyres made for the speed."
            )
        return ""
    beaten = [mark for mark in COMMON_SYMBOLS if SPEED_SYMBOLS_KM_H[mark] < km_h]
    if not beaten:
        return ""
    limit = SPEED_SYMBOLS_KM_H[beaten[-1]] / 3.6
    needed = next((mark for mark, most in SPEED_SYMBOLS_KM_H.items() if most >= km_h), "")
    text = (
        f"{fmt.apart('speed', speed, limit)} is more than tyres with the speed symbol {beaten[-1]} are made for "
        f"({fmt('speed', limit)})"
    )
    if not needed:
        return text + "."
    return f"{text}: both tyres must carry {needed} or a faster symbol."


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
