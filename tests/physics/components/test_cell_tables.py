"""The committed tables against the published sets they are derived from, worked out anew. Needs PyBaMM."""

import os

import numpy as np
import pytest

if os.environ.get("CI", "").lower() == "true":
    import pybamm
else:
    pybamm = pytest.importorskip("pybamm")

from physics.components import cell, cell_resistance
from tests.published import derive_cell_tables as derive

pybamm.set_logging_level("ERROR")


def published_curve(key, charge):
    if key == "lipo_hv":
        return derive.lipo_hv_open_circuit_voltage(charge)[0]
    return derive.open_circuit_voltage(key, charge)


@pytest.mark.parametrize("key", cell.CHEMISTRY_KEYS)
def test_rest_voltage_table(key):
    """published: Chen (2020), Kim (2011), Prada (2013), Ai (2020). Half the last printed digit and solving."""
    charge = np.linspace(0.0, 1.0, 21)
    assert cell.open_circuit_voltage(key, charge) == pytest.approx(published_curve(key, charge), abs=5.01e-5)


@pytest.mark.parametrize("key", cell.CHEMISTRY_KEYS)
def test_between_the_rows(key):
    """published: same sets. 2.1 mV from charge 0.05 to 0.97, 50 mV below; never low above 0.97."""
    charge = np.linspace(0.005, 0.995, 34)
    gap = cell.open_circuit_voltage(key, charge) - published_curve(key, charge)
    assert np.abs(gap[(charge > 0.05) & (charge < 0.97)]).max() < 0.0021
    assert np.abs(gap[charge < 0.05]).max() < 0.05
    assert np.all((gap[charge > 0.97] > -1e-4) & (gap[charge > 0.97] < 0.03))


@pytest.mark.parametrize("key", ["nmc", "nca", "lfp"])
def test_resistance_factor_table(key):
    """published: same sets, 10 s pulses. 0.2 %: the solver's own tolerance."""
    simulation, capacity = derive.pulse_simulation(key)
    reference = derive.polarisation(simulation, capacity, 0.5)[1][-1]
    for charge in (0.2, 0.7, 0.96):
        discharging = derive.polarisation(simulation, capacity, charge)[1][-1] / reference
        charging = derive.polarisation(simulation, -0.5 * capacity, charge)[1][-1] / reference
        assert cell_resistance.resistance_charge_factor(key, charge) == pytest.approx(discharging, rel=0.002)
        assert cell_resistance.resistance_charge_factor(key, charge, "charge") == pytest.approx(charging, rel=0.002)


GROWTH = {
    "Chen2020": 1.43, "OKane2022": 1.55, "NCA_Kim2011": 1.79, "Prada2013": 1.77, "ORegan2022": 1.99,
    "Marquis2019": 2.05, "Mohtat2020": 2.75, "Ramadass2004": 3.30, "Ecker2015": 3.46,
}  # fmt: skip


@pytest.mark.parametrize("name", GROWTH)
def test_cold_growth_of_the_published_sets(name):
    """published: the nine sets themselves, as the table's header states them; half the last printed digit."""
    assert derive.cold_growth(name) == pytest.approx(GROWTH[name], abs=0.00501)


def test_typical_cold_growth():
    """published: Kim (2011), Marquis (2019). 5 %: one activation energy stands for 0 C and -10 C."""
    for key, name in (("nca", "NCA_Kim2011"), ("lipo_hv", "Marquis2019")):
        assert cell.chemistry(key).cold_growth == pytest.approx(derive.cold_growth(name), rel=0.05)
    for key in cell.CHEMISTRY_KEYS:
        member = cell.chemistry(key)
        assert (member.cold_growth_low, member.cold_growth_high) == (min(GROWTH.values()), max(GROWTH.values()))
