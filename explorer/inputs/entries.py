"""What may be typed where one value is asked for: other facts from which a rule makes it. No Streamlit here.

A motor is known by its Kv, or by a speed on the stand, its unloaded rpm, or the phase current of a known pull; a
pack's resistance by a cell's, or by two readings under load; a bike's balance by the weight on each wheel. What a
rule only makes likely, such as a motor's mass from its power, stays typical: there the fact itself is held.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from explorer.inputs.catalogue import INPUTS
from explorer.inputs.origins import GIVEN, Inputs, marked
from explorer.inputs.spec import quoted
from explorer.inputs.typed import AT_1_KHZ, IN_PARALLEL, KV, PEAK, Quantity, Typed, facts, number
from explorer.inputs.typical import fitted_tyre
from physics.components.tyre import free_radius, rolling_radius
from physics.typical.bike import balance_point
from physics.typical.motor import RATED_OVER_PEAK, kv_from_pull, kv_from_speed, kv_from_stand
from physics.typical.pack import resistance_from_cells, resistance_from_readings
from physics.units import from_si, peak_from_rms


@dataclass
class Entry:
    """What was typed in one field.

    Attributes
    ----------
    plain : str
        What is left of it: the plain number or numbers that the field asks for.
    given : dict of str to value
        What the rest gives, in home units.
    said : list of str
        A sentence for each value that a rule made.
    """

    plain: str = ""
    given: dict[str, Any] = field(default_factory=dict)
    said: list[str] = field(default_factory=list)

    def give(self, key: str, value: Any) -> None:
        """Hold a value; raises ValueError where the entry has told it already."""
        if key in self.given:
            raise ValueError(f"{INPUTS[key].label} is given twice; it accepts one value.")
        self.given[key] = value


@dataclass(frozen=True)
class Context:
    """What an entry is read with: the values as far as they are known, and the rider's units."""

    values: Inputs
    system: str = "metric"
    phase_as: str = "peak"

    @property
    def speed_unit(self) -> str:
        """In which a speed is meant."""
        return "mph" if self.system == "US" else "km/h"

    def unit(self, key: str) -> str:
        """In which a number for an input is meant."""
        return INPUTS[key].unit_shown(self.system)

    def held(self, key: str, si: float, rule: str) -> float:
        """An SI value as an input holds it.

        Raises
        ------
        ValueError
            Where the input does not accept it; the message says what it would be, and the rule.
        """
        spec = INPUTS[key]
        value = float(f"{from_si(si, spec.unit):.6g}")
        if not spec.low <= value <= spec.high:
            would = spec.text(value, self.system, self.phase_as)
            raise ValueError(f"{spec.label} would be {would}, outside {spec.accepts(self.system)}. {rule}")
        return spec.clamp(value)

    def made(self, entry: Entry, key: str, value: float, source: str) -> None:
        """Hold a value that a rule made, and say so."""
        entry.give(key, value)
        spec = INPUTS[key]
        entry.said.append(f"{spec.label}: {spec.text(value, self.system, self.phase_as)}, {source}.")


def read_entry(key: str, entered: str, context: Context) -> Entry:
    """What was typed in the field of an input.

    Parameters
    ----------
    key : str
        The input the field is for.
    entered : str
        As it was typed.
    context : Context
        What is known so far.

    Returns
    -------
    Entry
        All of it plain where the field knows no other facts.

    Raises
    ------
    ValueError
        Where a fact cannot be used; the message says why and what is accepted.

    Examples
    --------
    >>> from explorer.inputs.origins import OWN
    >>> found = read_entry("kv", "6000 rpm/80, 10 kg", Context(Inputs(OWN, {}, {})))
    >>> found.given, found.said[0]
    ({'kv': 75.0, 'motor_mass': 10.0}, 'Motor Kv: 75 rpm/V, from the unloaded speed.')
    """
    read = {"kv": _motor, "continuous_current": _pack, "pack_resistance": _pack, "bike_mass": _weights}.get(key)
    if read is None:
        return Entry(entered)
    entry = Entry()
    read(entry, key, facts(entered), context)
    return entry


def _plain(entry: Entry, fact: Typed, rule: str) -> None:
    """A fact that is the number which the field asks for."""
    if entry.plain:
        raise ValueError(f"{quoted(f'{entry.plain}, {fact.text}', 20)} cannot be read. {rule}")
    entry.plain = fact.text


# --- the motor

_MOTOR_RULE = (
    "It accepts Kv, or a speed in {} / volts, such as 140/80; 6000 rpm/80; 28 Nm/240 A at the motor, or "
    "350 N/200 A at the tyre; and its mass or power, such as 10 kg or 6 kW."
)


def _motor(entry: Entry, key: str, told: list[Typed], context: Context) -> None:
    rule = _MOTOR_RULE.format(context.speed_unit)
    for fact in told:
        if len(fact.quantities) == 1 and fact.units[0] in ("kg", "lb"):
            entry.give("motor_mass", context.held("motor_mass", fact.quantities[0].si(""), rule))
        elif len(fact.quantities) == 1 and fact.units[0] in ("kW", PEAK):
            _power(entry, fact.quantities[0], context, rule)
        elif "/" in fact.text and fact.units != (KV,):
            _speed_constant(entry, fact, context, rule)
        else:
            _plain(entry, fact, rule)
    if "kv" in entry.given and entry.plain:
        raise ValueError(f"{quoted(entry.plain, 20)} is a second value of Kv. {rule}")


def _power(entry: Entry, power: Quantity, context: Context, rule: str) -> None:
    rated = power.number * 1e3 * (RATED_OVER_PEAK if power.unit == PEAK else 1.0)
    value = context.held("motor_power", rated, rule)
    if power.unit == PEAK:
        context.made(entry, "motor_power", float(f"{value:.2g}"), "from its peak power")
    else:
        entry.give("motor_power", value)


def _speed_constant(entry: Entry, fact: Typed, context: Context, rule: str) -> None:
    one, other = _two(fact, rule)
    way = {
        ("rpm", "V"): _by_speed, ("km/h", "V"): _by_stand, ("mph", "V"): _by_stand, ("", "V"): _by_stand,
        ("N m", "A"): _by_torque, ("lbf ft", "A"): _by_torque, ("N", "A"): _by_pull, ("lbf", "A"): _by_pull,
    }.get((one.unit, other.unit or ("A" if one.unit in ("N m", "lbf ft", "N", "lbf") else "V")))  # fmt: skip
    if way is None:
        raise ValueError(f"{quoted(fact.text, 20)} cannot be read. {rule}")
    most = 200 if way in (_by_speed, _by_stand) else 3000  # V or A
    if not (one.number > 0 and 0 < other.number <= most and (way is not _by_stand or one.number <= 500)):
        raise ValueError(f"{quoted(fact.text, 20)} is not possible. {rule}")
    found, source = way(one, other, context)
    spec = INPUTS["kv"]
    if not spec.low <= found <= spec.high:
        raise ValueError(f"that would be {found:.3g} rpm/V, which no such motor has. {rule}")
    context.made(entry, "kv", round(found, 1), source)


def _two(fact: Typed, rule: str) -> tuple[Quantity, Quantity]:
    """The two quantities of a fact that has a stroke."""
    if len(fact.quantities) == 2:
        return fact.quantities[0], fact.quantities[1]
    parts = fact.text.split("/")
    try:
        for part in parts if len(parts) == 2 else []:
            if not part:
                raise ValueError("one of the two numbers is missing.")
            number(part)
    except ValueError as error:
        raise ValueError(f"{error} {rule}") from None
    raise ValueError(f"{quoted(fact.text, 20)} is not two numbers. {rule}")


def _by_speed(speed: Quantity, voltage: Quantity, context: Context) -> tuple[float, str]:
    found = kv_from_speed(speed.si("rpm"), voltage.number, context.values["modulation"] / 100)
    return float(found), "from the unloaded speed"


def _by_stand(speed: Quantity, voltage: Quantity, context: Context) -> tuple[float, str]:
    ratio, radius = _geared(context, "a speed on the stand")
    shown, modulation = speed.si(context.speed_unit), context.values["modulation"] / 100
    return float(kv_from_stand(shown, voltage.number, ratio, radius, modulation)), "from the speed on the stand"


def _by_torque(torque: Quantity, current: Quantity, context: Context) -> tuple[float, str]:
    found = kv_from_pull(torque.si("N m"), _peak(current, context), 1.0, 1.0, 1.0)
    return float(found), "from the torque at a phase current"


def _by_pull(force: Quantity, current: Quantity, context: Context) -> tuple[float, str]:
    ratio, radius = _geared(context, "a pull at the tyre")
    efficiency = context.values["efficiency"] / 100
    found = kv_from_pull(force.si("N"), _peak(current, context), ratio, radius, efficiency)
    return float(found), "from the pull at a phase current"


def _peak(current: Quantity, context: Context) -> float:
    return float(peak_from_rms(current.number)) if context.phase_as == "RMS" else current.number


def _geared(context: Context, what: str) -> tuple[float, float]:
    """Turns of the motor for one of the wheel, and the tyre's radius, m; both must be the rider's own."""
    values = context.values
    if not {"front_teeth", "rear_teeth", "tyre"} <= values.given:
        raise ValueError(f"{what} gives Kv only with both sprockets and the tyre: enter them too.")
    ratio = values["primary_ratio"] * values["rear_teeth"] / values["front_teeth"]
    return ratio, float(rolling_radius(free_radius(fitted_tyre(values["tyre"]))))


# --- the pack

_PACK_RULE = (
    "It accepts the rating, such as 200/250; and the resistance as 45 mΩ, as one cell's, 18 mΩ x 8 in parallel, or "
    "as two readings under load, 80.2 V/20 A 75.4 V/120 A."
)
_HELD = 10.0
"""s, for how long a current was held before the voltage was read."""


def _pack(entry: Entry, key: str, told: list[Typed], context: Context) -> None:
    pairs = [fact for fact in told if fact.units in (("V", "A"), ("V", ""))]
    bare = [fact for fact in told if fact.units == ("", "")]
    # of pairs without units, two are readings; one alone, or the first of three, is the rating
    readings = pairs if pairs else bare[-2:] if len(bare) > 1 else []
    for fact in told:
        if any(fact is reading for reading in readings):
            continue
        if fact.units == ("mohm",):
            ohms = fact.quantities[0].si("")
            entry.give("pack_resistance", context.held("pack_resistance", ohms, _PACK_RULE))
        elif fact.units[:1] in (("mohm",), (AT_1_KHZ,)) and fact.units[1:] in (("",), (IN_PARALLEL,)):
            _from_cells(entry, fact, context)
        else:
            _plain(entry, fact, _PACK_RULE)
    if readings:
        _from_readings(entry, readings, context)


def _from_cells(entry: Entry, fact: Typed, context: Context) -> None:
    cell, parallel = fact.quantities
    if "cells" not in context.values.given:
        raise ValueError("a cell's resistance gives the pack's only with the cells in series: enter them too.")
    if not 1 <= parallel.number <= 200 or parallel.number != round(parallel.number):
        raise ValueError(f"{parallel.number:g} cells in parallel is not possible. {_PACK_RULE}")
    at_1_khz = cell.unit == AT_1_KHZ
    ohms = cell.number / 1e3
    found = resistance_from_cells(ohms, context.values["cells"], parallel.number, at_1_khz=at_1_khz).middle
    value = context.held("pack_resistance", float(found), _PACK_RULE)
    context.made(entry, "pack_resistance", _rounded(value), "from its cells, with a tenth for connections")


def _from_readings(entry: Entry, readings: list[Typed], context: Context) -> None:
    if len(readings) != 2:
        count = "one reading" if len(readings) == 1 else f"{len(readings)} readings"
        raise ValueError(f"that is {count} where two are needed. {_PACK_RULE}")
    (first, low), (second, high) = (reading.quantities for reading in readings)
    values = context.values
    celsius = values["air_temperature"] if values["pack_temperature"] is None else values["pack_temperature"]
    found = float(
        resistance_from_readings(
            (first.number, second.number),
            (low.number, high.number),
            _HELD,
            chemistry_key=values["chemistry"],
            temperature=INPUTS["air_temperature"].si(celsius),
            charge=values["charge"] / 100,
        )
    )
    if not found > 0:
        shown = quoted(" ".join(reading.text for reading in readings), 40)
        raise ValueError(f"{shown} gives no resistance: the voltage must fall as the current rises. {_PACK_RULE}")
    value = context.held("pack_resistance", found, _PACK_RULE)
    day = f"{INPUTS['air_temperature'].text(celsius, context.system)} and {values['charge']:.0f} % charge"
    how = f"from your two readings, taken at {day}, brought to 25 °C and half charge"
    if context.system == "US":
        how = how.replace("25 °C", "77 °F")
    context.made(entry, "pack_resistance", _rounded(value), how)


def _rounded(value: float) -> float:
    return float(f"{value:.3g}")


# --- the bike

_WEIGHT_RULE = (
    "It accepts the weight, or that on each wheel, front / rear, such as 40/45; the wheelbase may follow."
)


def _weights(entry: Entry, key: str, told: list[Typed], context: Context) -> None:
    wheels: Typed | None = None
    for fact in told:
        if len(fact.quantities) == 1 and fact.units[0] in ("mm", "in"):
            entry.give("wheelbase", context.held("wheelbase", fact.quantities[0].si(""), _WEIGHT_RULE))
        elif len(fact.quantities) == 1 and fact.units[0] in ("kg", "lb"):
            entry.give("bike_mass", context.held("bike_mass", fact.quantities[0].si(""), _WEIGHT_RULE))
        elif "/" in fact.text and wheels is None:
            wheels = fact
        else:
            _plain(entry, fact, _WEIGHT_RULE)
    if entry.plain and (wheels or "bike_mass" in entry.given):
        raise ValueError(f"{quoted(entry.plain, 20)} is a second weight. {_WEIGHT_RULE}")
    if wheels is None:
        return
    unit = context.unit("bike_mass")
    both = _two(wheels, _WEIGHT_RULE)
    if not {item.unit for item in both} <= {"", "kg", "lb"}:
        raise ValueError(f"{quoted(wheels.text, 20)} cannot be read. {_WEIGHT_RULE}")
    front, rear = (item.si(item.unit or both[1].unit or unit) for item in both)
    entry.give("bike_mass", context.held("bike_mass", front + rear, _WEIGHT_RULE))
    values = context.values | {key: entry.given[key] for key in ("wheelbase",) if key in entry.given}
    wheelbase = INPUTS["wheelbase"].si(values["wheelbase"])
    ahead = context.held("bike_balance", float(balance_point(front, rear, wheelbase)), _WEIGHT_RULE)
    source = "from the weight on each wheel"
    if values.origin("wheelbase") != GIVEN:
        known = INPUTS["wheelbase"].text(values["wheelbase"], context.system)
        source += f" and a wheelbase of {known} ({marked(values, 'wheelbase')})"
    context.made(entry, "bike_balance", float(round(ahead)), source)
