"""Figures as pure functions: complete, finite, readable without colour; and the words that go with them."""

import itertools
import json
from dataclasses import replace

import numpy as np
import pytest

from explorer.charts import parts, ribbon
from explorer.components import palette
from explorer.components.live_chart import pack
from explorer.format import UnitFormatter
from explorer.inputs.catalogue import INPUTS
from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from explorer.page import words
from explorer.page.page import Page, once
from explorer.questions.headroom import chart as headroom
from explorer.questions.run import chart as run
from explorer.questions.sag import chart as sag
from physics.build.fields import BuildError
from physics.limits import LIMITS
from physics.simulation.run import run as ride
from physics.studies.headroom_curves import headroom_answer

DEMO = PRESETS["supermoto"].values()
CUTS_OUT = {"line_3": 260.0, "phase_3": 600.0, "charge": 30.0}
CORNERS = [
    {},
    {"cells": 10.0, "capacity": 5.0, "charge": 0.0},
    {"cells": 32.0, "line_3": 600.0, "phase_3": 1500.0, "charge": 100.0},
    {"line_3": 20.0, "phase_3": 50.0, "throttle": 10.0, "slope": 15.0, "headwind": 60.0},
    {"air_temperature": -20.0, "pack_resistance": 400.0},
    {"air_temperature": 50.0, "kv": 200.0, "pack_resistance": 5.0},
    {"kv": 10.0, "duration": 5.0, "target": 200.0},
    {"continuous_current": None, "peak_current": None, "fast_current": None, "overvoltage": None, "regen": 300.0},
    {"chemistry": "lfp", "field_weakening": 600.0, "posture": "tucked", "slope": -15.0},
    {"front_teeth": 20.0, "rear_teeth": 25.0, "regen": 0.0, "headroom_wanted": 0.0},
    CUTS_OUT,
]


def page_of(changes=None, baseline=None, system="metric") -> Page:
    values = DEMO | (changes or {})
    builds = [make_build(values)] + ([make_build(DEMO | baseline)] if baseline else [])
    return Page(
        build=builds[0], baseline=builds[1] if baseline else None, runs=ride(builds, values["duration"]),
        target_speed=values["target"] / 3.6, duration=values["duration"], headroom_wanted=values["headroom_wanted"],
        fmt=UnitFormatter(system), inputs=values,
    )  # fmt: skip


def figures(page: Page) -> list[dict]:
    answer = headroom_answer(page.build, page.inputs["event_duration"])
    shared = (answer, page.build.controller.regen_current, page.headroom_wanted, page.fmt)
    return [
        run.figure(page.run, page.fmt, page.target_speed, page.baseline_run),
        sag.figure(page.run, page.build, page.fmt, page.baseline_run),
        headroom.against_current(*shared),
        headroom.against_temperature(*shared),
    ]


def numbers(part):
    """Every number in a figure."""
    if isinstance(part, dict):
        for value in part.values():
            yield from numbers(value)
    elif isinstance(part, list | tuple):
        for value in part:
            yield from numbers(value)
    elif isinstance(part, np.ndarray):
        yield from part.astype(float).ravel()
    elif isinstance(part, float):
        yield part


def tokens(part):
    if isinstance(part, dict):
        for value in part.values():
            yield from tokens(value)
    elif isinstance(part, list | tuple):
        for value in part:
            yield from tokens(value)
    elif isinstance(part, str) and part.startswith("@"):
        yield part


@pytest.mark.parametrize("system", ["metric", "US"])
@pytest.mark.parametrize("place", range(len(CORNERS)))
def test_figures_and_words_at_the_corners(place, system):
    """property: no NaN or infinity in the run's and the sag's figure, known colours, and sentences without NaN."""
    page = page_of(CORNERS[place], system=system)
    made = figures(page)
    for figure in made:
        pack(figure, key="k", height=1, alt="")
        assert {palette.colour(token) for token in tokens(figure)}.isdisjoint(tokens(figure))
        assert all(trace["name"] for trace in figure["data"] if trace.get("showlegend", True))
        assert all(np.isfinite(list(numbers(figure["layout"]))))
    for figure in made[:2]:
        assert all(np.isfinite(list(numbers(figure["data"]))))
    kind, sentence = words.headline(page)
    said = " ".join((sentence, words.what_holds(page), words.pack_stays_closed(page),
                     words.limits_in_turn(page.run, page.fmt)))  # fmt: skip
    assert kind in ("reaches", "misses", "cuts out")
    assert "nan" not in said
    assert "not known" not in said


def test_headroom_curves_stop_only_where_regen_is_not_allowed():
    """property: a gap in the curve against temperature lies outside the allowed temperatures."""
    page = page_of()
    answer = headroom_answer(page.build, 10.0)
    inside = (answer.temperature >= answer.floor) & (answer.temperature <= answer.ceiling)
    assert np.isfinite(answer.volts_by_temperature[inside]).all()
    assert np.isnan(answer.volts_by_temperature[~inside]).all()


def test_steady_axes_end_on_few_round_numbers():
    """property: what is asked for is inside, with less than a step to spare; hand-worked: tens from 100 to 120."""
    for low, span, steps in itertools.product((-40.0, 0.0, 66.3), np.geomspace(0.01, 5e4, 211), (4, 8)):
        start, end = parts.steady(low, low + span, steps)
        step = span / steps  # at most
        assert low - step <= start <= low + 1e-9
        assert low + span - 1e-9 <= end <= low + span + step
    assert {parts.steady(0, high)[1] for high in np.linspace(100, 120, 41)} == {100.0, 110.0, 120.0}


def test_ribbon_covers_the_run_without_gaps():
    """property: stretches follow each other from the first instant to the last."""
    result = page_of().run
    found = ribbon.stretches(result.time[0], result.limit[0], result.limit_since[0])
    assert found[0][1] == result.time[0, 0]
    assert found[-1][2] == result.time[0, -1]
    assert all(now[2] == after[1] and now[0] != after[0] for now, after in itertools.pairwise(found))


def test_ribbon_changes_where_the_limit_does():
    """hand-worked: a limit seen first at 2 s that has held since 1.4 s; one that says 0.3 s, but not by 1 s."""
    found = ribbon.stretches([0.0, 1.0, 2.0, 3.0], [1, 1, 2, 2], [0.0, 0.0, 1.4, 1.4])
    assert found == [(1, 0.0, 1.4), (2, 1.4, 3.0)]
    found = ribbon.stretches([0.0, 1.0, 2.0], [1, 1, 2], [0.0, 0.0, 0.3])
    assert found == [(1, 0.0, 1.0), (2, 1.0, 2.0)]


def test_every_limit_has_a_look_of_its_own_by_pattern_or_colour():
    assert set(ribbon.LOOKS) == set(LIMITS)
    assert len(set(ribbon.LOOKS.values())) == len(LIMITS)
    assert all(colour in palette.LIGHT and colour in palette.DARK for colour, _ in ribbon.LOOKS.values())
    assert all(pattern in palette.PATTERNS for _, pattern in ribbon.LOOKS.values())


def test_lines_of_one_panel_differ_by_dash_too():
    figure = sag.figure(page_of().run, page_of().build, UnitFormatter())
    lines = [t["line"]["dash"] for t in figure["data"] if t.get("yaxis", "y") == "y" and "dash" in t["line"]]
    assert len(lines) == len(set(lines)) == 3


def test_baseline_and_cut_out_are_drawn():
    page = page_of(CUTS_OUT, baseline={"front_teeth": 13.0})
    figure = run.figure(page.run, page.fmt, page.target_speed, page.baseline_run)
    assert "baseline" in [trace["name"] for trace in figure["data"]]
    assert "cut-out" in [note["text"] for note in figure["layout"]["annotations"]]
    json.dumps(figure["layout"])


def test_headlines():
    assert words.headline(page_of())[0] == "misses"
    assert words.headline(page_of({"front_teeth": 13.0}))[0] == "reaches"
    kind, sentence = words.headline(page_of(CUTS_OUT))
    assert kind == "cuts out"
    assert "cuts out after" in sentence
    assert "under-voltage" in words.cut_out(page_of(CUTS_OUT))
    assert "still gaining" in words.headline(page_of({"duration": 8.0}))[1]


def test_faults_speak_the_page_s_own_labels():
    with pytest.raises(BuildError) as caught:
        make_build(DEMO | {"peak_current": 100.0, "tyre": "banana"})
    said = words.faults(caught.value)
    assert any(text.startswith(f"“{INPUTS['peak_current'].label}”") for text in said)
    assert any("banana" in text and INPUTS["tyre"].label in text for text in said)
    assert not any("_" in text for text in said)


def test_likely_band_is_drawn_under_the_run():
    page = page_of()
    time, speed = page.run.time[0], page.run.speed[0]
    figure = run.figure(page.run, page.fmt, page.target_speed, band=(time, 0.95 * speed, 1.05 * speed))
    assert figure["data"][1]["name"] == "likely"
    assert figure["layout"]["showlegend"]


def test_what_is_worked_out_once_for_a_page_is_not_that_of_another():
    """property: asked twice, it is worked out once; a page with other inputs, or a copy, asks anew."""
    asked = []

    @once
    def target(page):
        asked.append(page)
        return page.target_speed

    slow, fast = page_of({"target": 60.0}), page_of({"target": 90.0})
    assert [target(page) for page in (slow, fast, slow, fast)] == [60 / 3.6, 90 / 3.6] * 2
    assert asked == [slow, fast]
    assert target(replace(slow, target_speed=1.0)) == 1.0
