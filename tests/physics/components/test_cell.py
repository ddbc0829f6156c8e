"""Cells: published rest voltages, and properties over the stated ranges."""

import doctest

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from physics.components import cell

keys = st.sampled_from(cell.CHEMISTRY_KEYS)
charges = st.floats(0.0, 1.0)


def test_examples_run():
    assert doctest.testmod(cell).failed == 0


# Fitted potentials of Chen et al., Journal of the Electrochemical Society 167 (2020) 080534, on the 2.5 to 4.2 V
# scale, as PyBaMM 26.10 evaluates them. Tolerance 2 mV.
CHEN_2020 = {1.0: 4.2000, 0.9: 4.0967, 0.7: 3.9479, 0.5: 3.7509, 0.3: 3.5814, 0.1: 3.2959}


@pytest.mark.parametrize(("charge", "voltage"), CHEN_2020.items())
def test_rest_voltage_published(charge, voltage):
    """published: Chen et al. (2020)."""
    assert cell.open_circuit_voltage("nmc", charge) == pytest.approx(voltage, abs=0.002)


# O'Regan et al., Electrochimica Acta 425 (2022) 140700, both ends at 2.5 and 4.2 V.
OREGAN_2022 = {1.0: 4.2000, 0.9: 4.0930, 0.7: 3.9137, 0.5: 3.6790, 0.3: 3.5359, 0.1: 3.2554}


@pytest.mark.parametrize(("charge", "voltage"), OREGAN_2022.items())
def test_rest_voltage_of_a_second_nmc_cell(charge, voltage):
    """published: O'Regan et al. (2022). Another NMC cell, so 75 mV: how far two cells may differ."""
    assert cell.open_circuit_voltage("nmc", charge) == pytest.approx(voltage, abs=0.075)


def test_rest_voltage_from_the_printed_equations():
    """published: Chen et al. (2020), both fitted potentials written out here, between the table's points.

    Tolerance 2 mV above charge 0.05 and 20 mV below: what straight lines between points cost where the curve bends.
    """
    charge = np.linspace(0.005, 0.995, 100)
    x = 0.0263458 + charge * (0.9106180 - 0.0263458)
    y = 0.8539747 + charge * (0.2638452 - 0.8539747)
    negative = 1.9793 * np.exp(-39.3631 * x) + 0.2482 - 0.0909 * np.tanh(29.8538 * (x - 0.1234))
    negative += -0.04478 * np.tanh(14.9159 * (x - 0.2769)) - 0.0205 * np.tanh(30.4444 * (x - 0.6103))
    positive = -0.8090 * y + 4.4875 - 0.0428 * np.tanh(18.5138 * (y - 0.5542))
    positive += -17.7326 * np.tanh(15.7890 * (y - 0.3117)) + 17.5842 * np.tanh(15.9308 * (y - 0.3120))
    gap = np.abs(cell.open_circuit_voltage("nmc", charge) - (positive - negative))
    assert gap[charge > 0.05].max() < 0.002
    assert gap.max() < 0.020


@pytest.mark.parametrize(
    ("key", "lowest", "highest"),
    [("nmc", 2.5, 4.2), ("nca", 2.7, 4.2), ("lfp", 2.0, 3.6), ("lipo_hv", 3.0, 4.35)],
)
def test_ends_of_the_scale(key, lowest, highest):
    """published: Chen (2020), Kim (2011), Prada (2013), Ai (2020); 4.35 V is common practice, no source."""
    assert cell.open_circuit_voltage(key, [0.0, 1.0]) == pytest.approx([lowest, highest], abs=5e-5)
    assert (cell.chemistry(key).voltage_minimum, cell.chemistry(key).voltage_maximum) == (lowest, highest)


@pytest.mark.parametrize("key", cell.CHEMISTRY_KEYS)
def test_rest_voltage_rises_with_charge(key):
    """property: strictly, over the whole scale."""
    assert np.all(np.diff(cell.open_circuit_voltage(key, np.linspace(0, 1, 1001))) > 0)


@given(keys, charges)
@settings(deadline=None)
def test_charge_and_back(key, charge):
    """property: the inverse is exact to rounding (1e-9 of charge)."""
    back = cell.charge_from_open_circuit_voltage(key, cell.open_circuit_voltage(key, charge))
    assert back == pytest.approx(charge, abs=1e-9)


@given(st.lists(st.tuples(st.integers(0, 3), st.floats(-0.5, 1.5)), min_size=1, max_size=20))
@settings(deadline=None)
def test_rows_agree_with_numpy(pairs):
    """property: mixed chemistries in one call equal numpy's own interpolation one by one, clamped at the ends."""
    rows, x = (np.array(column) for column in zip(*pairs, strict=True))
    tables = cell.chemistry_tables()
    expected = [np.interp(a, tables.charge, tables.open_circuit_voltage[r]) for r, a in zip(rows, x, strict=True)]
    assert cell.open_circuit_voltage(rows, x) == pytest.approx(expected, abs=1e-12)


def test_unknown_names_are_refused_with_the_accepted_ones():
    with pytest.raises(ValueError, match="nmc, nca, lfp, lipo_hv"):
        cell.chemistry("lead")
    with pytest.raises(ValueError, match="0 to 3"):
        cell.open_circuit_voltage(4, 0.5)


def test_keys_rows_and_shapes():
    assert cell.open_circuit_voltage(["nmc", "lfp"], [[0.2], [0.8]]).shape == (2, 2)
    assert np.ndim(cell.open_circuit_voltage("nmc", 0.5)) == 0
    assert np.ndim(cell.charge_from_open_circuit_voltage("nmc", 3.7)) == 0
    assert np.isnan(cell.open_circuit_voltage("nmc", np.nan))


def test_tables_share_one_axis_and_cannot_be_changed():
    tables = cell.chemistry_tables()
    assert tables.open_circuit_voltage.shape == (4, 101)
    assert np.diff(tables.charge) == pytest.approx(0.01)
    with pytest.raises(ValueError, match="read-only"):
        tables.open_circuit_voltage[0, 0] = 1.0
