"""The chart and the slider in a real browser, on the bare page."""

from pathlib import Path

import numpy as np
import pytest

from tests.browser import helpers
from tests.browser.helpers import box, chart, drawn, settle, slider


@pytest.fixture(scope="module")
def opened(browser, bare_server):
    """A page to look at."""
    with helpers.opening(browser, bare_server, "/?controls=1") as page:
        helpers.settle(page)
        yield page


@pytest.fixture
def bare(opened, bare_server):
    """The same page, opened anew, to work on."""
    opened.emulate_media(color_scheme="light")
    opened.mouse.move(0, 0)
    opened.goto(bare_server.url + "/?controls=1")
    helpers.settle(opened)
    return opened


def values(page):
    return page.get_by_test_id("stText").first.inner_text()


def test_it_opens_quietly(opened, bare_server):
    """property: no error in the console, nothing fetched from elsewhere, no warning from the server."""
    assert [line for line in opened.console if line.startswith(("error", "pageerror"))] == []
    assert opened.refused == []
    assert "arning" not in bare_server.text()
    assert "Traceback" not in bare_server.text()


@pytest.mark.parametrize("file", ["plotly.min.js", "live_chart.js"])
def test_what_charts_need_is_fetched_once(opened, file):
    """property: four charts, one copy of plotly.js and of the script that calls it."""
    names = opened.evaluate("performance.getEntriesByType('resource').map((entry) => entry.name)")
    assert len([name for name in names if name.endswith("/" + file)]) == 1


@pytest.mark.parametrize("file", ["plotly.min.js", "live_chart.js"])
def test_plain_charts_take_their_place_where_a_file_does_not_come(new_rider, bare_server, file):
    """property: all four are there, drawn by Streamlit itself."""
    bare = new_rider(bare_server, settled=False)
    bare.route("**/" + file, lambda route: route.abort())
    bare.goto(bare_server.url)
    bare.locator("[data-testid=stPlotlyChart] .main-svg").first.wait_for()
    bare.wait_for_function("document.querySelectorAll('[data-testid=stPlotlyChart]').length === 4")
    assert not bare.locator(".headroom-chart").count()


def test_keys_move_a_slider(bare):
    """hand-worked: range 0 to 100, step 0.5, a page is a tenth of the range; the other six stay at 50."""
    moves = [
        ("ArrowRight", 50.5), ("ArrowUp", 51.0), ("ArrowLeft", 50.5), ("ArrowDown", 50.0), ("PageUp", 60.0),
        ("PageDown", 50.0), ("Home", 0.0), ("ArrowLeft", 0.0), ("End", 100.0), ("PageUp", 100.0),
    ]  # fmt: skip
    for key, expected in moves:
        slider(bare, "s0_0").press(key)
        settle(bare)
        assert values(bare) == f"Sum {300 + expected:.2f}", key
        assert box(bare, "s0_0").input_value() == f"{expected:.1f}"
        assert slider(bare, "s0_0").get_attribute("aria-valuetext") == f"{expected:.1f} A"


SET_BACK = """async (source) => {
  const { default: mount } = await import(URL.createObjectURL(new Blob([source], { type: "text/javascript" })));
  const parentElement = document.body.appendChild(document.createElement("div"));
  const applied = Date.now() + 3.6e6;
  const spec = { key: "k", label: "L", minimum: 0, maximum: 10, step: 1, digits: 0, value: 5, unit: "", help: "" };
  let close;
  const moves = await new Promise((setMoves) => {
    const setTriggerValue = (_, sent) => setMoves(sent);
    close = mount({ parentElement, data: ["g", false, applied, [spec]], setTriggerValue });
    const range = parentElement.querySelector("input[type=range]");
    range.value = 6;
    range.oninput();
  });
  close();
  parentElement.remove();
  return moves.k[1] - applied;
}"""


def test_a_clock_set_back_stops_no_move(opened):
    """property: a move is numbered above those the server has seen, an hour ahead of the clock."""
    assert opened.evaluate(SET_BACK, Path("explorer/components/live_slider.js").read_text(encoding="utf-8")) > 0


def test_dragging_redraws_on_the_way(bare):
    """property: the charts follow the thumb before it is let go."""
    track = slider(bare, "s0_0").bounding_box()
    middle = track["y"] + track["height"] / 2
    bare.mouse.move(track["x"] + track["width"] / 2, middle)
    bare.mouse.down()
    for part in (0.6, 0.7, 0.8, 0.87):
        before = int(chart(bare, "chart0").get_attribute("data-drawn"))
        bare.mouse.move(track["x"] + track["width"] * part, middle)
        bare.wait_for_function("n => +document.querySelector('.headroom-chart').dataset.drawn > n", arg=before)
    bare.mouse.up()
    settle(bare)
    assert float(box(bare, "s0_0").input_value()) > 80
    assert values(bare) == f"Sum {300 + float(box(bare, 's0_0').input_value()):.2f}"


def test_exact_entries(bare):
    """property: the box takes what lies between two steps, with point or comma."""
    for entry, value in [("33.25", 33.25), ("12,5", 12.5), (" 7 ", 7.0), ("1e1", 10.0)]:
        box(bare, "s0_0").fill(entry)
        box(bare, "s0_0").press("Enter")
        settle(bare)
        assert values(bare) == f"Sum {300 + value:.2f}", entry


def test_entries_that_cannot_be_used(bare):
    """property: they stay in view, a sentence says what is accepted, the last good value stays in use."""
    said = bare.locator(".slider[data-key='s0_0'] .error")
    for entry in ("500", "-1", "fifty", "", "1_0", "1.2.3", "NaN", "0x10"):
        box(bare, "s0_0").fill(entry)
        box(bare, "s0_0").press("Tab")
        assert "Enter a number from 0.0 to 100.0 A; 50.0 A stays in use." in said.inner_text(), entry
        assert box(bare, "s0_0").input_value() == entry
        assert box(bare, "s0_0").get_attribute("aria-invalid") == "true"
        assert values(bare) == "Sum 350.00"
    slider(bare, "s0_1").press("ArrowRight")
    settle(bare)
    assert box(bare, "s0_0").input_value() == "0x10"
    slider(bare, "s0_0").press("ArrowRight")
    settle(bare)
    assert not said.is_visible()
    assert values(bare) == "Sum 351.00"


def test_a_slider_follows_the_session_state(bare):
    """property: what a preset writes is shown, exactly."""
    bare.get_by_role("button", name="Preset").click()
    settle(bare)
    assert box(bare, "s0_0").input_value() == "12.25"
    assert slider(bare, "s0_1").get_attribute("aria-valuetext") == "80.0 A"
    assert values(bare) == "Sum 342.25"
    slider(bare, "s0_0").press("ArrowRight")
    settle(bare)
    assert box(bare, "s0_0").input_value() == "12.5"


def test_names_and_labels(bare):
    """property: every part has a name; the box says its unit."""
    assert bare.get_by_role("slider", name="Slider 1.1", exact=True).count() == 1
    assert bare.get_by_role("textbox", name="Slider 1.1, exact value in A", exact=True).count() == 1
    help_button = bare.get_by_role("button", name="About Slider 1.2")
    help_button.click()
    assert help_button.get_attribute("aria-expanded") == "true"
    assert bare.get_by_text("The current in the cable.").first.is_visible()
    assert bare.get_by_role("img", name="Chart 1.").count() == 1


def test_zoom_survives_a_change_of_data(bare):
    """property: the rider's zoom stays; the double click lets it go."""
    area = bare.locator(".headroom-chart[data-key='chart0'] .nsewdrag").first
    place = area.bounding_box()
    bare.mouse.move(place["x"] + 100, place["y"] + 30)
    bare.mouse.down()
    bare.mouse.move(place["x"] + 300, place["y"] + 120, steps=6)
    bare.mouse.up()
    settle(bare)
    zoomed = drawn(bare, "chart0")["ranges"]
    slider(bare, "s0_0").press("End")
    settle(bare)
    assert drawn(bare, "chart0")["ranges"] == zoomed
    assert zoomed["x"][1] - zoomed["x"][0] < 10
    shown = drawn(bare, "chart0")
    # hand-worked: the sum 400 moves the bare page's numbers by 400/10000; the first wave is sin t, t = 20 last.
    assert shown["data"][0]["y"][-1] == pytest.approx(1.04 * np.sin(20.0), abs=1e-6)
    assert len(shown["data"][0]["x"]) == 400


def test_a_chart_is_never_blank_between_two_states(bare):
    """property: in every frame of twenty moves the drawing is there."""
    bare.evaluate(
        """() => {
          window.blank = 0; window.frames_seen = 0;
          const look = () => {
            window.frames_seen += 1;
            const line = document.querySelector(".headroom-chart[data-key=chart0] path.js-line");
            if (!line) window.blank += 1;
            requestAnimationFrame(look);
          };
          look();
        }"""
    )
    for _ in range(20):
        slider(bare, "s0_0").press("ArrowRight")
        bare.wait_for_timeout(60)
    settle(bare)
    assert bare.evaluate("window.frames_seen") > 20
    assert bare.evaluate("window.blank") == 0


def test_the_theme_follows_the_rider(bare):
    """property: light and dark without a new run of the page."""
    first = bare.evaluate("getComputedStyle(document.querySelector('.headroom-chart')).backgroundColor")
    before = int(chart(bare, "chart0").get_attribute("data-drawn"))
    bare.emulate_media(color_scheme="dark")
    bare.wait_for_function("n => +document.querySelector('.headroom-chart').dataset.drawn > n", arg=before)
    settle(bare)
    second = bare.evaluate("getComputedStyle(document.querySelector('.headroom-chart')).backgroundColor")
    assert (first, second) == ("rgb(251, 251, 249)", "rgb(16, 22, 26)")


def test_a_chart_is_saved_as_a_drawing(bare):
    """property: the file bears the chart's key and holds an SVG."""
    chart(bare, "chart0").hover()
    with bare.expect_download() as waiting:
        bare.get_by_role("button", name="Save as SVG drawing").first.click()
    assert waiting.value.suggested_filename == "chart0.svg"
    with open(waiting.value.path(), encoding="utf-8") as file:
        assert file.read().startswith("<svg")


def test_nothing_is_wider_than_the_screen(bare):
    """property: no sideways scrolling, on a phone and on a desk."""
    for width in (390, 1400):
        bare.set_viewport_size({"width": width, "height": 900})
        settle(bare)
        assert helpers.fits(bare), (width, helpers.widest(bare))
