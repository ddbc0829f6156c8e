"""The first screen as boxes: what a desk and a phone show without a scroll, and what a swipe leaves alone."""

import random

import pytest

from explorer.questions.registry import MOMENTS
from tests.browser import helpers

DESK = (
    "bar", "answer", "because", "ratings", "first_run", "first_sag", "first_pack_gauge", "key_numbers", "compare",
    "moments", "tyre_row",
)  # fmt: skip
SMALL = ("bar", "answer", "because", "first_run", "first_sag")
TOUCH = 44
INPUTS = (
    "target", "air_temperature", "charge", "cells", "capacity", "line_3", "phase_3", "front_teeth", "rear_teeth",
    "regen", "headroom_wanted",
)  # fmt: skip
OUTSIDE = """names => names.filter((name) => {
  const box = document.querySelector(`.st-key-${name}`)?.getBoundingClientRect();
  return !box?.height || box.top < 0 || box.left < 0 || box.bottom > innerHeight || box.right > innerWidth;
})"""
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
    """property: answer, run and gauge stand above the tray; in both orientations the run is seen while it moves."""
    page = new_rider(page_server, width=390, height=844)
    tray = page.locator(".st-key-tray")
    top = tray.bounding_box()["y"]
    for name in ("answer", "because", "first_run", "first_pack_gauge"):
        box = page.locator(f".st-key-{name}").bounding_box()
        assert box["y"] >= 0, name
        assert box["y"] + box["height"] <= top, name
    assert helpers.fits(page)
    parts = [box for one in tray.locator(":is(button, input)").all() if (box := one.bounding_box())]
    assert len(parts) >= 3
    assert all(box["height"] >= TOUCH for box in parts)
    tray.get_by_role("button", name="Target speed").click()
    drag_and_see_the_run(page, "tray:in:target", top)
    page.set_viewport_size({"width": 844, "height": 390})  # there is room for the inputs at the side
    helpers.settle(page)
    assert not tray.is_visible()
    drag_and_see_the_run(page, "in:target", 390)
    page.get_by_role("button", name="Close the sliders").click()
    tray.wait_for()
    drag_and_see_the_run(page, "tray:in:target", tray.bounding_box()["y"])


def drag_and_see_the_run(page, slider, foot):
    """Drag a slider with the whole run in view above the foot of the screen; it follows and the address too."""
    chart = helpers.chart(page, "chart_run")
    chart.evaluate("chart => chart.scrollIntoView()")
    box = helpers.at_rest(chart)
    assert box["y"] > -1  # a scroll ends between two pixels
    assert box["y"] + box["height"] <= foot
    before = int(chart.get_attribute("data-drawn"))
    helpers.drag(page, slider, 1.0, let_go=False)
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
