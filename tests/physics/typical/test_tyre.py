"""The tyre of a rim of which only the size is known."""

from pathlib import Path

import pandas as pd
import pytest

from physics.components.tyre import nominal_rim_diameter, parse_tyre
from physics.typical.tyre import SIZES_OF_RIM, radius_of_rim, rim_alone, typical_size

DIAMETERS = pd.read_csv(Path(__file__).parents[2] / "published" / "tyre_diameters.csv", comment="#")


@pytest.mark.parametrize("rim", SIZES_OF_RIM)
def test_every_size_is_one_of_its_rim(rim):
    """property: each size fits the rim it stands under, and the ends enclose the one most often fitted."""
    for size in SIZES_OF_RIM[rim]:
        assert parse_tyre(size).rim_diameter == nominal_rim_diameter(rim), size
    low, middle, high = radius_of_rim(rim)
    assert low <= middle <= high
    assert high / low < 1.2
    assert len(set(SIZES_OF_RIM[rim])) == len(SIZES_OF_RIM[rim]) > 1


@pytest.mark.parametrize("rim", [12, 17])
def test_tabled_sizes_lie_between_the_ends(rim):
    """published: every tabled size on the rims of small motorcycles with a tyre as wide as theirs, to half a mm."""
    low, _, high = (2000.0 * float(value) for value in radius_of_rim(rim))
    tabled = DIAMETERS[DIAMETERS.code.isin(SIZES_OF_RIM[rim])].overall_diameter_mm
    assert len(tabled) >= 2
    assert tabled.between(low - 0.5, high + 0.5).all()


def test_a_twelve_inch_rim():
    """hand-worked: 90/90-12: 305 + 2 x 81 = 467 mm; 3.00-12: 305 + 2 x 76.2 = 457.4; 130/70-12: 305 + 182 = 487."""
    assert typical_size(12) == "90/90-12"
    assert [2000.0 * float(value) for value in radius_of_rim(12)] == pytest.approx([457.4, 467.0, 487.0], abs=0.05)


@pytest.mark.parametrize(
    "text", ["12-inch", "12 inch", "12 in", "12in.", '12"', "12 ''", "12", " 12 INCHES ", "12”"]
)
def test_as_riders_write_it(text):
    assert rim_alone(text) == 12


@pytest.mark.parametrize("text", ["", "90/90-12", "580 mm", "99-inch", "7 in", "12 km", "12-inch x", "1 2"])
def test_anything_else_is_no_rim(text):
    assert rim_alone(text) is None
