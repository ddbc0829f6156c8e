"""Keeping, sharing and printing in a real browser: files from charts, the setup sheet, links, names as text."""

import csv
import io
import re
from urllib.parse import urlencode

import pytest

from tests.browser import helpers

NAME = "<b>Wet</b> ![x](http://elsewhere.example/a.png)"
HELD = {"v": "1", "preset": "supermoto", "front_teeth": "13", "name": NAME, "b1": "<img src=x>", "b3": "Trail"}
LINK = "/?" + urlencode(HELD | {"b3.preset": "trail", "base": "Dry", "base.rear_teeth": "50"})
PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}


def saved(page, click) -> bytes:
    with page.expect_download() as waiting:
        click()
    return waiting.value.path().read_bytes()


def rows_of(data: bytes) -> list[list[str]]:
    assert data.startswith(b"\xef\xbb\xbf")  # so that spreadsheets read it as UTF-8
    return list(csv.reader(io.StringIO(data.decode("utf-8-sig"))))


def from_menu(page, key, button) -> bytes:
    chart = helpers.chart(page, key)
    chart.hover()
    return saved(page, lambda: chart.locator(f".modebar-btn[data-title='{button}']").click())


def test_a_chart_saves_its_data_and_its_picture(new_rider, page_server):
    """property: the CSV holds the numbers that are drawn, under heads with the rider's units."""
    page = new_rider(page_server, "/?units=US&base.front_teeth=13")
    rows = rows_of(from_menu(page, "chart_run", "Save data as CSV"))
    assert "time, s" in rows[0][0]
    assert "this build: speed, mph" in rows[0]
    assert "baseline: speed, mph" in rows[0]
    drawn = next(trace for trace in helpers.drawn(page, "chart_run")["data"] if trace.get("name") == "this build")
    column = rows[0].index("this build: speed, mph")
    written = [float(row[column]) for row in rows[1:] if row[column]]
    assert written == pytest.approx(drawn["y"], rel=1e-6, abs=1e-6)
    assert all(len(row) == len(rows[0]) for row in rows)
    assert from_menu(page, "chart_run", "Save as PNG image").startswith(b"\x89PNG")
    assert b"<svg" in from_menu(page, "chart_run", "Save as SVG drawing")[:200]


def test_every_chart_saves_its_data(new_rider, page_server):
    """property: each chart of the page, of whatever kind, gives a table with named columns and numbers."""
    page = new_rider(page_server, LINK, height=6000)
    titles = (
        "How do my builds compare?", "What line limit is safe from a cut-out today?",
        "At what throttle does the front wheel go light, and lift?", "Which sprockets?",
    )  # fmt: skip
    seen = set()
    for title in titles:
        helpers.unfold(page, title)
        keys = page.locator(".headroom-chart").evaluate_all("all => all.map((one) => one.dataset.key)")
        for key in set(keys) - seen:
            saves_its_data(page, key)
        seen |= set(keys)
    shown = {
        "chart_run",
        "chart_sag",
        "chart_pack_gauge",
        "chart_builds",
        "chart_line_limit",
        "chart_front_wheel_speed",
    }
    assert shown <= seen


def saves_its_data(page, key):
    """The table of one chart."""
    rows = rows_of(from_menu(page, key, "Save data as CSV"))
    assert len(rows) > 1, key
    assert all(head.strip() and head not in ("x", "y", "value") for head in rows[0]), (key, rows[0])
    assert len(set(rows[0])) == len(rows[0]), (key, rows[0])
    assert any(re.fullmatch(r"-?[\d.]+(e-?\d+)?", cell) for row in rows[1:] for cell in row), key
    assert not any(cell.startswith(("=", "+", "@")) for row in rows for cell in row), key


def test_names_are_text_everywhere(new_rider, page_server):
    """property: markup in a name is shown, never followed, drawn or loaded; the legend too."""
    page = new_rider(page_server, LINK)
    helpers.unfold(page, "What do I set today? Setup sheet and tank sticker")
    nothing_followed(page)
    helpers.unfold(page, "How do my builds compare?")
    page.get_by_text("Keep and share", exact=True).click()
    helpers.settle(page)
    nothing_followed(page)
    verdict = page.locator(".st-key-verdict_builds").inner_text().replace("\u2060", "")
    assert "<b>Wet</b>" in verdict
    legend = helpers.chart(page, "chart_builds").locator(".legend").text_content()
    assert "<b>Wet</b>" in legend
    assert "<img src=x>" in legend
    assert [line for line in page.console if line.startswith(("error", "pageerror"))] == []


def nothing_followed(page):
    """No name has become a link or a picture."""
    assert page.refused == []
    assert page.locator("a[href*='elsewhere'], img[src*='elsewhere'], img[src='x']").count() == 0


def test_a_reload_loses_nothing(new_rider, page_server):
    """property: builds, names, units and the build held for comparison are there after a reload and elsewhere."""
    page = new_rider(page_server, LINK)
    helpers.unfold(page, "How do my builds compare?")
    before = helpers.drawn(page, "chart_builds")["data"]
    for again in (page, new_rider(page_server, page.url.removeprefix(page_server.url))):
        if again is page:
            page.reload()
            helpers.settle(page)
        helpers.unfold(again, "How do my builds compare?")
        assert helpers.drawn(again, "chart_builds")["data"] == before
        assert len(before) == 2 * 4


def test_setup_sheet_prints_on_one_page(new_rider, page_server):
    page = new_rider(page_server, LINK)
    helpers.unfold(page, "What do I set today? Setup sheet and tank sticker")
    html = saved(page, page.get_by_role("button", name="Save the setup sheet").click).decode()
    assert "&lt;b&gt;Wet&lt;/b&gt;" in html
    assert "<b>Wet" not in html
    sheet = page.context.new_page()
    asked = []
    sheet.on("request", lambda request: asked.append(request.url))
    sheet.set_content(html)
    assert asked == []
    fits = "document.documentElement.scrollWidth <= innerWidth"
    for paper, (wide, high) in PAPERS.items():
        sheet.emulate_media(media="print")
        assert len(re.findall(rb"/Type\s*/Page\b", sheet.pdf(format=paper))) == 1, paper
        sheet.set_viewport_size({"width": round((wide - 22) / 25.4 * 96), "height": round((high - 20) / 25.4 * 96)})
        assert sheet.evaluate(fits), paper
    sheet.emulate_media(media="screen")
    sheet.set_viewport_size({"width": 390, "height": 844})
    assert sheet.evaluate(fits)


def test_a_build_goes_into_a_file_and_back(new_rider, page_server, tmp_path):
    page = new_rider(page_server, LINK)
    page.get_by_text("Keep and share", exact=True).click()
    helpers.settle(page)
    file = tmp_path / "builds.json"
    file.write_bytes(saved(page, page.get_by_role("button", name="Save all 3").click))
    other = new_rider(page_server, "/")
    other.get_by_text("Keep and share", exact=True).click()
    helpers.settle(other)
    other.locator("input[type=file]").first.set_input_files(file)
    other.get_by_text(re.compile("^Opened ")).wait_for()
    helpers.settle(other)
    assert "front_teeth=13" in other.url
    assert "b3.preset=trail" in other.url or "b4.preset=trail" in other.url
