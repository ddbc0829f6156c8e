"""Sag: its chart."""

from explorer.questions.sag.chart import figure
from tests.explorer.pages import page_of


def test_lines_of_one_panel_differ_by_dash_too():
    page = page_of()
    traces = figure(page.run, page.build, page.fmt)["data"]
    lines = [t["line"]["dash"] for t in traces if t.get("yaxis", "y") == "y" and "dash" in t["line"]]
    assert len(lines) == len(set(lines)) == 3
