"""What follows a slider while it is held.

To run the whole page at every move of a slider takes too long to look alive. While one is held, one small fragment
hears its moves and sends back the figures of the charts that follow, past the rest of the page: for the value of
the slider, and for values near it, so that the browser has them ready. Words that follow are fragments of their
own, drawn again a few times a second. Letting go runs the whole page, which draws every part anew.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import streamlit as st

from explorer.components import live_chart, live_slider
from explorer.page import make_page as pages
from explorer.page.page import Page
from explorer.state.state import current

WORDS_PAUSE, WORDS_PATIENCE = 0.3, 1.0
"""Seconds for which words stand still while charts move: they are read, not watched. The longer where the browser
waits for figures, which come sooner without."""
MOST_ASKED = 10
"""Values of a slider for which figures are made at once."""
_KEY = "following"
_COMPONENT = f"{_KEY}:component"
_DRAWN, _COMPLETE = f"{_KEY}:drawn", f"{_KEY}:complete"
_ACKNOWLEDGED, _ASKED, _PAGES, _SAID = (f"{_KEY}:{name}" for name in ("acknowledged", "asked", "pages", "said"))

Picture = Callable[[Page], dict[str, Any]]
"""Makes the arguments of `live_chart` from a page."""


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
    live_chart.live_chart(**picture(page))


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
        moved = current().values != page.inputs
        draw(_held_pages(page)[0] or page if moved else page)

    st.session_state[_DRAWN][1].append(key)
    part()


def end(page: Page) -> None:
    """After the last part: what hears the moves of a held slider and carries the figures to the charts."""
    st.session_state[_COMPLETE] = st.session_state[_DRAWN]  # a run that is broken off leaves those before it
    for name in (_ASKED, _PAGES):
        st.session_state.pop(name, None)
    if live_chart.works() and live_slider.works():
        _follower(page)


@st.fragment(key=_KEY)
def _follower(page: Page) -> None:
    head: dict[str, Any] = {"acknowledged": st.session_state.get(_ACKNOWLEDGED, {}), "values": None}
    figures = []
    asked = st.session_state.get(_ASKED)
    if asked is not None:
        made = dict(zip(asked[1], _held_pages(page), strict=True))
        pictures = st.session_state[_COMPLETE][0]
        head |= {"values": [value for value, each in made.items() if each], "charts": len(pictures)}
        figures = [live_chart.pack(**picture(each)) for each in made.values() if each for picture in pictures]
        del st.session_state[_ASKED]
    data = b"\n".join([json.dumps(head).encode(), *figures])
    _component()(key=_COMPONENT, data=data, height=1, on_moved_change=_moved)


def _moved() -> None:
    """Take in the moves of a held slider and the values asked for; where it is time for words, draw them too.

    As with all that a browser sends, nothing in it is trusted.
    """
    event = st.session_state[_COMPONENT].get("moved")
    event = event if isinstance(event, dict) else {}
    st.session_state[_ACKNOWLEDGED] = live_slider.take(event.get("group"), event.get("moves"))
    key, values = event.get("key"), event.get("values")
    if st.session_state[_ACKNOWLEDGED] and isinstance(values, list) and isinstance(key, str):
        fine = (value for value in values if isinstance(value, int | float) and abs(value) < 1e9)
        numbers = dict.fromkeys(float(value) for value in fine)
        st.session_state[_ASKED] = (key, list(numbers)[:MOST_ASKED])
    rests = st.session_state.get(_PAGES, (None,))[0] is current().values  # sent once more, for the last words
    pause = WORDS_PAUSE if event.get("known") else WORDS_PATIENCE
    if rests or time.monotonic() - st.session_state.get(_SAID, 0.0) >= pause:
        st.session_state[_SAID] = time.monotonic()
        st.rerun([_KEY, *st.session_state[_COMPLETE][1]])


def _held_pages(page: Page) -> list[Page | None]:
    """The pages of the values asked for, made once for all parts: the first is that of the inputs as they stand."""
    state = current()
    asked = st.session_state.get(_ASKED)
    kept = st.session_state.get(_PAGES)
    if kept is None or kept[0] is not state.values or (asked and kept[1] != asked):
        several = [state.values | state.slid(asked[0], value) for value in asked[1]] if asked else [state.values]
        kept = st.session_state[_PAGES] = (state.values, asked, pages.near(page, state, several))
    return kept[2]


@cache
def _component() -> Any:
    return st.components.v2.component("following", js=Path(__file__).with_suffix(".js").read_text(encoding="utf-8"))
