"""The table into which the rider enters the speedometer's readings, kept for the session."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd
import streamlit as st

from explorer.format import UnitFormatter
from explorer.questions.speedometer import words
from explorer.state.link_entries import READINGS
from explorer.state.readings import HIGHEST, LOWEST, MOST, Reading, are_invented, invented
from explorer.state.state import current

KEY = "speedometer"
FEWEST, SPARE = 5, 2
"""Rows of the table, and empty rows after the last reading."""


def readings() -> list[Reading]:
    """Every row of the table; until something is entered, invented ones in the rider's units."""
    if READINGS not in st.session_state or are_invented(st.session_state[READINGS]):
        st.session_state[READINGS] = invented(current().units)
    return st.session_state[READINGS]


def clear() -> None:
    """Empty the table."""
    st.session_state[READINGS] = []


def edit(fmt: UnitFormatter) -> None:
    """Draw the table; what is entered is kept at once."""
    frame = as_table(readings(), fmt)
    # a new table wherever its start differs: what was entered before stands in the start
    key = f"{KEY}_readings_{abs(hash(frame.to_csv()))}"
    low, high = (float(fmt.number("speed", bound)) for bound in (LOWEST, HIGHEST))
    columns = {
        name: st.column_config.NumberColumn(min_value=round(low, 1), max_value=round(high, 1), format="%.1f")
        for name in frame.columns
    }
    st.data_editor(
        frame,
        key=key,
        hide_index=True,
        column_config=columns,
        on_change=_entered,
        args=(key, fmt),
        placeholder="",
        alt=words.READINGS_ALT,
    )


def as_table(rows: list[Reading], fmt: UnitFormatter) -> pd.DataFrame:
    """The readings as the rider sees them, with empty rows to go on in."""
    count = min(max(FEWEST, len(rows) + SPARE), MOST)
    padded = [*rows, *[(None, None)] * (count - len(rows))]

    def cell(value: float | None) -> float:
        return math.nan if value is None else round(float(fmt.number("speed", value)), 4)

    columns = zip(words.reading_columns(fmt), zip(*padded, strict=True), strict=True)
    return pd.DataFrame({name: [cell(value) for value in values] for name, values in columns}, dtype=float)


def _entered(key: str, fmt: UnitFormatter) -> None:
    st.session_state[READINGS] = take(readings(), st.session_state[key]["edited_rows"], fmt)


def take(rows: list[Reading], edits: dict[int, dict[str, Any]], fmt: UnitFormatter) -> list[Reading]:
    """The rows after what was entered.

    Parameters
    ----------
    rows : list of Reading
        As they stood.
    edits : dict
        Row to column to value, as the table gives them.
    fmt : UnitFormatter
        The rider's units.

    Returns
    -------
    list of Reading
        Without empty rows at the end.
    """
    result = [list(row) for row in rows]
    for row, cells in edits.items():
        if not 0 <= int(row) < MOST:
            continue
        while len(result) <= int(row):
            result.append([None, None])
        for column, value in cells.items():
            result[int(row)][0 if str(column).startswith("indicated") else 1] = _accepted(value, fmt)
    while result and result[-1] == [None, None]:
        result.pop()
    return [(shown, true) for shown, true in result]


def _accepted(value: Any, fmt: UnitFormatter) -> float | None:
    try:
        speed = float(fmt.si("speed", float(value)))
    except (TypeError, ValueError):
        return None
    return speed if math.isfinite(speed) and LOWEST <= speed <= HIGHEST else None
