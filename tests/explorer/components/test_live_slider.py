"""The slider component: what it accepts, and how moves from the browser reach the session state."""

import math

import pytest
from streamlit.testing.v1 import AppTest

from explorer.components import live_slider
from explorer.components.live_slider import Slider

LIMIT = Slider("limit", "Line current limit", 10.0, 200.0, 5.0, unit="A")


@pytest.mark.parametrize(
    ("value", "accepted"),
    [
        (55, 55.0),
        (57.3, 57.3),
        (9.9, 10.0),
        (1e9, 200.0),
        (None, 10.0),
        ("x", 10.0),
        (math.nan, 10.0),
        ("80", 80.0),
    ],
)
def test_accepted_values(value, accepted):
    """hand-worked: the nearest value between 10 and 200, exact entries kept, 10 for what is no number."""
    assert LIMIT.accept(value) == accepted


@pytest.fixture
def state(monkeypatch):
    """A session state that is a plain dict."""
    held = {}
    monkeypatch.setattr(live_slider.st, "session_state", held)
    return held


def take(state, moves, on_move=None, sliders=(LIMIT,)):
    state["live_slider_groups"] = {"group": (sliders, on_move)}
    return live_slider.take("group", moves)


def test_a_move_is_written_once(state):
    """property: the browser repeats a move until it is answered; a repetition changes nothing."""
    told = []
    take(state, {"limit": [80, 1]}, lambda *move: told.append(move))
    state["limit"] = 120.0
    take(state, {"limit": [80, 1]}, lambda *move: told.append(move))
    assert state["limit"] == 120.0
    assert told == [("limit", 80.0)]


def test_a_late_move_does_not_undo_a_newer_one(state):
    """property: serial numbers decide, not the order of arrival."""
    take(state, {"limit": [90, 7]})
    take(state, {"limit": [30, 6]})
    assert state["limit"] == 90.0
    assert state["group:applied"] == 7


@pytest.mark.parametrize(
    "moves",
    [None, [], "x", {"limit": 80}, {"limit": ["80", 9]}, {"limit": [math.nan, 9]}, {"limit": [80, "9"]},
     {"other": [80, 9]}, {"limit": [None, 9]}],
)  # fmt: skip
def test_what_is_no_move_is_dropped(state, moves):
    """property: nothing the browser sends is trusted."""
    state["limit"] = 50.0
    take(state, moves)
    assert live_slider.take(["group"], moves) == live_slider.take("unknown", moves) == {}
    assert state["limit"] == 50.0
    assert "other" not in state


def test_a_move_outside_the_bounds_is_moved_to_the_nearest(state):
    """hand-worked: 500 A with a limit of 200 A gives 200 A."""
    take(state, {"limit": [500, 1]})
    assert state["limit"] == 200.0


def test_a_disabled_slider_does_not_move(state):
    """property: disabled means disabled, whatever arrives."""
    take(state, {"limit": [80, 1]}, sliders=(Slider("limit", "L", 0.0, 100.0, 1.0, disabled=True),))
    assert "limit" not in state


def a_page():
    import streamlit as st

    from explorer.components.live_slider import Slider, live_slider, live_sliders

    top = st.session_state.get("top", 200.0)
    group = [
        Slider("limit", "Line current limit", 10.0, top, 5.0, unit="A"),
        Slider("teeth", "Teeth", 10.0, 20.0, 1.0),
    ]
    values = live_sliders(group, key="pack")
    one = live_slider("Slope", key="slope", minimum=-20, maximum=20, step=0.5, unit="%", format_digits=1)
    st.text(f"{values['limit']:g} {values['teeth']:g} {one:g}")


@pytest.mark.parametrize("plain", [False, True])
def test_values_live_in_the_session_state(plain):
    """property: what is written before the page runs is what the page gets; bounds that shrink move it."""
    page = AppTest.from_function(a_page)
    page.session_state["live_slider_failed"] = plain
    assert page.run().text[0].value == "10 10 -20"
    page.session_state["limit"] = 85.0
    assert page.run().text[0].value == "85 10 -20"
    page.session_state["top"] = 60.0
    assert page.run().text[0].value == "60 10 -20"
    assert page.session_state["limit"] == 60.0
    assert not page.exception


def test_plain_widgets_take_the_components_place():
    """property: slider and box copy to each other and to the session state."""
    page = AppTest.from_function(a_page)
    page.session_state["live_slider_failed"] = True
    page.run()
    page.number_input[0].set_value(72.0).run()
    assert page.session_state["limit"] == 72.0
    assert page.slider[0].value == 72.0
    page.slider[0].set_value(90.0).run()
    assert page.number_input[0].value == 90.0
    assert page.text[0].value == "90 10 -20"
