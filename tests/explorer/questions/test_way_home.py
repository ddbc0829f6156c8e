"""The way home: what is said, printed on the safe side, and ways that are too far."""

import re

import pytest

from explorer.components.live_chart import pack
from explorer.inputs.presets import PRESETS
from explorer.page.results import home_of
from explorer.questions.way_home import chart, results, words
from tests.explorer.derivations.test_derivations import check
from tests.explorer.pages import opened, page_of, rerun, written

CHANGES = [
    {},
    {"home_distance": 100.0, "home_speed": 60.0},
    {"home_speed": 120.0},
    {"home_slope": -10.0, "home_wind": -60.0},
    {"home_slope": 10.0},
    {"home_stops": 100.0, "charge": 20.0},
    {"charge": 0.0},
    {"chemistry": "lfp"},
    {"air_temperature": -20.0},
]


@pytest.mark.parametrize(("preset", "system"), [*zip(PRESETS, ("metric", "US", "metric"), strict=True)])
def test_words_numbers_and_chart(preset, system):
    """property: a verdict for every way, no NaN; the derivation's numbers give its results."""
    for changes in CHANGES:
        page = page_of(preset, units=system, **changes)
        home = home_of(page)
        text = " ".join((words.verdict(page, home), words.holds_when(page, home), words.on_the_sheet(page, home)))
        assert text.startswith("**")
        assert not re.search(r"\bnan\b|\binf\b|not known|no limit", text), text
        figure = chart.figure(home, results.distance_of(page), results.rest_voltage_now(page), page.fmt)
        assert len(pack(figure, key="a", height=1, alt="")) < 60_000
        assert len(words.table(page, home)) == 11
        for step in words.derivation(page, home):
            check(step)


@pytest.mark.parametrize("preset", PRESETS)
def test_the_voltage_is_never_printed_too_low(preset):
    """property: what to turn back at is printed no lower, and the range no longer, than worked out."""
    page = page_of(preset)
    home = home_of(page)
    said = words.verdict(page, home)
    back, goes = (
        float(re.search(text, said)[1]) for text in (r"Turn back at ([\d.]+) V", r"gets you ([\d.]+) km at")
    )
    assert home.rest_voltage <= back < home.rest_voltage + 0.1
    assert home.range_now - 100.0 < 1000.0 * goes <= home.range_now


def test_section_and_what_is_left_after_each_pull(monkeypatch):
    monkeypatch.setattr(results, "MOST_PULLS", 2)
    page = opened("way_home", target=100)
    assert "Turn back at" in written(page)
    assert "push it the rest of the way" in written(page)
    rerun(page, "table_way_home_pulls")
    assert "too far at" in written(opened("way_home", home_distance=100, home_speed=70))
