"""Verdicts as Streamlit shows them side by side, at addresses where some once contradicted each other.

All are properties: what the sections say of one run agrees.
"""

import pytest

from explorer.questions.voltage_window import results as voltage_window
from tests.explorer.pages import opened, settled, written

WAYS = "what_gets_me_there"


@pytest.fixture(autouse=True)
def few_pulls(monkeypatch):
    monkeypatch.setattr(voltage_window, "MOST_PULLS", 2)


def said(**link):
    """All words of the page with what speaks of the target unfolded."""
    page = opened("gearing", WAYS, "voltage_window", "line_limit", **link)
    return written(settled(page, WAYS)).replace("*", "")


def test_a_target_below_the_speed_that_gearing_compares():
    """No pair is at 50 km/h within five seconds, and the present one reaches 45."""
    text = said(preset="supermoto", duration=5, target=45, line_3=60)
    assert "Reaches 45 km/h after" in text
    assert "of the pairs that reach 45 km/h" in text
    assert "No pair here reaches" not in text
    assert "Nothing needs to change: it reaches 45 km/h" in text
    assert "km/h after 5 s, still gaining. At its top speed" in text
    assert ",." not in text


def test_coasting_down_a_hill_after_a_cut_out_reaches_nothing():
    """The pack is too cold to give current for longer than two seconds; the bike rolls on to 71 km/h."""
    text = said(preset="supermoto", slope=-10, discharge_minimum=0, air_temperature=-5, target=60)
    assert "Misses 60 km/h: the pack cuts out after 2.0 s, at 36 km/h." in text
    assert "With 12/56 the pack cuts out after 2.0 s; until then it does 36 km/h." in text
    assert "60 km/h is out of reach within 30 s today at any charge: the best is 36 km/h" in text
    assert "One change alone reaches 60 km/h without a cut-out: pack temperature −5 → 0 °C." in text
    assert "71 km/h" not in text


def test_a_target_that_is_passed_before_a_cut_out():
    """Both is said wherever one of them is."""
    text = said(
        preset="supermoto", target=60, continuous_current=60, peak_current=160, fast_current=400, peak_time=8
    )
    assert "Reaches 60 km/h after" in text
    assert "but the pack cuts out at" in text
    assert "It reaches 60 km/h as it is, but cuts out at" in text
    assert "60 km/h without a cut-out" in text
    assert "But the pack cuts out later in the run, at" in text
    assert "out of reach" not in text
    assert "Your 200 A holds" not in text


def test_a_run_that_ends_before_it_settles():
    """Its end is no verdict: what it settles at is."""
    text = said(preset="supermoto", duration=8)
    assert "Misses 115 km/h by 1.6 km/h: it tops out at 113.4 km/h (94.3 km/h after 8 s)." in text
    assert "reaches 115 km/h within 8 s" in text
