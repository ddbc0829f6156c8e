"""Cautions that several parts of the page give."""

import pytest

from explorer.format import UnitFormatter
from explorer.page import cautions
from explorer.questions.setup_sheet.words import gather
from physics.build import example_build
from tests.explorer.pages import opened, page_of, written


@pytest.mark.parametrize(
    ("tyre", "km_h", "words"),
    [
        ("110/70-17 54H", 150.0, ""),
        ("110/70-17 54J", 118.0, "more than the tyre's speed symbol J allows (100 km/h)"),
        ("110/70-17", 118.0, "speed symbol J are rated for (100 km/h): both tyres need L"),
        ("110/70-17", 90.0, ""),
        ("580 mm", 131.0, "speed symbol M are rated for (130 km/h): both tyres need N"),
    ],
)
def test_speed_symbols(tyre, km_h, words):
    """published: speeds of the symbols J 100, L 120, M 130, N 140 and H 210 km/h, ISO 4223-1 and UN R75."""
    found = cautions.speed_ratings(example_build().change({"bike.tyre": tyre}), km_h / 3.6, UnitFormatter("metric"))
    assert words in found if words else found == ""


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        (
            {"voltage_maximum": 100.0},
            "100.8 V, above the controller's voltage rating (100.0 V)",
        ),
        ({"voltage_maximum": 101.0, "back_emf_maximum": 60.0}, "more than the controller withstands (60.0 V)"),
        ({"electrical_frequency_maximum": 200.0}, "faster than the controller can follow (200 Hz)"),
    ],
)
def test_one_caution_names_each_rating_that_is_passed(changes, words):
    """hand-worked: 24 cells of 4.2 V are 100.8 V; the others far below what 90 km/h asks for."""
    build = example_build().change({f"controller.{name}": value for name, value in changes.items()})
    assert words in cautions.speed_ratings(build, 25.0, UnitFormatter("metric"))
    assert cautions.speed_ratings(example_build(), 25.0, UnitFormatter("metric")) == ""


def test_the_first_screen_and_the_sections_warn_alike():
    """property: the tyre's symbol is named where a speed is shown as reached."""
    page = opened("gearing", tyre="110/70-17 54J", controller_voltage=90)
    text = written(page)
    assert text.count("speed symbol J allows") >= 2
    assert "A full pack is at 100.8 V" in text


def test_a_passed_speed_symbol_is_said_wherever_a_speed_is_shown():
    """property: on the first screen, under the voltage window and on the setup sheet, of one slow tyre."""
    words, slow = "more than the tyre's speed symbol J allows", {"tyre": "110/70-17 54J", "target": 110.0}
    page = opened("voltage_window", preset="supermoto", **slow)
    said = [part.value for kind in ("markdown", "warning") for part in page.get(kind) if words in part.value]
    assert len(said) == 2
    assert words in gather(page_of("supermoto", **slow), "today", "", None, "peak").cautions[-1]
