"""Charging to a voltage as advice: whoever stops where it says is never above what was wanted, nor past a rating.

The charge here is written from the equations and stepped in time, 10 s a step.
"""

import numpy as np
import pytest
from scipy.optimize import brentq

from physics.build import example_build
from physics.components import cell
from physics.components.cell_resistance import typical_cell_resistance
from physics.studies.day.charge_to import (
    CHARGE,
    CHARGER,
    COLD_CURRENT,
    ENDS_FIRST,
    RATING,
    THERE_ALREADY,
    TOO_COLD,
    TOO_HOT,
    ChargePlan,
    charge_to,
)

ZERO = 273.15


def pack_of(charge=0.4, **pack):
    changes = {f"pack.{key}": value for key, value in pack.items()}
    return example_build().change(
        {
            "conditions.charge": charge,
            "pack.resistance": 0.05,
            "pack.resistance_current": 0.01,
            "pack.cold_growth": 2.0,
        }
        | changes
    )


def followed(build, plan, answer, resistance, temperature, step=10.0):
    """Charge, and the highest voltage of the fullest cell, where a rider stops as he was told.

    Resistance of the pack at 25 C, ohm, and temperature, K, are the true ones.
    """
    pack, kind = build.pack, cell.chemistry(build.pack.chemistry)
    warm = np.exp(np.log(pack.cold_growth) * (1 / temperature - 1 / 298.15) / (1 / 273.15 - 1 / 298.15))
    ohms = resistance * pack.resistance_growth
    fractions = (kind.pair_1_fraction, kind.pair_2_fraction, kind.pair_3_fraction)
    pairs = list(zip(fractions, cell.PAIR_TIMES, strict=True))
    charge, volts, highest = build.conditions.charge, [0.0] * 3, 0.0
    series, ahead = pack.cells_in_series, pack.charge_spread + 0.015
    bend = series * 2 * 8.314462618 * temperature / 96485.33212
    for _ in range(int(40 * 3600 / step)):
        rest = series * np.interp(charge, kind.charge, kind.open_circuit_voltage)
        factor = np.interp(charge, kind.charge, kind.charge_resistance_factor)
        inner = rest + sum(volts)

        def reads(flowing, inner=inner, factor=factor):
            over = bend * np.arcsinh(ohms * kind.transfer_fraction * warm**2 * flowing / bend)
            return inner + factor * (ohms * kind.ohmic_fraction * warm * flowing + over)

        def beyond(flowing, reads=reads):
            return max(reads(flowing) - answer.charger_voltage, reads(flowing) * flowing - min(plan.power, 1e9))

        current = answer.current
        if beyond(current) > 0:
            current = brentq(beyond, 0.0, current, xtol=1e-6) if beyond(0.0) < 0 else 0.0
        reading = reads(current)
        full = np.interp(charge + ahead, kind.charge, kind.open_circuit_voltage)
        full += max(charge + ahead - 1, 0.0) * 100 * np.diff(kind.open_circuit_voltage)[-1]
        own = np.interp(charge + ahead, kind.charge, kind.charge_resistance_factor) / factor
        highest = max(highest, full + (reading - rest) * (1 + pack.resistance_spread) * own / series)
        ends = current < 0.05 * pack.capacity_ah
        told = current <= answer.stop_current if answer.by_current else reading >= answer.stop_voltage
        if told or ends or answer.status == THERE_ALREADY:
            return charge, highest
        charge += current * step / 3600 / pack.capacity_ah
        for which, (share, tau) in enumerate(pairs):
            settled = current * ohms * warm * share * factor
            volts[which] = settled + (volts[which] - settled) * np.exp(-step / tau)
    raise AssertionError("it never ends")


def random_cases(count, seed=2):
    chance = np.random.default_rng(seed)
    for _ in range(count):
        key, capacity = str(chance.choice(cell.CHEMISTRY_KEYS)), float(chance.uniform(8, 60))
        series = int(chance.integers(10, 33))
        typical = series * float(typical_cell_resistance(key, capacity))
        build = pack_of(
            float(chance.uniform(0.05, 0.9)), chemistry=key, cells_in_series=series, capacity_ah=capacity,
            resistance=typical * float(chance.uniform(0.5, 2)), resistance_current=0.01,
            cold_growth=float(chance.uniform(1.5, 3)), charge_spread=float(chance.uniform(0, 0.06)),
            charge_current=float(capacity * chance.uniform(0.2, 2)),
        )  # fmt: skip
        power = float(capacity * series * chance.uniform(0.5, 4)) if chance.random() < 0.5 else np.inf
        plan = ChargePlan(
            float(capacity * chance.uniform(0.1, 1.5)), ZERO + float(chance.uniform(4, 40)), power,
            at_most=bool(chance.random() < 0.6),
        )  # fmt: skip
        yield build, plan, float(chance.uniform(0.3, 1.0)), chance


def test_whoever_stops_as_told_is_on_the_safe_side():
    """property: 16 random packs and chargers; resistance 15 % either way, pack 3 K either way: at most the wanted
    charge where it is the most, at least it where it is the least; no cell above its maximum. A step of 10 s at the
    charger's current may pass either by its own length."""
    asked = 0
    for build, plan, wanted, chance in random_cases(16):
        answer = charge_to(build, wanted, plan)
        if answer.status in (TOO_COLD, TOO_HOT):
            continue
        asked += answer.status == CHARGE
        off, step = chance.uniform(-1, 1, 2), 10.0
        truth = build.pack.resistance * (1 + 0.15 * off[0]), plan.temperature + 3 * off[1]
        charge, highest = followed(build, plan, answer, *truth, step)
        slack = 2 * answer.current * step / 3600 / build.pack.capacity_ah + 5e-4
        start = build.conditions.charge
        if plan.at_most:
            assert charge <= max(wanted, start) + slack, (build, plan)
        elif answer.status == CHARGE:
            assert charge >= wanted - slack, (build, plan)
        if answer.status != THERE_ALREADY:
            assert highest <= cell.chemistry(build.pack.chemistry).voltage_maximum + 1e-3, (build, plan)
    assert asked > 4


def test_the_advice_is_not_timid():
    """property: with the least resistance it may have, the reading comes within 0.5 % of the wanted charge."""
    for current in (2.0, 8.0, 26.0):
        build, plan = pack_of(), ChargePlan(current, 293.15)
        answer = charge_to(build, 0.8, plan)
        charge, _ = followed(build, plan, answer, 0.05 * 0.85, 296.15)
        assert charge == pytest.approx(0.8, abs=0.005)


def test_amp_hours_and_minutes_hand_worked():
    """hand-worked: from 40 to 80 % of 26 Ah are 10.4 Ah: 78 min at 8 A, 31.2 min at 20 A."""
    for current, minutes in ((8.0, 78.0), (20.0, 31.2)):
        answer = charge_to(pack_of(), 0.8, ChargePlan(current, 293.15))
        assert answer.time == pytest.approx(60 * minutes, rel=1e-9)
        assert answer.charge_added * 26.0 == pytest.approx(10.4)


def test_cells_ratings_and_temperatures_hold():
    """hand-worked: 26 Ah take 26 A, below 10 + 3 degrees C a fifth; nothing below 0 + 3 or above 45 - 3."""
    for celsius, current, limit in ((20.0, 26.0, RATING), (12.9, 5.2, COLD_CURRENT), (13.1, 26.0, RATING)):
        answer = charge_to(pack_of(), 0.8, ChargePlan(60.0, ZERO + celsius))
        assert (answer.current, answer.current_limit) == (pytest.approx(current), limit)
    assert charge_to(pack_of(), 0.8, ChargePlan(5.0, ZERO + 12.0)).current_limit == CHARGER
    for celsius, status in ((2.9, TOO_COLD), (3.1, CHARGE), (41.9, CHARGE), (42.1, TOO_HOT)):
        answer = charge_to(pack_of(), 0.8, ChargePlan(5.0, ZERO + celsius))
        assert answer.status == status
        assert (answer.floor, answer.ceiling) == (pytest.approx(ZERO + 3.0), pytest.approx(ZERO + 42.0))


def test_ends_and_what_was_not_accepted():
    """property: nothing to charge above the wanted voltage; a full pack needs a lower charger voltage where its
    fullest cell is ahead; a weaker outlet takes longer."""
    assert charge_to(pack_of(0.9), 0.8, ChargePlan(8.0, 293.15)).status == THERE_ALREADY
    full = charge_to(pack_of(), 1.0, ChargePlan(8.0, 293.15))
    assert (full.status, full.voltage_lowered) == (ENDS_FIRST, True)
    assert full.charger_voltage < 24 * 4.2
    assert not charge_to(pack_of(), 0.8, ChargePlan(8.0, 293.15)).voltage_lowered
    slow, fast = (charge_to(pack_of(), 0.8, ChargePlan(26.0, 293.15, power)) for power in (1000.0, 3000.0))
    assert slow.time > 1.5 * fast.time
    with pytest.raises(ValueError, match="wanted_charge"):
        charge_to(pack_of(), 1.2, ChargePlan(8.0, 293.15))
