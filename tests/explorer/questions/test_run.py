"""The run's chart: baseline, cut-out and band."""

import json

from explorer.questions.run.chart import figure
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
