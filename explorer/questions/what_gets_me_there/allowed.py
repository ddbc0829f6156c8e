"""What the rider allows to be changed, how far, and at what price: a table to edit, kept for the session."""

from __future__ import annotations

from typing import Any

import pandas as pd
import streamlit as st

from explorer.format import UnitFormatter
from explorer.page import lever_words
from explorer.page.lever_inputs import levers as page_levers
from explorer.page.page import Page
from explorer.questions.what_gets_me_there import words
from explorer.questions.what_gets_me_there.words import ALLOW, CHANGE, HIGH, LOW, PRICE, UNIT
from physics.components.tyre import DEFAULT_ROLLING_FACTOR
from physics.studies.target import Lever
from physics.studies.target.levers import with_range

KEY = "what_gets_me_there"
_KEPT = f"{KEY}:allowed"


def allowed(page: Page) -> tuple[tuple[Lever, ...], tuple[tuple[str, float], ...]]:
    """The levers that may be used, and the prices that were given.

    Parameters
    ----------
    page : Page
        What the section is given.

    Returns
    -------
    tuple of (levers, prices)
    """
    entries = st.session_state.get(_KEPT, {})
    levers = []
    for lever in page_levers(page.build, page.inputs):
        own = entries.get(lever.key, {})
        if own.get(ALLOW, True):
            levers.append(narrowed(lever, own, lever.present(page.build)))
    prices = tuple((key, own[PRICE]) for key, own in sorted(entries.items()) if own.get(PRICE) is not None)
    return tuple(levers), prices


def narrowed(lever: Lever, own: dict[str, Any], present: float) -> Lever:
    """A lever in the rider's own range, which always holds the present value."""
    low, high = own.get(LOW, lever.low), own.get(HIGH, lever.high)
    return with_range(lever, min(low, high, present), max(low, high, present))


def edit_allowed(page: Page) -> None:
    """The table, folded away."""
    expander = st.expander(words.ALLOWED, key=f"{KEY}_allowed", on_change="rerun")
    if not expander.open:
        return
    with expander:
        entries = st.session_state.setdefault(_KEPT, {})
        every = page_levers(page.build, page.inputs)
        frame = as_table(every, entries, page)
        # a new table wherever its start differs: what was entered before stands in the start
        key = f"{KEY}_table_{abs(hash(frame.to_csv()))}"
        st.data_editor(
            frame,
            key=key,
            hide_index=True,
            disabled=[CHANGE, UNIT],
            on_change=_entered,
            placeholder="",
            args=(key, every, page.fmt),
            column_config={PRICE: st.column_config.NumberColumn(min_value=0.0, help=words.PRICE_HELP)},
        )
        st.caption(words.ALLOWED_NOTE)


def as_table(every: tuple[Lever, ...], entries: dict[str, dict], page: Page) -> pd.DataFrame:
    """The ranges as the rider sees them."""
    rows = []
    for lever in every:
        own = entries.get(lever.key, {})
        mine = narrowed(lever, own, lever.present(page.build))
        rows.append(
            {
                CHANGE: lever_words.name(lever),
                ALLOW: own.get(ALLOW, True),
                LOW: shown(lever, mine.low, page.fmt),
                HIGH: shown(lever, mine.high, page.fmt),
                UNIT: unit(lever, page.fmt),
                PRICE: own.get(PRICE),
            }
        )
    return pd.DataFrame(rows).astype({LOW: float, HIGH: float, PRICE: float})


def _entered(key: str, every: tuple[Lever, ...], fmt: UnitFormatter) -> None:
    take(st.session_state[_KEPT], st.session_state[key]["edited_rows"], every, fmt)


def take(entries: dict[str, dict], edits: dict, every: tuple[Lever, ...], fmt: UnitFormatter) -> None:
    """Put what was entered into what is entries.

    Parameters
    ----------
    entries : dict
        Lever to what the rider entered, changed in place.
    edits : dict
        Row to column to value, as the table gives them.
    every : tuple of Lever
        The rows.
    fmt : UnitFormatter
        The rider's units.
    """
    for row, cells in edits.items():
        lever = every[int(row)]
        own = entries.setdefault(lever.key, {})
        for column, value in cells.items():
            if value is None:
                own.pop(column, None)
            elif column in (LOW, HIGH):
                own[column] = held(lever, float(value), fmt)
            else:
                own[column] = value


def unit(lever: Lever, fmt: UnitFormatter) -> str:
    """The unit a lever is shown in."""
    return lever_words.value_text(lever, 1.0, fmt).lstrip("−0123456789., ")


def shown(lever: Lever, value: float, fmt: UnitFormatter) -> float:
    """A value in the unit it is shown in."""
    return float(lever_words.value_text(lever, value, fmt, unit=False).replace(",", ""))


def held(lever: Lever, value: float, fmt: UnitFormatter) -> float:
    """A value from the unit it is shown in."""
    quantity = lever_words.quantity(lever)
    if quantity == "tyre":
        return float(fmt.si("length", value)) / 2 * DEFAULT_ROLLING_FACTOR
    return value if quantity in lever_words.PLAIN else float(fmt.si(quantity, value))
