"""Derive the shares of conduction, charge transfer and diffusion in physics/components/data/cell_constants.csv.

Run by hand, only when they are to be made again (needs PyBaMM, a test-only dependency):

    python -m tests.published.derive_cell_transients

Sags of published sets at 0.5C to 4C, 0 to 45 C and 1 to 300 s, from half charge, as long as the cell stays above
the set's own lowest voltage. Of each set its 10 s resistance at 1C and 25 C and the growth of that to 0 C are taken
as given, as a rider measures them; one set of shares for each chemistry is fitted to all its sets.
"""

import numpy as np
import pybamm
from scipy.optimize import brentq, least_squares

SETS = {
    "nmc": ("Chen2020", "ORegan2022", "Mohtat2020"),
    "nca": ("NCA_Kim2011",),
    "lfp": ("Prada2013",),
    "lipo_hv": ("Marquis2019", "Ramadass2004", "Ecker2015"),
}
TIMES = np.array([0.0, 1, 2, 5, 10, 20, 30, 60, 120, 180, 300])  # s
RATES, TEMPERATURES = (0.5, 1.0, 2.0, 4.0), (273.15, 298.15, 318.15)
PAIR_TIMES = np.array([3.0, 25.0, 180.0])  # s
VOLT = 2 * 8.314462618 / 96485.33212  # V/K
AT_TEN = -np.expm1(-10.0 / PAIR_TIMES)
STEP = 1 / 273.15 - 1 / 298.15


def sags(name, rates=RATES, temperatures=TEMPERATURES):
    """(capacity, 10 s resistance at 1C and 25 C, its growth to 0 C, {(rate, temperature): (time, sag in V)})."""
    values = pybamm.ParameterValues(name)
    lowest = float(values["Lower voltage cut-off [V]"])
    inputs = ("Current function [A]", "Ambient temperature [K]", "Initial temperature [K]")
    changes = {"Lower voltage cut-off [V]": 0.3, "Upper voltage cut-off [V]": 6.0} | dict.fromkeys(
        inputs, "[input]"
    )
    values.update(changes, check_already_exists=False)
    capacity = float(values["Nominal cell capacity [A.h]"])
    model = pybamm.lithium_ion.DFN({"thermal": "isothermal"})
    simulation = pybamm.Simulation(model, parameter_values=values, solver=pybamm.IDAKLUSolver())

    def one(rate, temperature):
        given = dict(zip(inputs, (rate * capacity, temperature, temperature), strict=True))
        for last in (300.0, 60.0, 10.0):  # a set that cannot be solved so far is asked for less
            time = TIMES[last >= TIMES]
            try:
                solution = simulation.solve(time, inputs=given, initial_soc=0.5, t_interp=time)
                break
            except pybamm.SolverError:
                continue
        loaded = solution["Voltage [V]"].entries
        sag = solution["Battery open-circuit voltage [V]"].entries - loaded
        kept = min(len(solution.t), len(time))
        alive = (np.minimum.accumulate(loaded[:kept]) > lowest) & (time[:kept] > 0)
        return time[:kept][alive], sag[:kept][alive]

    found = {(rate, temperature): one(rate, temperature) for rate in rates for temperature in temperatures}
    ten = {kelvin: np.interp(10.0, *one(1.0, kelvin)) for kelvin in (273.15, 298.15)}
    return capacity, ten[298.15] / capacity, ten[273.15] / ten[298.15], found


def shares(p):
    """Ohmic, charge-transfer and settled pair fractions from free parameters."""
    parts = np.exp(np.concatenate([[0.0], p]))
    parts /= parts.sum()
    return parts[0], parts[1], parts[2:] / AT_TEN


def law(p, one_hour_volts, growth, rate, temperature, time):
    """Sag in V of one cell by equation (1) of cell_resistance, solved here by brentq."""
    ohmic, transfer, pairs = shares(p)
    linear = 1 - transfer
    warm, cold = VOLT * 298.15, VOLT * 273.15
    small = brentq(
        lambda r: linear * r + warm * np.arcsinh(transfer * r / warm) - one_hour_volts, 0.5 * one_hour_volts, 10.0
    )
    at_zero = brentq(
        lambda g: small * linear * g + cold * np.arcsinh(transfer * small * g * g / cold) - growth * one_hour_volts,
        0.1,
        100.0,
    )
    g = at_zero ** ((1 / temperature - 1 / 298.15) / STEP)
    volt = VOLT * temperature
    rising = ohmic - np.expm1(-time[:, None] / PAIR_TIMES) @ pairs
    return small * rate * g * rising + volt * np.arcsinh(transfer * small * rate * g * g / volt)


def fit(names):
    """Free parameters of the shares that suit some sets best, and the deviation of each set, by rate and time."""
    published = {name: sags(name) for name in names}

    def deviations(p, name):
        capacity, resistance, growth, found = published[name]
        for (rate, temperature), (time, sag) in found.items():
            yield rate, temperature, time, law(p, resistance * capacity, growth, rate, temperature, time) / sag - 1

    def residuals(p):
        every = [np.log1p(gap) for name in names for *_, gap in deviations(p, name)]
        return np.concatenate([*every, 0.02 * p])

    found = least_squares(residuals, np.full(4, -1.0), loss="soft_l1", f_scale=0.1, bounds=(-7, 7)).x
    return found, {name: list(deviations(found, name)) for name in names}


def main():
    for key, names in SETS.items():
        p, deviations = fit(names)
        ohmic, transfer, pairs = shares(p)
        print(key, "ohmic", round(ohmic, 3), "transfer", round(transfer, 3), "pairs", pairs.round(3))
        for name, rows in deviations.items():
            for rate, temperature, time, gap in rows:
                text = " ".join(f"{t:.0f}:{100 * x:+.0f}" for t, x in zip(time, gap, strict=True))
                print(f"  {name} {rate:g}C {temperature - 273.15:.0f} C  {text}")


if __name__ == "__main__":
    main()
