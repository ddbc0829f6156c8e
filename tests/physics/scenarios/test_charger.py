"""Charging at a charger, against closed forms, scipy's solver and published cells."""

import csv
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from physics.build import example_build
from physics.components import cell
from physics.scenarios.charger import END_RATE, Charger, charge_up

PUBLISHED = Path(__file__).parents[2] / "published"
FINAL_SHARE = 0.15
"""Of the time: what a model of one resistance and two pairs owes a cell whose diffusion takes an hour to settle."""


def pack_of(charge, chemistry="nmc", resistance=0.05, **pack):
    """A pack of 24 cells and 26 Ah at 25 degrees C."""
    changes = {f"pack.{key}": value for key, value in pack.items()}
    return example_build().change(
        {
            "pack.chemistry": chemistry,
            "pack.resistance": resistance,
            "pack.resistance_current": 0.01,  # as good as at small current
            "conditions.pack_temperature": 298.15,
            "conditions.charge": charge,
        }
        | changes
    )


OHMS = 0.05


def parts(kind):
    """Fraction and time of each pair."""
    return list(
        zip((kind.pair_1_fraction, kind.pair_2_fraction, kind.pair_3_fraction), cell.PAIR_TIMES, strict=True)
    )


def at_once(kind, current):
    """Conduction and charge transfer at 25 C and a charge factor of 1, V: R I f_o + v asinh(R I f_t / v), with
    v = 24 x 2 x 8.314463 x 298.15 / 96485.33, here of 50 milliohm measured at next to no current."""
    bend = 24 * 2 * 8.314462618 * 298.15 / 96485.33212
    return OHMS * current * kind.ohmic_fraction + bend * np.arcsinh(OHMS * current * kind.transfer_fraction / bend)


@pytest.mark.parametrize("key", cell.CHEMISTRY_KEYS)
def test_constant_current_in_closed_form(key):
    """exact solution: between two points of the tables rest voltage and resistance are straight lines in charge,
    so in time; a pair then follows dv/dt = ((a + b t) - v) / tau, v = a (1 - e) + b (t - tau (1 - e)) with
    e = exp(-t / tau).
    """
    build, kind, current = pack_of(0.50, key), cell.chemistry(key), 4.0
    curve = charge_up(build, Charger(current, 1e3), 0.51, steps=40)
    whole = 0.01 * 26.0 * 3600.0 / current
    assert curve.time[0] == pytest.approx(np.linspace(0.0, whole, 41), rel=1e-12)
    factor = kind.charge_resistance_factor[50:52]
    time = curve.time[0]
    volts = 24 * np.interp(curve.charge[0], kind.charge, kind.open_circuit_voltage)
    volts = volts + at_once(kind, current) * np.interp(time, [0.0, whole], factor)
    for share, tau in parts(kind):
        risen = 1.0 - np.exp(-time / tau)
        at = current * 0.05 * share * np.array([factor[0], (factor[1] - factor[0]) / whole])
        volts = volts + at[0] * risen + at[1] * (time - tau * risen)
    assert curve.voltage[0] == pytest.approx(volts, abs=1e-5)


def test_rest_in_closed_form():
    """exact solution: each pair's voltage falls by exp(-t/tau); after days the pack rests at its rest voltage."""
    curve, kind = charge_up(pack_of(0.50), Charger(10.0, 1e3), 0.6), cell.chemistry("nmc")
    rest = 24 * np.interp(0.6, kind.charge, kind.open_circuit_voltage)
    left = curve.voltage[0, -1] - rest - at_once(kind, 10.0) * kind.charge_resistance_factor[60]
    assert curve.settling(0.0)[0] - rest == pytest.approx(left, abs=1e-5)
    expected = rest + sum(
        volts * np.exp(-60.0 / tau)
        for volts, (_, tau) in zip(curve.pair_voltage[:, 0, -1], parts(kind), strict=True)
    )
    assert curve.settling(60.0)[0] == pytest.approx(expected, abs=1e-12)
    assert curve.settling(1e6)[0] == pytest.approx(rest, abs=1e-9)


@pytest.mark.parametrize("charger", [Charger(20.0, 96.0), Charger(40.0, 98.0, 1500.0), Charger(8.0, 100.0, 700.0)])
def test_every_phase_against_a_solver(charger):
    """exact solution: scipy's DOP853 on the same equations, in time: time to each charge within 0.2 % or 0.5 s,
    reading within 0.1 % and current within 1 % or half a percent of the charger's, where charge is 0.5 % or more
    from where the charger ends."""
    kind = cell.chemistry("nmc")
    pairs = parts(kind)

    def current(charge, *built):
        inner = 24 * np.interp(charge, kind.charge, kind.open_circuit_voltage) + sum(built)
        factor = np.interp(charge, kind.charge, kind.charge_resistance_factor)

        def beyond(flowing):  # above 0 where the charger does not allow so much
            reading = inner + factor * at_once(kind, flowing)
            return max(reading - charger.voltage, reading * flowing - min(charger.power, 1e9))

        flowing = charger.current
        if beyond(flowing) > 0:
            flowing = brentq(beyond, 0.0, flowing, xtol=1e-10) if beyond(0.0) < 0 else 0.0
        return flowing, inner + factor * at_once(kind, flowing)

    def rates(_, state):
        now = current(*state)[0]
        factor = np.interp(state[0], kind.charge, kind.charge_resistance_factor)
        moved = [
            (now * OHMS * share * factor - volts) / tau
            for (share, tau), volts in zip(pairs, state[1:], strict=True)
        ]
        return [now / 26.0 / 3600.0, *moved]

    curve = charge_up(pack_of(0.3), charger, 0.97)
    inside = (curve.charge[0] < curve.charge[0, -1] - 0.005) & (curve.time[0] > 0)
    solved = solve_ivp(
        rates, (0.0, float(curve.time[0, inside][-1])), [0.3, 0.0, 0.0, 0.0], "DOP853", rtol=1e-6, atol=1e-8,
        max_step=120.0, dense_output=True,
    )  # fmt: skip
    time = curve.time[0, inside]
    charge, *built = solved.sol(time)
    slope = np.gradient(time, curve.charge[0, inside])
    assert np.all(np.abs(charge - curve.charge[0, inside]) * slope < 2e-3 * time + 0.5)
    expected = [current(*state) for state in zip(charge, *built, strict=True)]
    reading = [row[1] for row in expected]
    assert curve.voltage[0, inside] == pytest.approx(np.array(reading), rel=1e-3)
    flowing = [row[0] for row in expected]
    assert curve.current[0, inside] == pytest.approx(flowing, rel=1e-2, abs=0.005 * charger.current)
    power = curve.current[0] * curve.voltage[0]
    assert curve.energy[0, -1] == pytest.approx(np.trapezoid(power, curve.time[0]), rel=2e-3)


def test_the_three_limits_and_the_end():
    """property: current, power and voltage never pass the charger's; behind its end nothing moves."""
    charger = Charger(40.0, 98.0, 1500.0)
    curve = charge_up(pack_of(0.1), charger, 1.0)
    assert np.all(curve.current <= 40.0 + 1e-9)
    assert np.all(curve.current * curve.voltage <= 1500.0 + 1e-6)
    assert np.all(curve.voltage <= 98.0 + 1e-6)
    assert curve.current[0, -1] <= END_RATE * 26.0
    assert np.ptp(curve.time[0, curve.charge[0] == curve.charge[0, -1]]) == 0.0
    assert curve.charge[0, -1] < 0.95
    there = charge_up(pack_of(0.8), charger, 0.5)
    assert there.time[0, -1] == 0.0
    with pytest.raises(ValueError, match="current"):
        Charger(0.0, 98.0)


def published(name):
    lines = (PUBLISHED / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def test_published_cells_take_as_long():
    """published: charge curves of named cells by PyBaMM's Doyle-Fuller-Newman model (`charge_curves.csv`), 0.25C to
    1C up to charge 0.98: within 15 % of the time (`FINAL_SHARE`)."""
    rows = published("charge_curves.csv")
    nominal = {row["set"]: float(row["capacity_ah"]) for row in published("charge_limits.csv")}
    runs = {(row["set"], row["rate"]): row for row in rows}
    assert len({name for name, _ in runs}) >= 2
    for (name, rate), row in runs.items():
        capacity = float(row["capacity_ah"])
        build = pack_of(
            0.1, row["chemistry"], float(row["resistance"]), cells_in_series=1, capacity_ah=capacity,
            charge_spread=0.0, resistance_spread=0.0, resistance_current=nominal[name],
        )  # fmt: skip
        charger = Charger(float(rate) * nominal[name], 4.2, end_current=0.02 * nominal[name])
        curve = charge_up(build, charger, 0.99)
        for point in rows:
            if (point["set"], point["rate"]) == (name, rate):
                time = np.interp(float(point["charge"]), curve.charge[0], curve.time[0])
                assert time == pytest.approx(float(point["time"]), rel=FINAL_SHARE), point
