"""Regen now and how strong: what is said, printed on the safe side, and days without any."""

import re

import pytest

from explorer.components.live_chart import pack
from explorer.inputs.presets import PRESETS
from explorer.questions.regen import chart, words
from explorer.questions.regen.results import regen_of
from tests.explorer.derivations.test_derivations import check
from tests.explorer.pages import opened, page_of, written

CHANGES = [
    {},
    {"air_temperature": 25.0, "charge": 60.0, "regen_phase": 150.0},
    {"air_temperature": 25.0, "slope": -15.0, "regen": 5.0},
    {"air_temperature": -10.0},
    {"regen": 0.0},
    {"descent_height": 500.0, "air_temperature": 25.0},
]


@pytest.mark.parametrize(("preset", "system"), [*zip(PRESETS, ("metric", "US", "metric"), strict=True)])
def test_words_numbers_and_chart(preset, system):
    """property: a verdict for every day, no NaN; no current printed above what may be set, and none twice."""
    for changes in CHANGES:
        page = page_of(preset, units=system, **changes)
        answer = regen_of(page)
        text = " ".join((words.verdict(page, answer), words.stop(page, answer), words.on_the_sheet(page, answer)))
        assert text.startswith("**")
        assert not re.search(r"\bnan\b|\binf\b|not known|no limit", text), text
        assert len(pack(chart.figure(answer, page.fmt), key="a", height=1, alt="")) < 60_000
        assert len(words.table(page, answer)) == answer.current.size
        assert len(words.stop_table(page, answer)) == 12
        for step in words.derivation(page, answer):
            check(step)
        said = re.search(r"set ([\d.]+) A of regen at most", text)
        assert bool(said) == (answer.current_now > 0)
        assert not said or float(said[1]) <= answer.current_now
        more = re.findall(r"([\d.]+) A at ", text.partition("you can set more:")[2].partition(". ")[0])
        assert len(set(more)) == len(more)
        assert more or (answer.current <= answer.current_now).all()


def test_section():
    text = written(opened("regen", air_temperature=25, charge=60))
    assert "of regen at most" in text
    assert "the brakes must do" in text
    assert "The brakes alone must always" in text
    assert "No regen today" in written(opened("regen", air_temperature=-10))
