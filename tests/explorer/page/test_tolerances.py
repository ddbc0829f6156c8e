"""What is known of each unknown, from the inputs; and the band beside the run that it makes."""

import pytest

from explorer.inputs.catalogue import defaults
from explorer.inputs.how_sure import TYPICAL_DRAG, TYPICAL_RESISTANCE
from explorer.inputs.to_build import make_build
from explorer.page import results
from explorer.page.tolerances import tolerances
from physics.studies.uncertainty.draws import quick_points, spread_points
from physics.studies.uncertainty.tolerance import NORMAL, UNIFORM, default_tolerances, unmeasured_cold_growth
from tests.explorer.pages import opened


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
    cold = {item.path: item for item in tolerances(defaults() | {"cold_growth": 2.0})}["pack.cold_growth"]
    assert (cold.half_width, cold.shape) == (pytest.approx(defaults()["sure_cold_growth"] / 100), NORMAL)
    assert rough["pack.cold_growth"] == unmeasured_cold_growth("nmc")
    assert rough["pack.cold_growth"].values(1.92, [0.5, 1.0]) == pytest.approx([1.92, 3.46])
    assert set(by_path) == {item.path for item in default_tolerances(make_build(defaults()))}


def test_band_is_drawn_unless_it_is_switched_off(monkeypatch):
    """The band comes out of the batch of the run itself; switched off, no likely builds are run."""
    asked = []
    kept = results.runs
    monkeypatch.setattr(results, "runs", lambda *given: asked.append(given) or kept(*given))
    page = opened(humidity=40)
    assert asked[-1][3]
    time_axis, low, high = kept(*asked[-1]).result()[1]
    assert (low <= high).all()
    assert time_axis[-1] == 30.0
    page.toggle(key="run_band").set_value(False).run()
    assert not page.exception
    assert asked[-1][3] == ()
    assert kept(*asked[-1]).result()[1] is None


def test_quick_points_are_the_kept_sequence():
    """property: the points kept in a file are scipy's, made again here."""
    assert quick_points(28, 64) == pytest.approx(spread_points(28, 64), abs=5e-10)
    with pytest.raises(ValueError, match="64 points"):
        quick_points(29, 64)
