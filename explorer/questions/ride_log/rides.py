"""The rides a session holds beside the one that is open: opened several at once, each told apart by its content."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field, replace

import streamlit as st

from explorer.questions.ride_log import source as log_source
from explorer.questions.ride_log.source import KEY, LARGEST_MB, shown_name, token_of
from explorer.questions.ride_log.words import FORGET_OTHERS, READING
from explorer.state.names import as_markdown, free_name
from physics.ridelog import LogError, RideLog

_KEPT = f"{KEY}:rides"
MOST_RIDES, MOST_BYTES = 12, 64 * 1024 * 1024


@dataclass(frozen=True)
class HeldRide:
    """One file.

    Attributes
    ----------
    token : str
        Begins the SHA-256 of its bytes.
    name : str
        As the rider's machine calls it; text to show and nothing else.
    data : bytes
        The file.
    """

    token: str
    name: str
    data: bytes = field(repr=False)


@dataclass
class _Rides:
    others: dict[str, HeldRide] = field(default_factory=dict)
    logs: dict[str, tuple[Hashable, RideLog | LogError]] = field(default_factory=dict)
    rounds: int = 0
    sentences: list[str] = field(default_factory=list)


def _kept() -> _Rides:
    return st.session_state.setdefault(_KEPT, _Rides())


def held() -> list[HeldRide]:
    """Every ride of the session, the open one first; of two files of one name the later has a number behind it."""
    rides, first = dict(_kept().others), log_source.source()
    if first.data is not None:
        rides = {first.token: HeldRide(first.token, first.name, first.data)} | rides
    names: dict[str, HeldRide] = {}
    for ride in rides.values():
        name = free_name(ride.name, names)
        names[name] = replace(ride, name=name)
    return list(names.values())


def add(name: str, data: bytes) -> str:
    """Hold one more file.

    Parameters
    ----------
    name : str
        As the rider's machine calls it.
    data : bytes
        The file.

    Returns
    -------
    str
        Why it is not held; empty where it is.
    """
    others = _kept().others
    token = token_of(data)
    if token in {ride.token for ride in held()}:
        return ""
    if len(others) >= MOST_RIDES or sum(len(ride.data) for ride in others.values()) + len(data) > MOST_BYTES:
        return (
            f"There is room for {MOST_RIDES} more rides and {MOST_BYTES // 1024**2} MB at a time. Forget the other "
            "logs first: what was fitted to them stays."
        )
    others[token] = HeldRide(token, shown_name(name), data)
    return ""


def forget_others() -> None:
    """Let go of all files but the open one."""
    st.session_state[_KEPT] = _Rides(rounds=_kept().rounds)


def log_of(ride: HeldRide, pole_pairs: int) -> RideLog | LogError:
    """The log in a file, as the rider's choice of columns has it, or why it cannot be read."""
    if ride.token == log_source.source().token:
        return log_source.reading(pole_pairs)
    logs = _kept().logs
    key = (*log_source.source().choices, pole_pairs)
    if ride.token not in logs or logs[ride.token][0] != key:
        with st.spinner(READING):
            guesses = log_source.guesses_of(ride.data)
            logs[ride.token] = (key, log_source.read_as_chosen(ride.data, guesses, pole_pairs))
    return logs[ride.token][1]


def upload(name: str, label: str, other: Callable[[bytes], list[str] | None] = lambda data: None) -> None:
    """Where more rides are opened, and what was said of those that could not be held.

    Parameters
    ----------
    name : str
        The section's.
    label : str
        Over the field.
    other : callable, optional
        Takes a file that is no log and says what was left out of it; None where it is not its own.
    """
    rides = _kept()
    key = f"{name}_upload_{rides.rounds}"

    def uploaded() -> None:
        rides.sentences, rides.rounds = [], rides.rounds + 1
        for file in st.session_state.get(key) or []:
            if not hasattr(file, "getvalue"):  # one that the server has let go of is none
                continue
            data = file.getvalue()
            said = other(data)
            rides.sentences += [add(file.name, data)] if said is None else said

    st.file_uploader(label, key=key, accept_multiple_files=True, on_change=uploaded, max_upload_size=LARGEST_MB)
    if rides.others:
        st.button(FORGET_OTHERS, icon=":material/delete:", on_click=forget_others, key=f"{name}_forget_others")
    for sentence in dict.fromkeys(filter(None, rides.sentences)):
        st.warning(as_markdown(sentence), icon=":material/info:")
