"""What rides say of a bike, as a small JSON file that anyone may read and write, and back. No Streamlit here.

The file's schema, version 1:

    {
     "headroom_rides": 1,
     "units": {"resistance": "ohm", "capacity_ah": "Ah", "drag_area": "m2", "pack_temperature": "K"},
     "rides": [
      {"date": "2026-05-01", "label": "Club day", "chemistry": "nmc", "cells": 24,
       "resistance": {"value": 0.0581, "half_width": 0.0009}, "capacity_ah": null,
       "drag_area": {"value": 0.51, "half_width": 0.02},
       "pack_temperature": 294.2, "temperature_logged": true, "charge_from": 0.93, "charge_to": 0.61,
       "log": "3f2a91c04be7d85510aa62f7"}
     ]
    }

"headroom_rides" is the version of the schema. "half_width" is half of a 95 % interval; null stands for what the
ride does not say. "resistance" is that of the pack 10 s into a discharge at 25 degrees C and half charge,
"drag_area" that of bike and rider. "pack_temperature" is the mean while current flowed; "temperature_logged" says
whether the log had it. Charges are from 0 to 1. "log" begins the SHA-256 of the log's file: two rides with the
same one are the same ride. The readings themselves are not kept. "units" is there for whoever reads the file and
plays no part when it is opened.

Reading never fails: what is sound is taken, and a plain sentence says what was changed or left out.
"""

from __future__ import annotations

import datetime
import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from explorer.inputs.spec import quoted
from explorer.state.json_files import RefusedError, content_of, few, is_number, items_of
from explorer.state.names import clean_name
from physics.components.cell import CHEMISTRY_KEYS
from physics.fitting.ride_values import Measured, RideValues
from physics.ridelog.report import counted

SCHEMA, VERSION, KIND = "headroom_rides", 1, "ride file"
LARGEST = 300_000
"""Bytes; a file of the most rides there may be is a third of that."""
MOST_RIDES = 200
LONGEST_LABEL = 40
UNITS = {"resistance": "ohm", "capacity_ah": "Ah", "drag_area": "m2", "pack_temperature": "K"}
MEASURED = {"resistance": (1e-4, 10.0), "capacity_ah": (0.1, 2000.0), "drag_area": (0.01, 5.0)}
"""Value to the least and the largest that is accepted, SI."""
_OTHERS = {"pack_temperature": (200.0, 400.0), "charge_from": (0.0, 1.0), "charge_to": (0.0, 1.0)}
SMALLEST_WIDTH = 1e-6
"""Half width over value; no measurement is better, and a narrower interval would have no ends of its own."""
_KEYS = {*MEASURED, *_OTHERS, "date", "label", "chemistry", "cells", "temperature_logged", "log"}
MOST_CELLS = 250
EARLIEST, LATEST = datetime.date(2000, 1, 1), datetime.date(2099, 12, 31)
_NOTHING = "Nothing was opened; the rides on the page are unchanged."


@dataclass(frozen=True)
class RideEntry:
    """One ride among others.

    Attributes
    ----------
    date : datetime.date
        When it was ridden.
    label : str
        The rider's name for it.
    log : str
        Begins the SHA-256 of the log's file; empty where there is none.
    chemistry, cells : str, int
        The pack's.
    says : RideValues
        Its values, SI.
    """

    date: datetime.date
    label: str
    log: str
    chemistry: str
    cells: int
    says: RideValues

    def same_as(self, other: RideEntry) -> bool:
        """Whether both are of one ride: of one log, or alike in everything."""
        return self.log == other.log if self.log and other.log else self == other


@dataclass
class OpenedRides:
    """What a file held.

    Attributes
    ----------
    rides : list of RideEntry
        Safe to use.
    sentences : list of str
        What was left out, or why nothing was opened.
    """

    rides: list[RideEntry] = field(default_factory=list)
    sentences: list[str] = field(default_factory=list)


def merged(
    held: Sequence[RideEntry], new: Iterable[RideEntry], *, newer: bool
) -> tuple[tuple[RideEntry, ...], list[str]]:
    """Rides beside those that are there, by date; of two of one ride one stays.

    Parameters
    ----------
    held : sequence of RideEntry
        Those that are there.
    new : iterable of RideEntry
        Those that come.
    newer : bool
        Whether the one that comes counts, as a log fitted again does; else the one that is there.

    Returns
    -------
    (tuple of RideEntry, list of str)
        The rides, and what is to be said about those that were left out.
    """
    rides, known, over = list(held), 0, 0
    for ride in new:
        twin = next((place for place, other in enumerate(rides) if other.same_as(ride)), None)
        if twin is not None:
            known += not newer
            rides[twin] = ride if newer else rides[twin]
        elif len(rides) >= MOST_RIDES:
            over += 1
        else:
            rides.append(ride)
    sentences = []
    if known:
        sentences.append(f"{counted(known, 'ride')} of the file {_was(known)} here already.")
    if over:
        sentences.append(f"There is room for {MOST_RIDES} rides; {over} more {_was(over)} left out.")
    return tuple(sorted(rides, key=lambda ride: (ride.date, ride.label, ride.log))), sentences


def _was(count: int) -> str:
    return "was" if count == 1 else "were"


def as_json(rides: Iterable[RideEntry]) -> str:
    """Rides as the text of a file.

    Parameters
    ----------
    rides : iterable of RideEntry
        In any order.
    """
    whole = {SCHEMA: VERSION, "units": UNITS, "rides": [_written(ride) for ride in rides]}
    return json.dumps(whole, indent=1, ensure_ascii=False, allow_nan=False)


def _written(ride: RideEntry) -> dict[str, Any]:
    values = ride.says

    def number(measured: Measured | None) -> dict[str, float] | None:
        return None if measured is None else {"value": measured.value, "half_width": measured.half_width}

    return {
        "date": ride.date.isoformat(),
        "label": ride.label,
        "chemistry": ride.chemistry,
        "cells": ride.cells,
        **{name: number(getattr(values, name)) for name in MEASURED},
        "pack_temperature": values.pack_temperature,
        "temperature_logged": values.temperature_logged,
        "charge_from": values.charge_from,
        "charge_to": values.charge_to,
        "log": ride.log,
    }


def from_bytes(data: bytes) -> OpenedRides:
    """The rides of a file.

    Parameters
    ----------
    data : bytes
        The file, whoever wrote it.

    Returns
    -------
    OpenedRides
    """
    try:
        content, sentences = content_of(data, SCHEMA, VERSION, KIND, LARGEST)
        listed, more = items_of(content, "rides", MOST_RIDES)
    except RefusedError as error:
        return OpenedRides(sentences=[f"{error} {_NOTHING}"])
    opened = OpenedRides(sentences=sentences)
    for number, item in enumerate(listed, 1):
        try:
            opened.rides.append(_taken(item, number))
            opened.sentences += [
                f"Ride {number} of the file holds {quoted(key)}, which this page does not know. It was left out."
                for key in item
                if key not in _KEYS
            ]
        except ValueError as error:
            opened.sentences.append(f"Ride {number} of the file {error}. It was left out.")
    opened.sentences += more
    if not opened.rides:
        opened.sentences.append(_NOTHING)
    opened.sentences = few(opened.sentences)
    return opened


def _taken(item: Any, number: int) -> RideEntry:
    """One ride of the file; a `ValueError` that goes on after "Ride 3 of the file" where it cannot be used."""
    if not isinstance(item, dict):
        raise ValueError("is not a table")
    when = item.get("date")
    if not isinstance(when, str) or not re.fullmatch(r"\d{4}-\d\d-\d\d", when, re.ASCII):
        raise ValueError("has no date such as 2026-05-01")
    try:
        date = datetime.date.fromisoformat(when)
    except ValueError:
        raise ValueError("has a date that no calendar has") from None
    if not EARLIEST <= date <= LATEST:
        raise ValueError(f"has a date outside {EARLIEST.year} to {LATEST.year}")
    chemistry, cells = item.get("chemistry"), item.get("cells")
    if chemistry not in CHEMISTRY_KEYS:
        raise ValueError(f"names no chemistry; accepted are {', '.join(CHEMISTRY_KEYS)}")
    if not isinstance(cells, int) or isinstance(cells, bool) or not 1 <= cells <= MOST_CELLS:
        raise ValueError(f"has no number of cells from 1 to {MOST_CELLS}")
    found = {name: _measured(name, item.get(name)) for name in MEASURED}
    if not any(found.values()):
        raise ValueError("holds neither resistance nor capacity nor drag area")
    others = {name: _other(name, item.get(name)) for name in _OTHERS}
    logged = item.get("temperature_logged")
    log = item.get("log")
    return RideEntry(
        date=date,
        label=clean_name(item.get("label"), f"Ride {number}", LONGEST_LABEL),
        log=log if isinstance(log, str) and re.fullmatch(r"[0-9a-f]{8,64}", log) else "",
        chemistry=str(chemistry),
        cells=cells,
        says=RideValues(
            found["resistance"],
            found["capacity_ah"],
            found["drag_area"],
            others["pack_temperature"],
            logged is True,
            others["charge_from"],
            others["charge_to"],
        ),
    )


def _measured(name: str, value: Any) -> Measured | None:
    if value is None:
        return None
    plain, (low, high) = name.removesuffix("_ah").replace("_", " "), MEASURED[name]
    number: Any = value.get("value") if isinstance(value, dict) else None
    width: Any = value.get("half_width") if isinstance(value, dict) else None
    if not is_number(number) or not low <= number <= high:
        raise ValueError(f"has a {plain} that is not a number from {low:g} to {high:g} {UNITS[name]}")
    if not is_number(width) or not SMALLEST_WIDTH * number <= width <= high:
        raise ValueError(f"has a {plain} whose half width is not a number above 0")
    return Measured(float(number), float(width))


def _other(name: str, value: Any) -> float | None:
    low, high = _OTHERS[name]
    if value is None:
        return None
    if not is_number(value) or not low <= value <= high:
        raise ValueError(f"has a {name.replace('_', ' ')} that is not a number from {low:g} to {high:g}")
    return float(value)
