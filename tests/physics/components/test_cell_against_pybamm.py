"""Our cell under load against PyBaMM's porous-electrode model, set by set. PyBaMM is needed for this test only."""

import os

import numpy as np
import pytest

from physics.build import example_build
from physics.build.batch import Batch
from physics.components import cell
from physics.components.cell_resistance import resistance_charge_factor
from physics.simulation.plant import PackModel

if os.environ.get("CI", "").lower() == "true":
    import pybamm
else:
    pybamm = pytest.importorskip("pybamm")

from tests.published import derive_cell_tables, derive_cell_transients

WINDOWS = ((1.0, 10.0), (20.0, 60.0), (120.0, 300.0))
RATES = (0.5, 1.0, 2.0)


def deviations(key, name, rates=RATES):
    """Our sag over the set's, less 1, {window: array}: half charge, 0 to 45 C.

    Given are what a rider can measure: the set's own 10 s resistance at 1C and 25 C and how it grows to 0 C.
    """
    pybamm.set_logging_level("ERROR")
    capacity, resistance, growth, found = derive_cell_transients.sags(name, rates)
    given = {
        "chemistry": key, "cells_in_series": 1, "capacity_ah": capacity, "resistance": resistance,
        "resistance_current": capacity, "cold_growth": growth,
    }  # fmt: skip
    model = PackModel(Batch.of(example_build().change({f"pack.{name}": value for name, value in given.items()})))
    gaps = {window: [] for window in WINDOWS}
    for (rate, kelvin), (time, sag) in found.items():
        current = rate * capacity
        for seconds, theirs in zip(time, sag, strict=True):
            ours = current * model.pulse_resistance(np.array([0.5]), np.array([kelvin]), current, seconds)[0]
            for low, high in WINDOWS:
                if low <= seconds <= high:
                    gaps[low, high].append(ours / theirs - 1)
    return {window: np.array(values) for window, values in gaps.items()}


@pytest.mark.parametrize(
    ("key", "name", "most"),
    [
        ("nmc", "Chen2020", (0.19, 0.22, 0.22)),
        ("nmc", "ORegan2022", (0.22, 0.47, 0.59)),
        ("nmc", "Mohtat2020", (0.11, 0.18, 0.38)),
        ("nca", "NCA_Kim2011", (0.08, 0.04, 0.31)),
        ("lfp", "Prada2013", (0.09, 0.14, 0.59)),
        ("lipo_hv", "Marquis2019", (0.20, 0.35, 0.60)),
        ("lipo_hv", "Ramadass2004", (0.13, 0.12, 0.27)),
        ("lipo_hv", "Ecker2015", (0.13, 0.16, 0.35)),
    ],
)
def test_sag_of_each_published_set(key, name, most):
    """published: the sets themselves, 0.5C to 2C, 0 to 45 C, 1 to 300 s. Largest deviation of the sag at 1 to 10 s,
    20 to 60 s, 120 to 300 s.

    One shape for a chemistry does not meet all cells of it: of the nickel cells, that of O'Regan goes on sagging
    for minutes where that of Mohtat has settled. Within 15 % are 10 s of Mohtat, Kim, Prada, Ramadass and Ecker and
    60 s of Kim, Prada and Ramadass; at 2C beyond a minute the rest voltage at a cell's own surfaces decides.
    """
    gaps = deviations(key, name)
    for window, limit in zip(WINDOWS, most, strict=True):
        assert np.abs(gaps[window]).max() < limit, window


@pytest.mark.parametrize("key", cell.CHEMISTRY_KEYS)
def test_shares_are_those_of_the_fit(key):
    """published: the fit worked out anew. 0.003: solvers differ in their last digits; half the last digit else."""
    p, _ = derive_cell_transients.fit(derive_cell_transients.SETS[key])
    _, transfer, pairs = derive_cell_transients.shares(p)
    chemistry = cell.chemistry(key)
    ours = [chemistry.transfer_fraction, chemistry.pair_1_fraction, chemistry.pair_2_fraction]
    assert [*ours, chemistry.pair_3_fraction] == pytest.approx([transfer, *pairs], abs=0.003)


def test_charging_pulse():
    """published: Chen (2020), 0.5C charging at 25 C, charge 0.5 to 0.9: our resistance at small current lies above,
    by at most a quarter: the loaded voltage is never too low, and at most 25 mV too high."""
    simulation, capacity = derive_cell_tables.pulse_simulation("Chen2020")
    resistance = derive_cell_tables.polarisation(simulation, capacity, 0.5)[1][-1]
    given = {
        "cells_in_series": 1,
        "capacity_ah": capacity,
        "resistance": resistance,
        "resistance_current": capacity,
    }
    small = Batch.of(example_build().change({f"pack.{name}": value for name, value in given.items()}))
    for charge in (0.5, 0.7, 0.9):
        theirs = derive_cell_tables.polarisation(simulation, -0.5 * capacity, charge)[1][-1]
        ours = small.small_current_resistance()[0] * resistance_charge_factor("nmc", charge, "charge")
        assert 0 <= 0.5 * capacity * (ours - theirs) < 0.025
