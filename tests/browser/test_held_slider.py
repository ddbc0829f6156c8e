"""Charts that follow a slider, held or moved once: drawn by halves, they show what drawing all of them would."""

import pytest

from tests.browser import helpers

LIVE = ("chart_run", "chart_sag", "chart_pack_gauge")

COUNT = """() => {
  window.calls = { react: 0, animate: 0 };
  for (const name of Object.keys(window.calls)) {
    const call = window.Plotly[name];
    window.Plotly[name] = (...all) => { window.calls[name] += 1; return call(...all); };
  }
}"""

# Place, shape, words and look of all that is seen; but not in what order it was drawn.
SEEN = """plot => {
  const corner = plot.getBoundingClientRect();
  const parts = [...plot.querySelectorAll("svg.main-svg :is(path, text, tspan, rect, circle, use)")];
  return parts.filter((one) => one.checkVisibility() && !one.closest("defs")).map((one) => {
    const { x, y, width, height } = one.getBoundingClientRect();
    const { fill, stroke, strokeWidth, strokeDasharray, opacity, fillOpacity } = getComputedStyle(one);
    const words = one.children.length ? "" : one.textContent;
    const place = [x - corner.x, y - corner.y, width, height].map((value) => value.toFixed(1)).join(" ");
    return [one.tagName, one.getAttribute("d"), words, place, fill, stroke, strokeWidth, strokeDasharray, opacity,
      fillOpacity].join(" | ");
  }).sort();
}"""

# The values that are asked for, with the thumb's own first.
ASKED = """() => {
  window.asked = [];
  const drag = window.headroomDrag;
  let send = drag.send;
  const noted = (event) => { window.asked.push(event.values); send(event); };
  Object.defineProperty(drag, "send", { get: () => send && noted, set: (other) => { send = other; } });
}"""


@pytest.fixture
def page(new_rider, page_server):
    """A page which counts how often charts are drawn in which way."""
    page = new_rider(page_server)
    page.evaluate(COUNT)
    return page


def plot(page, key):
    return helpers.chart(page, key).locator(".headroom-chart-plot")


def put_thumb(page, key, part):
    """Move the held thumb to a part of the track and wait until all has come to rest."""
    track = helpers.slider(page, key).bounding_box()
    page.mouse.move(track["x"] + part * track["width"], track["y"] + track["height"] / 2)
    page.wait_for_timeout(600)
    helpers.settle(page)


@pytest.mark.parametrize("slider", ["in:air_temperature", "in:target", "in:rear_teeth"])
def test_a_frame_shows_what_a_whole_drawing_shows(page, slider):
    """property: a chart left by an animation's frame is line by line and word by word as if drawn anew."""
    helpers.drag(page, slider, 1.5, let_go=False)
    for part in (0.61, 0.625):
        put_thumb(page, slider, part)
        whole_drawings_show_the_same(page)
    assert page.evaluate("window.calls.animate") > 0
    page.mouse.up()
    helpers.settle(page)
    whole_drawings_show_the_same(page)
    page.evaluate("Object.assign(window.calls, { react: 0, animate: 0 })")
    helpers.slider(page, slider).press("ArrowLeft")
    helpers.settle(page)
    calls = page.evaluate("window.calls")
    assert 0 < calls["react"] + calls["animate"] <= len(LIVE)  # what went ahead of the page is drawn once
    whole_drawings_show_the_same(page)


def whole_drawings_show_the_same(page):
    for key in LIVE:
        chart = plot(page, key)
        before = chart.evaluate(SEEN)
        assert len(before) > 20
        chart.evaluate("plot => window.Plotly.redraw(plot)")
        assert chart.evaluate(SEEN) == before, key


def test_zoom_is_kept_while_a_slider_is_held(page):
    """property: what the rider has zoomed into is shown during a drag and after it."""
    area = helpers.chart(page, "chart_run").locator(".nsewdrag").first.bounding_box()
    page.mouse.move(area["x"] + 100, area["y"] + 40)
    page.mouse.down()
    page.mouse.move(area["x"] + 300, area["y"] + 60, steps=6)  # along the time axis
    page.mouse.up()
    helpers.settle(page)
    zoomed = helpers.drawn(page, "chart_run")["ranges"]["x"]
    assert zoomed[1] - zoomed[0] < 15
    for let_go in (False, True):
        helpers.drag(page, "in:air_temperature", 1.0, let_go=let_go)
        helpers.settle(page)
        assert helpers.drawn(page, "chart_run")["ranges"]["x"] == zoomed
    assert page.evaluate("window.calls.animate") > 0


def test_figures_are_asked_for_where_the_thumb_is_going(page):
    """property: first the thumb's own value alone, then several, on the slider's steps and ahead of the thumb."""
    page.evaluate(ASKED)
    track = helpers.slider(page, "in:air_temperature").bounding_box()
    page.mouse.move(track["x"] + track["width"] / 2, track["y"] + track["height"] / 2)
    page.mouse.down()
    for part in (0.5, 0.52, 0.54):
        put_thumb(page, "in:air_temperature", part)
    page.mouse.up()
    first, *others = page.evaluate("window.asked")
    assert len(first) == 1
    assert others
    several = next(values for values in others if len(values) > 1)
    own, *ahead = several
    assert all(value > own for value in ahead[:5])
    assert all(-20 <= value <= 50 and value == round(value) for value in several)
    assert len(set(several)) == len(several)
