"""Builds in files: there and back, hostile files, and opening one on the page."""

import json
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from explorer.frame.bar import take_in
from explorer.inputs.catalogue import INPUTS
from explorer.inputs.origins import OWN
from explorer.inputs.presets import PRESETS
from explorer.state import build_files, json_files
from explorer.state.share_link import MOST_BUILDS
from explorer.state.state import State
from tests.explorer.page.test_page import state_of
from tests.explorer.pages import SUPERMOTO
from tests.explorer.questions.test_builds import opened
from tests.explorer.state.test_state import some_values

GOOD = dict(PRESETS["trail"].values() | {"front_teeth": 13.0})


UNKNOWN = {key for key, value in GOOD.items() if value is None and INPUTS[key].kind == "optional"}


def as_file(**parts) -> bytes:
    whole = {"headroom_builds": 1, "builds": [{"name": "Wet", "inputs": GOOD}]}
    return json.dumps(whole | parts).encode()


@pytest.mark.parametrize("seed", range(20))
def test_file_there_and_back(seed):
    """property: every input, of any value it accepts, comes back from the file as it was."""
    builds = {"Wet": some_values(seed), "<b>été</b>": some_values(seed + 100)}
    found = build_files.from_bytes(build_files.as_json(builds).encode())
    assert found.builds == list(builds.items())
    assert found.sentences == []


def test_file_says_its_units_and_its_version():
    held = json.loads(build_files.as_json({"Wet": GOOD}))
    assert held["headroom_builds"] == 1
    assert held["units"]["capacity"] == "Ah"
    assert held["units"]["phase_1"] == "A peak"
    assert set(held["units"]) <= set(INPUTS)
    assert list(held["builds"][0]["inputs"]) == list(INPUTS)


@pytest.mark.parametrize(
    ("data", "word"),
    [
        (b"", "not JSON"),
        (b"{", "line 1"),
        (b"\xff\xfe\x00", "UTF-8"),
        (b"[]", "headroom_builds"),
        (b"null", "headroom_builds"),
        (b'{"builds": []}', "headroom_builds"),
        (as_file(headroom_builds=2), "version “2”"),
        (as_file(headroom_builds=None), "does not say for which version"),
        (as_file(headroom_builds=True), "version “true”"),
        (as_file(headroom_builds={"a": 1}), "version a table"),
        (as_file(headroom_builds="<script>"), "version “?script?”"),
        (as_file(builds={}), "no list of builds"),
        (as_file(builds=[]), "no list of builds"),
        (as_file(builds=[1, None, [], {"name": "x"}]), "no inputs"),
        (b"[" * 100_000, "not JSON"),
        (b'{"headroom_builds": ' + b"9" * 5000 + b"}", "not JSON"),
        (b" " * (build_files.LARGEST + 1), "larger"),
    ],
)
def test_a_file_that_is_none_is_refused_in_a_plain_sentence(data, word):
    state = State()
    before = dict(state.builds)
    said = take_in(state, data)
    assert word in " ".join(said)
    assert "your builds are unchanged" in said[-1]
    assert state.builds == before
    assert not state.past


@pytest.mark.parametrize("value", ["NaN", "Infinity", "1e400", '"13"', "true", "null", "[1]", "{}", "-1e9"])
def test_an_input_that_is_none_is_left_out_and_said(value):
    text = as_file().decode().replace('"front_teeth": 13.0', f'"front_teeth": {value}')
    found = build_files.from_bytes(text.encode())
    assert "Front sprocket" in " ".join(found.sentences)
    name, values = found.builds[0]
    assert name == "Wet"
    assert INPUTS["front_teeth"].low <= values["front_teeth"] <= INPUTS["front_teeth"].high
    assert values | {"front_teeth": 13.0} == GOOD


def test_what_stands_twice_in_a_file_is_said():
    """hand-worked: two lists of builds in one file; the last counts, with a word."""
    twice = as_file().decode().replace("{", '{"builds": [{"name": "Lost", "inputs": {}}], ', 1)
    found = build_files.from_bytes(twice.encode())
    assert [name for name, _ in found.builds] == ["Wet"]
    assert found.sentences == ["The file holds “builds” more than once in one place. The last counts."]


def test_what_a_file_leaves_out_is_typical_and_it_says_so():
    found = build_files.from_bytes(as_file(builds=[{"name": "Half", "inputs": {"cells": 20, "new_thing": 3}}]))
    ((name, values),) = found.builds
    assert (name, values.preset, values.given, values["cells"]) == ("Half", OWN, {"cells"}, 20.0)
    assert "leaves out" in " ".join(found.sentences)
    assert "“new_thing”" in " ".join(found.sentences)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=8,
)
KEYS = st.sampled_from([*INPUTS, "zzz", "<b>"])
ITEMS = st.fixed_dictionaries({}, optional={"name": JSON, "inputs": st.dictionaries(KEYS, JSON, max_size=8) | JSON})


@settings(max_examples=150, deadline=None)
@given(st.fixed_dictionaries({"headroom_builds": st.just(1) | JSON}, optional={"builds": st.lists(ITEMS | JSON)}))
def test_no_file_gives_what_the_inputs_refuse(held):
    """property: whatever JSON a file holds, what is taken from it is safe, and what is said can be shown."""
    check(build_files.from_bytes(json.dumps(held).encode()))


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=400))
def test_no_bytes_break_it(data):
    check(build_files.from_bytes(data))


@pytest.mark.parametrize("seed", range(60))
def test_damaged_files_give_what_is_sound(seed):
    """property: a good file with some of its bytes changed, lost or doubled is read or refused, never worse."""
    chance = random.Random(seed)
    data = bytearray(build_files.as_json({"Wet": GOOD, "Dry": some_values(seed)}).encode())
    for _ in range(chance.randrange(1, 6)):
        place = chance.randrange(len(data))
        change = chance.randrange(3)
        if change == 0:
            data[place] = chance.randrange(256)
        elif change == 1:
            del data[place : place + chance.randrange(1, 50)]
        else:
            data[place:place] = data[place : place + chance.randrange(1, 50)]
    check(build_files.from_bytes(bytes(data)))


def check(found: build_files.Opened):
    assert len(found.builds) <= MOST_BUILDS
    assert found.builds or found.sentences
    assert len(found.sentences) <= json_files.MOST_SENTENCES + 1
    assert all(line.isprintable() and "<" not in line and len(line) < 700 for line in found.sentences)
    for name, values in found.builds:
        assert name
        assert name.isprintable()
        assert list(values) == list(INPUTS)
        assert all(INPUTS[key].clean(value) == (value, "") for key, value in values.items())


def upload(page, data: bytes):
    page.file_uploader[0].set_value(("../../etc/x.json", data, "application/json")).run()
    assert not page.exception
    return " ".join(text.value for text in page.text)


def test_opening_a_file_puts_its_builds_beside_mine():
    page = opened(front_teeth="14")
    mine = dict(state_of(page).builds)
    said = upload(page, as_file(builds=[{"name": "Wet", "inputs": GOOD}, {"name": "Wet", "inputs": GOOD}]))
    assert "Opened “Wet”, “Wet (2)”" in said
    assert list(state_of(page).builds) == [*mine, "Wet", "Wet (2)"]
    assert state_of(page).name == "Wet"
    assert (state_of(page).preset, state_of(page).values.given) == (OWN, set(INPUTS) - UNKNOWN)
    assert {name: state_of(page).builds[name] for name in mine} == mine
    page.button(key="undo").click().run()
    assert state_of(page).builds == mine
    assert state_of(page).preset == SUPERMOTO


def test_a_hostile_file_changes_nothing_on_the_page():
    page = opened(front_teeth="14")
    before = dict(state_of(page).builds)
    assert "not JSON" in upload(page, b"<script>alert(1)</script>")
    assert state_of(page).builds == before
    assert page.metric[0].value.endswith("km/h")


def test_a_file_of_a_build_that_cannot_be_made_is_opened_and_explained():
    page = opened()
    upload(page, as_file(builds=[{"name": "Odd", "inputs": GOOD | {"tyre": "banana"}}]))
    assert state_of(page).name == "Odd"
    assert "banana" in page.error[0].value
    assert page.metric[0].value.endswith("km/h")
