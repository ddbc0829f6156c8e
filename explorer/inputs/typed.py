"""Numbers and units as riders type them. No Streamlit here.

A unit is one of a fixed list of spellings, each with its label of `physics.units`; no other is understood. Numbers
that belong together have a stroke between them, or "at" or "x"; what stands apart is another fact.
"""

from __future__ import annotations

import math
import re
from typing import NamedTuple

from explorer.format import printed
from explorer.inputs.spec import InputSpec, quoted
from physics.units import to_si

IN_PARALLEL, PEAK, AT_1_KHZ, KV = "in parallel", "kW peak", "mohm at 1 kHz", "rpm/V"
"""Labels of what is typed like a unit and is none of the table."""

_SPELLINGS = {
    "V": ("v", "volt", "volts"),
    "A": ("a", "amp", "amps"),
    "rpm": ("rpm",),
    KV: ("rpm/v",),
    "km/h": ("km/h", "kmh", "kph"),
    "mph": ("mph",),
    "N m": ("nm", "n m", "n·m"),
    "lbf ft": ("lb-ft", "lb ft", "lbf ft", "ft-lb", "ft lb"),
    "N": ("n",),
    "lbf": ("lbf",),
    "kg": ("kg",),
    "lb": ("lb", "lbs"),
    "mm": ("mm",),
    "in": ("in", '"'),
    "kW": ("kw", "kw rated", "kw continuous"),
    PEAK: ("kw peak",),
    "mohm": ("mω", "mohm", "milliohm", "milliohms"),
    AT_1_KHZ: ("mω ac", "mohm ac", "milliohm ac"),
    IN_PARALLEL: ("p", "in parallel", "parallel"),
}
_LABELS = {spelling: label for label, spellings in _SPELLINGS.items() for spelling in spellings}
_UNIT = "|".join(re.escape(one) for one in sorted(_LABELS, key=len, reverse=True))
_QUANTITY = re.compile(rf"\s*(?P<number>\d+(?:[.,]\d+)?)\s*(?P<unit>{_UNIT})?\s*(?:/|$)")
_STROKE = re.compile(r"\s*(?:/|@|×|\*|\bat\b|\bx(?=\s*\d))\s*", re.IGNORECASE)
_APART = re.compile(r"\s*;\s*|,\s+|\s+and\s+|\s+(?=\d)")


class Quantity(NamedTuple):
    """A number as it was typed, with its unit's label; empty where none was typed."""

    number: float
    unit: str = ""

    def si(self, unit: str) -> float:
        """In SI, where it is of this unit unless it says otherwise."""
        return float(to_si(self.number, self.unit or unit))


class Typed(NamedTuple):
    """One fact as it was typed: its text, and its quantities where all of it can be read as such."""

    text: str
    quantities: tuple[Quantity, ...] = ()

    @property
    def units(self) -> tuple[str, ...]:
        """Of each quantity."""
        return tuple(item.unit for item in self.quantities)


def facts(text: str) -> list[Typed]:
    """The facts that a text names, one after another.

    Examples
    --------
    >>> [fact.quantities for fact in facts("81,2 V at 3 A, 74,5/120")]  # doctest: +NORMALIZE_WHITESPACE
    [(Quantity(number=81.2, unit='V'), Quantity(number=3.0, unit='A')),
     (Quantity(number=74.5, unit=''), Quantity(number=120.0, unit=''))]
    >>> [fact.units for fact in facts("2.1 mΩ, 4 in parallel")], facts("/250")
    ([('mohm', 'in parallel')], [Typed(text='/250', quantities=())])
    """
    found: list[Typed] = []
    for part in _APART.split(_STROKE.sub("/", text.strip())):
        quantities = _quantities(part)
        if found and quantities and [item.unit for item in quantities] == [IN_PARALLEL]:
            part, quantities = f"{found[-1].text}/{part}", found.pop().quantities + quantities
        if part:
            found.append(Typed(part, quantities))
    return found


def _quantities(part: str) -> tuple[Quantity, ...]:
    place, found, part = 0, [], part.lower()
    while match := _QUANTITY.match(part, place):
        found.append(Quantity(number(match["number"]), _LABELS.get(match["unit"] or "", "")))
        if match.end() == len(part):
            return () if part.endswith("/") else tuple(found)
        place = match.end()
    return ()


def number(text: str, unit: str = "") -> float:
    """A number as riders write it, with a point or a comma; the unit it is asked for in may follow.

    Raises
    ------
    ValueError
        Where it is none; the message says what was entered.

    Examples
    --------
    >>> number(" 81,5 "), number("20 ah", "Ah")
    (81.5, 20.0)
    """
    bare = re.sub(rf"(?<=\d)\s*{re.escape(unit)}\s*$", "", text, flags=re.IGNORECASE)
    try:
        value = float(bare.replace(",", ".")) if "_" not in bare else math.nan
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise ValueError(f"{quoted(text.strip(), 20)} is not a number.")
    return value


def accepted(spec: InputSpec, text: str, system: str, phase_as: str) -> float:
    """One number in the rider's unit, in the home unit.

    Raises
    ------
    ValueError
        Where it is no number or lies outside what the input accepts; the message says what was entered.
    """
    value = number(text, printed(spec.unit_shown(system)))
    low, high, _ = spec.bounds(system, phase_as)
    if not low <= value <= high:
        raise ValueError(f"{quoted(text.strip(), 20)} is too {'low' if value < low else 'high'}.")
    if spec.whole and value != round(value):
        raise ValueError(f"{quoted(text.strip(), 20)} is not a whole number.")
    return spec.held(value, system, phase_as)
