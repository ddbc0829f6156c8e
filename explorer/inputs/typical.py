"""What stands for an input that the rider does not know: a rule for each, and one sentence that says which.

Only the order and the border to rider's units are here; what is known of motors and packs stands in physics. No
Streamlit.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from explorer.inputs.catalogue import INPUTS, defaults
from explorer.inputs.power_levels import LEVELS, levels
from physics.components.pack import rest_voltage
from physics.components.thresholds import typical_thresholds
from physics.components.tyre import free_radius, rolling_radius
from physics.typical import motor
from physics.typical.pack import PEAK_OF_RATED, current_rating, pack_mass
from physics.typical.tyre import rim_alone, typical_size

Values = Mapping[str, Any]
COMMON = "Common practice, no source."
_REST_OF_A_BIKE = 55.0
"""kg, without pack and motor: common practice, no source."""
_USUAL_DRAG_AREA, _USUAL_ROLLING = 0.5, 27.0
"""m2, and N: of 180 kg at 1.5 %. Common practice, no source."""
GENERIC = f"The page's starting value when nothing else is known. {COMMON}"


@dataclass(frozen=True)
class Rule:
    """How one typical value is made.

    Attributes
    ----------
    find : callable
        Takes the inputs but those that a later rule makes; gives the value in home units.
    because : str
        The rule and its source in a sentence or two.
    """

    find: Callable[[Values], Any]
    because: str


def _nominal_voltage(values: Values) -> float:
    return float(rest_voltage(values["chemistry"], values["cells"], 0.5))


def _stepped(value: float, step: float) -> float:
    return step * math.floor(value / step + 1e-9)


def _given_levels(values: Values) -> list[str]:
    """The power levels of which a limit is given, while no other has been made yet."""
    return [level for level in LEVELS if f"line_{level}" in values or f"phase_{level}" in values]


def _levels(values: Values) -> float:
    # where a level was chosen and nothing says how many there are, there were three
    chosen = [values["level"], "3"] if "level" in values else []
    return float(max([*_given_levels(values), *chosen], default="1"))


def _level(values: Values) -> str:
    return ([level for level in _given_levels(values) if level in levels(values)] or levels(values))[-1]


def _strongest(limit: str, values: Values) -> float:
    """A limit of the strongest power level: given, or typical."""
    key = f"{limit}_{levels(values)[-1]}"
    if key in values:
        return float(values[key])
    found = _line_limit(values) if limit == "line" else _stepped(2.5 * _strongest("line", values), 10)
    return INPUTS[key].clamp(found)


def _limit(limit: str, level: str) -> Rule:
    mildest, middle = {"line": (0.4, 0.7), "phase": (0.45, 0.7)}[limit]
    own = {
        "line": "The pack's continuous current, less the controller's overshoot",
        "phase": "2.5 times the line limit",
    }[limit]

    def find(values: Values) -> float:
        top, count = _strongest(limit, values), len(levels(values))
        if int(level) >= count:
            return top
        place = (int(level) - 1) / (count - 1)
        return _stepped(top * float(np.interp(place, (0.0, 0.5, 1.0), (mildest, middle, 1.0))), 5)

    because = (
        f"{own}, for the strongest power level; the mildest has {100 * mildest:.0f} % of that, one midway "
        f"{100 * middle:.0f} %. {COMMON}"
    )
    return Rule(find, because)


def _line_limit(values: Values) -> float:
    rating = values["continuous_current"]
    if rating is None:
        return float(current_rating(values["capacity"])[0])
    return _stepped(rating / (1 + values["overshoot"] / 100), 5)


def _continuous(values: Values) -> float | None:
    """From the peak current where that is given, else from the capacity."""
    peak = values.get("peak_current", math.inf)
    return None if peak is None else float(current_rating(values["capacity"], peak_current=peak)[0])


def _times(factor: float, current: float | None) -> float | None:
    """Of a rule of the protection that may be off."""
    return None if current is None else factor * current


def _bike_mass(values: Values) -> float:
    pack = pack_mass(round(values["cells"]), values["capacity"], values["chemistry"]).middle
    return _REST_OF_A_BIKE + float(pack) + motor_mass(values)


def known_motor_mass(values: Values) -> float | None:
    """Mass of the motor, kg: given, or that of one of its rated power; None where neither is known."""
    if values["motor_mass"] is not None:
        return float(values["motor_mass"])
    if values["motor_power"] is not None:
        return float(motor.mass_from_rated_power(1e3 * values["motor_power"]).middle)
    return None


def motor_mass(values: Values) -> float:
    """Mass of the motor, kg: known, or that of one whose peak power is what the pack's continuous current gives."""
    known = known_motor_mass(values)
    if known is not None:
        return known
    return float(motor.mass_from_power(0.85 * _nominal_voltage(values) * _rating(values)).middle)


def _rating(values: Values) -> float:
    """The pack's continuous current, A, or what is typical where it has no such limit."""
    return float(values["continuous_current"] or current_rating(values["capacity"])[0])


def fitted_tyre(tyre: str) -> str:
    """A tyre's size, where nothing but its rim's may be known.

    Examples
    --------
    >>> fitted_tyre("12-inch"), fitted_tyre("110/70-17")
    ('90/90-12', '110/70-17')
    """
    rim = rim_alone(tyre)
    return tyre if rim is None else typical_size(rim)


def _radius(values: Values) -> float:
    try:
        return float(rolling_radius(free_radius(fitted_tyre(values["tyre"]))))
    except ValueError:
        return 0.3


def sustained_speed(values: Values) -> float:
    """Speed, m/s, that the power of the pack's continuous current holds with a usual bike, on a level calm road.

    It hangs on the parts alone, so that gearing does not move with what is tried out on a day.
    """
    power = 0.85 * _nominal_voltage(values) * _rating(values)
    speed = 20.0
    for _ in range(40):
        speed = 0.5 * (speed + power / (0.5 * 1.2 * _USUAL_DRAG_AREA * speed**2 + _USUAL_ROLLING))
    return speed


def _ratio(values: Values) -> float:
    """Reduction at which the motor, unloaded at nominal voltage, would turn for a fifth more than that speed."""
    turns = values["kv"] * _nominal_voltage(values) / 60
    wheel = 1.2 * sustained_speed(values) / (2 * math.pi * _radius(values))
    return turns / wheel / values["primary_ratio"]


_SIZED = (
    "one over Kv squared and the motor's weight; if that is unknown, the weight of a motor of its rated power, or "
    "else of one sized for the pack's continuous power"
)
RULES: dict[str, Rule] = {
    "continuous_current": Rule(
        _continuous,
        f"Four fifths of the peak current if that is given, otherwise five times the amp-hours. {COMMON}",
    ),
    "peak_current": Rule(
        lambda values: _times(PEAK_OF_RATED, values["continuous_current"]),
        f"The continuous current plus a quarter. {COMMON}",
    ),
    "fast_current": Rule(
        lambda values: _times(1.7, values["peak_current"]),
        f"1.7 times the peak current. {COMMON}",
    ),
    "levels": Rule(_levels, "As many as you have entered limits for, or one."),
    "level": Rule(_level, "The strongest level with a limit given; if none has one, the strongest."),
    **{f"{limit}_{level}": _limit(limit, level) for limit in ("line", "phase") for level in LEVELS},
    "kv": Rule(
        lambda values: 5000.0 / _nominal_voltage(values),
        f"5,000 rpm with no load at the pack's nominal voltage. {COMMON}",
    ),
    "motor_resistance": Rule(
        lambda values: 1e3 * float(motor.phase_resistance(values["kv"], motor_mass(values)).middle),
        f"By {_SIZED}, after Budinger and others (2020).",
    ),
    "motor_inductance": Rule(
        lambda values: 1e6 * float(motor.phase_inductance(values["kv"], motor_mass(values)).middle),
        f"By {_SIZED}, after Budinger (2014).",
    ),
    "regen": Rule(lambda values: _stepped(0.5 * values["capacity"], 5), f"Half the amp-hours. {COMMON}"),
    "bike_mass": Rule(
        _bike_mass, (f"{_REST_OF_A_BIKE:.0f} kg (121 lb), plus the pack by its energy and the motor by its "
                     f"power. {COMMON}")
    ),
    "front_teeth": Rule(
        lambda values: values["rear_teeth"] / _ratio(values) if "rear_teeth" in values else 13.0,
        f"13 teeth; if the rear sprocket is given, the one that gives the gearing described there. {COMMON}",
    ),
    "rear_teeth": Rule(
        lambda values: values["front_teeth"] * _ratio(values),
        "Geared so that the motor, unloaded at nominal voltage, would run at a fifth more than the speed the "
        f"pack's continuous power can hold. {COMMON}",
    ),
}  # fmt: skip
"""In the order in which they are made: each finds complete what it needs."""


def completed(given: Mapping[str, Any]) -> dict[str, Any]:
    """Every input, where the rider gave some and all others are typical.

    Parameters
    ----------
    given : mapping of str to value
        In home units.

    Returns
    -------
    dict
        In the order of the catalogue.
    """
    values = {key: value for key, value in defaults().items() if key not in RULES} | dict(given)
    for key, rule in RULES.items():
        if key not in given:
            found = rule.find(values)
            values[key] = INPUTS[key].clamp(found) if INPUTS[key].is_number and found is not None else found
    return {key: values[key] for key in INPUTS}


def filled(values: Values) -> dict[str, Any]:
    """The inputs, with what is typical for the tyre of a rim and for thresholds of the chemistry."""
    typical = dict(zip(("undervoltage", "overvoltage"), typical_thresholds(values["chemistry"]), strict=True))
    typical = {key: value for key, value in typical.items() if values[key] is None}
    return dict(values) | {"tyre": fitted_tyre(values["tyre"])} | typical


def at_first(key: str, values: Values) -> float:
    """Where an optional number starts when its switch is turned on: at what stood for it, or near that.

    Examples
    --------
    >>> round(at_first("charge_from", completed({"cells": 16})), 1)
    58.2
    """
    charges = {"charge_own": values["charge"] / 100, "charge_from": 0.5}
    if key in charges:
        return round(float(rest_voltage(values["chemistry"], values["cells"], charges[key])), 1)
    begins = filled(values)[key] or INPUTS[key].start
    return float(begins or INPUTS[key].low)


_OPTIONAL = {
    "pack_resistance": "From its current rating and capacity, after published cells of several ratings (foxBMS, "
    "Fraunhofer IISB); without a rating, from its chemistry: common practice, no source.",
    "cold_growth": "By chemistry: the middle of published cells.",
    "motor_mass": "By its rated power if that is given (targets of US DRIVE, 2013, from memory), otherwise that of "
    f"a motor sized for the pack's continuous power. {COMMON}",
    "undervoltage": "By chemistry: the middle of what protection circuits are sold with.",
    "overvoltage": "By chemistry: the lowest of what protection circuits are sold with.",
    "drag_area": "By riding position, within published ranges (J. Katz; V. Cossalter, as quoted).",
    "tyre": "If only the rim size is known, the size most often fitted to it; otherwise 110/70-17. Sizes: ETRTO "
    f"and JATMA, from memory; which one is usual: {COMMON[0].lower()}{COMMON[1:]}",
    "charge_current": f"1C: the current that would fill the pack in an hour. {COMMON}",
    "pack_temperature": "Same as the air.",
}


def because(key: str) -> str:
    """By which rule, and from what source, a typical value is made: a sentence or two.

    Examples
    --------
    >>> because("regen")
    'Half the amp-hours. Common practice, no source.'
    """
    return RULES[key].because if key in RULES else _OPTIONAL.get(key, GENERIC)
