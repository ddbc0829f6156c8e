"""What follows a slider, while it is held and when it is let go.

To run the whole page at every move of a slider takes too long to look alive. While one is held, one small fragment
hears its moves and sends back the figures of the charts that follow, past the rest of the page: for the value of
the slider, and for values near it, so that the browser has them ready. Words that follow are fragments of their
own, drawn again a few times a second. Letting go runs the whole page, which draws every part anew: this fragment
before all others, with the figures of the charts that are there already, so that they need not wait either.
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
from explorer.page import make_page
from explorer.page.page import Page
from explorer.state.state import current

WORDS_PAUSE, WORDS_PATIENCE = 0.3, 1.0
"""Seconds for which words stand still while charts move: they are read, not watched. The longer where the browser
waits for figures, which come sooner without."""
MOST_ASKED = 10
"""Values of a slider for which figures are made at once."""
HEAD_START = 0.012
"""Seconds by which figures go ahead of the page: a browser gathers what comes within a hundredth of a second and
draws it together. On a server that others use nothing goes ahead: figures sent twice keep the others waiting."""
SHARED_FOR = 5.0
"""Seconds for which a server counts as shared after another session's run."""
_KEY = "drag"
_COMPONENT = f"{_KEY}:component"
_PARTS, _COMPLETE = f"{_KEY}:parts", f"{_KEY}:complete"
_ACKNOWLEDGED, _ASKED = f"{_KEY}:acknowledged", f"{_KEY}:asked"
_PAGES, _WORDS_AT = f"{_KEY}:pages", f"{_KEY}:words_at"
_MADE, _FIGURES, _SENT = f"{_KEY}:made", f"{_KEY}:figures", f"{_KEY}:sent"

Picture = Callable[[Page], dict[str, Any]]
"""Makes the arguments of `live_chart` from a page."""


def own_server() -> bool:
    """Whether no other session has run for some time; to be asked in each run."""
    latest, now, own = _latest_runs(), time.monotonic(), id(current())
    latest[own] = now
    for other, at in latest.copy().items():  # other sessions write to it meanwhile
        if now - at > SHARED_FOR:
            latest.pop(other, None)
    return len(latest) == 1


def start(page: Page) -> None:
    """Before the first part in a run of the whole page: what hears a held slider, and the figures of its charts."""
    st.session_state[_PARTS], st.session_state[_MADE] = ([], []), {}
    for name in (_ASKED, _PAGES):
        st.session_state.pop(name, None)
    if live_chart.works() and live_slider.works():
        made = {picture: _made(picture, page) for picture in st.session_state.get(_COMPLETE, ((), ()))[0]}
        figures = [each["packed"] for each in made.values()]
        alone = own_server()
        news = figures if alone and figures != st.session_state.get(_SENT) else []
        st.session_state[_MADE], st.session_state[_FIGURES], st.session_state[_SENT] = made, news, figures
        _carry(page)
        if news:
            time.sleep(HEAD_START)


def chart(picture: Picture, page: Page) -> None:
    """Draw a chart that follows every move of a slider.

    Parameters
    ----------
    picture : callable
        Makes the arguments of `live_chart` from a page.
    page : Page
        The page of the inputs as they stand.
    """
    st.session_state[_PARTS][0].append(picture)
    live_chart.live_chart(**(st.session_state[_MADE].get(picture) or picture(page)))


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
    def part() -> None:
        moved = current().values != page.inputs
        draw(_dragged_pages(page)[0] or page if moved else page)

    st.session_state[_PARTS][1].append(key)
    part()


def end() -> None:
    """After the last part in a run of the whole page."""
    st.session_state[_COMPLETE] = st.session_state[_PARTS]  # a run that is broken off leaves those before it
    st.session_state.pop(_MADE, None)


@st.fragment(key=_KEY)
def _carry(page: Page) -> None:
    """Carries figures to the charts: of the values asked for, or in a run of the whole page of the one it has."""
    head: dict[str, Any] = {"acknowledged": st.session_state.get(_ACKNOWLEDGED, {}), "values": None}
    figures = st.session_state.pop(_FIGURES, [])
    if _ASKED in st.session_state:
        pictures = st.session_state[_COMPLETE][0]
        pages = dict(zip(st.session_state[_ASKED][1], _dragged_pages(page), strict=True))
        head |= {"values": [value for value, each in pages.items() if each], "charts": len(pictures)}
        figures = [live_chart.pack(**picture(each)) for each in pages.values() if each for picture in pictures]
        del st.session_state[_ASKED]
    data = b"\n".join([json.dumps(head).encode(), *figures])
    _component()(key=_COMPONENT, data=data, height=1, on_moved_change=_moved)


@cache
def _latest_runs() -> dict[int, float]:
    """When each session's page last ran, in all the server."""
    return {}


def _made(picture: Picture, page: Page) -> dict[str, Any]:
    """The arguments of `live_chart`, with what they are packed to."""
    arguments = picture(page)
    return arguments | {"packed": live_chart.pack(**arguments)}


def _moved() -> None:
    """Take in the moves of a held slider and the values asked for; where it is time for words, draw them too.

    As with all that a browser sends, nothing in it is trusted.
    """
    event = st.session_state[_COMPONENT].get("moved")
    event = event if isinstance(event, dict) else {}
    st.session_state[_ACKNOWLEDGED] = live_slider.take(event.get("group"), event.get("moves"))
    slider, values = event.get("key"), event.get("values")
    fine = [value for value in values if isinstance(value, int | float)] if isinstance(values, list) else []
    numbers = dict.fromkeys(float(value) for value in fine if abs(value) < 1e9)
    if st.session_state[_ACKNOWLEDGED] and isinstance(slider, str) and numbers:
        st.session_state[_ASKED] = (slider, list(numbers)[:MOST_ASKED])
    rests = st.session_state.get(_PAGES, (None,))[0] is current().values  # sent once more, for the last words
    pause = WORDS_PAUSE if event.get("known") else WORDS_PATIENCE
    if rests or time.monotonic() - st.session_state.get(_WORDS_AT, 0.0) >= pause:
        st.session_state[_WORDS_AT] = time.monotonic()
        st.rerun([_KEY, *st.session_state[_COMPLETE][1]])


def _dragged_pages(page: Page) -> list[Page | None]:
    """The pages of the values asked for, made once for all parts: the first is that of the inputs as they stand."""
    state = current()
    asked = st.session_state.get(_ASKED)
    latest = st.session_state.get(_PAGES)
    if latest is None or latest[0] is not state.values or (asked and latest[1] != asked):
        inputs = [state.values | state.slid(asked[0], value) for value in asked[1]] if asked else [state.values]
        latest = st.session_state[_PAGES] = (state.values, asked, make_page.near(page, state, inputs))
    return latest[2]


@cache
def _component() -> Any:
    return st.components.v2.component(_KEY, js=Path(__file__).with_suffix(".js").read_text(encoding="utf-8"))
