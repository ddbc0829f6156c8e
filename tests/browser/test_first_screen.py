"""The first screen as boxes: what a desk and a phone show without a scroll, and what a swipe leaves alone."""

import random
import re

import pytest

from explorer.questions.registry import MOMENTS
from physics.limits import LIMITS
from tests.browser import helpers

DESK = (
    "bar", "answer", "answer_row", "first_run", "first_sag", "first_pack_gauge", "key_numbers", "compare",
    "moments", "tyre_row",
)  # fmt: skip
SMALL = ("bar", "answer", "answer_row", "first_run", "first_sag")
INPUTS = (
    "target", "air_temperature", "charge", "cells", "capacity", "line_3", "phase_3", "front_teeth", "rear_teeth",
    "regen", "headroom_wanted",
)  # fmt: skip
OUTSIDE = """names => names.filter((name) => {
  const box = document.querySelector(`.st-key-${name}`)?.getBoundingClientRect();
  return !box?.height || box.top < 0 || box.left < 0 || box.bottom > innerHeight || box.right > innerWidth;
})"""
# What may be pressed and is smaller than a finger; a label counts for the box or dot it belongs to. What is out of
# sight beside the screen, and links inside a sentence, are left out.
TOO_SMALL = """() => {
  const inner = (one) => (one.shadowRoot ? deep(one.shadowRoot) : []);
  const deep = (root) => [...root.querySelectorAll("*")].flatMap((one) => [one, ...inner(one)]);
  const kinds = "button, a[href], input, select, textarea, summary, [role=button]";
  const pressed = (one) => (one.matches("input") && one.closest("label")) || one;
  return deep(document)
    .filter((one) => one.matches(kinds) && !one.disabled && !one.matches("p a"))
    .filter((one) => one.checkVisibility({ visibilityProperty: true }))
    .map((one) => [one, pressed(one).getBoundingClientRect()])
    .filter(([, { width, right }]) => width > 1 && right > 0)
    .filter(([, { width, height }]) => Math.min(width, height) < 43.5)
    .map(([one, { width, height }]) => `${one.outerHTML.slice(0, 160)} ${width} x ${height}`);
}"""
# A point on the run's line, where the mouse may go.
ON_THE_RUN = """key => {
  const plot = document.querySelector(`[data-key=${key}] .headroom-chart-plot`);
  const { xaxis, yaxis } = plot._fullLayout;
  const { x, y } = plot._fullData.find(({ name }) => ["this run", "this build"].includes(name));
  const [place, box] = [Math.round(0.4 * x.length), plot.getBoundingClientRect()];
  return [box.left + xaxis._offset + xaxis.d2p(x[place]), box.top + yaxis._offset + yaxis.d2p(y[place])];
}"""
THEME = """([dark]) => {
  const colour = getComputedStyle(document.querySelector(".headroom-chart")).backgroundColor;
  return (colour === "rgb(16, 22, 26)") === dark;
}"""


def in_view(page) -> list[str]:
    """The inputs whose sliders are whole on the screen."""
    high = page.viewport_size["height"]
    boxes = {key: helpers.slider(page, f"in:{key}").locator("..").bounding_box() for key in INPUTS}
    assert all(box["height"] <= 60 for box in boxes.values()), boxes
    return [key for key, box in boxes.items() if box["y"] >= 0 and box["y"] + box["height"] <= high]


def test_the_first_screen_fits(new_rider, page_server):
    """property: every part named in view and nothing wider than the screen, in both sizes, themes and systems."""
    page = new_rider(page_server)
    for units in ("US", "metric"):
        page.get_by_role("radiogroup", name="Units").get_by_role("radio", name=units, exact=True).click()
        helpers.settle(page)
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            page.wait_for_function(THEME, arg=[scheme == "dark"])
            for width, height, parts, inputs in ((1400, 900, DESK, len(INPUTS)), (1280, 720, SMALL, 7)):
                page.set_viewport_size({"width": width, "height": height})
                helpers.settle(page)
                assert page.evaluate(OUTSIDE, list(parts)) == [], (units, scheme, width)
                assert len(in_view(page)) >= inputs
                assert helpers.fits(page), helpers.widest(page)
                assert not page.locator(".st-key-tray").is_visible()
    for view, key in (("Speed over time", "chart_run"), ("Force over speed", "chart_force")):
        page.get_by_role("radio", name=view).click()
        helpers.settle(page)
        the_cursor_reads_the_instant(page, key)


def the_cursor_reads_the_instant(page, key):
    """property: pointing at the run reads time, speed, volts, amps, kilowatts there, and the sag chart the same."""
    page.mouse.move(2, 2)
    page.mouse.move(*page.evaluate(ON_THE_RUN, key), steps=3)
    page.wait_for_function("document.querySelectorAll('[data-key=chart_sag] .hovertext').length >= 4")
    here, there = (page.locator(f"[data-key={one}] .hovertext").all_text_contents() for one in (key, "chart_sag"))
    read = re.search(r"([\d.]+) s: [\d.]+ km/h.*?([\d.]+) V, (\d+) A, ([\d.]+) kW", "; ".join(here))
    assert read, here
    seconds, volts, amps, kilowatts = read.groups()
    assert f"loaded{seconds} s: {volts} V" in "".join(there)
    assert f"{seconds} s: {amps} A, {kilowatts} kW" in "".join(there)
    assert any(limit in text for limit in LIMITS for text in here)


def test_a_page_with_one_moment_open_stays_short(new_rider, page_server):
    """property: at most 2,200 pixels with its questions folded, and the questions are brought into view."""
    page = new_rider(page_server)
    for name, questions in MOMENTS:
        page.locator(".st-key-moments button", has_text=name).click()
        helpers.settle(page)
        assert page.evaluate("document.querySelector('[data-testid=stMain]').scrollHeight") <= 2200
        last = page.locator(".st-key-moment_questions").get_by_text(questions[-1].TITLE, exact=True)
        page.wait_for_function(
            "one => one.getBoundingClientRect().bottom <= innerHeight", arg=last.element_handle()
        )


def test_a_phone_shows_the_chart_while_its_slider_is_dragged(new_rider, page_server):
    """property: answer, run and gauge stand above the tray, what may be pressed is 44 pixels high and wide or more,
    and in both orientations the run is seen while it moves, also where the page stood at its top before."""
    page = new_rider(page_server, width=390, height=844)
    tray = page.locator(".st-key-tray")
    top = tray.bounding_box()["y"]
    for name in ("answer", "answer_row", "first_run", "first_pack_gauge"):
        box = page.locator(f".st-key-{name}").bounding_box()
        assert box["y"] >= 0, name
        assert box["y"] + box["height"] <= top, name
    assert helpers.fits(page)
    assert page.evaluate(TOO_SMALL) == []
    tray.get_by_role("button", name="Target speed").click()
    drag_and_see_the_run(page, "tray:in:target", top)
    page.set_viewport_size({"width": 844, "height": 390})  # there is room for the inputs at the side
    helpers.settle(page)
    assert not tray.is_visible()
    drag_and_see_the_run(page, "in:target", 390)
    assert page.evaluate(TOO_SMALL) == []
    close = page.get_by_role("button", name="Close the sliders")
    page.evaluate("document.querySelector('[data-testid=stSidebarContent]').scrollTop = 400")
    assert close.bounding_box()["y"] >= 0  # it stays where it is
    close.click()
    tray.wait_for()
    drag_and_see_the_run(page, "tray:in:target", tray.bounding_box()["y"])


# A scroll ends between two pixels.
IN_VIEW = """([chart, foot]) => {
  const { top, bottom } = chart.getBoundingClientRect();
  return top > -1 && bottom <= foot + 1;
}"""


def drag_and_see_the_run(page, slider, foot):
    """Drag a slider from the top of the page: the whole run is in view above the foot of the screen, it follows,
    and the address too."""
    chart = helpers.chart(page, "chart_run")
    page.evaluate("document.querySelector('[data-testid=stMain]').scrollTop = 0")
    before = int(chart.get_attribute("data-drawn"))
    helpers.drag(page, slider, 1.0, let_go=False)
    page.wait_for_function(IN_VIEW, arg=[chart.element_handle(), foot])
    page.wait_for_function(
        "([chart, before]) => +chart.dataset.drawn > before", arg=[chart.element_handle(), before]
    )
    page.mouse.up()
    helpers.settle(page)
    assert f"target={helpers.box(page, slider).input_value()}" in page.url
    assert helpers.fits(page)


def swipe(devices, x, y, across, along, steps=8):
    """One finger, put down, moved and lifted."""

    def touch(kind, *points):
        devices.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": list(points)})

    touch("touchStart", {"x": x, "y": y})
    for step in range(1, steps + 1):
        touch("touchMove", {"x": x + across * step / steps, "y": y + along * step / steps})
    touch("touchEnd")


def test_a_swipe_scrolls_and_changes_nothing(new_rider, page_server):
    """property: 40 swipes up and down and a tap leave every value in the drawer as it was; a drag does not."""
    page = new_rider(page_server, width=390, height=844)
    devices = page.context.new_cdp_session(page)
    devices.send("Emulation.setTouchEmulationEnabled", {"enabled": True, "maxTouchPoints": 1})
    page.get_by_role("button", name="Open the sliders").click()
    helpers.settle(page)
    assert page.evaluate(TOO_SMALL) == []
    values = (
        "() => [...document.querySelectorAll('[data-testid=stBidiComponentIsolated]')].flatMap((host) =>"
        " [...host.shadowRoot.querySelectorAll('.slider input')].map((one) => one.value))"
    )
    before, url = page.evaluate(values), page.url
    chance = random.Random(7)
    scrolled = "document.querySelector('[data-testid=stSidebarContent]').scrollTop"
    places = set()
    for count in range(40):
        along = (-1) ** count * chance.uniform(60, 250)
        swipe(devices, chance.uniform(30, 320), chance.uniform(300, 560), chance.uniform(-12, 12), along)
        places.add(page.evaluate(scrolled))
    assert len(places) > 1  # they did scroll
    track = helpers.at_rest(helpers.slider(page, "in:cells"))
    middle = track["y"] + track["height"] / 2
    swipe(devices, track["x"] + 0.9 * track["width"], middle, 0, 0, steps=1)
    helpers.settle(page)
    assert page.evaluate(values) == before
    assert page.url == url
    swipe(devices, track["x"] + 0.5 * track["width"], middle, 0.3 * track["width"], 4)
    helpers.settle(page)
    assert float(helpers.box(page, "in:cells").input_value()) == pytest.approx(10 + 0.8 * 22, abs=2)
    assert "cells=" in page.url
