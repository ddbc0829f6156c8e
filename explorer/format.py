"""Numbers to text in the rider's units, with sensible digits. No Streamlit here.

One `UnitFormatter` goes through the whole page (`page.fmt`). It is asked by quantity, never by unit:

    fmt("speed", 31.94)          "115 km/h", or "71 mph" where the rider chose US units
    fmt.number("speed", array)   the same conversion, as floats, for charts and tables
    fmt.unit("speed")            "km/h", for axis titles and column heads
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, SupportsFloat

from physics.units import from_si, to_si

SYSTEMS = ("metric", "US")
MINUS = "\u2212"

# quantity: unit label in metric, unit label in US units, digits after the point
_QUANTITIES: dict[str, tuple[str, str, int]] = {
    "speed": ("km/h", "mph", 0),
    "wind": ("km/h", "mph", 0),
    "acceleration": ("m/s2", "g", 2),
    "distance": ("m", "ft", 0),
    "road distance": ("km", "mile", 1),
    "altitude": ("m", "ft", 0),
    "length": ("mm", "in", 1),
    "height": ("m", "in", 2),
    "area": ("m2", "ft2", 2),
    "mass": ("kg", "lb", 0),
    "force": ("N", "lbf", 0),
    "torque": ("N m", "lbf ft", 0),
    "temperature": ("degC", "degF", 0),
    "temperature difference": ("degC difference", "degF difference", 0),
    "pressure": ("hPa", "inHg", 1),
    "time": ("s", "s", 1),
    "minutes": ("min", "min", 0),
    "voltage": ("V", "V", 1),
    "cell voltage": ("V", "V", 2),
    "current": ("A", "A", 0),
    "power": ("kW", "kW", 1),
    "energy": ("Wh", "Wh", 0),
    "energy per distance": ("Wh/km", "Wh/mile", 0),
    "resistance": ("mohm", "mohm", 1),
    "inductance": ("uH", "uH", 0),
    "capacity": ("Ah", "Ah", 1),
    "charge": ("%", "%", 0),
    "share": ("%", "%", 0),
    "angle": ("deg", "deg", 1),
    "motor speed": ("rpm", "rpm", 0),
}

_PRINTED = {
    "degC": "°C",
    "degF": "°F",
    "degC difference": "°C",
    "degF difference": "°F",
    "m/s2": "m/s²",
    "m2": "m²",
    "ft2": "ft²",
    "kg m2": "kg m²",
    "mohm": "mΩ",
    "ohm": "Ω",
    "uH": "µH",
    "mile": "mi",
    "Wh/mile": "Wh/mi",
    "1": "",
}


def printed(unit_label: str) -> str:
    """A unit's label as it is printed on the page.

    Examples
    --------
    >>> printed("degC")
    '°C'
    """
    return _PRINTED.get(unit_label, unit_label)


_UNITS = "km|mph|mi|m|mm|ft|in|lb|kg|s|min|V|A|W|kW|Wh|Ah|N|rpm|mΩ|h"
_NUMBER_AND_UNIT = re.compile(rf"(?<=\d) (?=(?:{_UNITS})\b|%|°)")


def tied(text: str) -> str:
    """The text with each number tied to its unit, so that no line breaks between them; for prose on the page.

    Examples
    --------
    >>> tied("after 6 s, at 115 km/h") == "after 6\\u00a0s, at 115\\u00a0km/h"
    True
    """
    return _NUMBER_AND_UNIT.sub("\u00a0", text)


_SPELT = {
    "tyre": "tire",
    "kerb": "curb",
    "centre": "center",
    "ageing": "aging",
    "minimise": "minimize",
    "tarmac": "pavement",
    "aluminium": "aluminum",
    "recognise": "recognize",
}
_BRITISH = re.compile("|".join(_SPELT), re.IGNORECASE)


def spelled(text: str, system: str) -> str:
    """The text with US spelling beside US units.

    Examples
    --------
    >>> spelled("Tyres and the centre of gravity", "US"), spelled("tyre", "metric")
    ('Tires and the center of gravity', 'tyre')
    """
    if system != "US":
        return text

    def american(found: re.Match[str]) -> str:
        word = _SPELT[found[0].lower()]
        return word.capitalize() if found[0][0].isupper() else word

    return _BRITISH.sub(american, text)


def plain_number(value: float, digits: int) -> str:
    """A number with that many digits after the point, thousands parted, below zero with a minus sign, never "−0".

    Examples
    --------
    >>> plain_number(-0.004, 1)
    '0.0'
    >>> plain_number(12345.6, 0), plain_number(-8, 0)
    ('12,346', '−8')
    """
    value = float(value)
    if math.isnan(value):
        return "not known"
    if math.isinf(value):
        return "no limit" if value > 0 else "none"
    value = round(value, digits)
    return f"{value:,.{digits}f}".replace("-", MINUS) if value else f"{0.0:.{digits}f}"


def with_sign(value: float, digits: int) -> str:
    """A difference as `plain_number` writes it, above zero with a plus.

    Examples
    --------
    >>> with_sign(3.14, 1), with_sign(-8, 0), with_sign(-0.004, 1)
    ('+3.1', '−8', '0.0')
    """
    return f"{'+' if round(value, digits) > 0 else ''}{plain_number(value, digits)}"


@dataclass(frozen=True)
class UnitFormatter:
    """Writes SI numbers in the rider's units.

    Parameters
    ----------
    system : str
        "metric" or "US".

    Examples
    --------
    >>> UnitFormatter("metric")("speed", 115 / 3.6)
    '115 km/h'
    >>> UnitFormatter("US")("temperature", 279.15)
    '43 °F'
    """

    system: str = "metric"

    def label(self, quantity: str) -> str:
        """The unit's label in the units table."""
        metric, us, _ = _QUANTITIES[quantity]
        return us if self.system == "US" else metric

    def unit(self, quantity: str) -> str:
        """The unit as it is printed."""
        return printed(self.label(quantity))

    def number(self, quantity: str, value: Any) -> Any:
        """SI to the rider's unit; floats or arrays."""
        return from_si(value, self.label(quantity))

    def si(self, quantity: str, value: Any) -> Any:
        """The rider's unit to SI; floats or arrays."""
        return to_si(value, self.label(quantity))

    def digits(self, quantity: str, value: SupportsFloat, digits: int | None = None) -> str:
        """The number alone, as text."""
        if digits is None:
            digits = _QUANTITIES[quantity][2]
        return plain_number(self.number(quantity, float(value)), digits)

    def __call__(self, quantity: str, value: SupportsFloat, digits: int | None = None) -> str:
        """Number and unit, as text."""
        text = self.digits(quantity, value, digits)
        unit = self.unit(quantity)
        if text in ("not known", "no limit", "none") or not unit:
            return text
        return f"{text} {unit}"

    def at_most(self, quantity: str, value: SupportsFloat, digits: int | None = None) -> str:
        """Number and unit of a value that must not be printed higher than it is.

        Examples
        --------
        >>> UnitFormatter("metric").at_most("voltage", 95.78)
        '95.7 V'
        """
        return self._towards(math.floor, quantity, value, digits)

    def at_least(self, quantity: str, value: SupportsFloat, digits: int | None = None) -> str:
        """Number and unit of a value that must not be printed lower than it is.

        Examples
        --------
        >>> UnitFormatter("metric").at_least("voltage", 5.02)
        '5.1 V'
        """
        return self._towards(math.ceil, quantity, value, digits)

    def _towards(
        self, rounded: Callable[[float], int], quantity: str, value: SupportsFloat, digits: int | None
    ) -> str:
        digits = _QUANTITIES[quantity][2] if digits is None else digits
        ten, number = 10.0**digits, float(self.number(quantity, value))
        exact = round(number * ten, 6)  # what arithmetic leaves behind the sixth place is no reason to go on
        return self(quantity, self.si(quantity, rounded(exact) / ten), digits)

    def entered(self, quantity: str, value: SupportsFloat) -> str:
        """Number and unit of what was entered: as it was typed in this unit, one digit more at most in the other.

        Examples
        --------
        >>> UnitFormatter("metric").entered("speed", 115 / 3.6), UnitFormatter("US").entered("speed", 115 / 3.6)
        ('115 km/h', '71.5 mph')
        """
        digits, number = _QUANTITIES[quantity][2], float(self.number(quantity, value))
        for more in range(3):
            if abs(number - round(number, digits + more)) <= 1e-7 * max(1.0, abs(number)):
                return self(quantity, value, digits + more)
        return self(quantity, value, digits + (abs(number - round(number, digits)) > 0.2 / 10**digits))

    def difference(
        self, quantity: str, value: SupportsFloat, other: SupportsFloat, digits: int | None = None
    ) -> float:
        """How much more a value is than another, in the rider's unit, as both are printed with these digits.

        Examples
        --------
        >>> round(UnitFormatter("metric").difference("speed", 113.66 / 3.6, 107.64 / 3.6, 1), 9)
        6.1
        """
        digits = _QUANTITIES[quantity][2] if digits is None else digits
        first, second = (round(float(self.number(quantity, float(one))), digits) for one in (value, other))
        return round(first - second, digits)

    def apart(self, quantity: str, value: SupportsFloat, other: SupportsFloat) -> str:
        """Number and unit with just as many digits (two at most) as tell it from another value."""
        first = _QUANTITIES[quantity][2]
        for digits in range(first, first + 3):
            if self.digits(quantity, value, digits) != self.digits(quantity, other, digits):
                break
        return self(quantity, value, min(digits, first + 2))


def with_minus(text: str) -> str:
    """A text whose numbers below zero have a minus sign, not a hyphen.

    Examples
    --------
    >>> with_minus("-4 to 110/70-17")
    '−4 to 110/70-17'
    """
    return re.sub(r"(?<![\w.)])-(?=\d)", MINUS, text)


_AN = re.compile(r"8|1[18](?![\d])(?!,\d{3},)")


def a_number(text: str) -> str:
    """A number with its article, as it is read aloud.

    Examples
    --------
    >>> a_number("80 %"), a_number("100 %"), a_number("11 V"), a_number("110 V")
    ('an 80 %', 'a 100 %', 'an 11 V', 'a 110 V')
    """
    return f"{'an' if _AN.match(text) else 'a'} {text}"


def joined(names: Sequence[str]) -> str:
    """Names in a row.

    Examples
    --------
    >>> joined(["a", "b", "c"])
    'a, b and c'
    """
    *others, last = names
    return f"{', '.join(others)} and {last}" if others else last
