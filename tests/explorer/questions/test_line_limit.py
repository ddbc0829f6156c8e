"""Today's line limit: verdicts and the table to print, as Streamlit shows them."""

import numpy as np
import pytest

from explorer.page import words as page_words
from explorer.page.tolerances import tolerances, with_case
from explorer.questions.line_limit import words
from explorer.questions.line_limit.results import limit_of
from explorer.questions.setup_sheet.words import line_limit_for_today
from physics.limits import RULES, TIMED_OVER_CURRENT, UNDER_VOLTAGE
from physics.scenarios.pull import make_pull
from physics.studies.limit_use import CONTINUOUS_RATING
from physics.studies.uncertainty.worse import worse_cases
from tests.explorer.pages import opened, page_of, rerun, written


def test_line_limit_follows_the_cold():
    """Colder and emptier: the verdict goes from none needed to a limit, with the case and the rule that decide.

    hand-worked: of published cells the most growth is 3.46 times, the typical 1.92 times: 80 % more.
    """
    warm = written(opened("line_limit", preset="road", air_temperature=25, charge=95))
    cold = written(opened("line_limit", air_temperature=-10, charge=50))
    assert "No line limit is needed today" in warm
    assert "A or less.**" in cold
    assert "Above that, with a pack resistance 80 % higher in the cold, the under-voltage rule trips" in cold


@pytest.mark.parametrize(
    "worse",
    [
        {"conditions.pack_temperature": -2.0},
        {"pack.resistance": 0.05 * 0.052},
        {"conditions.charge": -0.02},
        {"conditions.headwind": 1.5},
    ],
    ids=str,
)
def test_margin_holds_on_a_cold_morning(worse):
    """property: the demo at 35 % charge and 0 degrees C, at its highest limit and where something is worse,
    stays closed; as entered the weakest cell stays above its threshold of 2.80 V."""
    page = page_of(charge=35.0, air_temperature=0.0)
    answer = limit_of(page)
    assert answer.limits.rule[answer.row, answer.column] == UNDER_VOLTAGE
    limit = answer.limits.limit[answer.row, answer.column]
    batch = page.batch.change({"controller.line_current_limit": limit})
    entered = make_pull(batch, page.pull)
    assert entered.minimum_cell_voltage[0] > 2.80
    made = make_pull(batch.change({path: batch[path] + by for path, by in worse.items()}), page.pull)
    assert made.worst[0] < 1


@pytest.mark.parametrize("changes", [{"peak_current": 240.0}, {"charge": 60.0, "air_temperature": 20.0}], ids=str)
def test_no_advice_is_above_a_rating(changes):
    """hand-worked: rated 180 A, and 240 A for 10 s; 3 % of overshoot. For 20 s of pull 180 / 1.03 = 174.8, so 170 A
    in steps of 5 A."""
    page = page_of(**changes)
    answer = limit_of(page)
    assert answer.limits.limit[answer.row, answer.column] == 170.0
    # Where the protection's law is not known a plain timer opens as soon as the rating is passed.
    assert answer.limits.rule[answer.row, answer.column] in (CONTINUOUS_RATING, TIMED_OVER_CURRENT)
    assert "No line limit is needed" not in words.verdict(page, answer)


def test_no_margin_frees_no_cut_out():
    """property: with a margin of 0 % a pull that cuts out still needs a limit, on the page and on the sheet."""
    page = page_of("road", charge=10.0, limit_margin=0.0)
    answer = limit_of(page)
    assert "cuts out after" in page_words.headline(page)[1]
    assert "A or less.**" in words.verdict(page, answer)
    assert line_limit_for_today(page, answer).endswith("A or less")
    assert "with no margin: everything exactly as entered" in words.verdict(page, answer)
    assert np.isfinite(answer.limits.limit[answer.row]).any()
    assert RULES[answer.limits.rule[answer.row, answer.column]] == "under-voltage"


def test_a_former_margin_is_not_misread():
    """property: the share of an allowance that older links hold is another thing; it is left out and named."""
    page = opened("line_limit", pull_margin=20)
    assert any("this page does not know" in note.value for note in page.info)
    assert "with a 100 % margin" in written(page)


@pytest.mark.parametrize("units", ["metric", "US"])
def test_every_worse_case_has_words(units):
    """property: for every unknown of the page, at both ends."""
    page = page_of(units=units)
    cases = worse_cases(tolerances(page.inputs))
    texts = [with_case(case, page.fmt) for case in cases]
    assert texts[0] == ""
    assert texts[1] == "with everything a little worse at once"
    assert len(set(texts[3:])) == len(cases) - 3
    assert f"with a pack {'3 °C' if units == 'metric' else '5 °F'} colder" in texts


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"line_3": 170.0}, "Your 170 A **holds**"),
        ({"line_3": 300.0}, "Your 300 A **is too much** in that pull: the peak current rating is passed"),
        (
            {"line_3": 185.0, "charge": 35.0, "air_temperature": 0.0},
            "Your 185 A is **marginal**: as entered it holds",
        ),
        ({"line_3": 260.0, "phase_3": 600.0, "charge": 20.0}, "Your 260 A **would cut out**"),
    ],
    ids=str,
)
def test_own_limit_is_judged(changes, said):
    page = page_of(**changes)
    assert said in words.at_mine(page, limit_of(page))


def test_line_limit_table_prints_today():
    table = rerun(opened("line_limit"), "table_line_limit").table[0].value
    assert any("(today)" in str(name) for name in table.columns)
    assert any("(today)" in str(name) for name in table.index)
    assert table.shape[0] >= 5


def test_line_limit_none_survives():
    text = written(opened("line_limit", pack_temperature=-15, discharge_minimum=0))
    assert "No line limit is low enough" in text


def test_holding_the_target_is_another_pull():
    text = written(opened("line_limit", pull_hold=10, target=80))
    assert "a pull to 80 km/h, held for 10 s" in text
