"""Sliders that send their value while they move, each with a box for exact entry.

A group of sliders is one component of the page: the browser keeps them, and sends a move as a small
event that names the slider. The values live in ``st.session_state`` under plain keys of their own, so
that a preset, a share link, undo or a change of units may write them at any time before the group is
drawn; the sliders follow. Where the component cannot be registered, ``st.slider`` and
``st.number_input`` take its place.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path
from typing import Any

import streamlit as st

_HERE = Path(__file__).parent
_PLAIN = "live_slider_failed"
_GROUPS = "live_slider_groups"


@dataclass(frozen=True)
class Slider:
    """One slider with its box.

    Attributes
    ----------
    key : str
        Name of its value in ``st.session_state``. A missing value starts at ``minimum``.
    label, unit, help : str
        What the rider reads. Bounds, step and value are in this unit.
    minimum, maximum, step : float
        The slider moves in steps counted from the minimum; the box takes any number between the two.
    digits : int
        Digits after the point.
    disabled : bool
        Shown, but not to be moved.
    note : str
        A few words under the label.
    """

    key: str
    label: str
    minimum: float
    maximum: float
    step: float
    unit: str = ""
    digits: int = 0
    help: str = ""
    disabled: bool = False
    note: str = ""

    def accept(self, value: Any) -> float:
        """Return the nearest value this slider accepts; the minimum for what is no number.

        Examples
        --------
        >>> Slider("a", "A", 0.0, 10.0, 0.5).accept(12)
        10.0
        """
        try:
            number = float(value)
        except (TypeError, ValueError):
            number = math.nan
        if not math.isfinite(number):
            return float(self.minimum)
        return float(min(max(number, self.minimum), self.maximum))


Moved = Callable[[str, float], None]


def live_sliders(
    sliders: Sequence[Slider],
    *,
    key: str,
    on_move: Moved | None = None,
    drags: bool = False,
    one_at_a_time: bool = False,
) -> dict[str, float]:
    """Draw a group of sliders and return their values by key.

    Parameters
    ----------
    sliders : sequence of Slider
        In the order shown. The group may change from run to run, and so may bounds, step and unit of a
        slider; a value outside the new bounds is moved to the nearest one.
    key : str
        Unique on the page; not the key of a slider. Must not stand inside ``st.form``.
    on_move : callable, optional
        Called with the slider's key and its new value before the page runs again.
    drags : bool
        Whether, while a slider is held, its moves go to `explorer.frame.drag` where the page has it.
    one_at_a_time : bool
        Whether one slider is shown, and a row of buttons chooses which. The browser alone knows the choice.

    Returns
    -------
    dict of str to float
        What ``st.session_state`` holds under each slider's key.
    """
    sliders = tuple(sliders)
    values = {}
    for slider in sliders:
        before = st.session_state.get(slider.key)
        values[slider.key] = slider.accept(before)
        if before != values[slider.key]:
            st.session_state[slider.key] = values[slider.key]
    if not st.session_state.get(_PLAIN):
        try:
            mount = _component()
        except Exception:
            st.session_state[_PLAIN] = True
        else:
            described = [vars(slider) | {"value": values[slider.key]} for slider in sliders]
            applied = st.session_state.get(_applied(key), 0)
            data = [
                key,
                drags,
                applied,
                described,
                one_at_a_time,
            ]  # a list travels as it is; a dict is searched for data frames
            st.session_state.setdefault(_GROUPS, {})[key] = sliders, on_move
            mount(key=key, data=data, on_moved_change=partial(_moved, key))
            return values
    return {slider.key: _plain_slider(slider, values[slider.key], on_move) for slider in sliders}


def live_slider(
    label: str,
    *,
    key: str,
    minimum: float,
    maximum: float,
    step: float,
    unit: str = "",
    format_digits: int = 0,
    help: str | None = None,
    disabled: bool = False,
    on_move: Moved | None = None,
) -> float:
    """Draw one slider with its box and return its value; see :func:`live_sliders`.

    Several sliders that stand together are cheaper as one group.
    """
    slider = Slider(key, label, minimum, maximum, step, unit, format_digits, help or "", disabled)
    return live_sliders([slider], key=f"{key}:slider", on_move=on_move)[key]


def works() -> bool:
    """Whether sliders send while they move."""
    return not st.session_state.get(_PLAIN)


def _applied(key: str) -> str:
    return f"{key}:applied"


def _moved(key: str) -> None:
    event = st.session_state.get(key) or {}
    take(key, event.get("moved"))


def take(key: Any, moves: Any) -> dict[str, int]:
    """Write the moves the browser reports into the session state.

    Each move carries a serial number that grows; the browser repeats a move until the number comes
    back to it, so a move may arrive twice and an old one may arrive late. Nothing in the event is
    trusted: unknown keys and what is not a number are dropped.

    Parameters
    ----------
    key : str
        Of the group.
    moves : dict
        Value, serial number and whether it is held, by the slider's key.

    Returns
    -------
    dict of str to int
        The group and the last serial number that has been worked through; empty where the event was of no use.
    """
    groups = st.session_state.get(_GROUPS, {})
    if not isinstance(key, str) or key not in groups or not isinstance(moves, dict):
        return {}
    sliders, on_move = groups[key]
    known = {slider.key: slider for slider in sliders if not slider.disabled}
    last = latest = st.session_state.get(_applied(key), 0)
    for name, move in sorted(moves.items(), key=lambda item: _serial(item[1])):
        if _serial(move) <= last:
            continue
        latest = max(latest, _serial(move))
        if name in known and isinstance(move[0], int | float) and math.isfinite(move[0]):
            st.session_state[name] = known[name].accept(move[0])
            if on_move:
                on_move(name, st.session_state[name])
    st.session_state[_applied(key)] = latest
    return {key: latest}


def _serial(move: Any) -> int:
    fine = isinstance(move, list) and len(move) in (2, 3) and isinstance(move[1], int)
    return move[1] if fine else -1


@cache
def _component() -> Any:
    return st.components.v2.component(
        "live_slider",
        js=(_HERE / "live_slider.js").read_text(encoding="utf-8"),
        css=(_HERE / "live_slider.css").read_text(encoding="utf-8"),
    )


def _plain_slider(slider: Slider, value: float, on_move: Moved | None) -> float:
    """Draw the same input with the widgets Streamlit has; the bounds are part of their keys."""
    ends = f"{slider.minimum:g}:{slider.maximum:g}:{slider.step:g}"
    names = [f"{slider.key}:{kind}:{ends}" for kind in ("slide", "box")]

    def copy(name: str) -> None:
        st.session_state[slider.key] = slider.accept(st.session_state[name])
        if on_move:
            on_move(slider.key, st.session_state[slider.key])

    for name in names:
        if st.session_state.get(name) != value:
            st.session_state[name] = value
    shared: dict[str, Any] = {
        "min_value": float(slider.minimum),
        "max_value": float(slider.maximum),
        "step": float(slider.step),
        "disabled": slider.disabled,
        "format": f"%.{slider.digits}f",
    }
    label = f"{slider.label}, {slider.unit}" if slider.unit else slider.label
    label += f" :small[{slider.note}]" if slider.note else ""
    left, right = st.columns([3, 2], vertical_alignment="bottom")
    left.slider(label, key=names[0], help=slider.help or None, on_change=copy, args=(names[0],), **shared)
    right.number_input(
        label, key=names[1], label_visibility="collapsed", on_change=copy, args=(names[1],), **shared
    )
    return value
