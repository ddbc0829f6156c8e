"""Where a value comes from: given, typical or from the demo; by link, by file, after a change. All are property."""

import random

import pytest

from explorer.inputs import typical
from explorer.inputs.catalogue import INPUTS
from explorer.inputs.origins import DEMO, FACTS, GIVEN, MARKS, OWN, TYPICAL, WORDS, Inputs, facts, origin, those
from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from explorer.state import build_files
from explorer.state.state import State, from_link
from tests.explorer.state.test_state import some_values


def some_given(seed: int) -> dict:
    """A few random values of the rider's own."""
    chance = random.Random(seed)
    values = {key: value for key, value in some_values(seed).items() if value is not None}
    return {key: values[key] for key in chance.sample(sorted(values), chance.randrange(12))}


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("start", [OWN, *PRESETS])
def test_given_there_and_back_by_link_and_by_file(start, seed):
    """property: given, to a link, to a file and to a link again: the same names are given and no others."""
    state = State() if start == OWN else State.of(start)
    given = some_given(seed)
    if start == OWN:
        state.make_own(given)
    else:
        state.give(given)
    by_link = from_link(state.link())
    ((_, by_file),) = build_files.from_bytes(build_files.as_json(by_link.builds).encode()).builds
    again = from_link(State({"Again": by_file}, "Again").link()).values
    for values in (by_link.values, by_file, again):
        assert (values.preset, values.given) == (start, frozenset(given))
        assert values == state.values
        assert [values.origin(key) for key in INPUTS] == [state.values.origin(key) for key in INPUTS]


def test_a_value_equal_to_the_presets_may_be_given():
    state = State.of("road")
    state.change("kv", state.values["kv"])
    assert state.values.origin("kv") == DEMO
    state.give({"kv": state.values["kv"]})
    assert state.values.origin("kv") == GIVEN
    assert state.link() == {"v": "1", "preset": "road", "given": "kv"}
    assert from_link(state.link()).values.given == {"kv"}
    state.undo()
    assert state.values.origin("kv") == DEMO


@pytest.mark.parametrize("key", [key for key in typical.RULES if INPUTS[key].is_number])
def test_what_is_typical_stays_as_it_is_once_it_is_given(key):
    """property: the other inputs may be anything; nothing typical moves a value that is given."""
    for seed in range(3):
        mine = Inputs(OWN, {}, some_given(seed) | {key: INPUTS[key].low})
        assert mine[key] == INPUTS[key].low
        assert mine.origin(key) == GIVEN


@pytest.mark.parametrize(
    ("source", "value", "follows"),
    [
        ("kv", 90.0, ("motor_resistance", "motor_inductance", "rear_teeth")),
        ("line_3", 300.0, ("line_1", "line_2", "phase_1", "phase_2", "phase_3")),
        ("continuous_current", 240.0, ("peak_current", "fast_current", "line_3", "phase_3", "rear_teeth")),
        ("capacity", 60.0, ("continuous_current", "regen", "bike_mass")),
        ("cells", 28.0, ("kv", "bike_mass")),
        ("tyre", "90/90-12", ("rear_teeth",)),
        ("rear_teeth", 70.0, ("front_teeth",)),
    ],
)
def test_what_is_typical_follows_its_source(source, value, follows):
    """property: and stays what it is where it was given itself."""
    before = Inputs(OWN, {}, {})
    after = before.told({source: value})
    assert [key for key in follows if after[key] == before[key]] == []
    held = before.told({key: before[key] for key in follows}).told({source: value})
    assert [key for key in follows if held[key] != before[key]] == []


def test_a_sprocket_is_tried_against_the_other_as_it_stands():
    """property: tried, the ratio changes; told as a fact, the other sprocket follows by its rule."""
    before = Inputs(OWN, {}, {"kv": 75.0})
    tried, told = before | {"front_teeth": 10.0}, before.told({"front_teeth": 10.0})
    assert (tried["rear_teeth"], tried.origin("rear_teeth")) == (before["rear_teeth"], GIVEN)
    assert told["rear_teeth"] < before["rear_teeth"]
    assert told.origin("rear_teeth") == TYPICAL
    day = before | {"line_3": 120.0, "rider_mass": 70.0, "posture": "tucked", "charge": 60.0}
    assert day["rear_teeth"] == before["rear_teeth"]


def test_what_is_tried_out_by_a_rule_stays_typical_in_ones_own_bike():
    """property: and undone in one move; in a demo's bike it is given, as there is no rule to follow."""
    tried = {"capacity": 30.0, "continuous_current": 150.0, "peak_current": 187.5}
    state = State()
    state.make_own({"cells": 20.0, "continuous_current": 200.0})
    before = state.values
    state.try_out(tried, before, ["continuous_current", "peak_current"])
    assert {key: state.values[key] for key in tried} == tried
    assert state.values.given == {"cells", "capacity"}
    assert state.baseline is before
    state.undo()
    assert state.values is before
    demo = State.of("road")
    demo.try_out(tried, demo.values, ["continuous_current"])
    assert demo.values["continuous_current"] == 150.0


@pytest.mark.parametrize("seed", range(60))
def test_typical_values_are_such_as_the_inputs_accept_and_make_a_build(seed):
    """property: whatever the rider gives, as long as it goes together by itself."""
    values = Inputs(OWN, {}, {key: value for key, value in some_given(seed).items() if "current" not in key})
    assert list(values) == list(INPUTS)
    assert {key for key in INPUTS if INPUTS[key].clean(values[key]) != (values[key], "")} == set()
    if values["foldback_start"] >= values["foldback_end"]:
        make_build(values)


@pytest.mark.parametrize("preset", PRESETS)
@pytest.mark.parametrize("seed", range(4))
def test_nothing_is_left_of_a_demo_once_it_is_made_ones_own(preset, seed):
    """property: not one of all inputs, whatever was given before; and it is one move to undo."""
    state = State.of(preset)
    state.give(some_given(seed))
    before = state.values
    state.set_baseline(before)
    state.make_own(some_given(seed + 50))
    assert [key for key in INPUTS if state.values.origin(key) == DEMO] == []
    assert state.baseline is None
    assert "invented" not in state.name
    assert [key for key in INPUTS if from_link(state.link()).values.origin(key) == DEMO] == []
    state.undo()
    assert state.values is before


def test_every_typical_value_says_its_rule():
    """property: a sentence of its own for whatever can be counted as typical, its source or that it has none."""
    for key in facts(Inputs(OWN, {}, {})):
        assert typical.because(key).endswith("."), key


def test_the_three_are_told_apart_without_colour():
    assert len(set(MARKS.values())) == len(set(WORDS.values())) == 3


def test_counting_covers_each_fact_once():
    demo = PRESETS["road"].values() | {"kv": 75.0, "drag_area": None}
    counted = [*those(demo, GIVEN), *those(demo, TYPICAL), *those(demo, DEMO)]
    assert sorted(counted) == sorted(facts(demo))
    assert len(counted) == len(FACTS)
    assert (origin(demo, "kv"), origin(demo, "drag_area"), origin(demo, "cells")) == (GIVEN, TYPICAL, DEMO)
