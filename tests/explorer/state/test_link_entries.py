"""Entries of the page's small tables in the share link: there and back, and damaged."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from explorer.inputs.catalogue import INPUTS
from explorer.state import link_entries, readings
from explorer.state.link_entries import CHAIN, READINGS, read, texts
from explorer.state.memories import MEMORIES, QUANTITIES, SURE, WERE, Memory, problem
from physics.components.chain import CHAIN_SIZES
from tests.explorer.page.test_page import written
from tests.explorer.questions.test_builds import opened

SPEED = st.none() | st.floats(readings.LOWEST, readings.HIGHEST)
CHAINS = st.fixed_dictionaries(
    {"size": st.sampled_from(list(CHAIN_SIZES)), "links": st.integers(40, 200), "front": st.integers(6, 60)},
    optional={"rear": st.integers(6, 150), "forward": st.floats(0, 0.1), "back": st.floats(0, 0.1)},
)


def test_keys_are_no_inputs():
    assert not set(link_entries.KEYS) & set(INPUTS)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(SPEED, SPEED), min_size=1, max_size=readings.MOST), CHAINS)
def test_there_and_back(rows, kept):
    """property: what was entered comes back to ten digits."""
    held, notes = read(texts({READINGS: rows, CHAIN: kept}))
    assert not notes
    assert held[CHAIN].pop("size") == kept.pop("size")
    assert held[CHAIN] == pytest.approx(kept, rel=1e-9, abs=1e-12)
    for got, was in zip(held[READINGS], rows, strict=True):
        assert got == tuple(None if value is None else pytest.approx(value, rel=1e-9) for value in was)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.builds(
            Memory,
            st.sampled_from([*QUANTITIES, ""]),
            st.none() | st.floats(0.1, 1.0),
            st.none() | st.floats(1.0, 100.0),
            st.sampled_from(SURE),
            st.none() | st.floats(0.0, 1.0),
            st.none() | st.floats(250.0, 320.0),
            st.sampled_from(["", "1", "2", "3"]),
            st.none() | st.integers(9, 20),
            st.none() | st.integers(25, 80),
        ).filter(lambda row: not problem(row)),
        min_size=1,
        max_size=12,
    )
)
def test_remembered_facts_there_and_back(rows):
    """property: every row comes back, to the eight digits of the link."""
    held, notes = read(
        texts({MEMORIES: rows, WERE: {"kv": (62.0, 60.5), "drag_area": ("", 0.52), "tyre": ("", "580 mm")}})
    )
    assert not notes
    assert held[WERE] == {"kv": (62.0, 60.5), "drag_area": ("", 0.52), "tyre": ("", "580 mm")}
    for got, was in zip(held[MEMORIES], rows, strict=True):
        assert (got.kind, got.sure, got.level) == (was.kind, was.sure, was.level)
        for name in ("value", "at", "charge", "temperature", "front", "rear"):
            given = getattr(was, name)
            assert getattr(got, name) == (None if given is None else pytest.approx(given, rel=1e-6, abs=1e-7))


def test_hand_worked():
    """hand-worked: 36 km/h are 10 m/s; 15 mm are 0.015 m."""
    held, _ = read({"readings": "36:18_:9", "chain": "428_116_12_56_10_15"})
    assert held[READINGS] == [(10.0, 5.0), (None, 2.5)]
    assert held[CHAIN].pop("size") == "428"
    assert held[CHAIN] == pytest.approx({"links": 116, "front": 12, "rear": 56, "forward": 0.010, "back": 0.015})


def test_what_was_never_entered_is_not_in_the_link():
    assert texts({}) == {}
    for units in ("metric", "US"):
        assert texts({READINGS: readings.invented(units), CHAIN: {}}) == {}


def test_a_cleared_table_stays_cleared():
    assert read(texts({READINGS: []}))[0] == {READINGS: []}


@settings(max_examples=150, deadline=None)
@given(st.fixed_dictionaries({}, optional={key: st.text(max_size=80) for key in link_entries.KEYS}))
def test_damaged_entries_are_left_out_and_said(link):
    """property: whatever stands there is either sound or named."""
    held, notes = read(link)
    assert len(held) + len(notes) == len(link)
    assert not any(problem(row) for row in held.get(MEMORIES, []))
    for row in held.get(READINGS, []):
        assert all(value is None or math.isfinite(value) for value in row)


@pytest.mark.parametrize("text", ["428_9999_12_56_10_15", "_116_12_56_10_15", "", "428_1_2_3_4_5_6", "428_nan"])
def test_damaged_chain(text):
    assert len(read({"chain": text})[1]) == 1


def test_the_page_brings_them_back_and_keeps_them_in_its_address():
    page = opened(readings="50:48_100:96", chain="520_110_12_56__")
    assert page.session_state[READINGS][1] == pytest.approx((100 / 3.6, 96 / 3.6))
    assert page.session_state[CHAIN]["links"] == 110
    assert "".join(page.query_params["readings"]) == "50:48_100:96"
    assert "".join(page.query_params["chain"]) == "520_110_12_56__"
    assert "could not be read" in written(opened(readings="banana"))
