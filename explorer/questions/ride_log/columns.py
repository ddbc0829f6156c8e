"""Which column of a log holds what, in which unit: the guess shown, and a table to change it."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from explorer.questions.ride_log import source as log_source
from explorer.questions.ride_log import words
from explorer.questions.ride_log.source import KEY
from explorer.state.names import clean_name
from physics.ridelog import ColumnGuess, LogError, RideLog
from physics.ridelog.quantities import QUANTITIES

COLUMN, HOLDS, UNIT, WHY = "column in the file", "holds", "unit", "why"
NOT_USED = "not used"
LABELS = {name: name.removesuffix("_deg").replace("_", " ") for name in QUANTITIES}
_OF_LABEL = {label: name for name, label in LABELS.items()}
UNITS = sorted({unit for held in QUANTITIES.values() for unit in held.accepted}, key=str.lower)
MOST_SHOWN, LONGEST_SHOWN = 60, 60


def current_guesses(log: RideLog | LogError) -> list[ColumnGuess]:
    """What every column is taken for now."""
    return list(log.guesses) if isinstance(log, RideLog) else _with_choices(log_source.first_guesses())


def _with_choices(guesses: list[ColumnGuess]) -> list[ColumnGuess]:
    chosen = log_source.source().columns
    result = []
    for guess in guesses:
        if guess.column in chosen:
            quantity, unit = chosen[guess.column] or (None, None)
            guess = ColumnGuess(guess.column, quantity, unit, "Chosen.")
        result.append(guess)
    return result


def _label(guess: ColumnGuess) -> str:
    return LABELS.get(guess.quantity or "", NOT_USED)


def table(guesses: list[ColumnGuess]) -> pd.DataFrame:
    """The columns as the rider sees them."""
    shown = guesses[:MOST_SHOWN]
    return pd.DataFrame(
        {
            COLUMN: [clean_name(guess.column, "(no letters)", LONGEST_SHOWN) for guess in shown],
            HOLDS: [_label(guess) for guess in shown],
            UNIT: [guess.unit for guess in shown],
            WHY: [guess.reason[:160] for guess in shown],
        },
        dtype=object,
    )


def edit(log: RideLog | LogError) -> None:
    """Draw the table; a change is taken at once and the file read again."""
    guesses = current_guesses(log)
    if not guesses:
        st.caption(words.GPX)
        return
    frame = table(guesses)
    key = f"{KEY}_columns_{abs(hash(frame.to_csv()))}"
    st.data_editor(
        frame,
        key=key,
        hide_index=True,
        disabled=[COLUMN, WHY],
        on_change=_entered,
        args=(key, [guess.column for guess in guesses[:MOST_SHOWN]], guesses),
        column_config={
            HOLDS: st.column_config.SelectboxColumn(options=[NOT_USED, *LABELS.values()], required=True),
            UNIT: st.column_config.SelectboxColumn(options=UNITS),
        },
        alt=words.COLUMNS_ALT,
    )
    if len(guesses) > MOST_SHOWN:
        st.caption(words.most_columns(MOST_SHOWN, len(guesses)))
    held = log_source.source()

    def turned() -> None:
        held.reverse_current = bool(st.session_state[f"{KEY}_reverse"])

    st.session_state[f"{KEY}_reverse"] = held.reverse_current
    st.toggle(words.REVERSE, key=f"{KEY}_reverse", on_change=turned)


def _entered(key: str, names: list[str], guesses: list[ColumnGuess]) -> None:
    take(st.session_state[key]["edited_rows"], names, guesses)


def take(edits: dict, names: list[str], guesses: list[ColumnGuess]) -> None:
    """Put what was entered into the session's choices.

    Parameters
    ----------
    edits : dict
        Row to column to value, as the table gives them.
    names : list of str
        The file's columns, in the order of the rows.
    guesses : list of ColumnGuess
        What stood there before.
    """
    for row, cells in edits.items():
        index = int(row)
        if not 0 <= index < len(names):
            continue
        before = guesses[index]
        label = cells.get(HOLDS, _label(before))
        log_source.choose_column(names[index], _OF_LABEL.get(label), cells.get(UNIT, before.unit))
