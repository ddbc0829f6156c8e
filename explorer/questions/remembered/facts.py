"""The table into which the rider writes what he remembers, kept for the session and in the link."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pandas as pd
import streamlit as st

from explorer.format import UnitFormatter
from explorer.inputs.power_levels import LEVELS, levels
from explorer.inputs.to_build import charge_of, rest_voltage_of
from explorer.page.page import Page
from explorer.questions.remembered import words
from explorer.state.memories import MEMORIES, MOST, REMEMBERED, SURE, Memory, problem
from explorer.state.state import CHARGE_AS, current

KEY = "remembered"
FEWEST, SPARE = 4, 2
"""Rows of the table, and empty rows after the last fact."""
_REFUSED = f"{KEY}:refused"


def memories() -> list[Memory]:
    """Every row of the table."""
    return st.session_state.setdefault(MEMORIES, [])


def clear() -> None:
    """Empty the table."""
    st.session_state[MEMORIES] = []


def edit(page: Page) -> None:
    """Draw the table; what is entered is kept at once, what cannot be is said."""
    by_voltage = current().charge_as == CHARGE_AS[1]
    frame = as_table(memories(), page, by_voltage)
    # a new table wherever its start differs: what was entered before stands in the start
    key = f"{KEY}_facts_{abs(hash(frame.to_csv()))}"
    charge, temperature = words.condition_columns(page.fmt, by_voltage)
    st.data_editor(
        frame,
        key=key,
        hide_index=True,
        column_config={
            words.WHAT: st.column_config.SelectboxColumn(options=list(words.kinds(page.fmt).values()), width=250),
            words.VALUE: st.column_config.NumberColumn(format="%g"),
            words.AT: st.column_config.NumberColumn(format="%g", help=words.AT_HELP),
            words.SURE: st.column_config.SelectboxColumn(options=list(SURE), help=words.SURE_HELP),
            charge: st.column_config.NumberColumn(format="%.1f" if by_voltage else "%.0f", help=words.THEN_HELP),
            temperature: st.column_config.NumberColumn(format="%.0f", help=words.THEN_HELP),
            words.LEVEL: st.column_config.SelectboxColumn(options=list(levels(page.inputs))),
            words.FRONT: st.column_config.NumberColumn(format="%d"),
            words.REAR: st.column_config.NumberColumn(format="%d"),
        },
        on_change=_entered,
        args=(key, page, by_voltage),
        placeholder="",
        alt=words.TABLE_ALT,
    )
    for sentence in st.session_state.pop(_REFUSED, []):
        st.error(sentence, icon=":material/error:")


def as_table(rows: list[Memory], page: Page, by_voltage: bool) -> pd.DataFrame:
    """The facts as the rider sees them, with empty rows to go on in."""
    count = min(max(FEWEST, len(rows) + SPARE), MOST)
    padded = [*rows, *[Memory()] * (count - len(rows))]
    frame = pd.DataFrame([_shown(row, page, by_voltage) for row in padded])
    texts = (words.WHAT, words.SURE, words.LEVEL)
    return frame.astype({name: object if name in texts else float for name in frame.columns})


def _shown(row: Memory, page: Page, by_voltage: bool) -> dict[str, Any]:
    """One row in the rider's units."""
    charge, temperature = words.condition_columns(page.fmt, by_voltage)
    value, at = row.quantities
    empty = row.empty
    return {
        words.WHAT: words.kinds(page.fmt).get(row.kind),
        words.VALUE: _number(row.value, value, page.fmt),
        words.AT: _number(row.at, at, page.fmt),
        words.SURE: None if empty else row.sure,
        charge: _charge(row.charge, page, by_voltage),
        temperature: _number(row.temperature, "temperature", page.fmt),
        words.LEVEL: row.level or None,
        words.FRONT: _number(row.front, "", page.fmt),
        words.REAR: _number(row.rear, "", page.fmt),
    }


def _number(value: float | None, quantity: str, fmt: UnitFormatter) -> float:
    if value is None:
        return math.nan
    return round(float(fmt.number(quantity, value) if quantity else value), 4)


def _charge(value: float | None, page: Page, by_voltage: bool) -> float:
    if value is None:
        return math.nan
    return round(rest_voltage_of(page.inputs, 100 * value), 3) if by_voltage else round(100 * value, 4)


def _entered(key: str, page: Page, by_voltage: bool) -> None:
    rows, refused = take(memories(), st.session_state[key]["edited_rows"], page, by_voltage)
    st.session_state[MEMORIES], st.session_state[_REFUSED] = rows, refused


def take(
    rows: list[Memory], edits: dict[int, dict[str, Any]], page: Page, by_voltage: bool
) -> tuple[list[Memory], list[str]]:
    """The rows after what was entered.

    Parameters
    ----------
    rows : list of Memory
        As they stood.
    edits : dict
        Row to column to value, as the table gives them.
    page : Page
        Whose units count, and whose day and settings a new fact begins with.
    by_voltage : bool
        Whether charge is entered as rest voltage.

    Returns
    -------
    tuple of (list of Memory, list of str)
        Without empty rows at the end; and a sentence for each row that was left as it was.
    """
    result, refused = list(rows), []
    for place, cells in sorted((int(place), cells) for place, cells in edits.items()):
        if not 0 <= place < MOST:
            continue
        result += [Memory()] * (place + 1 - len(result))
        old = result[place]
        new = _read(_shown(old, page, by_voltage) | cells, old, page, by_voltage)
        if name := problem(new):
            refused.append(words.refused(place, new, name, page.fmt))
        else:
            result[place] = new
    while result and result[-1].empty:
        result.pop()
    return result, refused


def _read(shown: dict[str, Any], old: Memory, page: Page, by_voltage: bool) -> Memory:
    """A row from what stands in its cells; the day and the settings of a new one are today's."""
    fmt = page.fmt
    charge, temperature = words.condition_columns(fmt, by_voltage)
    kind = {label: kind for kind, label in words.kinds(fmt).items()}.get(shown[words.WHAT], "")
    row = Memory(kind)
    value, at = row.quantities
    rested = _given(shown[charge])
    if rested is not None:
        rested = charge_of(page.inputs, rested) / 100 if by_voltage else rested / 100
    row = replace(
        row,
        value=_si(shown[words.VALUE], value, fmt),
        at=_si(shown[words.AT], at, fmt) if at or not kind else None,
        sure=shown[words.SURE] if shown[words.SURE] in SURE else REMEMBERED,
        charge=rested,
        temperature=_si(shown[temperature], "temperature", fmt),
        level=shown[words.LEVEL] if shown[words.LEVEL] in LEVELS else "",
        front=_whole(shown[words.FRONT]),
        rear=_whole(shown[words.REAR]),
    )
    return with_today(row, page) if kind and not old.kind else row


def with_today(row: Memory, page: Page) -> Memory:
    """A row with today's conditions and settings wherever it says nothing of them."""
    build, inputs = page.build, page.inputs
    today = {
        "charge": build.conditions.charge,
        "temperature": float(page.batch["conditions.pack_temperature"][0]),
        "level": inputs["level"],
        "front": build.driveline.front_teeth,
        "rear": build.driveline.rear_teeth,
    }
    return replace(row, **{name: value for name, value in today.items() if getattr(row, name) in (None, "")})


def _given(cell: Any) -> float | None:
    try:
        value = float(cell)
    except (TypeError, ValueError):
        return None
    return value if math.isfinite(value) else None


def _si(cell: Any, quantity: str, fmt: UnitFormatter) -> float | None:
    value = _given(cell)
    return value if value is None or not quantity else float(fmt.si(quantity, value))


def _whole(cell: Any) -> int | None:
    value = _given(cell)
    return None if value is None else round(value)
