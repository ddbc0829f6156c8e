"""From opening the page to the answer for the rider's own bike, in a real browser."""

import re

import pytest

from tests.browser import helpers

MOST_ACTIONS = 14
ANSWERS = {
    "cells": "20", "capacity": "20", "continuous_current": "200/250", "line_1": "180", "phase_1": "450", "kv": "75",
    "front_teeth": "13/46", "tyre": "90/90-12", "bike_mass": "85", "rider_mass": "85", "rest": "81",
    "air_temperature": "2",
}  # fmt: skip


@pytest.mark.parametrize(("width", "height"), [(1400, 900), (390, 844)])
def test_an_own_bike_has_its_answer_after_a_few_actions(journey, width, height):
    """property: every question filled in, a click and a field count one each; the way in is on the first screen."""
    page = journey(width=width, height=height)
    actions = 0
    button = page.get_by_role("button", name="Make it yours")
    box = button.bounding_box()
    assert 0 <= box["x"] < box["x"] + box["width"] <= width
    assert 0 <= box["y"] < box["y"] + box["height"] <= height
    button.click()
    actions += 1
    helpers.settle(page)
    dialog = page.get_by_role("dialog")
    for name, text in ANSWERS.items():
        dialog.locator(f".st-key-own-{name} input, .st-key-own\\:{name} input").first.fill(text)
        actions += 1
    dialog.get_by_role("button", name="Use these").click()
    actions += 1
    helpers.settle(page)
    dialog.wait_for(state="detached")
    assert actions <= MOST_ACTIONS
    answer = page.locator(".st-key-answer").inner_text()
    assert re.search(r"\d", answer)
    assert "0 from the demo" in page.locator(".st-key-origins").text_content()  # a phone shows it in the dialog
    assert page.get_by_role("button", name="Make it yours").count() == 0
    assert "preset=own" in page.url
    helpers.settle(page)
    page.reload()
    helpers.settle(page)
    assert page.locator(".st-key-answer").inner_text() == answer
