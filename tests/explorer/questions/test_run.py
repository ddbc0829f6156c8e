"""The run's charts: speed against time with baseline, cut-out and band; force against speed with every limit.

property: what a chart must show of the numbers it is given.
"""

import json

import numpy as np
import pytest

from explorer.questions.run import force_chart, words
from explorer.questions.run.chart import figure
from explorer.questions.run.results import force_of
from tests.explorer.pages import CUTS_OUT, page_of


def test_baseline_and_cut_out_are_drawn():
    page = page_of(baseline={"front_teeth": 13.0}, **CUTS_OUT)
    made = figure(page.run, page.fmt, page.target_speed, page.baseline_run)
    assert "baseline" in [trace["name"] for trace in made["data"]]
    assert "cut-out" in [note["text"] for note in made["layout"]["annotations"]]
    json.dumps(made["layout"])


def test_likely_band_is_drawn_under_the_run():
    page = page_of()
    time, speed = page.run.time, page.run.speed[0]
    made = figure(page.run, page.fmt, page.target_speed, band=(time, 0.95 * speed, 1.05 * speed))
    assert made["data"][1]["name"] == "likely"
    assert made["layout"]["showlegend"]


@pytest.mark.parametrize("units", ["metric", "US"])
def test_every_limit_has_a_named_line_and_the_top_speed_a_mark(units):
    page = page_of(baseline={"front_teeth": 13.0}, units=units)
    found = force_of(page)
    made = force_chart.figure(found, page.run, page.fmt, page.target_speed, baseline=True)
    lines = {trace.get("name"): trace for trace in made["data"]}
    assert {"phase current", "line current", "voltage", "front wheel lifts", "road load", "baseline"} <= set(lines)
    mark = lines["top speed, rested pack"]
    assert mark["x"][0] == pytest.approx(page.fmt.number("speed", found.top_speed[0]))
    # within the chart's own steps: the mark lies on the road load
    road = lines["road load"]
    assert mark["y"][0] == pytest.approx(np.interp(mark["x"][0], road["x"], road["y"]), rel=1e-6)
    named = {note["text"] for note in made["layout"]["annotations"]}
    assert {"phase current", "line current", "voltage", "road load"} <= named
    json.dumps(made["layout"])


def test_a_held_slider_changes_only_numbers():
    """What a frame of an animation cannot change stays the same from value to value."""

    def still(teeth):
        page = page_of(front_teeth=teeth)
        made = force_chart.figure(force_of(page), page.run, page.fmt, page.target_speed)
        traces = [{k: v for k, v in trace.items() if k not in ("x", "y", "customdata", "hovertemplate")}
                  for trace in made["data"]]  # fmt: skip
        return traces, made["layout"]["xaxis"]

    assert still(14.0) == still(15.0)


def test_force_in_words():
    page = page_of()
    found = force_of(page)
    said = words.force(page, found)
    assert said.startswith("Off the line it pushes with ")
    assert page.fmt("speed", found.top_speed[0]) in said
