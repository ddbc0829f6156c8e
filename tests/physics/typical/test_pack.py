"""Typical packs: published cells of several rates, common practice, hand-worked values, and properties."""

from pathlib import Path

import numpy as np
import pytest

from physics.components import cell
from physics.components import pack as components
from physics.components.cell import CHEMISTRY_KEYS
from physics.typical import pack

_LINES = (Path(__file__).parents[2] / "published" / "rated_cells.csv").read_text(encoding="utf-8").splitlines()
ROWS = [line.split(",") for line in _LINES if not line.startswith("#")][1:]
CAPACITY, RESISTANCE, RATE, MASS = np.array([row[1:] for row in ROWS[1:]], dtype=float).T  # without the titanate


def test_the_rule_is_the_line_through_the_published_cells():
    """published: rated_cells.csv, a straight line in logarithms by NumPy's least squares; no cell off by 4 %."""
    product = RESISTANCE / 1000.0 * CAPACITY
    slope, start = np.polyfit(np.log(RATE), np.log(product), 1)
    assert slope == pytest.approx(pack.RATE_EXPONENT, abs=0.0005)
    assert np.exp(start) == pytest.approx(pack.PRODUCT_AT_ONE_HOUR, abs=0.00005)
    bare = pack.resistance_from_rating("nmc", 1, CAPACITY, RATE * CAPACITY).middle / pack.CONNECTIONS
    assert bare * 1000.0 == pytest.approx(RESISTANCE, rel=0.04)


def test_a_pack_for_current():
    """common practice: 20 cells of 20 Ah, rated 200 A and 250 A for some seconds, have about 45 milliohm."""
    low, middle, high = pack.resistance_from_rating("nmc", 20, 20.0, 200.0, 250.0)
    assert middle == pytest.approx(0.045, abs=0.003)
    assert low < 0.035
    assert high > 0.060


def test_a_cell_for_range_lies_inside():
    """published: 28.15 milliohm and 5 Ah, Chen et al., J. Electrochem. Soc. 167 (2020) 080534, 10 s by PyBaMM
    26.10.

    Its rating, 1.5 times the one-hour current, is from memory.
    """
    low, _, high = pack.resistance_from_rating("nmc", 1, 5.0, 7.5)
    assert low < 0.02815 < high


def test_without_a_rating_the_chemistry_decides():
    """hand-worked: 20 cells, 20 Ah: 0.08, and from 0.042 to 0.141 ohm Ah in the table: 80, 42 to 141 milliohm."""
    assert pack.resistance_from_rating("nmc", 20, 20.0) == pytest.approx((0.042, 0.080, 0.141))


def test_the_higher_demand_counts():
    """property: continuous current, or half the peak where that is more, or where it alone is known."""
    rated = pack.resistance_from_rating("nmc", 20, 20.0, 150.0)
    assert pack.resistance_from_rating("nmc", 20, 20.0, 150.0, 200.0) == pytest.approx(rated)
    assert pack.resistance_from_rating("nmc", 20, 20.0, 60.0, 300.0) == pytest.approx(rated)
    assert pack.resistance_from_rating("nmc", 20, 20.0, np.inf, 300.0) == pytest.approx(rated)


@pytest.mark.parametrize("key", CHEMISTRY_KEYS)
def test_more_current_less_resistance(key):
    """property: falls with the rating, goes with cells in series; an array gives what single numbers give."""
    current = np.array([20.0, 60.0, 200.0, 390.0])
    middle = pack.resistance_from_rating(key, 20, 20.0, current).middle
    assert (np.diff(middle) < 0).all()
    assert middle[2] == pack.resistance_from_rating(key, 20, 20.0, 200.0).middle
    assert pack.resistance_from_rating(key, 40, 20.0, 200.0).middle == pytest.approx(2 * middle[2])


def test_cells_in_series_and_parallel():
    """hand-worked: 18 milliohm, 20 in series, 8 in parallel: 45; with a tenth for connections 49.5, a fifth 54."""
    found = pack.resistance_from_cells(0.018, 20, 8)
    assert found == pytest.approx((0.045, 0.0495, 0.054))
    assert pack.resistance_from_cells(0.012, 20, 8, at_1_khz=True) == pytest.approx(found)


def test_two_readings():
    """hand-worked: (80.0 - 71.0) / 200 = 45 milliohm; 78.2 V at 40 A and 71 V at 200 A the same."""
    assert pack.resistance_from_readings((80.0, 71.0), (0.0, 200.0)) == pytest.approx(0.045)
    assert pack.resistance_from_readings((78.2, 71.0), (40.0, 200.0)) == pytest.approx(0.045)


def test_readings_on_a_cold_pack_come_back_to_the_reference():
    """exact solution: readings made of a known pack by Arrhenius' law through the 1.81 times that the chemistry
    shows at 0 degrees C, its table of charge, and its pulse."""
    kind, known = cell.chemistry("nca"), 0.05 * components.pulse_resistance(1.0, "nca", 3.0)
    known *= 1.81 ** ((1 / 278.15 - 1 / 298.15) / (1 / 273.15 - 1 / 298.15))
    known *= np.interp(0.9, kind.charge, kind.discharge_resistance_factor)
    found = pack.resistance_from_readings(
        (80.0, 80.0 - 150.0 * known), (0.0, 150.0), 3.0, chemistry_key="nca", temperature=278.15, charge=0.9
    )
    assert found == pytest.approx(0.05)


def test_readings_that_say_nothing():
    """property: no resistance from like currents, nor where more current gave more voltage; no warning either."""
    assert np.isnan(pack.resistance_from_readings((80.0, 79.0), (50.0, 50.0)))
    assert np.isnan(pack.resistance_from_readings((80.0, 81.0), (0.0, 50.0)))


def test_mass_goes_with_the_rate():
    """published: 48.5 g for 3.0 Ah at 1, 46.5 g for 1.8 Ah at 6 times the one-hour current, rated_cells.csv."""
    per_hour = MASS[1:3] / CAPACITY[1:3]
    exponent = np.log(per_hour[1] / per_hour[0]) / np.log(RATE[2] / RATE[1])
    assert exponent == pytest.approx(pack.MASS_EXPONENT, abs=0.005)


def test_mass():
    """published: specific mass of the two cells with nickel, cobalt and aluminium, rated_cells.csv, at 3.6 V
    nominal.

    Cells alone, as three quarters of the pack: between the rule's ends.
    """
    for capacity, mass in zip(CAPACITY[1:3], MASS[1:3], strict=True):
        low, _, high = pack.pack_mass(1, capacity, "nca")
        assert low * 0.75 < mass < high * 0.75 * 1.3  # the older cell for power carries 1.8 Ah in the same can
