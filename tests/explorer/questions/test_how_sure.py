"""How sure it is, as Streamlit runs it: verdicts, tables, folding, stopping."""

import time

import numpy as np
import pytest

from explorer.frame.provenance import NEXT_FACT
from explorer.inputs.how_sure import SURE
from explorer.inputs.origins import TYPICAL
from explorer.inputs.presets import PRESETS
from explorer.page.tolerances import UNKNOWNS
from explorer.questions.how_sure import chart, results, words
from physics.studies.uncertainty.bands import chance
from physics.studies.uncertainty.tolerance import SATURATIONS
from tests.explorer.pages import opened, settled, state_of, written

KEY = "how_sure"


@pytest.fixture
def small(monkeypatch):
    """Few samples: what is tested here is the page, not its precision."""
    monkeypatch.setattr(results, "SAMPLES", 64)
    monkeypatch.setattr(results, "BASE", 16)


@pytest.mark.parametrize("preset", PRESETS)
def test_how_sure_answers_every_preset(preset, small):
    text = written(settled(opened("how_sure", preset=preset), KEY))
    assert "Nine in ten runs top out between" in text
    assert "**Measure next: " in text
    assert "Saltelli" in text
    assert "These chances cover only the unknowns named here" in text
    assert "nan" not in text.lower().split()


def test_how_sure_shows_every_curve_and_outcome(small):
    page = settled(opened("how_sure"), KEY)
    for curve in ("Pack", "Weakest cell", "Line current", "Winding"):
        page.session_state["how_sure_curve"] = curve
        page.run()
        assert not page.exception
    page.session_state["how_sure_outcome"] = "Weakest cell"
    page.session_state["table_how_sure"] = page.session_state[f"group_{SURE}"] = True
    page.run()
    assert not page.exception
    frame = page.dataframe[0].value
    assert len(frame) == len(UNKNOWNS) + len(SATURATIONS)
    assert frame["uncertainty in top speed, %"].is_monotonic_decreasing
    assert "95 times in 100" in written(page)
    assert "so it counts as ±20 %" in written(page)
    assert frame.set_index("unknown").loc["drag area", "known to"] == "±20 %"


def test_how_sure_can_be_stopped_and_says_so(monkeypatch):
    monkeypatch.setattr(results, "SAMPLES", 2**15)
    page = opened("how_sure")
    end = time.monotonic() + 30
    while not any(button.key == "how_sure_stop" for button in page.button) and time.monotonic() < end:
        page.run()
    time.sleep(1.5)
    page.button(key="how_sure_stop").click().run()
    text = written(settled(page, KEY))
    assert "Stopped after" in text
    assert "no advice on what to measure next" in text


def test_nothing_in_doubt_is_said(small):
    entered = {"lead_resistance": 2, "modulation": 99, "magnet_weakening": 0.05, "saturation": 900}
    entered |= {"inductance_saturation": 900, "sure_saturation": 0, "drag_area": 0.5, "cold_growth": 2.0}
    nothing = dict.fromkeys(UNKNOWNS, 0) | entered
    text = written(settled(opened("how_sure", **nothing), KEY))
    assert "Nothing is uncertain" in text


def test_folded_it_computes_nothing(monkeypatch):
    def refuse(*_, **__):
        raise AssertionError("A folded section computed something.")

    monkeypatch.setattr(results, "likely", refuse)
    monkeypatch.setattr(results, "sensitivity", refuse)
    opened(humidity=35)


def test_chances_in_words():
    assert words._chance(chance(0, 1024), "to x").startswith("Next to no chance to x: none of 1,024 runs does")
    assert words._chance(chance(1024, 1024), "to x").startswith("Almost certain to x: all 1,024 runs do")
    assert "about 50 % (sampling error: 47 to 53 %)" in words._chance(chance(512, 1024), "to x")


def test_share_chart_puts_the_largest_on_top():
    figure = chart.doubt(["a", "b", "c"], [0.1, 0.7, -0.01], [0.0, 0.6, -0.1], [0.2, 0.8, 0.05], "t")
    assert figure["data"][0]["y"] == ["b", "a", "c"]
    assert figure["layout"]["yaxis"]["categoryarray"] == ["c", "a", "b"]
    assert (np.asarray(figure["data"][0]["x"]) >= 0).all()


def test_ranges_of_one_value_are_told_once():
    """hand-worked."""
    assert words.between("0", "0 km/h") == "at 0 km/h"
    assert words.between("71", "73 mph") == "between 71 and 73 mph"


def test_the_bar_names_what_it_found(small):
    """property: once ranked, the typical value to measure next stands in the bar, and the walk begins with it."""
    page = settled(opened("how_sure", preset="own", kv="75", cells="20"), KEY)
    button = page.button(key="one_by_one")
    assert button.label.startswith("Measure next: ")
    assert state_of(page).values.origin(page.session_state[NEXT_FACT]) == TYPICAL
    assert opened(preset="own", kv="75").button(key="one_by_one").label == "One by one"
