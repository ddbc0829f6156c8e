"""The ride log of a session: where it comes from, what its columns are taken for, and what was worked out of it.

Everything stays in the session's own memory and goes with it. The name of an uploaded file is never a path and is
only ever shown as plain text.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from typing import Any

import streamlit as st

from explorer.frame.background_job import let_go
from explorer.questions.ride_log.demo_ride import NAME, demo_csv
from explorer.questions.ride_log.words import READING
from explorer.state.state import current
from physics.build import Build
from physics.ridelog.quantities import QUANTITIES
from physics.ridelog.reader import BYTE_CAP, GUESS_ROWS, ColumnGuess, LogError, RideLog, guess_columns, read_log
from physics.ridelog.text import OVERFLOW, decode, find_layout, read_chunks

KEY = "ride_log"
SAVING = f"{KEY}_saved"
"""The name of what is searched beside the page: what would have saved a pull."""
_KEPT, _MEMO = f"{KEY}:source", f"{KEY}:memo"
LONGEST_NAME = 80
LARGEST_MB = 32


@dataclass
class Source:
    """What the session holds of a log.

    Attributes
    ----------
    data : bytes or None
        The file.
    name : str
        As the rider's machine calls it; text to show and nothing else.
    token : str
        Tells this file from another.
    demo : bool
        Whether it is the invented one.
    columns : dict
        Column to (quantity, unit), or to None for one not to be used; what the rider chose, for any file.
    reverse_current : bool
        Whether charge counts as positive in the file.
    left_out : set
        Starts of the segments the rider left out, in tenths of a second.
    ridden : Build or None
        The build as it stood when the log was fitted: what was ridden, whatever is changed on the page since.
    """

    data: bytes | None = None
    name: str = ""
    token: str = ""
    demo: bool = False
    columns: dict[str, tuple[str, str | None] | None] = field(default_factory=dict)
    reverse_current: bool = False
    left_out: set[int] = field(default_factory=set)
    ridden: Build | None = None

    def hold(self, data: bytes, name: str, *, demo: bool = False) -> None:
        """Take another file; the choices about columns stay."""
        self.data, self.demo = data, demo
        self.name, self.token = shown_name(name), token_of(data)
        self.left_out, self.ridden = set(), None

    @property
    def choices(self) -> tuple[Hashable, ...]:
        """What the rider chose about columns, to tell it from another choice."""
        return tuple(sorted(self.columns.items(), key=str)), self.reverse_current

    def forget(self) -> None:
        """Let go of the file and of everything worked out of it."""
        self.data, self.name, self.token, self.demo, self.left_out, self.ridden = None, "", "", False, set(), None
        st.session_state.pop(_MEMO, None)
        let_go(KEY)
        let_go(SAVING)


def shown_name(name: str) -> str:
    """A file's name from the rider's machine, as text to show."""
    return "".join(sign if sign.isprintable() else "?" for sign in name[:LONGEST_NAME])


def token_of(data: bytes) -> str:
    """What tells a file from another: the beginning of the SHA-256 of its bytes."""
    return hashlib.sha256(data).hexdigest()[:24]


def source() -> Source:
    """The session's own."""
    return st.session_state.setdefault(_KEPT, Source())


def take_demo() -> None:
    """Use the invented log of the demo that the page starts from."""
    source().hold(demo_csv(current().preset), NAME, demo=True)


def remembered(slot: str, key: Any, make: Callable[[], Any]) -> Any:
    """What was made for this key the last time, or made now; one value a slot, in the session alone.

    Parameters
    ----------
    slot : str
        What it is.
    key : hashable
        What it depends on.
    make : callable
        Makes it.
    """
    memo = st.session_state.setdefault(_MEMO, {})
    if slot not in memo or memo[slot][0] != key:
        memo[slot] = (key, make())
    return memo[slot][1]


def note(slot: str, value: Any) -> None:
    """Keep something of this log for other parts of the page, in the session alone."""
    st.session_state.setdefault(_MEMO, {})[slot] = (source().token, value)


def noted(slot: str) -> Any:
    """What was kept of this log; None where there is nothing, or it was another's."""
    token, value = st.session_state.get(_MEMO, {}).get(slot, ("", None))
    return value if token == source().token else None


def reading(pole_pairs: int) -> RideLog | LogError:
    """The log of the session's file, or why it cannot be read."""
    held = source()
    key = (held.token, *held.choices, pole_pairs)
    with st.spinner(READING):
        return remembered("log", key, lambda: read_as_chosen(held.data or b"", first_guesses(), pole_pairs))


def read_as_chosen(data: bytes, guesses: list[ColumnGuess], pole_pairs: int) -> RideLog | LogError:
    """A file as what the rider chose for its columns has it, or why it cannot be read."""
    held, present = source(), {guess.column for guess in guesses}
    chosen = {name: choice for name, choice in held.columns.items() if name in present}
    try:
        return read_log(data, columns=chosen or None, pole_pairs=pole_pairs, reverse_current=held.reverse_current)
    except LogError as error:
        return error


def first_guesses() -> list[ColumnGuess]:
    """What every column of the file was taken for before the rider chose anything; empty for a GPX track."""
    held = source()
    return remembered("guesses", held.token, lambda: guesses_of(held.data or b""))


def guesses_of(data: bytes) -> list[ColumnGuess]:
    """What every column of a file is taken for by its name and numbers; empty for a GPX track."""
    if data[:200].lstrip(b"\xef\xbb\xbf\xff\xfe\x00 \t\r\n")[:1] == b"<" or len(data) > BYTE_CAP:
        return []
    try:
        layout = find_layout(*decode(data))
        sample = next(iter(read_chunks(layout, GUESS_ROWS)), None)
    except LogError:
        return []
    return [] if sample is None else guess_columns(sample.drop(columns=OVERFLOW), layout.decimal)


def fit_again() -> None:
    """Fit the log once more, with the build as it is then."""
    source().ridden = None


def choose_column(name: str, quantity: str | None, unit: str | None) -> None:
    """Remember what the rider says a column holds; a unit that does not go with it becomes its usual one.

    How a time is written is found in its cells.
    """
    held = source()
    if quantity not in QUANTITIES:
        held.columns[name] = None
        return
    accepted = QUANTITIES[quantity].accepted
    for other, choice in list(held.columns.items()):
        if other != name and choice is not None and choice[0] == quantity:
            held.columns[other] = None  # one column for one quantity: the latest choice counts
    usual = None if quantity == "time" else accepted[0]
    held.columns[name] = (quantity, unit if unit in accepted else usual)
