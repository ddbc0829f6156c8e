"""How published cells charge: constant current, then constant voltage, of the Doyle-Fuller-Newman model.

Run by hand, only when the table is to be made again (needs PyBaMM, a test-only dependency; a minute or two):

    python -m tests.published.derive_charge_curves tests/published/charge_curves.csv

Nothing of our own model is in it.
"""

import sys
from pathlib import Path

import numpy as np

from tests.published.derive_cell_tables import REFERENCE_TEMPERATURE, parameter_values
from tests.published.derive_charge_limits import SETS, Cell

NAMES = ("Chen2020", "Mohtat2020", "NCA_Kim2011")
RATES = (0.25, 0.5, 1.0)
START = 0.1
CHARGES = (0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.95, 0.98)

HEADER = """\
How a published cell charges from rest at charge {start}, 25 C: constant current up to the highest rest voltage
of its charge scale, then that voltage held while the current falls to a fiftieth of the one-hour current.
time, s, and terminal voltage, V, at which a charge is reached. Computed with PyBaMM {version},
Doyle-Fuller-Newman model, isothermal, from the parameter sets it carries, by the command
  python -m tests.published.derive_charge_curves tests/published/charge_curves.csv
Rate: over the current that fills the nominal capacity (charge_limits.csv) in an hour. capacity_ah: what the
charge scale holds. resistance, ohm: 10 s into a discharge at the one-hour rate from rest at half charge and 25 C.
Sets and scales:
Chen2020, 2.5 to 4.2 V: C.-H. Chen et al., J. Electrochem. Soc. 167 (2020) 080534.
Mohtat2020, 2.8 to 4.2 V: P. Mohtat et al., J. Electrochem. Soc. 167 (2020) 110561.
NCA_Kim2011, 2.7 to 4.2 V: G.-H. Kim et al., J. Electrochem. Soc. 158 (2011) A955.
"""


def curve(name, rate, capacity):
    """Time, s, charge put in, Ah, and voltage, V, of one charge."""
    import pybamm

    _, lowest, highest = SETS[name]
    values = parameter_values(name, lowest, highest)
    values.update(
        {
            "Ambient temperature [K]": REFERENCE_TEMPERATURE,
            "Initial temperature [K]": REFERENCE_TEMPERATURE,
            "Lower voltage cut-off [V]": 0.5,
            "Upper voltage cut-off [V]": highest + 0.2,
        },
        check_already_exists=False,
    )
    steps = (
        pybamm.step.current(-rate * capacity, termination=f"{highest} V", duration="20 hours"),
        pybamm.step.voltage(highest, termination=f"{capacity / 50} A", duration="20 hours"),
    )
    model = pybamm.lithium_ion.DFN({"thermal": "isothermal"})
    simulation = pybamm.Simulation(
        model, parameter_values=values, experiment=pybamm.Experiment([steps]), solver=pybamm.IDAKLUSolver()
    )
    solution = simulation.solve(initial_soc=START)
    time = solution["Time [s]"].entries
    return time, -solution["Discharge capacity [A.h]"].entries, solution["Voltage [V]"].entries


def scale(name):
    """What the charge scale of a set holds, Ah."""
    import pybamm

    _, lowest, highest = SETS[name]
    values = parameter_values(name, lowest, highest)
    model = pybamm.lithium_ion.DFN({"thermal": "isothermal"})
    solver = pybamm.lithium_ion.ElectrodeSOHSolver(values, options=model.options)
    holds = {"Q_n": model.param.n.Q_init, "Q_p": model.param.p.Q_init, "Q_Li": model.param.Q_Li_particles_init}
    return float(solver.solve({name: values.evaluate(what) for name, what in holds.items()})["Q"])


def main(path):
    import pybamm

    pybamm.set_logging_level("ERROR")
    lines = [f"# {line}" for line in HEADER.format(version=pybamm.__version__, start=START).strip().splitlines()]
    lines.append("set,chemistry,capacity_ah,resistance,rate,charge,time,voltage")
    for name in NAMES:
        nominal, resistance = Cell(name).capacity, Cell(name, limited=False).resistance()
        capacity = scale(name)
        for rate in RATES:
            time, added, voltage = curve(name, rate, nominal)
            charge = START + added / capacity
            for wanted in CHARGES:
                if wanted < charge[-1]:
                    at, volts = np.interp(wanted, charge, time), np.interp(wanted, charge, voltage)
                    lines.append(
                        f"{name},{SETS[name][0]},{capacity:.4f},{resistance:.6f},{rate:g},{wanted:g},"
                        f"{at:.1f},{volts:.4f}"
                    )
        print(lines[-1], flush=True)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
