"""Front wheel and power levels, as Streamlit runs them: verdicts, tables, charts."""

import json

import pytest

from explorer.components.live_chart import pack
from explorer.format import UnitFormatter
from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from explorer.questions.front_wheel import chart, results
from tests.explorer.pages import opened, rerun, written


@pytest.mark.parametrize("preset", PRESETS)
def test_front_wheel_answers_every_preset(preset):
    text = written(opened("front_wheel", preset=preset))
    assert "**In Level 3 the front wheel" in text
    assert "Feel:" in text
    assert "neither steers nor brakes" in text
    assert "nan" not in text.lower().split()
    assert "not known" not in text


def test_front_wheel_table_has_a_column_for_each_level():
    page = opened("front_wheel", phase_3=900, phase_2=600)
    table = page.table[0].value.set_index("in each level")
    assert list(table.columns) == ["Level 1", "Level 2", "Level 3"]
    assert table.loc["Throttle where the front lifts", "Level 1"] == "never"
    assert "%" in table.loc["Throttle where the front lifts", "Level 3"]
    assert "It can do that up to" in written(page)


def test_a_seat_that_no_build_can_have_is_left_out():
    """property: where one posture would put the balance point before the front axle, the others still answer."""
    text = written(opened("front_wheel", wheelbase=1000, bike_balance=1000, seat_place=900))
    assert "the front wheel" in text
    assert "Feel:" in text


def test_front_wheel_follows_level_posture_and_units():
    assert "**In Level 1 the front wheel stays planted" in written(opened("front_wheel", level=1))
    tall = written(opened("front_wheel", posture="upright"))
    assert "sitting upright, **" in tall
    text = written(opened("front_wheel", units="US"))
    assert "at 15 mph" in text
    assert " g in levels" in text


def test_front_wheel_says_what_the_runs_do_about_it_and_that_a_slippery_rear_goes_first():
    assert "rider or wheelie control keeps it down" in written(opened("front_wheel"))
    text = written(opened("front_wheel", grip=0.4, hold_front="no"))
    assert "rear tyre slips before" in text
    assert "as in the table below" in text


def test_folded_front_wheel_computes_nothing(monkeypatch):
    asked = []
    monkeypatch.setattr(results, "front_wheel", lambda *_: asked.append(1))
    assert "Feel:" not in written(opened(cells=19))
    assert not asked


def test_front_wheel_marks_as_a_table():
    page = rerun(opened("front_wheel", phase_3=900), "table_front_wheel")
    frame = page.dataframe[0].value
    assert frame["Level 3: lifts, % of throttle"].notna().any()


def test_front_wheel_charts_can_be_sent():
    build = make_build(PRESETS["trail"].values() | {"phase_3": 900.0, "grip": 0.4})
    answer = results.front_answer(build, 10.0, 20.0, 15.0)
    for system in ("metric", "US"):
        fmt = UnitFormatter(system)
        one = chart.against_speed(answer.marks, fmt)
        other = chart.against_throttle(answer.marks, answer.throttle, answer.force, answer.at, fmt)
        for figure in (one, other):
            assert json.loads(pack(figure, key="k", height=1, alt="a").splitlines()[1])["data"]
        names = [trace["name"] for trace in one["data"]]
        assert "front lifts" in names
        slips = "rear tyre slips" if system == "metric" else "rear tire slips"
        assert any(slips in note["text"] for note in other["layout"]["annotations"])
