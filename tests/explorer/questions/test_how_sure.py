"""Front wheel and power levels, and how sure it is, as Streamlit runs them: verdicts, tables, folding, stopping."""

import json
import time
from pathlib import Path

import numpy as np
import pytest
from streamlit.testing.v1 import AppTest

from explorer.components.live_chart import pack
from explorer.format import UnitFormatter
from explorer.inputs.catalogue import defaults
from explorer.inputs.how_sure import SURE, TYPICAL_DRAG, TYPICAL_RESISTANCE
from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from explorer.page import results
from explorer.page.tolerances import UNKNOWNS, tolerances
from explorer.questions.front_wheel import chart as front_chart
from explorer.questions.front_wheel import results as results_front_wheel
from explorer.questions.front_wheel.words import joined
from explorer.questions.how_sure import chart as sure_chart
from explorer.questions.how_sure import results as results_sure
from explorer.questions.how_sure.words import _chance
from physics.studies.uncertainty import NORMAL, UNIFORM
from physics.studies.uncertainty.bands import chance
from physics.studies.uncertainty.tolerance import default_tolerances, quick_points, spread_points

APP = str(Path(__file__).parents[3] / "explorer" / "app.py")
NAMES = ("front_wheel", "how_sure")


def opened(*names: str, **link) -> AppTest:
    """The page with just these sections unfolded."""
    page = AppTest.from_file(APP, default_timeout=60)
    for key, value in link.items():
        page.query_params[key] = str(value)
    page.session_state["section_headroom"] = False
    for name in NAMES:
        page.session_state[f"section_{name}"] = name in names
    page.run()
    assert not page.exception, [error.value for error in page.exception]
    return page


def finished(page: AppTest, within: float = 60.0) -> AppTest:
    """The page once its work is done."""
    end = time.monotonic() + within
    while "how_sure_stop" in [button.key for button in page.button]:
        assert time.monotonic() < end, "the work took too long"
        time.sleep(0.1)
        page.run()
    assert not page.exception, [error.value for error in page.exception]
    return page


def written(page: AppTest) -> str:
    blocks = [*page.markdown, *page.caption, *page.info, *page.error, *page.warning]
    return " ".join(block.value for block in blocks).replace("\u00a0", " ")


@pytest.fixture
def small(monkeypatch):
    """Few samples: what is tested here is the page, not its precision."""
    monkeypatch.setattr(results_sure, "SAMPLES", 64)
    monkeypatch.setattr(results_sure, "BASE", 16)


# --- front wheel ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("preset", PRESETS)
def test_front_wheel_answers_every_preset(preset):
    text = written(opened("front_wheel", preset=preset))
    assert "**In Level 3 the front wheel" in text
    assert "Feel in numbers" in text
    assert "neither steers nor brakes" in text
    assert "nan" not in text.lower().split()
    assert "not known" not in text


def test_front_wheel_table_has_a_column_for_each_level():
    page = opened("front_wheel", phase_3=900, phase_2=600)
    table = page.table[0].value.set_index("")
    assert list(table.columns) == ["Level 1", "Level 2", "Level 3"]
    assert table.loc["Front lifts from this throttle", "Level 1"] == "not at full"
    assert "%" in table.loc["Front lifts from this throttle", "Level 3"]
    assert "It can do so up to" in written(page)


def test_front_wheel_follows_level_posture_and_units():
    assert "**In Level 1 the front wheel stays planted" in written(opened("front_wheel", level=1))
    tall = written(opened("front_wheel", posture="upright"))
    assert "sitting upright, **" in tall
    text = written(opened("front_wheel", units="US"))
    assert "at 12 mph" in text
    assert " g in levels" in text


def test_front_wheel_says_what_the_runs_do_about_it_and_that_a_slippery_rear_goes_first():
    assert "rider or controller keep it down" in written(opened("front_wheel"))
    text = written(opened("front_wheel", grip=0.4, hold_front="no"))
    assert "rear tyre slips before" in text
    assert "as in the runs of the table below" in text


def test_front_wheel_marks_as_a_table():
    page = opened("front_wheel", phase_3=900)
    page.session_state["table_front_wheel"] = True
    page.run()
    assert not page.exception
    frame = page.dataframe[0].value
    assert frame["Level 3: lifts, % of throttle"].notna().any()


def test_front_wheel_charts_can_be_sent():
    build = make_build(PRESETS["trail"].values() | {"phase_3": 900.0, "grip": 0.4})
    answer = results_front_wheel.front_answer(build, 10.0, 20.0, 15.0)
    for system in ("metric", "US"):
        fmt = UnitFormatter(system)
        one = front_chart.against_speed(answer.found, fmt)
        other = front_chart.against_throttle(answer.found, answer.throttle, answer.force, answer.at, fmt)
        for figure in (one, other):
            assert json.loads(pack(figure, key="k", height=1, alt="a").splitlines()[1])["data"]
        names = [trace["name"] for trace in one["data"]]
        assert "front lifts" in names
        assert any("rear tyre slips" in note["text"] for note in other["layout"]["annotations"])


def test_names_in_a_row():
    assert [joined(parts) for parts in (["a"], ["a", "b"], ["a", "b", "c"])] == ["a", "a and b", "a, b and c"]


# --- how sure -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("preset", PRESETS)
def test_how_sure_answers_every_preset(preset, small):
    text = written(finished(opened("how_sure", preset=preset)))
    assert "Nine in ten runs top out between" in text
    assert "**Measure next: " in text
    assert "Saltelli" in text
    assert "Chances count only the unknowns named here" in text
    assert "nan" not in text.lower().split()


def test_how_sure_shows_every_curve_and_outcome(small):
    page = finished(opened("how_sure"))
    for curve in ("Pack", "Weakest cell", "Line current", "Winding"):
        page.session_state["how_sure_curve"] = curve
        page.run()
        assert not page.exception
    page.session_state["how_sure_outcome"] = "Weakest cell"
    page.session_state["table_how_sure"] = page.session_state[f"group_{SURE}"] = True
    page.run()
    assert not page.exception
    frame = page.dataframe[0].value
    assert len(frame) == len(UNKNOWNS)
    assert frame["doubt in top speed, %"].is_monotonic_decreasing
    assert "95 times in 100" in written(page)
    assert "so it counts as ±20 %" in written(page)
    assert frame.set_index("unknown").loc["drag area", "known to"] == "±20 %"


def test_how_sure_can_be_stopped_and_says_so(monkeypatch):
    monkeypatch.setattr(results_sure, "SAMPLES", 2**15)
    page = opened("how_sure")
    end = time.monotonic() + 30
    while not any(button.key == "how_sure_stop" for button in page.button) and time.monotonic() < end:
        page.run()
    time.sleep(1.5)
    page.button(key="how_sure_stop").click().run()
    text = written(finished(page))
    assert "Stopped after" in text
    assert "what to measure next is not known" in text


def test_nothing_in_doubt_is_said(small):
    nothing = dict.fromkeys(UNKNOWNS, 0)
    text = written(finished(opened("how_sure", drag_area=0.5, **nothing)))
    assert "Nothing is left in doubt" in text


def test_folded_sections_compute_nothing(monkeypatch):
    def refuse(*_, **__):
        raise AssertionError("A folded section computed something.")

    monkeypatch.setattr(results_front_wheel, "front_wheel", refuse)
    monkeypatch.setattr(results_sure, "likely", refuse)
    monkeypatch.setattr(results_sure, "sensitivity", refuse)
    opened(humidity=35)


def test_band_is_drawn_unless_it_is_switched_off(monkeypatch):
    """The band comes out of the batch of the run itself; switched off, no likely builds are run."""
    asked = []
    kept = results.runs
    monkeypatch.setattr(results, "runs", lambda *given: asked.append(given) or kept(*given))
    page = opened(humidity=40)
    assert asked[-1][3]
    time_axis, low, high = kept(*asked[-1])[1]
    assert (low <= high).all()
    assert time_axis[-1] == 30.0
    page.toggle(key="run_band").set_value(False).run()
    assert not page.exception
    assert asked[-1][3] == ()
    assert kept(*asked[-1])[1] is None


def test_quick_points_are_the_kept_sequence():
    """property: the points kept in a file are scipy's, made again here."""
    assert quick_points(12, 64) == pytest.approx(spread_points(12, 64), abs=5e-10)
    with pytest.raises(ValueError, match="64 points"):
        quick_points(13, 64)


def test_tolerances_follow_the_inputs():
    measured = tolerances(defaults() | {"drag_area": 0.5, "pack_resistance": 50.0})
    typical = tolerances(defaults() | {"drag_area": None, "pack_resistance": None})
    by_path = {item.path: item for item in measured}
    assert by_path["bike.drag_area"].half_width == pytest.approx(defaults()["sure_drag"] / 100)
    assert by_path["conditions.headwind"].half_width == pytest.approx(7 / 3.6)
    assert by_path["pack.resistance"].shape == NORMAL
    rough = {item.path: item for item in typical}
    assert rough["bike.drag_area"].half_width == pytest.approx(TYPICAL_DRAG / 100)
    assert rough["pack.resistance"].half_width == pytest.approx(TYPICAL_RESISTANCE / 100)
    assert rough["pack.resistance"].shape == UNIFORM
    assert set(by_path) == {item.path for item in default_tolerances(make_build(defaults()))}


def test_chances_in_words():
    assert _chance(chance(0, 1024), "to x").startswith("Next to no chance to x: none of 1,024 runs does")
    assert _chance(chance(1024, 1024), "to x").startswith("All but certain to x: all of 1,024 runs do")
    assert "about 50 % (sampling error: 47 to 53 %)" in _chance(chance(512, 1024), "to x")


def test_share_chart_puts_the_largest_on_top():
    figure = sure_chart.shares(["a", "b", "c"], [0.1, 0.7, -0.01], [0.0, 0.6, -0.1], [0.2, 0.8, 0.05], "t")
    assert figure["data"][0]["y"] == ["b", "a", "c"]
    assert figure["layout"]["yaxis"]["categoryarray"] == ["c", "a", "b"]
    assert (np.asarray(figure["data"][0]["x"]) >= 0).all()
