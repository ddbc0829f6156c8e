"""Cautions that several parts of the page give."""

import pytest

from explorer.format import UnitFormatter
from explorer.page import cautions


@pytest.mark.parametrize(
    ("tyre", "km_h", "words"),
    [
        ("110/70-17 54H", 150.0, ""),
        ("110/70-17 54J", 118.0, "more than the tyre's speed symbol J allows (100 km/h)"),
        ("110/70-17", 118.0, "speed symbol J are made for (100 km/h): both tyres must carry L"),
        ("110/70-17", 90.0, ""),
        ("580 mm", 131.0, "speed symbol M are made for (130 km/h): both tyres must carry N"),
    ],
)
def test_speed_symbols(tyre, km_h, words):
    """published: speeds of the symbols J 100, L 120, M 130, N 140 and H 210 km/h, ISO 4223-1 and UN R75."""
    found = cautions.tyre_speed(tyre, km_h / 3.6, UnitFormatter("metric"))
    assert words in found if words else found == ""
