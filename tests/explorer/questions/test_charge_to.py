"""Charge to: what is said, printed on the safe side, and where nothing may be charged."""

import re

import numpy as np
import pytest

from explorer.components.live_chart import pack
from explorer.inputs.presets import PRESETS
from explorer.page.regen import headroom_today
from explorer.questions.charge_to import chart, words
from explorer.questions.charge_to.results import asked_of, charge_to_of
from tests.explorer.derivations.test_derivations import check
from tests.explorer.pages import opened, page_of, written

CHANGES = [
    {},
    {"charge_for": "target", "target": 90.0},
    {"charge_own": 58.0},
    {"charger_power": 0.4, "charger_current": 40.0},
    {"charge_temperature": 11.0, "charger_current": 20.0},
    {"regen": 0.0},
    {"chemistry": "lfp"},
    {"pack_resistance": None, "charge_for": "target", "target": 200.0},
    {"charge_from": 140.0},
    {"charge_temperature": -5.0},
    {"charge_temperature": 48.0},
]


@pytest.mark.parametrize(("preset", "system"), [*zip(PRESETS, ("metric", "US", "metric"), strict=True)])
def test_words_numbers_and_chart(preset, system):
    """property: a verdict for every way of asking, no NaN; the derivation's numbers give its results."""
    for changes in CHANGES:
        page = page_of(preset, units=system, **changes)
        answer = charge_to_of(page)
        text = " ".join((words.verdict(page, answer), words.check(page, answer), words.on_the_sheet(page, answer)))
        assert text.startswith("**")
        assert not re.search(r"\bnan\b|\binf\b|not known|no limit", text), text
        if words.charges(answer):
            assert len(pack(chart.figure(answer, page.fmt), key="a", height=1, alt="")) < 60_000
            assert len(words.table(page, answer)) > 5
            for step in words.derivation(page, answer):
                check(step)


@pytest.mark.parametrize("preset", PRESETS)
def test_the_reading_is_never_printed_past_the_safe_side(preset):
    """property: at most what is worked out where regen needs room, and the pack then rests where regen is
    allowed."""
    page = page_of(preset, air_temperature=20.0, regen=10.0)
    answer = charge_to_of(page)
    printed = float(re.search(r"Charge to ([\d.]+) V on the charger", words.verdict(page, answer))[1])
    assert answer.stop_voltage - 0.1 < printed <= answer.stop_voltage
    assert answer.rest_voltage <= float(headroom_today(page).today.highest_rest_voltage) + 1e-6
    assert asked_of(page).at_most
    needed = page_of(preset, charge_for="target", target=60.0)
    answer = charge_to_of(needed)
    if words.charges(answer) and not answer.by_current:
        printed = float(re.search(r"Charge to ([\d.]+) V on the charger", words.verdict(needed, answer))[1])
        assert answer.stop_voltage <= printed < answer.stop_voltage + 0.1


def test_a_break_between_pulls():
    """hand-worked: from 84 V at rest to 88 V, as for any other start; 10 A for t hours put in 10 t Ah."""
    page = page_of(charge_from=84.0, charge_own=88.0, charger_current=10.0)
    answer = charge_to_of(page)
    assert answer.start_voltage == pytest.approx(84.0, abs=0.01)
    assert answer.rest_voltage == pytest.approx(88.0, abs=0.01)
    assert answer.charge_added * 26.0 == pytest.approx(10.0 * answer.time / 3600.0, rel=1e-6)
    assert np.all(np.diff(answer.curve.time[0]) > 0)


def test_section():
    text = written(opened("charge_to"))
    assert "on the charger: it rests at" in text
    assert "stay with it" in text
    assert "Do not charge" in written(opened("charge_to", charge_temperature=-10))
