"""The road a test needs: what is said, never rounded down, and roads that no brakes are enough for."""

import re

import pytest

from explorer.components.live_chart import pack
from explorer.inputs.presets import PRESETS
from explorer.questions.road_needed import chart, words
from explorer.questions.road_needed.results import plan_of, road_of
from tests.explorer.derivations.test_derivations import check
from tests.explorer.pages import CUTS_OUT, opened, page_of, written

CHANGES = [
    {},
    {"road_surface": "wet", "road_brakes": "rear", "slope": -8.0},
    {"road_brakes": "front", "road_deceleration": 10.0, "road_hold": 0.0},
    {"target": 200.0},
    {"slope": -15.0, "road_deceleration": 1.0},
    CUTS_OUT,
]


@pytest.mark.parametrize(("preset", "system"), [*zip(PRESETS, ("metric", "US", "metric"), strict=True)])
def test_words_numbers_and_chart(preset, system):
    """property: a verdict for every plan, no NaN, never rounded down; the derivation's numbers give its results."""
    for changes in CHANGES:
        page = page_of(preset, units=system, **changes)
        road = road_of(page)
        text = " ".join((words.verdict(page, road), words.braking(page, road), words.on_the_sheet(page, road)))
        assert text.startswith("**")
        assert not re.search(r"\bnan\b|\binf\b|not known|no limit", text), text
        assert len(pack(chart.figure(road, page.fmt), key="a", height=1, alt="")) < 60_000
        assert len(words.table(page, plan_of(page))) == 3
        for step in words.derivation(page, road):
            check(step)
        said = re.search(r"You need ([\d,]+) (m|ft) of road", text)
        if said:
            metres = float(said[1].replace(",", "")) * (1.0 if said[2] == "m" else 0.3048)
            assert road.total <= metres + 1e-6 < road.total + 10.0


def test_section():
    text = written(opened("road_needed"))
    assert "You need at least" in text
    assert "not a safe distance" in text
    assert "Regen is not counted" in text
    assert "No road is long enough" in written(opened("road_needed", slope=-15, road_deceleration=1))
