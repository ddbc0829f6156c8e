"""Do the parts go together: the list and its verdict, as a page gives them and as Streamlit shows them."""

import pytest

from explorer.inputs.presets import PRESETS
from explorer.questions.parts_fit import words
from explorer.questions.parts_fit.results import chain_pitch
from physics.studies import parts_fit as study
from physics.studies.parts_fit import LINES, parts_fit
from tests.explorer.pages import opened, page_of, written
from tests.explorer.plain_words import slips, unsaid

EVERY_RATING = {
    "controller_voltage": 120.0, "back_emf": 200.0, "electrical_frequency": 1000.0, "charge_current": 80.0,
    "tyre": "110/70-17 54H", "fuse_current": 400.0, "cable_current": 400.0, "connector_current": 400.0,
    "pack_temperature": 25.0, "phase_3": 300.0,
}  # fmt: skip


def found_of(page):
    ratings = {name: page.inputs[f"{name}_current"] or float("inf") for name in ("fuse", "cable", "connector")}
    return parts_fit(page.build, page.run, **ratings)


def states(**changes):
    page = page_of("supermoto", **changes)
    found = found_of(page)
    return {line: words.state(line, rating, page.inputs) for line, rating in found.lines.items()}


def test_a_build_of_which_all_is_known():
    """hand-worked: 24 cells of 4.2 V on 120 V, 206 A at most on 400 A; the pack alone is high voltage."""
    found = states(**EVERY_RATING)
    assert {line for line in LINES if found[line] != words.FITS} == {study.VOLTAGE_CLASS}
    assert found[study.VOLTAGE_CLASS] == words.HIGH
    page = page_of("supermoto", **EVERY_RATING)
    verdict = words.verdict(page, found_of(page))
    assert verdict.startswith("**No mismatch found.**")
    assert "At 100.8 V when full, it counts as high voltage" in verdict
    assert "Not known" not in verdict


@pytest.mark.parametrize(
    ("changes", "line", "state"),
    [
        ({"controller_voltage": 100.0}, study.PACK_VOLTAGE, words.WRONG),  # a full pack has 100.8 V
        ({"controller_voltage": 101.0}, study.PACK_VOLTAGE, words.FITS),
        ({}, study.PACK_VOLTAGE, words.NOT_KNOWN),
        ({"back_emf": 90.0, "controller_voltage": 120.0}, study.BACK_EMF, words.WRONG),
        ({"field_weakening": 300.0, "controller_voltage": 120.0}, study.BACK_EMF, words.WRONG),
        ({"fuse_current": 100.0}, study.FUSE, words.WRONG),
        ({"regen": 100.0, "charge_current": 60.0, "pack_temperature": 25.0}, study.REGEN, words.WRONG),
        ({"regen": 100.0, "pack_temperature": 25.0}, study.REGEN, words.LOOK),  # the rating is only typical
        ({"tyre": "110/70-17 54B"}, study.TYRE_SPEED, words.WRONG),  # B allows 50 km/h
        ({"phase_3": 1500.0}, study.FRONT_WHEEL, words.LOOK),
        ({"cells": 14.0}, study.VOLTAGE_CLASS, words.LOW),  # 58.8 V
        ({"continuous_current": None}, study.PEAK_TIME, words.NOT_KNOWN),
    ],
)
def test_each_line(changes, line, state):
    """hand-worked: by the ratings entered; what passes a typical limit is to be looked at, not condemned."""
    assert states(**changes)[line] == state


@pytest.mark.parametrize("preset", PRESETS)
@pytest.mark.parametrize("units", ["metric", "US"])
def test_every_line_is_written(preset, units):
    """property: a number, an allowed one and a word for each line, none left empty, and no raw infinity."""
    page = page_of(preset, units)
    table = words.table(page, found_of(page))
    assert len(table) == len(LINES)
    text = table.to_string() + words.verdict(page, found_of(page)) + words.duty(page, found_of(page))
    assert "inf" not in text
    assert "nan" not in text.lower()
    assert set(table["limit from"]) <= {"● given", "◐ typical", "○ from the demo", words.NOT_KNOWN}
    sentences = f"{words.verdict(page, found_of(page))} {words.duty(page, found_of(page))}"
    assert not slips(sentences)
    assert not unsaid(sentences)


def test_the_page():
    """The verdict first, the list, the duty without any wire size, the caution; a fuse entered is judged."""
    page = opened("parts_fit", fuse_current=20, controller_voltage=20)
    text = written(page)
    assert "mismatches:**" in text
    assert "a full pack is at" in text
    assert "the fuse is rated 20 A" in text
    assert "A²s" in text
    assert "mm²" not in text
    assert "never which wire or fuse to buy" in text


def test_the_chain_that_was_entered():
    """published: 428 has half an inch of pitch, 520 five eighths (ISO 10190)."""
    assert chain_pitch({"size": "520", "links": 110}) == pytest.approx(0.015875)
    assert chain_pitch({"size": "428"}) == pytest.approx(0.0127)
    assert chain_pitch({}) is None


def test_where_a_limit_comes_from():
    """property: a rating that was entered is given, the demo's own is the demo's, one by a rule is typical."""
    page = page_of("supermoto", controller_voltage=110.0)
    table = words.table(page, found_of(page)).set_index("what")["limit from"]
    assert table["Full pack on the controller"] == "● given"
    assert table["Highest line current, and the pack's peak current"] == "○ from the demo"
    assert table["Regen current, and what the cells take today"] == "◐ typical"
    assert table["RMS current through the fuse"] == words.NOT_KNOWN


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"pack_temperature": -5.0, "regen": 40.0}, "these cells may not be charged below 0 °C"),
        ({"pack_temperature": 50.0, "regen": 40.0}, "these cells may not be charged above 45 °C"),
    ],
)
def test_where_charging_is_forbidden_it_says_so(changes, says):
    """property: in the verdict and in the list, and never as an allowance of nothing."""
    page = page_of("supermoto", **changes)
    found = found_of(page)
    verdict, table = words.verdict(page, found), words.table(page, found).to_string()
    assert says in verdict
    assert f"nothing: {says}" in table
    assert "take 0 A" not in verdict + table
