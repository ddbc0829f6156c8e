"""The speedometer's readings: pairs of speeds the rider enters into a table, kept for the session in m/s."""

from __future__ import annotations

import math

import pandas as pd
import streamlit as st

from explorer.format import UnitFormatter

KEY = "speedometer"
_KEPT = f"{KEY}:readings"
FEWEST, SPARE, MOST = 5, 2, 30
LOWEST, HIGHEST = 0.3, 150.0
"""m/s: what a cell of the table accepts."""
INVENTED = ((41.0, 39.1), (60.0, 57.4), (82.0, 78.2), (101.0, 96.6))
"""Indicated and measured, km/h, to show how it works. Invented."""


def readings() -> list[tuple[float | None, float | None]]:
    """Every row of the table, m/s; None where nothing was entered."""
    if _KEPT not in st.session_state:
        st.session_state[_KEPT] = [(shown / 3.6, true / 3.6) for shown, true in INVENTED]
    return st.session_state[_KEPT]


def whole(rows) -> list[tuple[float, float]]:
    """The rows in which both speeds were entered."""
    return [(shown, true) for shown, true in rows if shown is not None and true is not None]


def are_invented() -> bool:
    """Whether the table still holds the readings it began with."""
    return readings() == [(shown / 3.6, true / 3.6) for shown, true in INVENTED]


def clear() -> None:
    """Empty the table."""
    st.session_state[_KEPT] = []


def edit(fmt: UnitFormatter) -> None:
    """Draw the table; what is entered is kept at once."""
    rows = readings()
    frame = as_table(rows, fmt)
    # a new table wherever its start differs: what was entered before stands in the start
    key = f"{KEY}_readings_{abs(hash(frame.to_csv()))}"
    low, high = (float(fmt.number("speed", bound)) for bound in (LOWEST, HIGHEST))
    columns = {
        name: st.column_config.NumberColumn(min_value=round(low, 1), max_value=round(high, 1), format="%.1f")
        for name in frame.columns
    }
    st.data_editor(
        frame, key=key, hide_index=True, column_config=columns, on_change=_entered, args=(key, fmt),
        placeholder="", alt="Readings of the speedometer: indicated and measured speed.",
    )  # fmt: skip


def as_table(rows, fmt: UnitFormatter) -> pd.DataFrame:
    """The readings as the rider sees them, with empty rows to go on in."""
    count = min(max(FEWEST, len(rows) + SPARE), MOST)
    padded = [*rows, *[(None, None)] * (count - len(rows))]

    def cell(value):
        return math.nan if value is None else round(float(fmt.number("speed", value)), 4)

    unit = fmt.unit("speed")
    return pd.DataFrame(
        {
            f"indicated, {unit}": [cell(shown) for shown, _ in padded],
            f"measured, {unit}": [cell(true) for _, true in padded],
        },
        dtype=float,
    )


def _entered(key: str, fmt: UnitFormatter) -> None:
    st.session_state[_KEPT] = take(readings(), st.session_state[key]["edited_rows"], fmt)


def take(rows, edits: dict, fmt: UnitFormatter) -> list[tuple[float | None, float | None]]:
    """The rows after what was entered.

    Parameters
    ----------
    rows : list of (indicated, measured)
        m/s or None.
    edits : dict
        Row to column to value, as the table gives them.
    fmt : UnitFormatter
        The rider's units.

    Returns
    -------
    list of (indicated, measured)
        Without empty rows at the end.
    """
    made = [list(row) for row in rows]
    for row, cells in edits.items():
        if not 0 <= int(row) < MOST:
            continue
        while len(made) <= int(row):
            made.append([None, None])
        for column, value in cells.items():
            made[int(row)][0 if str(column).startswith("indicated") else 1] = _accepted(value, fmt)
    while made and made[-1] == [None, None]:
        made.pop()
    return [tuple(row) for row in made]


def _accepted(value, fmt: UnitFormatter) -> float | None:
    try:
        speed = float(fmt.si("speed", float(value)))
    except (TypeError, ValueError):
        return None
    return speed if math.isfinite(speed) and LOWEST <= speed <= HIGHEST else None
