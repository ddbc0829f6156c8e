"""Packs on offer in link and file: there and back, and damaged. All are property unless they say otherwise."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from explorer.inputs.presets import PRESETS
from explorer.state import build_files, offers
from explorer.state.link_entries import read, texts
from explorer.state.offers import BOUNDS, FILE, MOST, OFFERS
from explorer.state.state import State
from physics.components.cell import CHEMISTRY_KEYS

ROW = st.fixed_dictionaries(
    {},
    optional={"name": st.text(max_size=30).map(offers.named), "chemistry": st.sampled_from(CHEMISTRY_KEYS)}
    | {key: st.floats(*ends) for key, ends in BOUNDS.items()},
).map(lambda row: {key: value for key, value in row.items() if value != ""})
BUILDS = {"Wet": PRESETS["trail"].values()}


@settings(max_examples=80, deadline=None)
@given(st.dictionaries(st.integers(0, MOST - 1), ROW))
def test_there_and_back(entries):
    """property: every row comes back, by link to ten digits and by file as it was."""
    entries = {place: row for place, row in entries.items() if row}
    held, notes = read(texts({OFFERS: entries}))
    file = build_files.from_bytes(build_files.as_json(BUILDS, entries).encode())
    assert notes == file.sentences == []
    for found in (held.get(OFFERS, {}), file.offers):
        assert set(found) == set(entries)
        for place, row in entries.items():
            assert found[place] == {
                key: pytest.approx(value, rel=1e-9) if key in BOUNDS else value for key, value in row.items()
            }


def test_hand_worked():
    """hand-worked: 40 milliohm are 0.04 ohm; a blank row keeps its place."""
    assert offers.from_text(":::::::::~Strong:lfp:20:30:40:200:250:10:11.5:900") == {
        1: {
            "name": "Strong", "chemistry": "lfp", "cells_in_series": 20, "capacity_ah": 30, "resistance": 0.04,
            "continuous_current": 200, "peak_current": 250, "peak_time": 10, "mass": 11.5, "price": 900,
        }
    }  # fmt: skip
    assert set(FILE) == set(BOUNDS)
    assert offers.as_text({}) == offers.as_text({0: {}}) == ""


@pytest.mark.parametrize(
    "text",
    [
        "banana",
        ":::nan::::::",
        ":::1e9::::::",
        "::x:::::::",
        ":gold::::::::",
        ":::::::::~" * 4,
        "::::::::::",
        "::1_0:::::::",
    ],
)
def test_a_damaged_link_is_refused_in_one_sentence(text):
    held, notes = read({"packs": text})
    assert (held, notes) == ({}, ["The link's packs on offer could not be read; the page starts without it."])


@pytest.mark.parametrize(
    "held",
    [
        1, {}, [1], [{}] * 4, [{"cells": True}], [{"capacity_ah": "30"}], [{"mass_kg": 1e400}], [{"zzz": 1}],
        [{"chemistry": "<b>"}], [{"chemistry": []}], [{"name": 3}], [{"price": -1}], [{"cells": 10**400}],
    ],
)  # fmt: skip
def test_a_damaged_file_keeps_its_builds_and_says_so_in_one_sentence(held):
    whole = json.loads(build_files.as_json(BUILDS)) | {"packs_on_offer": held}
    found = build_files.from_bytes(json.dumps(whole).encode())
    assert [name for name, _ in found.builds] == ["Wet"]
    assert found.offers == {}
    assert found.sentences == ["The file's packs on offer could not be read; those on the page are kept."]


def test_a_file_brings_its_packs_into_the_session():
    from explorer.frame.bar import take_in

    session = {}
    take_in(State(), build_files.as_json(BUILDS, {0: {"capacity_ah": 30.0}}).encode(), session)
    assert session == {OFFERS: {0: {"capacity_ah": 30.0}}}
