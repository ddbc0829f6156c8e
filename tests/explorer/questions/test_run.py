"""The run's charts: speed against time with baseline, cut-out and band; force against speed with every limit.

property: what a chart must show of the numbers it is given.
"""

import json

import numpy as np
import pytest

from explorer.questions.run import force_chart, words
from explorer.questions.run.chart import figure
from explorer.questions.run.results import force_of
from physics.limits import LIMITS
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
    page = page_of(baseline={"front_teeth": 13.0}, units=units, speed_cap=100.0, throttle=90.0)
    found = force_of(page)
    made = force_chart.figure(found, page.run, page.fmt, page.target_speed, baseline=True)
    lines = {trace.get("name"): trace for trace in made["data"]}
    limits = {"phase current", "line current", "voltage", "front wheel lifts", "throttle", "speed cap"}
    assert limits | {"road load", "baseline"} <= set(lines)
    # the cap's line stands where the cap is, and the envelope falls along it: within what 16 m/s2 x 0.05 s are
    cap, envelope = (lines[name] for name in ("speed cap", "all limits"))
    at_cap = page.fmt.number("speed", 100 / 3.6)
    assert np.ptp(cap["x"][np.isfinite(cap["y"])]) <= page.fmt.number("speed", 0.8)
    assert np.nanmax(envelope["x"][np.isfinite(envelope["y"])]) == pytest.approx(at_cap, rel=5e-3)
    assert lines["top speed, rested pack"]["x"][0] == pytest.approx(at_cap, rel=1e-3)
    mark = lines["top speed, rested pack"]
    assert mark["x"][0] == pytest.approx(page.fmt.number("speed", found.top_speed[0]))
    # within the chart's own steps: the mark lies on the road load
    road = lines["road load"]
    assert mark["y"][0] == pytest.approx(np.interp(mark["x"][0], road["x"], road["y"]), rel=1e-6)
    named = {note["text"] for note in made["layout"]["annotations"]}
    assert (limits - {"front wheel lifts"}) | {
        "road load",
        "top speed, rested pack",
    } <= named  # that one out of sight
    json.dumps(made["layout"])


def test_the_cursor_reads_the_whole_instant_in_both_views():
    """property: at an instant each view has the run's time, volts, amps and kilowatts, and the limit's name."""
    page = page_of()
    run = page.run
    over_time = figure(page.run, page.fmt, page.target_speed)
    over_speed = force_chart.figure(force_of(page), run, page.fmt, page.target_speed)
    assert over_speed["layout"]["meta"] == over_time["layout"]["meta"] | {"along": "this run"}
    (way,) = [trace for trace in over_speed["data"] if trace.get("name") == "this run"]
    (line,) = [trace for trace in over_time["data"] if trace.get("name") == "this build"]
    for place in (5, len(line["x"]) // 2):
        time, volts, amps, kilowatts, limit = way["customdata"][place]
        assert line["x"][place] == pytest.approx(time, abs=6e-4)
        assert list(line["customdata"][place]) == pytest.approx([volts, amps, kilowatts], abs=6e-4)
        assert kilowatts == pytest.approx(volts * amps / 1000, abs=1e-3)
        assert limit == LIMITS[run.limit[0, np.searchsorted(run.time, time - 6e-4)]]


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
