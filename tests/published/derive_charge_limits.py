"""From how full a published cell may start to be charged: pulses of the Doyle-Fuller-Newman model, by bisection.

Run by hand, only when the table is to be made again (needs PyBaMM, a test-only dependency; some minutes):

    python -m tests.published.derive_charge_limits tests/published/charge_limits.csv

Nothing of our own model is in it.
"""

import sys
from pathlib import Path

import numpy as np

from tests.published.derive_cell_tables import REFERENCE_TEMPERATURE, parameter_values

# PyBaMM parameter set: chemistry, lowest and highest rest voltage of its charge scale; the highest is the limit
SETS = {
    "Chen2020": ("nmc", 2.5, 4.2),
    "ORegan2022": ("nmc", 2.5, 4.2),
    "OKane2022": ("nmc", 2.5, 4.2),
    "Ecker2015": ("nmc", 2.5, 4.2),
    "Mohtat2020": ("nmc", 2.8, 4.2),
    "NCA_Kim2011": ("nca", 2.7, 4.2),
    "Prada2013": ("lfp", 2.0, 3.6),
}
CELSIUS = (0.0, 10.0, 25.0, 45.0)
RATES = (0.5, 1.0, 2.0)
SECONDS = (10, 60, 300)
FINEST = 0.0005  # of charge

HEADER = """\
Highest starting charge from which a published cell at rest can be charged for some seconds and stay at or below its
highest rest voltage all the while; and its rest voltage at that charge. 0: at no charge above 0.02. Computed with
PyBaMM {version}, Doyle-Fuller-Newman model, isothermal, from the parameter sets it carries, by bisection to
{finest} of charge, by the command
  python -m tests.published.derive_charge_limits tests/published/charge_limits.csv
Rate: over the current that fills the nominal capacity in an hour. resistance, ohm: 10 s into a discharge at the
one-hour rate from rest at half charge and 25 C. Sets, and what their charge scales reach over:
Chen2020, 2.5 to 4.2 V: C.-H. Chen et al., J. Electrochem. Soc. 167 (2020) 080534.
ORegan2022, 2.5 to 4.2 V: K. O'Regan et al., Electrochimica Acta 425 (2022) 140700.
OKane2022, 2.5 to 4.2 V: S. E. J. O'Kane et al., Phys. Chem. Chem. Phys. 24 (2022) 7909.
Ecker2015, 2.5 to 4.2 V: M. Ecker et al., J. Electrochem. Soc. 162 (2015) A1836 and A1849.
Mohtat2020, 2.8 to 4.2 V: P. Mohtat et al., J. Electrochem. Soc. 167 (2020) 110561.
NCA_Kim2011, 2.7 to 4.2 V: G.-H. Kim et al., J. Electrochem. Soc. 158 (2011) A955.
Prada2013, 2.0 to 3.6 V: E. Prada et al., J. Electrochem. Soc. 160 (2013) A616, with S. Afshar et al. (2017).
"""


class Cell:
    """A published set under the Doyle-Fuller-Newman model, which stops where it passes its highest rest voltage."""

    def __init__(self, name, limited=True):
        import pybamm

        pybamm.set_logging_level("ERROR")
        _, lowest, highest = SETS[name]
        values = parameter_values(name, lowest, highest)
        changes = dict.fromkeys(
            ("Current function [A]", "Ambient temperature [K]", "Initial temperature [K]"), "[input]"
        )
        changes |= {"Lower voltage cut-off [V]": 0.5, "Upper voltage cut-off [V]": highest if limited else 6.0}
        values.update(changes, check_already_exists=False)
        self.capacity = float(values["Nominal cell capacity [A.h]"])
        model = pybamm.lithium_ion.DFN({"thermal": "isothermal"})
        self.simulation = pybamm.Simulation(model, parameter_values=values, solver=pybamm.IDAKLUSolver())

    def pulse(self, charge, current, temperature, seconds):
        """The solution of a constant current from rest; discharge positive."""
        inputs = {
            "Current function [A]": current,
            "Ambient temperature [K]": temperature,
            "Initial temperature [K]": temperature,
        }
        time = np.linspace(0.0, seconds, 11)
        return self.simulation.solve(time, inputs=inputs, initial_soc=charge, t_interp=time)

    def resistance(self):
        """10 s into a discharge at the one-hour rate, half charge, 25 C, ohm; of a cell without limit."""
        solution = self.pulse(0.5, self.capacity, REFERENCE_TEMPERATURE, 10.0)
        gap = solution["Battery open-circuit voltage [V]"].entries - solution["Voltage [V]"].entries
        return gap[-1] / self.capacity

    def stays_below(self, charge, current, temperature, seconds):
        """Whether a charging pulse ends without having reached the limit."""
        try:
            return bool(self.pulse(charge, -current, temperature, seconds).t[-1] > 0.999 * seconds)
        except Exception:  # it begins above the limit, or the cell cannot take the current at all
            return False

    def highest_charge(self, current, temperature, seconds):
        """Highest starting charge of a pulse that stays below, and the rest voltage there, V."""
        low, high = 0.02, 1.0
        if not self.stays_below(low, current, temperature, seconds):
            return 0.0, 0.0
        while high - low > FINEST:
            middle = 0.5 * (low + high)
            if self.stays_below(middle, current, temperature, seconds):
                low = middle
            else:
                high = middle
        rest = self.pulse(low, -0.01 * current, temperature, 1.0)["Battery open-circuit voltage [V]"].entries[0]
        return low, float(rest)


def main(path):
    import pybamm

    lines = [f"# {line}" for line in HEADER.format(version=pybamm.__version__, finest=FINEST).strip().splitlines()]
    lines.append("set,chemistry,capacity_ah,resistance,celsius,rate,seconds,highest_charge,rest_voltage")
    for name, (chemistry, _, _) in SETS.items():
        cell, resistance = Cell(name), Cell(name, limited=False).resistance()
        for celsius in CELSIUS:
            for rate in RATES:
                for seconds in SECONDS:
                    current = rate * cell.capacity
                    charge, rest = cell.highest_charge(current, celsius + 273.15, float(seconds))
                    lines.append(
                        f"{name},{chemistry},{cell.capacity:g},{resistance:.6f},{celsius:g},{rate:g},{seconds},"
                        f"{charge:.4f},{rest:.4f}"
                    )
        print(lines[-1], flush=True)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
