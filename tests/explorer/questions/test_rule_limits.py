"""A rule's limits: what is said, printed on the safe side, and without a rule nothing is worked out."""

import re

import pytest

from explorer.components.live_chart import pack
from explorer.questions.rule_limits import chart, words
from explorer.questions.rule_limits.results import allowed, radius_doubt, rule_of
from tests.explorer.derivations.test_derivations import check
from tests.explorer.pages import opened, page_of, written


@pytest.mark.parametrize("system", ["metric", "US"])
@pytest.mark.parametrize(
    "changes", [{"rule_power": 4.0, "rule_speed": 70.0}, {"rule_power": 90.0}, {"rule_speed": 33.0}]
)
def test_words_numbers_and_chart(system, changes):
    """property: a verdict for every rule, no NaN; a cap is never printed higher than it is."""
    page = page_of(units=system, **changes)
    rule = rule_of(page)
    text = " ".join((words.verdict(page, rule), words.on_the_sheet(page, rule)))
    assert not re.search(r"\bnan\b|\binf\b|not known|no limit", text), text
    for step in words.derivation(page, rule):
        check(step)
    if rule.speed.size:
        power = allowed(page, "rule_power")
        assert len(pack(chart.figure(rule, power, page.fmt), key="a", height=1, alt="")) < 60_000
        assert len(words.table(page, rule)) > 5
    said = re.search(r"cap to (\d+) (km/h|mph)", text)
    assert bool(said) == ("rule_speed" in changes)
    if said:
        assert float(said[1]) <= page.fmt.number("speed", rule.speed_cap)


def test_section():
    assert rule_of(page_of()) is None
    text = written(opened("rule_limits"))
    assert "Switch on what the rules limit" in text
    assert "A setting is not an approval" in text
    assert "Set a line limit of" in written(opened("rule_limits", rule_power=5))


def test_a_known_rim_leaves_a_tyre_less_open():
    """hand-worked: 12-inch rims wear tyres of up to 487 mm about one of 467: 20 / 467 larger at most."""
    assert radius_doubt(page_of(tyre="12-inch")) == pytest.approx(20 / 467, abs=5e-4)
    assert radius_doubt(page_of(tyre="90/90-12")) == 0.02
