"""Tyres: codes as riders type them, diameters as tabled, rolling radius between loaded and free."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from physics.components import tyre

PUBLISHED = Path(__file__).parents[2] / "published"
DIAMETERS = pd.read_csv(PUBLISHED / "tyre_diameters.csv", comment="#")
SYMBOLS = pd.read_csv(PUBLISHED / "speed_symbols.csv", comment="#")
LOADS = pd.read_csv(PUBLISHED / "load_indices.csv", comment="#")


@pytest.mark.parametrize("row", list(DIAMETERS.itertuples()), ids=lambda row: row.code)
def test_overall_diameters(row):
    """published: UN Regulation No. 75, paragraph 6.1.2, and its tabled sizes; 0.5 mm, half the last digit."""
    assert tyre.parse_tyre(row.code).free_diameter * 1000.0 == pytest.approx(row.overall_diameter_mm, abs=0.501)


@pytest.mark.parametrize("code", range(8, 22))
def test_nominal_rim_diameters(code):
    """published: nominal rim diameters are 25.4 x code to the millimetre (UN Regulation No. 30, from memory)."""
    assert tyre.nominal_rim_diameter(code) * 1000.0 == pytest.approx(25.4 * code, abs=0.5)


@pytest.mark.parametrize("row", list(SYMBOLS.itertuples()), ids=lambda row: row.symbol)
def test_speed_symbols(row):
    """published: ISO 4223-1, every row from B up; exact."""
    assert tyre.SPEED_SYMBOLS_KM_H[row.symbol] == row.speed_km_h


@pytest.mark.parametrize("row", list(LOADS.itertuples()), ids=lambda row: str(row.load_index))
def test_load_indices(row):
    """published: UN Regulation No. 75, annex 4, second-hand; exact."""
    assert tyre.load_capacity(row.load_index) == row.mass_kg
    assert tyre.load_capacity(tyre.parse_tyre(f"110/70-17 {row.load_index}H").load_index) == row.mass_kg


@pytest.mark.parametrize("index", [None, 0, 29, 90, 130])
def test_a_load_that_is_not_known_is_no_limit(index):
    """property: no index, or one outside the table."""
    assert tyre.load_capacity(index) == np.inf


@pytest.mark.parametrize(
    ("code", "width", "aspect", "rim", "symbol"),
    [
        ("110/70-17", 110.0, 0.70, 432.0, ""),
        ("110/70-17 54H", 110.0, 0.70, 432.0, "H"),
        ("120/70R17", 120.0, 0.70, 432.0, ""),
        ("120/70 ZR 17", 120.0, 0.70, 432.0, ""),
        ("120/70 zr 17 m/c (58W)", 120.0, 0.70, 432.0, "W"),
        ("130/70-17M/C 62S TL", 130.0, 0.70, 432.0, "S"),
        ("130/90B16 67H", 130.0, 0.90, 406.0, "H"),
        ("120/70-8", 120.0, 0.70, 203.0, ""),
        ("90/90-12 44J", 90.0, 0.90, 305.0, "J"),
        ("80/100-14", 80.0, 1.00, 356.0, ""),
        ("120/70-19", 120.0, 0.70, 483.0, ""),
        ("2.75-18", 69.85, 1.00, 457.0, ""),
        ("2,75 - 18 42P", 69.85, 1.00, 457.0, "P"),
        ("3.00-12", 76.2, 1.00, 305.0, ""),
        ("3.10-18", 78.74, 0.90, 457.0, ""),
        ("3.60-18", 91.44, 0.90, 457.0, ""),
        ("4.10-18", 104.14, 0.90, 457.0, ""),
        ("4.60-16", 116.84, 0.90, 406.0, ""),
        ("5.10-16", 129.54, 0.90, 406.0, ""),
        ("6.10-16", 154.94, 0.90, 406.0, ""),
        ("4.25/85-18", 107.95, 0.85, 457.0, ""),
    ],
)
def test_codes_as_typed(code, width, aspect, rim, symbol):
    """hand-worked: widths in inches x 25.4; rim diameters from the table; case, spaces and commas do not matter."""
    size = tyre.parse_tyre(code)
    assert size.section_width * 1000.0 == pytest.approx(width, abs=1e-9)
    assert size.aspect_ratio == pytest.approx(aspect, abs=1e-12)
    assert size.rim_diameter * 1000.0 == pytest.approx(rim, abs=1e-9)
    assert size.speed_symbol == symbol
    assert size.free_radius == pytest.approx((rim + 2.0 * width * aspect) / 2000.0, abs=1e-12)
    assert tyre.free_radius(code) == size.free_radius


@pytest.mark.parametrize(("text", "diameter"), [("580 mm", 0.580), ("612.5mm", 0.6125), (" 455 MM ", 0.455)])
def test_measured_diameter(text, diameter):
    """hand-worked: a diameter in millimetres is taken as it is."""
    assert tyre.parse_tyre(text).free_diameter == pytest.approx(diameter, abs=1e-12)


@pytest.mark.parametrize(
    "code",
    ["", "abc", "17", "110/70", "110-70-17", "1100/70-17", "11070-17", "110/7-17", "50 mm", None, 110,
     "110/70-17 54", "110/70-17; 120/70-17", "MT90-16", "110/70-17 54H please"],
)  # fmt: skip
def test_wrong_codes_are_refused(code):
    """property: the error repeats what it got and says what is accepted."""
    with pytest.raises(ValueError, match=r"accepted is|Accepted is") as error:
        tyre.parse_tyre(code)
    assert repr(code) in str(error.value)
    assert "110/70-17" in str(error.value)


@pytest.mark.parametrize("code", ["110/70-7", "110/70-22", "3.00-30"])
def test_unknown_rims_are_refused(code):
    """property: a rim code outside the table lists those inside it."""
    with pytest.raises(ValueError, match="Accepted rim codes: 8, 9, 10, 11, 12"):
        tyre.parse_tyre(code)


@pytest.mark.parametrize(
    ("code", "named"),
    [
        ("330/20-17", "aspect ratio"),
        ("40/90-17", "section width"),
        ("335/30-17", "section width"),
        ("905 mm", "diameter"),
    ],
)
def test_sizes_nobody_makes_are_refused(code, named):
    """property: the number that is out of range is named."""
    with pytest.raises(ValueError, match=named):
        tyre.parse_tyre(code)


@given(
    width=st.integers(60, 240),
    aspect=st.sampled_from(range(40, 105, 5)),
    rim=st.integers(8, 21),
    build=st.sampled_from(["-", "R", " ZR ", " R ", "B", " - "]),
)
def test_every_metric_code_reads_back(width, aspect, rim, build):
    """property: all widths, aspects and rims: D = d + 2 H, and wider or higher means taller."""
    size = tyre.parse_tyre(f"{width}/{aspect}{build}{rim}")
    assert size.free_diameter == pytest.approx(size.rim_diameter + 2.0 * width * aspect / 1e5, abs=1e-12)
    taller = tyre.parse_tyre(f"{width + 10}/{aspect}{build}{rim}")
    assert taller.free_diameter > size.free_diameter


def test_rolling_radius_factor():
    """hand-worked: 0.3 m x 0.975; arrays broadcast."""
    assert tyre.rolling_radius(0.3) == pytest.approx(0.2925, abs=1e-12)
    np.testing.assert_allclose(tyre.rolling_radius([0.2, 0.3], 0.98), [0.196, 0.294], rtol=1e-12)


def test_wrong_radii_are_refused():
    """property: radii that no tyre has are refused in words."""
    with pytest.raises(ValueError, match="above 0 m"):
        tyre.rolling_radius(0.0)
    with pytest.raises(ValueError, match=r"above 0\.9"):
        tyre.rolling_radius(0.3, 0.5)
