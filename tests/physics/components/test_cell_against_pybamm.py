"""Our cell under load against PyBaMM's porous-electrode model. PyBaMM is needed for this test only."""

import os

import numpy as np
import pytest

from physics.components import cell, pack

if os.environ.get("CI", "").lower() == "true":
    import pybamm
else:
    pybamm = pytest.importorskip("pybamm")

SECONDS = np.arange(1.0, 31.0)
RATES = (0.5, 1.0, 2.0)  # of the one-hour current
CHARGES = (0.8, 0.5, 0.3)


class Reference:
    """A published set under the Doyle-Fuller-Newman model, isothermal, its charge scale between two voltages."""

    def __init__(self, name, lowest, highest):
        pybamm.set_logging_level("ERROR")
        values = pybamm.ParameterValues(name)
        changes = {
            "Open-circuit voltage at 0% SOC [V]": lowest,
            "Open-circuit voltage at 100% SOC [V]": highest,
            "Lower voltage cut-off [V]": 0.5,
            "Upper voltage cut-off [V]": 6.0,
        }
        changes |= dict.fromkeys(
            ("Current function [A]", "Ambient temperature [K]", "Initial temperature [K]"), "[input]"
        )
        values.update(changes, check_already_exists=False)
        self.capacity = float(values["Nominal cell capacity [A.h]"])
        model = pybamm.lithium_ion.DFN({"thermal": "isothermal"})
        self.simulation = pybamm.Simulation(model, parameter_values=values, solver=pybamm.IDAKLUSolver())
        rest, loaded = self.pulse(0.5, self.capacity, 298.15)
        self.resistance = (rest - loaded)[9] / self.capacity  # the one calibration: 10 s, 1C, half charge, 25 C

    def pulse(self, charge, current, temperature):
        """(rest voltage at the charge reached, loaded voltage) at SECONDS after a step from rest."""
        time = np.concatenate([[0.0], SECONDS])
        inputs = {
            "Current function [A]": current,
            "Ambient temperature [K]": temperature,
            "Initial temperature [K]": temperature,
        }
        solution = self.simulation.solve(time, inputs=inputs, initial_soc=charge, t_interp=time)
        return tuple(solution[f"{name} [V]"].entries[1:] for name in ("Battery open-circuit voltage", "Voltage"))


def ours(key, reference, charge, current, temperature):
    """Loaded voltage of our cell at SECONDS, from the rest voltage table and one resistance."""
    now = charge - current * SECONDS / 3600 / reference.capacity
    resistance = pack.resistance_now(reference.resistance, key, temperature, now)
    resistance = pack.pulse_resistance(resistance, key, SECONDS)
    return pack.rest_voltage(key, 1, now) - resistance * current


def largest_deviation(key, reference, temperatures):
    """Largest |ours / theirs - 1| over temperatures, RATES, CHARGES and SECONDS."""
    worst = 0.0
    for temperature in temperatures:
        for rate in RATES:
            for charge in CHARGES:
                current = rate * reference.capacity
                theirs = reference.pulse(charge, current, temperature)[1]
                gap = np.abs(ours(key, reference, charge, current, temperature) / theirs - 1.0)
                worst = max(worst, gap.max())
    return worst


@pytest.mark.parametrize(
    ("key", "name", "lowest", "highest", "celsius", "tolerance"),
    [
        ("nmc", "ORegan2022", 2.5, 4.2, (25.0, 0.0), 0.05),
        ("nca", "NCA_Kim2011", 2.7, 4.2, (25.0, 0.0), 0.005),
        ("nmc", "Chen2020", 2.5, 4.2, (25.0,), 0.02),
        ("lfp", "Prada2013", 2.0, 3.6, (25.0,), 0.03),
    ],
)
def test_loaded_voltage(key, name, lowest, highest, celsius, tolerance):
    """published: O'Regan (2022), Kim (2011), Chen (2020), Prada (2013); 0.5C, 1C, 2C; 30 s; charge 0.8, 0.5, 0.3.

    Calibrated from one pulse at 25 C. Largest deviation measured and its reason:

    - O'Regan 4.4 % (2C, 0 C, charge 0.3, after 30 s): the rest voltage is that of another NMC cell, up to 72 mV
      or 2 %, and this set's slow diffusion goes on rising where our pairs, fitted to Chen's, level off.
    - Kim 0.2 %: table, pairs and activation energy all come from this set.
    - Chen 1.5 %, Prada 1.6 %, at 2C: charge transfer is not linear in current, ours is; we show too much sag.

    Chen's and Prada's sets are not compared in the cold: their electrolytes do not change with temperature, so they
    sag too little there, and ours is up to 9 % lower at 2C and 0 C.
    """
    reference = Reference(name, lowest, highest)
    assert largest_deviation(key, reference, [c + 273.15 for c in celsius]) < tolerance


def test_charging_pulse():
    """published: Chen (2020), 0.5C charging at 25 C, charge 0.5 to 0.9: within 0.3 % of the loaded voltage."""
    reference = Reference("Chen2020", 2.5, 4.2)
    current = -0.5 * reference.capacity
    for charge in (0.5, 0.7, 0.9):
        theirs = reference.pulse(charge, current, 298.15)[1]
        now = charge - current * SECONDS / 3600 / reference.capacity
        resistance = pack.resistance_now(reference.resistance, "nmc", 298.15, now, "charge")
        loaded = cell.open_circuit_voltage("nmc", now) - pack.pulse_resistance(resistance, "nmc", SECONDS) * current
        assert loaded == pytest.approx(theirs, rel=0.003)
