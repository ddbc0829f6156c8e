"""A bike of which little is known: how wide its answer is, and which fact would narrow it most."""

import pytest

from explorer.format import UnitFormatter
from explorer.inputs.answers import read
from explorer.inputs.origins import OWN, TYPICAL, Inputs
from explorer.inputs.to_build import make_build
from explorer.page.page import Page
from explorer.page.tolerances import FACTS_OF, TYPICAL_LEAST, UNKNOWNS, doubts, rating, tolerances
from explorer.questions.how_sure import words
from physics.simulation.run import run
from physics.studies.uncertainty import likely, sensitivity
from physics.studies.uncertainty.draws import sample_builds

KNOWN = {
    "cells": "20", "capacity": "20", "continuous_current": "200/250", "kv": "75", "tyre": "90/90-12", "rest": "81",
    "air_temperature": "1",
}  # fmt: skip
SEVENTY_MPH = 70 * 0.44704
"""m/s; a mile is 1609.344 m: NIST SP 811."""


@pytest.fixture(scope="module")
def own():
    """The bike of KNOWN, and the page of its run."""
    given, wrong, _ = read(KNOWN, Inputs(OWN, {}, {}), "metric", "peak")
    assert not wrong
    inputs = Inputs(OWN, {}, given)
    build, duration = make_build(inputs, "own"), 60.0
    target = float(inputs["target"]) / 3.6
    return Page(build, None, run([build], duration), target, duration, 3.0, UnitFormatter("metric"), inputs)


def test_a_small_bike_of_which_little_is_known_may_well_pass_70_mph(own):
    """common practice, no source: 20 cells of 20 Ah, rated 200 A and 250 A, about 75 rpm/V, 12-inch tyres, near
    freezing from 81 V rest: such bikes have been ridden at 70 mph. The band of top speed includes it with nothing
    else known, and the page says which fact would narrow it most and how to come by it."""
    known = doubts(own.inputs)
    found = likely(own.build, own.target_speed, known, own.duration, count=128, curves=("speed",), steps=60)
    low, middle, high = found.top_speed
    assert low < SEVENTY_MPH < high
    assert low < middle < high
    ranked = sensitivity(own.build, known, own.duration, base=32, steps=60)
    said = words.next_measurement(own, found, ranked)
    assert "**Measure next: " in said
    assert ", so far typical.**" in said
    assert "How: " in said


def test_what_is_typical_is_wide_and_what_is_given_is_narrow(own):
    """property: each fact that the rider gives narrows its unknown or takes it out, and widens none."""
    before = {item.path: item.half_width for item in doubts(own.inputs)}
    for path, facts in FACTS_OF.items():
        keys = [f"{fact}_{own.inputs['level']}" if fact in ("line", "phase") else fact for fact in facts]
        if all(own.inputs.origin(key) != TYPICAL for key in keys):
            continue
        values = {key: own.inputs[key] if own.inputs[key] is not None else 50.0 for key in keys}
        values |= {key: known for key, known in (("drag_area", 0.5), ("cold_growth", 2.0)) if key in values}
        after = {item.path: item.half_width for item in doubts(own.inputs | values)}
        assert after.get(path, 0.0) < before[path], path
        assert all(after[other] <= before[other] for other in after), path
    assert set(TYPICAL_LEAST) <= set(UNKNOWNS)


def test_the_rim_alone_narrows_the_tyre_and_the_tyre_itself_more(own):
    """hand-worked: 12-inch rims wear tyres of 457 to 487 mm about one of 467: 20 mm, or 4.3 %, off at most."""
    path = "bike.rolling_radius"
    widths = [
        {item.path: item.half_width for item in doubts(own.inputs | {"tyre": tyre})}.get(path, 0.0)
        for tyre in ("12-inch", "90/90-12")
    ]
    assert widths == [pytest.approx(20 / 467, abs=5e-4), 0.0]
    assert {item.path: item.half_width for item in doubts(own.inputs.without(["tyre"]))}[path] == 0.2


def test_an_unknown_rating_is_wide_and_the_band_has_it_only_where_a_line_limit_is_given(own):
    """property: continuous, peak and fast current as one; one of them given narrows the others, both leave none. A
    line limit that is typical follows the rating, so that no cut-out is made up by their being apart."""
    bare = Inputs(OWN, {}, {"cells": 20.0, "capacity": 20.0})
    continuous, peak, fast = (f"pack.protection.{name}_current" for name in ("continuous", "peak", "fast"))
    expected = [
        ({}, [(continuous, 1.0, (peak, fast))]),
        ({"continuous_current": 200.0}, [(peak, 0.2, (fast,))]),
        ({"peak_current": 250.0}, [(continuous, 0.2, ())]),
        ({"continuous_current": 200.0, "peak_current": 250.0}, []),
        ({"continuous_current": None}, []),
    ]
    for given, found in expected:
        asked = [bare | given, bare | given | {"line_1": 150.0}]
        assert [[(item.path, item.half_width, item.along) for item in rating(one)] for one in asked] == [found] * 2
        paths = {path for path, *_ in found}
        assert all(paths <= {item.path for item in tolerances(one)} for one in asked)
        assert [paths & {item.path for item in doubts(one)} for one in asked] == [set(), paths]
    values = sample_builds(make_build(bare), rating(bare), [[0.0], [0.5], [1.0]]).changes
    # five times the amp-hours, a quarter above it, 1.7 times that
    assert values[continuous] == pytest.approx([50.0, 100.0, 200.0])
    assert values[peak] == pytest.approx([62.5, 125.0, 250.0])
    assert values[fast] == pytest.approx([106.25, 212.5, 425.0])


def test_advice_heeds_no_limit_that_it_sets_itself(own):
    assert not [item.path for item in tolerances(own.inputs) if item.path.endswith("_current_limit")]


def test_every_unknown_has_a_name_and_a_way_to_measure_it(own):
    bare = Inputs(OWN, {}, {})
    page = Page(own.build, None, own.runs, 30.0, 60.0, 3.0, own.fmt, bare)
    for item in doubts(bare):
        assert words.name(item)
        assert words.measured_by(page, item).endswith("."), item.path
