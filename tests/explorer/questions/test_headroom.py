"""Charge headroom: its curves, and what is said of them."""

import re

import numpy as np
import pytest

from explorer.format import UnitFormatter
from explorer.inputs.presets import PRESETS
from explorer.questions.headroom import words
from explorer.questions.headroom.results import headroom_of
from physics.studies.headroom_curves import headroom_answer
from tests.explorer.pages import page_of

WARM = {"air_temperature": 25.0}
KNOWN = WARM | {"charge_current": 150.0}


def said(page):
    return words.verdict(page, headroom_of(page))


def test_headroom_curves_stop_only_where_regen_is_not_allowed():
    """property: a gap in the curve against temperature lies outside the allowed temperatures."""
    answer = headroom_answer(page_of().build)
    inside = (answer.temperature >= answer.floor) & (answer.temperature <= answer.ceiling)
    assert np.isfinite(answer.volts_by_temperature[inside]).all()
    assert np.isnan(answer.volts_by_temperature[~inside]).all()


def test_the_curve_against_current_ends_where_the_cells_take_no_more():
    """hand-worked: 26 Ah take 26 A, 3 % of overshoot in it: 25.2 A; at 6 °C, 3 °C off, 5.2 A / 1.03 = 5.05 A."""
    for changes, most in ((WARM, 25.24), ({}, 5.05)):
        answer = headroom_of(page_of(**changes))
        assert answer.allowed_current == pytest.approx(most, abs=0.005)
        known = np.isfinite(answer.volts_by_current)
        assert known[answer.current <= most].all()
        assert not known[answer.current > most].any()


def test_the_demo_is_told_to_lower_its_regen_in_the_cold():
    """property: 40 A into 26 Ah at 6 °C (1.5C) is never let pass: how much instead comes first, why second."""
    text = said(page_of())
    assert text.startswith("**Lower regen to 5.0 A and start ")
    assert "below 13 °C they take only 0.2C, a fifth of the current that fills them in an hour" in text


@pytest.mark.parametrize("preset", PRESETS)
@pytest.mark.parametrize("changes", [{}, WARM, KNOWN, KNOWN | {"pack_resistance": None}], ids=str)
def test_what_is_set_is_printed_on_the_safe_side(preset, changes):
    """property: printed volts below full are no fewer, rest voltage, charge and current no more than worked out."""
    page = page_of(preset, **changes)
    answer, text = headroom_of(page), said(page)
    below, rest, charge = map(
        float, re.search(r"tart ([\d.]+) V .*?at ([\d.]+) V or less at rest \((\d+) %", text).groups()
    )
    today = answer.today
    assert today.volts_below_full <= below < today.volts_below_full + 0.1
    assert today.highest_rest_voltage >= rest > today.highest_rest_voltage - 0.1
    assert 100 * today.highest_charge >= charge > 100 * today.highest_charge - 1
    lowered = re.search(r"Lower regen to ([\d.]+) A", text)
    assert bool(lowered) == (page.build.controller.regen_current > answer.allowed_current)
    assert not lowered or float(lowered[1]) <= answer.allowed_current


def test_rounding_towards_the_safe_side():
    """hand-worked."""
    fmt = UnitFormatter("metric")
    assert (fmt.at_most("voltage", 95.79), fmt.at_least("voltage", 5.01)) == ("95.7 V", "5.1 V")
    assert (fmt.at_most("voltage", 95.8), fmt.at_least("voltage", 5.1)) == ("95.8 V", "5.1 V")
    assert fmt.at_most("charge", 0.879) == "87 %"
    assert fmt.at_least("capacity", 3600 * 2.81) == "2.9 Ah"


def test_unmeasured_resistance_is_said_with_what_a_measurement_gains():
    """property: the volts that are named are the difference of the two answers, never rounded up."""
    page = page_of(**KNOWN | {"pack_resistance": None})
    answer = headroom_of(page)
    gain = float(re.search(r"you need ([\d.]+) V less", said(page))[1])
    exact = answer.series.volts_below_full - answer.measured.volts_below_full
    assert exact - 0.1 < gain <= exact
    assert gain > 1
    assert "not measured" not in said(page_of(**KNOWN))


def test_an_unknown_current_of_measurement_counts_as_that_of_a_pull():
    """property: cells show less resistance at more current, so the safe side is the highest at which it may have
    been measured; what saying so gains is said, where it gains something, and that much is gained."""
    page = page_of(chemistry="lfp", **KNOWN)
    assert "No regen" in said(page)
    assert "so 104 A is assumed, to be safe; if it was 26 A, regen is allowed." in said(page)
    plain, slow = page_of(**KNOWN), page_of(resistance_current=26, **KNOWN)
    gain = float(re.search(r"if it was 26 A, you need ([\d.]+) V less", said(plain))[1])
    exact = headroom_of(plain).today.volts_below_full - headroom_of(slow).today.volts_below_full
    assert exact - 0.1 < gain <= exact + 1e-6  # both searches end within 2e-7 of charge
    assert "not known at what current" not in said(slow)
    assert "not known at what current" not in said(page_of(chemistry="nca", **KNOWN))


def test_iron_phosphate_is_answered_in_charge():
    """property: no volts to rest at; charge, amp-hours and energy instead, and why."""
    page = page_of(chemistry="lfp", resistance_current=26, **KNOWN)
    text = said(page)
    today = headroom_of(page).today
    assert re.match(r"\*\*Start at \d+ % charge or less\*\*, [\d.]+ Ah or [\d,]+ Wh below full", text)
    assert float(re.search(r"([\d.]+) Ah or", text)[1]) == pytest.approx(26.0 * today.charge_below_full, abs=0.1)
    assert "Go by amp-hours here, not volts" in text
    assert "Your planned" not in text
    assert words.table(page).iloc[-1, 1].endswith("%")


def test_a_long_descent_decides_where_it_returns_more():
    """property: the higher the descent, the lower the start; it is named whether it decides or not."""
    starts = []
    for height in (100.0, 1000.0, 2000.0):
        page = page_of(descent_height=height, **KNOWN)
        answer = headroom_of(page)
        starts.append(float(answer.descent.highest_charge))
        assert (f"{height:,.0f} m of descent at" in said(page)) == answer.by_descent
        assert (f"{height:,.0f} m descent needs less" in said(page)) != answer.by_descent
    assert starts[0] > starts[1] > starts[2]
    flat = page_of(descent_height=500.0, descent_slope=1.0, **KNOWN)
    assert "gives nothing back" in said(flat)


def test_more_events_and_shorter_pauses_never_allow_more():
    """property: 1 to 20 events, 60 to 0 s between them."""
    counts = [headroom_of(page_of(event_count=count, **KNOWN)).today.highest_charge for count in (1, 5, 10, 20)]
    assert counts == sorted(counts, reverse=True)
    pauses = [headroom_of(page_of(event_pause=pause, **KNOWN)).today.highest_charge for pause in (60, 20, 5, 0)]
    assert pauses == sorted(pauses, reverse=True)


def test_an_event_is_a_stop_from_the_target_or_has_a_length():
    """property: a stop from a faster target never allows more; a length that is given counts instead of the stop,
    whatever the target."""
    stops = [page_of(target=speed, **KNOWN) for speed in (40, 80, 120)]
    highest = [headroom_of(page).today.highest_charge for page in stops]
    assert highest == sorted(highest, reverse=True)
    assert highest[0] > highest[-1]
    assert "for 10 stops in a row from 80 km/h at 40 A of regen" in said(stops[1])
    assert "for one stop from 115 km/h" in said(page_of(event_count=1, **KNOWN))
    short = [page_of(target=speed, event_duration=2.0, **KNOWN) for speed in (40, 120)]
    assert len({float(headroom_of(page).today.highest_charge) for page in short}) == 1
    assert "for 10 events of 2 s in a row" in said(short[0])


def test_what_is_better_known_allows_more():
    """property: each half-width the rider narrows raises the highest charge, or leaves it."""
    plain = headroom_of(page_of(**KNOWN)).today.highest_charge
    for key in ("sure_resistance", "sure_pack_temperature", "sure_charge", "sure_weakest"):
        assert headroom_of(page_of(**KNOWN | {key: 0.0})).today.highest_charge >= plain
    exact = page_of(
        sure_resistance=0.0,
        sure_pack_temperature=0.0,
        sure_charge=0.0,
        sure_weakest=0.0,
        event_duration=5.0,
        **KNOWN,
    )
    assert words.holds_when(exact) == "This still holds with 3 % current overshoot."
