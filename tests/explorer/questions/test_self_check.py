"""What the controller should measure: what is said, and which resistance is which."""

import re

import pytest

from explorer.inputs.presets import PRESETS
from explorer.questions.front_wheel import words as front
from explorer.questions.front_wheel.results import FEEL_SPEED, front_answer, throttle_for
from explorer.questions.self_check import words
from tests.explorer.derivations.test_derivations import check
from tests.explorer.pages import opened, page_of, written


@pytest.mark.parametrize(("preset", "system"), [*zip(PRESETS, ("metric", "US", "metric"), strict=True)])
def test_words_and_numbers(preset, system):
    """property: no NaN; each expected value lies between its ends; the throttle is said for every level."""
    page = page_of(preset, units=system)
    found = words.found_of(page)
    assert "**Expect about" in words.verdict(page, found)
    for value in (found.speed, found.current, found.phase_resistance, found.line_resistance):
        assert value.low < value.middle < value.high
    assert len(words.table(page, found)) == 4
    for step in words.derivation(page, found):
        check(step)
    answer = front_answer(page.build, FEEL_SPEED["metric"], page.target_speed, page.duration)
    for wanted in (1.0, 30.0):
        text = front.throttle(page, answer, throttle_for(page.build, wanted))
        assert not re.search(r"\bnan\b|not known", text)
        assert text.count("Level") == len(answer.marks.levels)


def test_section():
    text = written(opened("self_check", "front_wheel"))
    assert "Expect about" in text
    assert "Throttle for" in text
    assert "spins up at once" in text
