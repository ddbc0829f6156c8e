"""Sentences that answer first, held against the numbers they are built from, at corners where they were once wrong.

All are properties: whatever the build, what a sentence says must agree with the run it speaks of.
"""

import re
from types import SimpleNamespace

import numpy as np
import pytest

from explorer.format import UnitFormatter
from explorer.page import words
from explorer.questions.headroom import chart
from explorer.questions.headroom import words as headroom
from explorer.questions.headroom.results import headroom_of
from explorer.questions.line_limit import words as line_limit
from explorer.questions.line_limit.results import limit_of
from explorer.questions.sag import timer_words as protection
from physics.studies.headroom_curves import HeadroomAnswer
from tests.explorer.pages import page_of


@pytest.mark.parametrize("units", ["metric", "US"])
@pytest.mark.parametrize("target", [115, 118, 123, 137, 180])
def test_a_missed_target_adds_up_as_printed(units, target):
    """property: target less shortfall is the top speed, digit for digit."""
    kind, sentence = words.headline(page_of(units=units, target=target))
    wanted, short, top = (float(number) for number in re.findall(r"(\d+(?:\.\d+)?) (?:km/h|mph)", sentence))
    assert kind == "misses"
    assert wanted - short == pytest.approx(top, abs=1e-9)


def test_a_target_entered_in_the_other_unit_keeps_its_tenth():
    """hand-worked: 115 km/h / 1.609344 = 71.46 mph; 80 km/h / 1.609344 = 49.71 mph; 30 mph is round."""
    fmt = UnitFormatter("US")
    assert fmt.entered("speed", 115 / 3.6) == "71.5 mph"
    assert fmt.entered("speed", 80 / 3.6) == "49.7 mph"
    assert fmt.entered("speed", fmt.si("speed", 30.0)) == "30 mph"


def test_a_bike_that_does_not_move_is_said_not_to():
    """property: no top speed is claimed, and what holds is what holds to the end, not the opening throttle."""
    still = page_of("trail", slope=15.0, line_3=20.0, phase_3=50.0, headwind=60.0)
    assert words.headline(still) == ("misses", "Misses 70 km/h: it does not get moving.")
    assert words.limit_at_the_top(still.run) == "phase current"
    assert "throttle" not in words.what_holds(still)


def test_the_weakest_cell_is_told_with_its_threshold_and_delay():
    """property: the printed lowest voltage is the run's; a rule that is off is not mentioned."""
    page = page_of(undervoltage=2.9, undervoltage_delay=0.05)
    lowest = f"{page.run.minimum_cell_voltage[0]:.2f} V"
    assert words.weakest_cell(page) == (
        f"The weakest cell drops to {lowest}; the pack cuts out once it is below 2.90 V for 0.05 s."
    )


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"line_3": 300.0}, "its peak current is 240 A"),
        (
            {"preset": "trail", "line_3": 110.0, "overcurrent_law": "square of current"},
            "stays above the continuous current of 90 A for",
        ),
        ({"line_3": 170.0}, ""),
        ({"line_3": 300.0, "continuous_current": None, "peak_current": None}, ""),
    ],
    ids=str,
)
def test_a_run_above_a_rating_says_so(changes, said):
    """hand-worked: with 3 % of overshoot 300 A are 309 A, and 170 A stay below the 180 A of the demo."""
    page = page_of(**changes)
    text = words.past_rating(page)
    assert said in text
    assert bool(text) == bool(said)
    assert text in protection.verdict(page)


def test_volts_left_stand_beside_the_limit():
    """property: beside the timers stands what is left to the under-voltage rule, to a millivolt near it."""
    page = page_of()
    left = page.run.minimum_cell_voltage[0] - page.build.pack.protection.cell_undervoltage
    assert f"{left:.2f} V above its threshold" in words.pack_stays_closed(page)
    assert words.volts_left(0.0041, page.fmt) == "the weakest cell at least 0.004 V above its threshold"
    assert words.volts_left(-0.0052, page.fmt) == "the weakest cell down to 0.005 V below its threshold"
    row = protection.table(page).set_index("rule").loc["under-voltage"]
    assert row["left to the threshold"] == f"{left:.2f} V"


def test_own_limit_above_the_map_is_not_called_safe():
    """property: a limit above today's is never said to hold without saying where it does not."""
    page = page_of(air_temperature=-10.0, line_3=200.0)
    answer = limit_of(page)
    highest = answer.limits.limit[answer.row, answer.column]
    assert highest < 200.0
    text = line_limit.verdict(page, answer)
    assert f"**Today, {highest:.0f} A or less.**" in text
    assert "holds**" not in text
    assert "but not with every warmer or fuller pack" in text or "marginal" in text or "would cut out" in text


def test_headroom_without_regen_names_no_volts():
    """property: with the regen current at 0 A nothing is asked of the pack."""
    page = page_of(regen=0.0)
    answer = headroom_of(page)
    assert headroom.verdict(page, answer).startswith("**No regen is set (0 A).**")
    assert headroom.rule_of_thumb(page, answer) == ""


MADE_UP: dict = {}


def way_there(now: float, highest: float, energy: float, per_metre: float, steady: float = 11.1) -> str:
    """What `headroom.way_there` says, from made-up numbers."""
    page = page_of()
    MADE_UP["cruise"] = per_metre, steady
    today = SimpleNamespace(energy_to_ride_off=energy, highest_rest_voltage=highest)
    answer: HeadroomAnswer = SimpleNamespace(rest_voltage_now=now, today=today)
    return headroom.way_there(page, answer)


@pytest.fixture
def cruise_as_given(monkeypatch):
    """The consumption at a steady speed as the test has put it."""
    monkeypatch.setattr(headroom, "cruise", lambda build, speed: MADE_UP["cruise"])

    def ridden(answer, per_metre, steady):
        distance = answer.today.energy_to_ride_off / per_metre
        return distance, distance / steady

    monkeypatch.setattr(headroom, "ride_off_distance", ridden)


def test_riding_off_is_told_where_riding_does_it(cruise_as_given):
    """hand-worked: 100 Wh = 360,000 J at 36 J/m is 10 km; at 11.1 m/s that is 901 s, 15 min."""
    text = way_there(99.0, 96.0, 360e3, 36.0)
    assert text.endswith("use up 100 Wh first, about 10.0 km at 40 km/h (15 min).")
    assert way_there(99.04, 98.98, 7200.0, 36.0).endswith("99.0 V: use up the last 2.0 Wh first.")
    assert "hardly uses any charge" in way_there(99.0, 96.0, 360e3, 0.1)  # 3,600 km
    assert way_there(95.0, 96.0, 0.0, 36.0).endswith("low enough.")


def test_a_run_inside_every_limit_is_not_laid_on_a_rule():
    """property: a run that fills no clock is not said to come nearest to any rule."""
    page = page_of(line_3=60.0, air_temperature=30.0)
    assert not np.nanmax(page.run.trip_timers[0]) > 0.005
    assert words.pack_stays_closed(page).startswith("No cut-out: the run stays inside every BMS limit, the weakest")


@pytest.mark.parametrize(("pack", "words_there"), [(-8.0, "only from 3 °C"), (50.0, "only up to 42 °C")])
def test_no_regen_says_from_what_temperature_it_would_be(pack, words_there):
    """property: the bound is the demo's own charging window, 0 to 45 °C, less the 3 °C that the pack may be off."""
    page = page_of(pack_temperature=pack)
    answer = headroom_of(page)
    assert words_there in headroom.verdict(page, answer)
    assert "no regen at" in str(chart.against_current(answer, page.build, 3.0, page.fmt)["layout"]["annotations"])
    assert "at today's" not in headroom.rule_of_thumb(page, answer)
