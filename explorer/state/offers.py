"""What was entered of packs on offer, kept for the session and carried by link and file. No Streamlit here.

    packs=Strong:nmc:20:30:40:200:250:10:11.5:900   name, chemistry, cells, Ah, milliohm, A continuous, A peak, for
                                                    s, kg, price; blank where nothing was entered; rows part at ~

In a build file the same stands under "packs_on_offer", each with the names of FILE; a row without anything is null.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from explorer.state.names import clean_name
from physics.components.cell import CHEMISTRY_KEYS

OFFERS = "packs_on_offer:offers"
"""Key in the session: row to field to value, SI; "name" and "chemistry" are texts."""

Entries = dict[int, dict[str, Any]]

MOST = 3
LONGEST_NAME = 24
BOUNDS: dict[str, tuple[float, float]] = {
    "cells_in_series": (1, 250), "capacity_ah": (0.5, 2000), "resistance": (1e-4, 1.0),
    "continuous_current": (1, 5000), "peak_current": (1, 10000), "peak_time": (0.1, 600), "mass": (0.5, 500),
    "price": (0.0, 1e7),
}  # fmt: skip
"""Number to the least and the largest that is accepted, SI."""
FILE = {
    "cells_in_series": "cells", "capacity_ah": "capacity_ah", "resistance": "resistance_mohm",
    "continuous_current": "continuous_a", "peak_current": "peak_a", "peak_time": "peak_s", "mass": "mass_kg",
    "price": "price",
}  # fmt: skip
_SCALE = {"resistance": 1000.0}
_PARTING = str.maketrans(":~", "  ")


def named(text: object) -> str:
    """A name as it is kept: cleaned, without the signs that part a link's entries.

    Examples
    --------
    >>> named(" Strong~one:  20s ")
    'Strong one 20s'
    """
    return clean_name(str(text or "").translate(_PARTING), "", LONGEST_NAME)


def as_text(entries: Entries) -> str:
    """The rows for a link; empty where there is nothing in them.

    Examples
    --------
    >>> as_text({0: {"capacity_ah": 30.0, "resistance": 0.04}, 2: {"name": "Old", "chemistry": "lfp"}})
    ':::30:40:::::~:::::::::~Old:lfp::::::::'
    """
    rows = [_row(entries.get(place, {})) for place in range(MOST)]
    return "~".join(rows) if any(row.strip(":") for row in rows) else ""


def _row(own: Mapping[str, Any]) -> str:
    numbers = [f"{own[name] * _SCALE.get(name, 1.0):.10g}" if name in own else "" for name in BOUNDS]
    return ":".join([own.get("name", ""), own.get("chemistry", ""), *numbers])


def from_text(text: str) -> Entries:
    """The rows of a link; a `ValueError` where they are damaged."""
    rows = text.split("~") if text else []
    if len(rows) > MOST:
        raise ValueError
    found: Entries = {}
    for place, row in enumerate(rows):
        name, kind, *numbers = row.split(":")
        if any("_" in part for part in numbers):  # which a float's text may hold
            raise ValueError
        held = {key: float(part) for key, part in zip(BOUNDS, numbers, strict=True) if part}
        if own := _checked(name, kind, held):
            found[place] = own
    return found


def as_list(entries: Entries) -> list[dict[str, Any] | None]:
    """The rows for a file."""
    found: list[dict[str, Any] | None] = []
    for place in range(MOST):
        own = entries.get(place, {})
        texts = {key: own[key] for key in ("name", "chemistry") if own.get(key)}
        numbers = {FILE[key]: own[key] * _SCALE.get(key, 1.0) for key in BOUNDS if key in own}
        found.append(texts | numbers or None)
    return found


def from_list(rows: object) -> Entries:
    """The rows of a file; a `ValueError` where they are damaged."""
    if not isinstance(rows, list) or len(rows) > MOST:
        raise ValueError
    found: Entries = {}
    for place, row in enumerate(rows):
        if row is None:
            continue
        if not isinstance(row, dict) or not set(row) <= {"name", "chemistry", *FILE.values()}:
            raise ValueError
        numbers = {key: row[FILE[key]] for key in BOUNDS if FILE[key] in row}
        if any(isinstance(value, bool) or not isinstance(value, int | float) for value in numbers.values()):
            raise ValueError
        if any(abs(value) > 1e300 for value in numbers.values()):
            raise ValueError
        if own := _checked(row.get("name", ""), row.get("chemistry", ""), numbers):
            found[place] = own
    return found


def _checked(name: object, kind: object, numbers: Mapping[str, float]) -> dict[str, Any]:
    """One row in SI, each number inside what is accepted."""
    if not isinstance(name, str) or not isinstance(kind, str) or kind not in ("", *CHEMISTRY_KEYS):
        raise ValueError
    own: dict[str, Any] = {"name": named(name)} if named(name) else {}
    if kind:
        own["chemistry"] = kind
    for key, number in numbers.items():
        (low, high), value = BOUNDS[key], float(number) / _SCALE.get(key, 1.0)
        if not (math.isfinite(value) and low * (1 - 1e-9) <= value <= high * (1 + 1e-9)):
            raise ValueError
        own[key] = min(max(value, low), high)
    return own
