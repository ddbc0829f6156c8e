"""Hill start: what is said, never rounded up, and far ends."""

import math
import re

import numpy as np
import pytest

from explorer.components.live_chart import pack
from explorer.inputs.presets import PRESETS
from explorer.questions.hill_start import chart, words
from explorer.questions.hill_start.results import hill_of
from tests.explorer.derivations.test_derivations import check
from tests.explorer.pages import opened, page_of, written

CHANGES = [
    {},
    {"hill_passenger": 90.0, "headwind": 60.0},
    {"phase_3": 20.0, "front_teeth": 20.0, "rear_teeth": 30.0},
    {"phase_3": 1200.0},
]


@pytest.mark.parametrize(("preset", "system"), [*zip(PRESETS, ("metric", "US", "metric"), strict=True)])
def test_words_numbers_and_chart(preset, system):
    """property: a verdict for every day, no NaN, no slope printed steeper than it is."""
    for changes in CHANGES:
        page = page_of(preset, units=system, **changes)
        hill = hill_of(page)
        text = " ".join((words.verdict(page, hill), words.holds_when(page, hill), words.on_the_sheet(page, hill)))
        assert text.startswith("**In ")
        assert not re.search(r"\bnan\b|\binf\b|not known|no limit", text), text
        assert len(pack(chart.figure(hill, page.fmt), key="a", height=1, alt="")) < 60_000
        assert len(words.table(page, hill)) == hill.rear_teeth.size - 1
        for step in words.derivation(page, hill):
            check(step)
        said = re.search(r"starts on (\d+) % at most", text)
        if said:
            assert math.atan(int(said[1]) / 100) <= hill.angle[words.used(page, hill), 0] + 1e-9
        assert np.all(hill.still_time <= hill.time)


def test_section():
    text = written(opened("hill_start"))
    assert "it starts on" in text
    assert "rolls back or tips over" in text
    assert "curb" in written(opened("hill_start", units="US"))
