"""The packs on offer: a table of three to fill in, kept for the session, and the offers it makes."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import pandas as pd
import streamlit as st

from explorer.format import UnitFormatter
from explorer.page.page import Page
from explorer.questions.packs_on_offer import compared
from explorer.state.offers import BOUNDS, LONGEST_NAME, OFFERS, named
from physics.components.cell import CHEMISTRY_KEYS, chemistry
from physics.studies.packs_on_offer import Offer

KEY = "packs_on_offer"
ROWS = ("A", "B", "C")
"""What the packs are called until they are named."""


class _Column(NamedTuple):
    """A column: its heading, and the formatter's quantity where it has one."""

    heading: str
    quantity: str = ""


CHEMISTRY = "chemistry"
_KINDS = {key: chemistry(key).name for key in CHEMISTRY_KEYS}
_COLUMNS = {
    "cells_in_series": _Column("cells in series"),
    "capacity_ah": _Column("Ah"),
    "resistance": _Column("mΩ", "resistance"),
    "continuous_current": _Column("A continuous"),
    "peak_current": _Column("A peak"),
    "peak_time": _Column("peak for, s"),
    "mass": _Column("mass", "mass"),
    "price": _Column("price"),
}


def offers(page: Page) -> tuple[Offer, ...]:
    """The offers that were entered: those with amp-hours."""
    return made(st.session_state.get(OFFERS, {}), page.build.pack.cells_in_series)


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
                own.get("chemistry", ""),
            )
        )
    return tuple(found)


def edit(page: Page) -> None:
    """The table."""
    entries = st.session_state.setdefault(OFFERS, {})
    frame = as_table(entries, page.fmt)
    key = f"{KEY}_table_{abs(hash(frame.to_csv()))}"  # a new one wherever its start differs
    headings = headings_of(page.fmt)
    numbers = {
        headings[name]: st.column_config.NumberColumn(
            min_value=_shown(column, BOUNDS[name][0], page.fmt),
            max_value=_shown(column, BOUNDS[name][1], page.fmt),
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
            compared.NAME: st.column_config.TextColumn(max_chars=LONGEST_NAME),
            CHEMISTRY: st.column_config.SelectboxColumn(options=list(_KINDS.values())),
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
        kind = {CHEMISTRY: _KINDS.get(own.get("chemistry", ""))}
        rows.append({compared.NAME: own.get("name", f"Pack {name}")} | kind | numbers)
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
                own["name"] = named(value)
                continue
            if heading == CHEMISTRY:
                kinds = {label: key for key, label in _KINDS.items()}
                own |= {"chemistry": kinds[value]} if value in kinds else {}
                if value not in kinds:
                    own.pop("chemistry", None)
                continue
            field, column = fields[heading], _COLUMNS[fields[heading]]
            if value is None or not math.isfinite(float(value)):
                own.pop(field, None)
                continue
            number = float(fmt.si(column.quantity, value)) if column.quantity else float(value)
            low, high = BOUNDS[field]
            own[field] = min(max(number, low), high)


def _shown(column: _Column, value: float, fmt: UnitFormatter) -> float:
    """SI to the rider's unit."""
    if not column.quantity:
        return float(value)
    return round(float(fmt.number(column.quantity, value)), 2)
