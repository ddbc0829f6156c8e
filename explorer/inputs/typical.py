"""What stands for an input that the rider does not know: a rule for each, and one sentence that says which.

Only the order and the border to rider's units are here; what is known of motors and packs stands in physics. No
Streamlit.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from explorer.inputs.catalogue import INPUTS, LEVELS, defaults
from physics.components.pack import rest_voltage
from physics.components.thresholds import typical_thresholds
from physics.components.tyre import free_radius, rolling_radius
from physics.typical import motor
from physics.typical.pack import pack_mass

Values = Mapping[str, Any]
COMMON = "Common practice, no source."
_REST_OF_A_BIKE = 55.0
"""kg, without pack and motor: common practice, no source."""
_USUAL_DRAG_AREA, _USUAL_ROLLING = 0.5, 27.0
"""m2, and N: of 180 kg at 1.5 %. Common practice, no source."""
GENERIC = f"The value the page starts from where nothing else is known. {COMMON}"


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


def _share(limit: str, level: str, share: float) -> Rule:
    of = LEVELS[-1]
    because = f"{100 * share:.0f} % of the limit of level {of}. {COMMON}"
    return Rule(lambda values: _stepped(share * values[f"{limit}_{of}"], 5), because)


def _line_limit(values: Values) -> float:
    rating = values["continuous_current"]
    if rating is None:
        return 5.0 * values["capacity"]
    return _stepped(rating / (1 + values["overshoot"] / 100), 5)


def _continuous(values: Values) -> float | None:
    """From the peak current where that is given, else from the capacity."""
    if "peak_current" in values:
        peak = values["peak_current"]
        return None if peak is None else 0.8 * peak
    return 5.0 * values["capacity"]


def _bike_mass(values: Values) -> float:
    pack = pack_mass(round(values["cells"]), values["capacity"], values["chemistry"]).middle
    return _REST_OF_A_BIKE + float(pack) + motor_mass(values)


def motor_mass(values: Values) -> float:
    """Mass of the motor, kg: given, or that of one whose peak power is what the pack's continuous current gives."""
    if values["motor_mass"] is not None:
        return float(values["motor_mass"])
    return float(motor.mass_from_power(0.85 * _nominal_voltage(values) * _rating(values)).middle)


def _rating(values: Values) -> float:
    """The pack's continuous current, A, or what is typical where it has no such limit."""
    return float(values["continuous_current"] or 5.0 * values["capacity"])


def _radius(values: Values) -> float:
    try:
        return float(rolling_radius(free_radius(values["tyre"])))
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
    "one over Kv squared and the motor's mass; without a mass, that of a motor made for the power of the pack's "
    "continuous current"
)
RULES: dict[str, Rule] = {
    "continuous_current": Rule(
        _continuous,
        f"Four fifths of the peak current where that is given, else five times the amp-hours. {COMMON}",
    ),
    "peak_current": Rule(
        lambda values: None if values["continuous_current"] is None else 1.25 * values["continuous_current"],
        f"A quarter above the continuous current. {COMMON}",
    ),
    "fast_current": Rule(
        lambda values: None if values["peak_current"] is None else 1.7 * values["peak_current"],
        f"1.7 times the peak current. {COMMON}",
    ),
    "line_3": Rule(_line_limit, f"What the pack's continuous current leaves, with the overshoot. {COMMON}"),
    "line_1": _share("line", "1", 0.4),
    "line_2": _share("line", "2", 0.7),
    "phase_3": Rule(lambda values: _stepped(2.5 * values["line_3"], 10), f"2.5 times the line limit. {COMMON}"),
    "phase_1": _share("phase", "1", 0.45),
    "phase_2": _share("phase", "2", 0.7),
    "kv": Rule(
        lambda values: 5000.0 / _nominal_voltage(values),
        f"5,000 rpm without load at the pack's nominal voltage. {COMMON}",
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
        _bike_mass, f"{_REST_OF_A_BIKE:.0f} kg, the pack by its energy, the motor by the power it is for. {COMMON}"
    ),
    "front_teeth": Rule(
        lambda values: values["rear_teeth"] / _ratio(values) if "rear_teeth" in values else 13.0,
        f"13 teeth; where the rear sprocket is given, as it needs for the rule of the rear sprocket. {COMMON}",
    ),
    "rear_teeth": Rule(
        lambda values: values["front_teeth"] * _ratio(values),
        "Geared so that the motor, unloaded at nominal voltage, would turn for a fifth more than the speed that "
        f"the power of the pack's continuous current can hold. {COMMON}",
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
            values[key] = None if found is None else INPUTS[key].clamp(found)
    return {key: values[key] for key in INPUTS}


def filled(values: Values) -> dict[str, Any]:
    """The inputs, with what is typical for the thresholds of the chemistry where the rider gave none."""
    typical = dict(zip(("undervoltage", "overvoltage"), typical_thresholds(values["chemistry"]), strict=True))
    return dict(values) | {key: value for key, value in typical.items() if values[key] is None}


_OPTIONAL = {
    "pack_resistance": "From its current rating and capacity, by published cells of several rates (foxBMS, "
    "Fraunhofer IISB); without a rating from its chemistry, common practice.",
    "cold_growth": "By the chemistry: the middle of published cells.",
    "motor_mass": f"That of a motor made for the power of the pack's continuous current. {COMMON}",
    "undervoltage": "By the chemistry: the middle of what protection circuits are offered with.",
    "overvoltage": "By the chemistry: the lowest of what protection circuits are offered with.",
    "drag_area": "By the seat position, inside published ranges (J. Katz; V. Cossalter, as quoted).",
    "charge_current": f"The current that would fill the pack in an hour. {COMMON}",
    "pack_temperature": "Same as the air.",
}


def because(key: str) -> str:
    """By which rule, and from what source, a typical value is made: a sentence or two.

    Examples
    --------
    >>> because("phase_3")
    '2.5 times the line limit. Common practice, no source.'
    """
    return RULES[key].because if key in RULES else _OPTIONAL.get(key, GENERIC)
