"""The quantities a ride log may hold, their units and the words by which a column is known.

A frame that has been read carries these names as columns, each in SI except the two angles, whose names say
degrees.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from physics import units

TIME_TEXT = ("ISO 8601", "clock", "hhmmss")
"""Times that are more than a number of one unit."""
DATE_WORDS = {"date", "datum", "fecha"}


@dataclass(frozen=True)
class Quantity:
    """One thing a log may hold.

    Parameters
    ----------
    name : str
        Column name in a frame that has been read.
    unit : str
        Unit in that frame.
    accepted : tuple of str
        Units it may come in; the first is taken when neither name nor numbers say.
    low, high : float
        Values outside are taken as faults of the logger, in `unit`.
    words : tuple of sets of str
        A column whose name holds all the words of one set is taken for this quantity.
    """

    name: str
    unit: str
    accepted: tuple[str, ...]
    low: float
    high: float
    words: tuple[frozenset[str], ...]


def _quantity(name: str, unit: str, accepted: tuple[str, ...], low: float, high: float, words: Any) -> Quantity:
    return Quantity(name, unit, accepted, low, high, tuple(frozenset(w.split()) for w in words))


_TEMPERATURES = ("degC", "degF", "K")
HOT = ("temp", "temperature", "temperatur")
_CURRENT = ("current", "amps", "amp", "ampere", "strom", "corriente", "courant")

# The order matters: the first quantity whose words fit takes the column.
QUANTITIES: dict[str, Quantity] = {
    q.name: q
    for q in (
        _quantity("latitude_deg", "deg", ("deg",), -90.0, 90.0, ("latitude", "lat")),
        _quantity("longitude_deg", "deg", ("deg",), -180.0, 180.0, ("longitude", "lon", "lng", "long")),
        _quantity("altitude", "m", ("m", "ft"), -500.0, 9000.0, ("altitude", "elevation", "height", "ele", "alt")),
        _quantity("throttle", "1", ("%", "1"), -0.2, 1.5, ("throttle", "accelerator", "gas")),
        _quantity(
            "motor_temperature",
            "K",
            _TEMPERATURES,
            200.0,
            650.0,
            [f"{a} {b}" for a in ("motor", "winding", "stator") for b in HOT],
        ),
        _quantity(
            "controller_temperature",
            "K",
            _TEMPERATURES,
            200.0,
            500.0,
            [f"{a} {b}" for a in ("controller", "inverter", "mosfet", "fet", "heatsink") for b in HOT],
        ),
        _quantity(
            "pack_temperature",
            "K",
            _TEMPERATURES,
            200.0,
            450.0,
            [f"{a} {b}" for a in ("pack", "battery", "cell", "batt") for b in HOT],
        ),
        _quantity(
            "motor_speed",
            "rad/s",
            ("rpm", "rad/s", "electrical rpm"),
            -1e4,
            1e4,
            ("motor speed", "motor rpm", "motor rev", "rpm", "erpm", "revs", "drehzahl"),
        ),
        _quantity(
            "phase_current", "A", ("A", "mA"), -5e3, 5e3, [f"{a} {b}" for a in ("phase", "motor") for b in _CURRENT]
        ),
        _quantity("line_current", "A", ("A", "mA"), -5e3, 5e3, _CURRENT),
        _quantity(
            "pack_voltage",
            "V",
            ("V", "mV"),
            -1.0,
            1500.0,
            ("voltage", "volts", "volt", "vbat", "spannung", "tension"),
        ),
        _quantity(
            "speed",
            "m/s",
            ("km/h", "mph", "m/s", "knot"),
            -1.0,
            150.0,
            (
                "speed",
                "velocity",
                "kmh",
                "kph",
                "kmph",
                "mph",
                "geschwindigkeit",
                "geschw",
                "vitesse",
                "velocidad",
                "velocità",
                "velocita",
            ),
        ),
        _quantity(
            "time",
            "s",
            ("s", "ms", "us", "ns", "min", "h", "day", *TIME_TEXT),
            -np.inf,
            np.inf,
            (
                "time",
                "timestamp",
                "datetime",
                "elapsed",
                "seconds",
                "millis",
                "milliseconds",
                "uptime",
                "micros",
                "zeit",
                "uhrzeit",
                "zeitstempel",
                "temps",
                "heure",
                "horodatage",
                "tiempo",
                "hora",
                "tempo",
                "ora",
                "orario",
                "hhmmss",
                "utc",
                "clock",
                "t",
                "sec",
                "ms",
                *DATE_WORDS,
            ),
        ),
    )
}

# Names with these words are other things than they look like: a single cell, the 12 V side, energy, a set value.
OTHER_THINGS = {
    "power",
    "energy",
    "aux",
    "12v",
    "charger",
    "limit",
    "setpoint",
    "target",
    "max",
    "min",
    "avg",
    "average",
}

# Factors beyond the package's unit table. The international knot is 1852 m/h exactly (NIST SP 811, 2008, B.8).
_EXTRA_FACTOR = {
    ("knot", "m/s"): 1852.0 / 3600.0,
    ("mA", "A"): 1e-3,
    ("us", "s"): 1e-6,
    ("ns", "s"): 1e-9,
    ("day", "s"): 86400.0,
    ("deg", "deg"): 1.0,
    ("ISO 8601", "s"): 1.0,
    ("clock", "s"): 1.0,
    ("hhmmss", "s"): 1.0,
}

_SPELLINGS = {
    "km/h": "km/h kmh kph kmph kmh-1",
    "mph": "mph mi/h",
    "m/s": "m/s mps ms-1",
    "knot": "knot knots kn kt kts",
    "V": "v volt volts vdc",
    "mV": "mv millivolt",
    "A": "a amp amps ampere amperes adc",
    "mA": "ma milliamp",
    "rpm": "rpm 1/min min-1 u/min r/min rev/min",
    "rad/s": "rad/s rads",
    "electrical rpm": "erpm",
    "degC": "c degc °c celsius ºc",
    "degF": "f degf °f fahrenheit ºf",
    "K": "k kelvin",
    "%": "% percent pct",
    "m": "m metre metres meter meters",
    "ft": "ft feet foot",
    "s": "s sec secs second seconds sekunden secondes segundos secondi",
    "min": "min minutes",
    "ms": "ms msec millis millisecond milliseconds",
    "us": "us µs μs usec micros microseconds",
    "ns": "ns nsec nanos nanoseconds",
    "h": "h hr hour hours",
    "deg": "deg ° degree degrees",
    "1": "1 0..1 0-1 fraction",
    "day": "day days",
    "ISO 8601": "iso iso8601",
}
UNIT_OF_SPELLING = {spelling: label for label, all_of in _SPELLINGS.items() for spelling in all_of.split()}


def factor_to_si(quantity: str | None, unit: str | None, pole_pairs: int | None = None) -> tuple[float, float]:
    """Return the offset and factor that bring a quantity into the frame: (value + offset) x factor.

    Parameters
    ----------
    quantity : str
        One of `QUANTITIES`.
    unit : str
        One of its accepted units.
    pole_pairs : int, optional
        Needed for "electrical rpm".

    Returns
    -------
    tuple of float
        Offset, in the unit given, and factor.

    Raises
    ------
    ValueError
        When quantity or unit is not known, or electrical rpm comes without pole pairs.

    Examples
    --------
    >>> round(factor_to_si("speed", "knot")[1], 6)
    0.514444
    """
    held = QUANTITIES.get(quantity or "")
    if held is None:
        raise ValueError(f"No quantity is called {quantity!r}; accepted are {', '.join(QUANTITIES)}.")
    if unit is None or unit not in held.accepted:
        raise ValueError(f"{quantity} cannot be read in {unit!r}; accepted are {', '.join(held.accepted)}.")
    if unit == "electrical rpm":
        if pole_pairs is None or not pole_pairs >= 1:
            raise ValueError("Electrical rpm needs the motor's pole pairs, 1 or more.")
        return 0.0, units.unit("rpm").factor / pole_pairs
    if (unit, held.unit) in _EXTRA_FACTOR:
        return 0.0, _EXTRA_FACTOR[unit, held.unit]
    row = units.unit(unit)
    return row.offset, row.factor
