"""What holds of every question about pulls: it answers each preset, in both systems, at far ends, once unfolded."""

import pytest

from explorer.inputs.presets import PRESETS
from explorer.page import results as shared
from explorer.questions.heat import results as heat
from explorer.questions.line_limit import results as line_limit
from explorer.questions.packs_on_offer import results as packs_on_offer
from tests.explorer.pages import opened, written

CAUTIONS = {
    "line_limit": "never looser BMS settings",
    "voltage_window": "Count the ride back",
    "packs_on_offer": "only as its maker allows",
    "heat": "burn skin",
}
NAMES = tuple(CAUTIONS)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("preset", PRESETS)
def test_every_section_answers_every_preset(name, preset):
    """Verdict in words, a caution, no fault, and nothing that is not a number."""
    text = written(opened(name, preset=preset))
    assert "**" in text
    assert "nan" not in text.lower().split()
    assert "not known" not in text
    assert CAUTIONS[name] in text


def test_folded_sections_compute_nothing(monkeypatch):
    """No study behind the answers is asked for while the sections are folded."""
    asked = []
    studies = {
        shared: ("repeated_pulls", "voltage_window"),
        line_limit: ("line_limit", "limit_use"),
        packs_on_offer: ("burst_power", "largest_power", "pre_warming", "judged"),
        heat: ("full_power",),
    }
    for module, names in studies.items():
        for name in names:
            monkeypatch.setattr(module, name, lambda *_, **__: asked.append(1))
    opened(cells=19)
    assert not asked


@pytest.mark.parametrize("name", NAMES)
def test_us_units(name):
    text = written(opened(name, units="US"))
    section = text[text.index("**") :]
    assert "°C" not in section.replace("25 °C", "")


@pytest.mark.parametrize("name", NAMES)
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
def test_far_ends_of_the_inputs(name, link):
    """property: the ends of the inputs' ranges give a verdict or a plain sentence, never an exception or a NaN."""
    text = written(opened(name, **link))
    assert "nan" not in text.lower().split()
    assert "not known" not in text
