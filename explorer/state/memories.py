"""What a session keeps of remembered facts, and of the values they were last given for. No Streamlit here.

    facts=v:115::r:100:6:3:12:56   kind, value, at, how sure, charge, temperature, level, front and rear teeth
    were=kv:62:60.5                input, its value before the facts were applied (blank: not given), and since

Speeds are km/h, charge and throttle percent, temperatures degrees C. SI inside.
"""

from __future__ import annotations

import math
from dataclasses import astuple, dataclass
from typing import Any

from explorer.inputs.catalogue import INPUTS
from explorer.inputs.power_levels import LEVELS
from physics.fitting.recollection import (
    CUT_OUT,
    FRONT_LIGHT,
    HELD,
    KINDS,
    LOADED_VOLTAGE,
    TIME_TO_SPEED,
    TOP_SPEED,
)
from physics.units import from_si, to_si

MEMORIES, WERE = "remembered:facts", "remembered:were"
MOST = 12
NOTED, REMEMBERED, VAGUE = "noted", "remembered", "vague"
SURE = (NOTED, REMEMBERED, VAGUE)
QUANTITIES: dict[str, tuple[str, str]] = {
    TOP_SPEED: ("speed", ""), TIME_TO_SPEED: ("time", "speed"), CUT_OUT: ("time", "current"),
    HELD: ("time", "current"), FRONT_LIGHT: ("share", ""), LOADED_VOLTAGE: ("voltage", "current"),
}  # fmt: skip
"""Kind of fact to the quantities of its value and of what it was observed at; none where that has no use."""
COLDEST, WARMEST = 243.15, 323.15
"""K: what may be entered."""
NOT_GIVEN = ""
Were = dict[str, tuple[Any, Any]]
"""Input to its value before the facts were applied, NOT_GIVEN for none of the rider's, and what they made of it."""

_LETTERS = dict(zip(KINDS, "vtchfu", strict=True))
_HOME = {"speed": "km/h", "time": "s", "current": "A", "share": "%", "voltage": "V", "": "1"}


@dataclass(frozen=True)
class Memory:
    """One row of the table; None where nothing was entered. SI; what has no kind yet is as it was entered.

    Attributes
    ----------
    kind, sure, level : str
        One of KINDS, or empty; one of SURE; one of LEVELS.
    value, at : float or None
        What came out, and at what it was observed.
    charge, temperature : float or None
        0 to 1, and K of pack and air.
    front, rear : int or None
        Teeth.
    """

    kind: str = ""
    value: float | None = None
    at: float | None = None
    sure: str = REMEMBERED
    charge: float | None = None
    temperature: float | None = None
    level: str = ""
    front: int | None = None
    rear: int | None = None

    @property
    def empty(self) -> bool:
        """Whether nothing was entered."""
        return not self.kind and self.value is None and self.at is None

    @property
    def quantities(self) -> tuple[str, str]:
        """Of value and at."""
        return QUANTITIES.get(self.kind, ("", ""))

    @property
    def complete(self) -> bool:
        """Whether it says all that a fact needs."""
        named = bool(self.kind) and self.value is not None and None not in astuple(self)[4:]
        return named and (self.at is not None or not self.quantities[1])


def as_text(rows: list[Memory]) -> str:
    """The rows for a link.

    Examples
    --------
    >>> as_text([Memory(TOP_SPEED, 10.0, None, VAGUE, 1.0, 293.15, "3", 12, 56)])
    'v:36::v:100:20:3:12:56'
    """
    return "_".join(":".join(_parts(row)) for row in rows)


def _parts(row: Memory) -> list[str]:
    value, at = (_HOME[quantity] for quantity in row.quantities)
    numbers = ((row.value, value), (row.at, at), (row.charge, "%"), (row.temperature, "degC"), (row.front, "1"),
               (row.rear, "1"))  # fmt: skip
    texts = ["" if number is None else f"{from_si(number, unit):.8g}" for number, unit in numbers]
    return [_LETTERS.get(row.kind, ""), *texts[:2], row.sure[0], *texts[2:4], row.level, *texts[4:]]


def from_text(text: str) -> list[Memory]:
    """The rows of a link; a `ValueError` or `KeyError` where they are damaged."""
    return [_row(part) for part in text.split("_")[:MOST]] if text else []


def _row(text: str) -> Memory:
    letter, value, at, sure, charge, temperature, level, front, rear = text.split(":")
    kind = {sign: kind for kind, sign in _LETTERS.items()}[letter] if letter else ""
    if level not in ("", *LEVELS):
        raise ValueError
    quantities = QUANTITIES.get(kind, ("", ""))
    row = Memory(
        kind,
        _number(value, _HOME[quantities[0]]),
        _number(at, _HOME[quantities[1]]),
        {word[0]: word for word in SURE}[sure],
        _number(charge, "%"),
        _number(temperature, "degC"),
        level,
        *(None if number is None else round(number) for number in (_number(front, "1"), _number(rear, "1"))),
    )
    if problem(row):
        raise ValueError
    return row


def _number(text: str, unit: str) -> float | None:
    if not text:
        return None
    value = float(to_si(float(text), unit))
    if not math.isfinite(value):
        raise ValueError
    return value


def problem(row: Memory) -> str:
    """Which field of a row holds what is not accepted; empty where all is well."""
    kind = KINDS.get(row.kind)
    bounds: dict[str, tuple[float, float]] = {
        "charge": (0.0, 1.0), "temperature": (COLDEST, WARMEST),
        "front": (INPUTS["front_teeth"].low, INPUTS["front_teeth"].high),
        "rear": (INPUTS["rear_teeth"].low, INPUTS["rear_teeth"].high),
    }  # fmt: skip
    if kind is not None:
        bounds["value"] = kind.low, kind.high
        if kind.at_low is not None and kind.at_high is not None:
            bounds["at"] = kind.at_low, kind.at_high
    for name, (low, high) in bounds.items():
        given = getattr(row, name)
        if given is not None and not low * (1 - 1e-9) <= given <= high * (1 + 1e-9):
            return name
    return ""


def were_as_text(were: Were) -> str:
    """Values before and since, for a link; a sign of its own parts them, as keys of inputs hold the usual one.

    Examples
    --------
    >>> were_as_text({"drag_area": (NOT_GIVEN, 0.52), "kv": (62.0, 60.5)})
    'drag_area::0.52~kv:62:60.5'
    """
    return "~".join(f"{key}:{_plain(before)}:{_plain(since)}" for key, (before, since) in were.items())


def _plain(value: float | str | None) -> str:
    return "off" if value is None else value if isinstance(value, str) else f"{value:.8g}"


def were_from_text(text: str) -> Were:
    """Values before and since, from a link; a `ValueError` or `KeyError` where they are damaged."""
    found: Were = {}
    for part in text.split("~") if text else []:
        key, *texts = part.split(":")
        before, since = (NOT_GIVEN if each == NOT_GIVEN else _cleaned(key, each) for each in texts)
        if since == NOT_GIVEN:
            raise ValueError
        found[key] = before, since
    return found


def _cleaned(key: str, text: str) -> Any:
    value, sentence = INPUTS[key].clean(text)
    if sentence or INPUTS[key].kind not in ("number", "optional", "text"):
        raise ValueError
    return value
