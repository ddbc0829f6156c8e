"""Derive the tables of open-circuit voltage and resistance in physics/components/data/ from published cell models.

Run by hand, only when a table is to be made again (needs PyBaMM, a test-only dependency):

    python -m tests.published.derive_cell_tables physics/data

The published equations, tables and constants are those of the parameter sets that PyBaMM 26.10 carries; the
papers are named in the headers written below. Nothing here is needed to run the page.
"""

import sys
from pathlib import Path

import numpy as np
from scipy.optimize import brentq

CHARGE = np.linspace(0.0, 1.0, 101)
REFERENCE_TEMPERATURE = 298.15

# key: (PyBaMM parameter set, lowest rest voltage, highest rest voltage used for the resistance pulses)
SETS = {
    "nmc": ("Chen2020", 2.5, 4.2),
    "nca": ("NCA_Kim2011", 2.7, 4.2),
    "lfp": ("Prada2013", 2.0, 3.6),
    "lipo_hv": ("Ai2020", 3.0, 4.2),
}
DISCHARGE_RATE, CHARGE_RATE = 1.0, 0.5  # of the one-hour current
GROWTH_SETS = (
    "Chen2020", "OKane2022", "NCA_Kim2011", "Prada2013", "ORegan2022", "Marquis2019", "Mohtat2020", "Ramadass2004",
    "Ecker2015",
)  # fmt: skip
LIPO_HV_MAXIMUM = 4.35  # V, common practice for "high-voltage" lithium polymer cells, no source

OPEN_CIRCUIT_HEADER = """\
Open-circuit (rest) voltage of one cell, V, against charge (0 to 1), at 25 C. Derived, 4 decimals: the published
half-cell potentials evaluated at the electrode stoichiometries that give the lowest and highest rest voltage
at charge 0 and 1 and move in proportion to charge between them (parameter sets as carried by PyBaMM 26.10).
nmc, 2.5 to 4.2 V: C.-H. Chen, F. Brosa Planella, K. O'Regan, D. Gastol, W. D. Widanage, E. Kendrick,
  Development of Experimental Techniques for Parameterization of Multi-scale Lithium-ion Battery Models, Journal
  of the Electrochemical Society 167 (2020) 080534, fitted potentials of both electrodes.
nca, 2.7 to 4.2 V: G.-H. Kim, K. Smith, K.-J. Lee, S. Santhanagopalan, A. Pesaran, Multi-Domain Modeling of
  Lithium-Ion Batteries Encompassing Multi-Physics in Varied Length Scales, Journal of the Electrochemical
  Society 158 (2011) A955.
lfp, 2.0 to 3.6 V: E. Prada, D. Di Domenico, Y. Creff, J. Bernard, V. Sauvant-Moynot, F. Huet, A simplified
  electrochemical and thermal aging model of LiFePO4-graphite Li-ion batteries, Journal of the Electrochemical
  Society 160 (2013) A616 (concentrations); iron-phosphate potential from S. Afshar, K. Morris, A. Khajepour,
  Efficient electrochemical model for lithium-ion cells, arXiv:1709.03970 (2017); graphite potential from Chen
  et al. (2020), above.
lipo_hv, 3.0 to 4.35 V: lithium cobalt oxide and graphite, W. Ai, L. Kraft, J. Sturm, A. Jossen, B. Wu,
  Electrochemical Thermal-Mechanical Modelling of Stress Inhomogeneity in Lithium-Ion Pouch Cells, Journal of
  the Electrochemical Society 167 (2020) 013512, with the cobalt-oxide table of B. Rieger et al. (2016). That
  table ends at stoichiometry 0.400 (4.391 V against lithium), which the cell reaches at {limit_voltage:.3f} V,
  charge {limit_charge:.3f}. The rows above that charge continue the table's last straight slope: an extension,
  common practice, no source.
"""

FACTOR_HEADER = """\
Ten-second resistance of one cell against charge, relative to the discharge value at charge 0.5, 25 C. Derived:
pulses of 10 s from rest computed with PyBaMM 26.10 (Doyle-Fuller-Newman model, isothermal, 25 C) from the
parameter sets of the papers named in open_circuit_voltage.csv, at the one-hour rate (1C) in the discharge
direction and half of it (0.5C) in the charge direction; resistance = (rest voltage at the charge reached -
loaded voltage) / current, so the change of rest voltage in those 10 s is not in it. Straight lines between
charge 0.02, 0.05, 0.10 ... 0.85, 0.88, 0.90 ... 0.98, 0.99, 1.00; below 0.02 the value at 0.02 is held.
Charge transfer is not linear: resistance falls as current grows (nmc at charge 0.9, charge direction: 35.0,
29.7, 24.5 milliohm at 0.5C, 1C, 2C). So the charge columns err to the safe side at currents above 0.5C.
lipo_hv: computed on the set's own 3.0 to 4.2 V scale and moved to the 4.35 V scale by
equal lithium content; held above 4.2 V.
"""


def parameter_values(name, lowest, highest):
    """The named published set with its charge scale from `lowest` to `highest` volts, limits out of the way."""
    import pybamm

    values = pybamm.ParameterValues(name)
    values.update(
        {
            "Open-circuit voltage at 0% SOC [V]": lowest,
            "Open-circuit voltage at 100% SOC [V]": highest,
            "Lower voltage cut-off [V]": lowest,
            "Upper voltage cut-off [V]": highest,
        },
        check_already_exists=False,
    )
    return values


def stoichiometries(name, lowest, highest):
    """Stoichiometries (x0, x100, y100, y0) of the set's electrodes at charge 0 and 1, and the set's parameters."""
    import pybamm

    values = parameter_values(name, lowest, highest)
    parameters = pybamm.LithiumIonParameters()
    solver = pybamm.lithium_ion.ElectrodeSOHSolver(values, parameters)
    return [float(s) for s in solver.get_min_max_stoichiometries()], values, parameters


def electrode_potentials(values, parameters, x, y):
    """(negative, positive) electrode potential, V, at stoichiometries x and y."""
    import pybamm

    temperature = pybamm.Scalar(REFERENCE_TEMPERATURE)
    negative = values.evaluate(parameters.n.prim.U(pybamm.Scalar(float(x)), temperature))
    positive = values.evaluate(parameters.p.prim.U(pybamm.Scalar(float(y)), temperature))
    return float(np.squeeze(negative)), float(np.squeeze(positive))


def open_circuit_voltage(key, charge=CHARGE):
    """Rest voltage, V, at `charge` (an array) for one published set."""
    (x0, x100, y100, y0), values, parameters = stoichiometries(*SETS[key])
    pairs = [
        electrode_potentials(values, parameters, x, y)
        for x, y in zip(x0 + charge * (x100 - x0), y0 + charge * (y100 - y0), strict=True)
    ]
    return np.array([positive - negative for negative, positive in pairs])


def lipo_hv_open_circuit_voltage(charge=CHARGE):
    """Rest voltage at `charge` to 4.35 V, the charge and voltage where the table ends, and charge of 4.2 V."""
    (x0, x100, y100, y0), values, parameters = stoichiometries(*SETS["lipo_hv"])
    ratio = (x100 - x0) / (y0 - y100)
    last = 0.4  # last stoichiometry of the published cobalt-oxide table

    def voltage(y):
        inside = max(y, last)
        positive = electrode_potentials(values, parameters, 0.5, inside)[1]
        if y < last:
            slope = (electrode_potentials(values, parameters, 0.5, last + 0.01)[1] - positive) / 0.01
            positive += slope * (y - last)
        return positive - electrode_potentials(values, parameters, x0 + ratio * (y0 - y), 0.9)[0]

    top = brentq(lambda y: voltage(y) - LIPO_HV_MAXIMUM, 0.36, y100)
    curve = np.array([voltage(y) for y in y0 + charge * (top - y0)])
    return curve, (y0 - last) / (y0 - top), voltage(last), (y0 - y100) / (y0 - top)


def pulse_simulation(key):
    """A PyBaMM simulation of the set that takes current and temperature as inputs, and its capacity in Ah."""
    import pybamm

    values = parameter_values(*SETS[key]) if key in SETS else pybamm.ParameterValues(key)
    values.update(
        {
            "Lower voltage cut-off [V]": 0.5,
            "Upper voltage cut-off [V]": 6.0,
            "Current function [A]": "[input]",
            "Ambient temperature [K]": "[input]",
            "Initial temperature [K]": "[input]",
        },
        check_already_exists=False,
    )
    model = pybamm.lithium_ion.DFN({"thermal": "isothermal"})
    simulation = pybamm.Simulation(model, parameter_values=values, solver=pybamm.IDAKLUSolver())
    return simulation, float(values["Nominal cell capacity [A.h]"])


def polarisation(simulation, current, charge, temperature=REFERENCE_TEMPERATURE, seconds=10, points=21):
    """(time, resistance) after a step: (rest voltage at the charge reached - loaded voltage) / current."""
    time = np.linspace(0.0, seconds, points)
    inputs = {
        "Current function [A]": current,
        "Ambient temperature [K]": temperature,
        "Initial temperature [K]": temperature,
    }
    solution = simulation.solve(time, inputs=inputs, initial_soc=charge, t_interp=time)
    gap = solution["Battery open-circuit voltage [V]"].entries - solution["Voltage [V]"].entries
    if solution.t[-1] < 0.99 * seconds:
        raise ValueError("the pulse ended early")
    return time, gap / current


def resistance_factors(key):
    """(discharge factor, charge factor) on CHARGE for one published set."""
    simulation, capacity = pulse_simulation(key)
    reference = polarisation(simulation, capacity, 0.5)[1][-1]
    nodes = np.array([2, *range(5, 86, 5), 88, 90, 92, 94, 96, 98, 99, 100]) / 100
    rows = []
    for rate in (DISCHARGE_RATE, -CHARGE_RATE):
        row = []
        for node in nodes:
            row.append(polarisation(simulation, rate * capacity, node)[1][-1] / reference)
        rows.append(np.array(row))
    discharge, charging = rows
    scale = lipo_hv_open_circuit_voltage()[3] if key == "lipo_hv" else 1.0
    discharge = np.interp(CHARGE, nodes * scale, discharge)
    return discharge / discharge[50], np.interp(CHARGE, nodes * scale, charging) / discharge[50]


def cold_growth(name, temperature=273.15):
    """The set's 10 s discharge resistance at the one-hour current at `temperature` over that at 25 C."""
    simulation, capacity = pulse_simulation(name)
    cold = polarisation(simulation, capacity, 0.5, temperature)[1][-1]
    return cold / polarisation(simulation, capacity, 0.5)[1][-1]


def write(path, header, names, columns, decimals):
    """One commented header, one row of names, then the columns."""
    lines = [f"# {line}".rstrip() for line in header.strip().splitlines()]
    lines.append(",".join(names))
    for row in zip(*columns, strict=True):
        lines.append(f"{row[0]:.2f}," + ",".join(f"{value:.{decimals}f}" for value in row[1:]))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def main(folder):
    curve, limit_charge, limit_voltage, _ = lipo_hv_open_circuit_voltage()
    curves = [open_circuit_voltage(key) for key in ("nmc", "nca", "lfp")] + [curve]
    header = OPEN_CIRCUIT_HEADER.format(limit_charge=limit_charge, limit_voltage=limit_voltage)
    write(folder / "open_circuit_voltage.csv", header, ["charge", *SETS], [CHARGE, *curves], 4)
    names, columns = ["charge"], [CHARGE]
    for key in SETS:
        discharge, charging = resistance_factors(key)
        names += [f"{key}_discharge", f"{key}_charge"]
        columns += [discharge, charging]
    write(folder / "cell_resistance_factor.csv", FACTOR_HEADER, names, columns, 4)
    for name in GROWTH_SETS:
        print(name, "growth at 0 C and -10 C", [round(cold_growth(name, t), 2) for t in (273.15, 263.15)])


if __name__ == "__main__":
    main(Path(sys.argv[1]))
