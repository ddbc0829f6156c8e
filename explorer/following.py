"""What follows a slider while it is dragged, and the page it follows with.

To run the whole page at every move of a slider takes too long to look alive. The charts and words that follow are
therefore drawn alone while a slider is held. One small fragment hears the moves and sends back the figures of all
such charts, past the rest of the page; words are fragments of their own, drawn again a few times a second.
Letting go runs the whole page, which draws every part anew.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import streamlit as st

from explorer import live_slider, results
from explorer.choices import CHOICES
from explorer.format import Writer
from explorer.live_chart import live_chart, pack
from explorer.live_chart import works as live_chart_works
from explorer.page import Page
from explorer.rider_build import make_build
from explorer.state import State, current
from physics.fields import BuildError
from physics.tolerance import Tolerance

WORDS_PAUSE, WORDS_MOVES = 0.3, 2
"""Seconds, and moves, for which words stand still while charts move: they are read, not watched."""
_KEY = "following"
_DRAWN, _COMPLETE = "following:drawn", "following:complete"
_PAGE, _SAID = "following:page", "following:said"
_SHOWN, _ACKNOWLEDGED = "following:shown", "following:acknowledged"

Picture = Callable[[Page], dict[str, Any]]
"""Makes the arguments of `live_chart` from a page."""


def page_of(state: State, values: dict[str, Any], known: tuple[Tolerance, ...] = ()) -> Page:
    """The page of some inputs.

    Parameters
    ----------
    state : State
        For the baseline, names and units.
    values : dict
        Inputs by key, in home units.
    known : tuple of Tolerance, optional
        How well the unknowns are known; without them there is no band.

    Raises
    ------
    BuildError
        Where the inputs make no build.
    """
    build = make_build(values, state.name)
    baseline = make_build(state.baseline, state.baseline_name) if state.baseline else None
    duration = float(values["duration"])
    runs, band = results.runs(build, baseline, duration, known)
    return Page(
        build=build,
        baseline=baseline,
        runs=runs,
        target_speed=CHOICES["target"].si(values["target"]),
        duration=duration,
        headroom_wanted=float(values["headroom_wanted"]),
        write=Writer(state.units),
        inputs=dict(values),
        band=band,
    )


def start() -> None:
    """Before the first part in a run of the whole page."""
    st.session_state[_DRAWN] = ([], [])


def chart(picture: Picture, page: Page) -> None:
    """Draw a chart that follows every move of a slider.

    Parameters
    ----------
    picture : callable
        Makes the arguments of `live_chart` from a page.
    page : Page
        The page of the inputs as they stand.
    """
    st.session_state[_DRAWN][0].append(picture)
    live_chart(**picture(page))


def words(name: str, draw: Callable[[Page], None], page: Page) -> None:
    """Draw words that follow a slider a few times a second.

    Parameters
    ----------
    name : str
        Unique on the page.
    draw : callable
        Draws them.
    page : Page
        The page of the inputs as they stand.
    """
    key = f"{_KEY}:{name}"

    @st.fragment(key=key)
    def part():
        draw(_newest(page))

    st.session_state[_DRAWN][1].append(key)
    part()


def end(page: Page) -> None:
    """After the last part: what hears the moves of a held slider and carries the figures to the charts."""
    st.session_state[_COMPLETE] = st.session_state[_DRAWN]  # a run that is broken off leaves those before it
    if live_chart_works() and live_slider.works():
        _follower(page)


@st.fragment(key=_KEY)
def _follower(page: Page) -> None:
    newest = _newest(page)
    st.session_state[_SHOWN] = current().values
    lines = [json.dumps(st.session_state.get(_ACKNOWLEDGED, {})).encode()]
    if newest is not page:
        lines += [pack(**picture(newest)) for picture in st.session_state[_COMPLETE][0]]
    _component()(key=f"{_KEY}:component", data=b"\n".join(lines), height=1, on_moved_change=_moved)


def _moved() -> None:
    """A move of a held slider: take it in; where it is time for words, draw them too."""
    event = st.session_state[f"{_KEY}:component"].get("moved")
    if not isinstance(event, dict):
        return
    st.session_state[_ACKNOWLEDGED] = live_slider.take(event.get("group"), event.get("moves"))
    moves, said = st.session_state.get(_SAID, (0, 0.0))
    rests = st.session_state[_SHOWN] == current().values
    if rests or (moves >= WORDS_MOVES and time.monotonic() - said >= WORDS_PAUSE):
        st.session_state[_SAID] = 0, time.monotonic()
        st.rerun([_KEY, *st.session_state[_COMPLETE][1]])
    st.session_state[_SAID] = moves + 1, said


@cache
def _component() -> Any:
    return st.components.v2.component("following", js=Path(__file__).with_suffix(".js").read_text(encoding="utf-8"))


def _newest(page: Page) -> Page:
    """The page of the inputs as they stand now, worked out once for all parts; `page` where they make no build."""
    state = current()
    if state.values == page.inputs:
        return page
    inputs, made = st.session_state.get(_PAGE, (None, page))
    if inputs != state.values:
        try:
            made = page_of(state, state.values)
        except BuildError:
            made = page
        if page.band is not None:
            made = made.with_band(carried(page, made))
        st.session_state[_PAGE] = (state.values, made)
    return made


def carried(settled: Page, moved: Page) -> tuple:
    """The band of a settled page, carried over to another run: at each moment as wide a share of its speed.

    To run the many builds of a band takes longer than all else; while a slider is held their spread is taken as it
    was, which is right as long as the same limit holds.
    """
    instants, low, high = settled.band
    time, own = settled.run.time[0], settled.run.speed[0]
    before = np.maximum(np.interp(instants, time, own), 0.1)
    now = np.interp(instants, moved.run.time[0], moved.run.speed[0])
    return instants, now * low / before, now * high / before
