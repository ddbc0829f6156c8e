"""The packs on offer: a table of three to fill in, kept for the session, and the offers it makes."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import pandas as pd
import streamlit as st

from explorer.format import UnitFormatter
from explorer.page.page import Page
from explorer.questions.packs_on_offer import compared
from physics.studies.packs_on_offer import Offer

KEY = "packs_on_offer"
_KEPT = f"{KEY}:offers"
ROWS = ("A", "B", "C")
"""What the packs are called until they are named."""


class _Column(NamedTuple):
    """A column: its heading, its least and its largest number, the formatter's quantity where it has one."""

    heading: str
    low: float
    high: float
    quantity: str = ""


_COLUMNS = {
    "cells_in_series": _Column("cells in series", 1, 250),
    "capacity_ah": _Column("Ah", 0.5, 2000),
    "resistance": _Column("mΩ", 0.1, 1000, "resistance"),
    "continuous_current": _Column("A continuous", 1, 5000),
    "peak_current": _Column("A peak", 1, 10000),
    "peak_time": _Column("peak for, s", 0.1, 600),
    "mass": _Column("mass", 0.5, 500, "mass"),
    "price": _Column("price", 0.0, 1e7),
}


def offers(page: Page) -> tuple[Offer, ...]:
    """The offers that were entered: those with amp-hours."""
    return made(st.session_state.get(_KEPT, {}), page.build.pack.cells_in_series)


def made(entries: dict[int, dict[str, Any]], cells: int) -> tuple[Offer, ...]:
    """Offers of what was entered.

    Parameters
    ----------
    entries : dict
        Row to field to value, SI; see `take`.
    cells : int
        In series, where an offer does not say.

    Returns
    -------
    tuple of Offer
        A row without amp-hours is none. A peak below the continuous current is taken as that.
    """
    found = []
    for row, name in enumerate(ROWS):
        own = entries.get(row, {})
        if "capacity_ah" not in own:
            continue
        continuous = own.get("continuous_current", math.inf)
        peak = own.get("peak_current", math.inf)
        if math.isfinite(continuous):
            peak = max(peak, continuous)
        found.append(
            Offer(
                own.get("name") or f"Pack {name}",
                round(own.get("cells_in_series", cells)),
                own["capacity_ah"],
                own.get("resistance"),
                continuous,
                peak,
                own.get("peak_time", 10.0),
                own.get("mass"),
                own.get("price"),
            )
        )
    return tuple(found)


def edit(page: Page) -> None:
    """The table."""
    entries = st.session_state.setdefault(_KEPT, {})
    frame = as_table(entries, page.fmt)
    key = f"{KEY}_table_{abs(hash(frame.to_csv()))}"  # a new one wherever its start differs
    headings = headings_of(page.fmt)
    numbers = {
        headings[name]: st.column_config.NumberColumn(
            min_value=_shown(column, _held(column, column.low), page.fmt),
            max_value=_shown(column, _held(column, column.high), page.fmt),
        )
        for name, column in _COLUMNS.items()
    }
    st.data_editor(
        frame,
        key=key,
        hide_index=True,
        placeholder="",
        on_change=lambda: take(entries, st.session_state[key]["edited_rows"], page.fmt),
        column_config={
            compared.NAME: st.column_config.TextColumn(max_chars=24),
            **numbers,
        },
    )
    st.caption(compared.ENTER)


def headings_of(fmt: UnitFormatter) -> dict[str, str]:
    """Field to heading, in the rider's units."""
    return {
        name: f"{column.heading}, {fmt.unit('mass')}" if column.quantity == "mass" else column.heading
        for name, column in _COLUMNS.items()
    }


def as_table(entries: dict[int, dict[str, Any]], fmt: UnitFormatter) -> pd.DataFrame:
    """What was entered, in the rider's units."""
    headings, rows = headings_of(fmt), []
    for row, name in enumerate(ROWS):
        own = entries.get(row, {})
        numbers = {
            headings[field]: _shown(column, own[field], fmt) if field in own else None
            for field, column in _COLUMNS.items()
        }
        rows.append({compared.NAME: own.get("name", f"Pack {name}")} | numbers)
    return pd.DataFrame(rows).astype(dict.fromkeys(headings.values(), float))


def take(entries: dict[int, dict[str, Any]], edits: dict[Any, dict[str, Any]], fmt: UnitFormatter) -> None:
    """Put what was entered into the entries.

    Parameters
    ----------
    entries : dict
        Row to field to value, SI; changed in place.
    edits : dict
        Row to heading to value, as the table gives them.
    fmt : UnitFormatter
        The rider's units.
    """
    fields = {heading: name for name, heading in headings_of(fmt).items()}
    for row, cells in edits.items():
        own = entries.setdefault(int(row), {})
        for heading, value in cells.items():
            if heading == compared.NAME:
                own["name"] = str(value or "").strip()[:24]
                continue
            field, column = fields[heading], _COLUMNS[fields[heading]]
            if value is None or not math.isfinite(float(value)):
                own.pop(field, None)
                continue
            number = float(fmt.si(column.quantity, value)) if column.quantity else float(value)
            low, high = (_held(column, end) for end in (column.low, column.high))
            own[field] = min(max(number, low), high)


def _shown(column: _Column, value: float, fmt: UnitFormatter) -> float:
    """SI to the rider's unit."""
    if not column.quantity:
        return float(value)
    return round(float(fmt.number(column.quantity, value)), 2)


def _held(column: _Column, end: float) -> float:
    """An end of a column in SI: milliohm and kilograms are its home units."""
    return end / 1000.0 if column.quantity == "resistance" else end
