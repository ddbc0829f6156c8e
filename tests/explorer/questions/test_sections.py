"""What holds of every question about pulls: it answers each preset, in both systems, at far ends, once unfolded."""

import pytest

from explorer.inputs.presets import PRESETS
from explorer.page import results as shared
from explorer.questions.heat import results as heat
from explorer.questions.line_limit import results as line_limit
from explorer.questions.packs_on_offer import results as packs_on_offer
from explorer.questions.registry import FOLDED, name_of
from explorer.questions.voltage_window import results as pulls
from tests.explorer.pages import opened, written

CAUTIONS = {
    "line_limit": "never looser BMS settings",
    "voltage_window": "Count the ride back",
    "packs_on_offer": "only as its maker allows",
    "heat": "burn skin",
}
NAMES = tuple(CAUTIONS)


@pytest.mark.parametrize("preset", PRESETS)
def test_every_section_answers_every_preset(preset):
    """Verdict in words, a caution, no fault, and nothing that is not a number."""
    page = opened(*NAMES, preset=preset)
    text = written(page)
    assert "nan" not in text.lower().split()
    assert "not known" not in text
    for name, caution in CAUTIONS.items():
        assert any("**" in part.value for part in fold(page, name).markdown), name
        assert caution in text, name


def fold(page, name):
    """What stands in a section."""
    title = next(question.TITLE for question in FOLDED if name_of(question) == name)
    return next(one for one in page.expander if one.label == title)


def test_folded_sections_compute_nothing(monkeypatch):
    """No study behind the answers is asked for while the sections are folded."""
    asked = []
    studies = {
        shared: ("voltage_window",),
        pulls: ("repeated_pulls",),
        line_limit: ("line_limit", "limit_use"),
        packs_on_offer: ("burst_power", "judged"),
        heat: ("full_power", "repeated_pulls"),
    }
    for module, names in studies.items():
        for name in names:
            monkeypatch.setattr(module, name, lambda *_, **__: asked.append(1))
    opened(cells=19)
    assert not asked


def test_us_units():
    text = written(opened(*NAMES, units="US"))
    section = text[text.index("**") :]
    assert "°C" not in section.replace("25 °C", "")


@pytest.mark.parametrize(
    "link",
    [
        {"charge": 0},
        {"charge": 100, "air_temperature": -20},
        {"cells": 10, "capacity": 5, "pack_resistance": 400},
        {"air_temperature": 50, "discharge_maximum": 40},
        {"throttle": 10, "slope": 15},
        {"continuous_current": "off", "peak_current": "off", "fast_current": "off"},
    ],
    ids=str,
)
def test_far_ends_of_the_inputs(link):
    """property: the ends of the inputs' ranges give a verdict or a plain sentence, never an exception or a NaN."""
    text = written(opened(*NAMES, **link))
    assert "nan" not in text.lower().split()
    assert "not known" not in text
