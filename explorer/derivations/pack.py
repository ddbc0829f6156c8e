"""The pack: rest voltage, resistance today, sag, weakest and fullest cell, how long a current may flow."""

from __future__ import annotations

import numpy as np

from explorer.derivations.derivation import Instant, Step, put
from explorer.derivations.sources import (
    ARRHENIUS,
    BUTLER_VOLMER,
    CHARGE_COUNT,
    GROWTH_GIVEN,
    INVERSE_TIME,
    OHM,
    REST_VOLTAGE,
    SPREAD,
)
from physics.build import Build
from physics.build.batch import Batch
from physics.components import cell, cell_resistance, pack
from physics.limits import RULES
from physics.simulation.plant import PackModel
from physics.simulation.result import RunResult


def deepest(build: Build, runs: RunResult, row: int = 0) -> Instant:
    """The instant of a run at which the sag is deepest."""
    return Instant(build, runs, row, int(np.argmax(runs.sag[row])))


def rest(now: Instant) -> Step:
    """Rest voltage from charge."""
    build = now.build
    one = now.rest_voltage / build.pack.cells_in_series
    return Step(
        "Rest voltage",
        r"U_0 = n\,u(\mathrm{charge})",
        f"{build.pack.cells_in_series} × {put(one, 5)}",
        now.rest_voltage,
        "V",
        f"n cells in series; u rest voltage of one cell at {100 * now.charge:.1f} % of charge, V",
        REST_VOLTAGE[build.pack.chemistry],
        digits=4,
    )


def resistance(build: Build, current: float) -> list[Step]:
    """How temperature, charge and current change the pack's resistance, at the start of the run."""
    own, series = Batch.of(build), build.pack.cells_in_series
    temperature = float(own["conditions.pack_temperature"][0])
    small, growth = (float(values[0]) for values in (own.small_current_resistance(), own.conduction_growth()))
    held = min(max(temperature, cell_resistance.LOWEST_TEMPERATURE), cell_resistance.HIGHEST_TEMPERATURE)
    colder = float(cell_resistance.resistance_temperature_factor(temperature, growth))
    emptier = float(cell_resistance.resistance_charge_factor(build.pack.chemistry, build.conditions.charge))
    transfer = cell.chemistry(build.pack.chemistry).transfer_fraction
    linear, over_transfer = small * colder * emptier, small * colder**2 * emptier * transfer
    bend = series * cell_resistance.TRANSFER_VOLTAGE * held * emptier
    factors = f"{put(1000 * small, 4)} × {put(colder, 4)}"
    steps = [
        Step(
            f"What a pack of {temperature - 273.15:.0f} °C does to its resistance",
            r"f_T = \exp\!\left(\ln G\,\frac{1/T - 1/298.15}{1/273.15 - 1/298.15}\right)",
            f"exp(ln({put(growth, 4)}) × (1 / {put(held, 6)} − 1 / 298.15) / (1 / 273.15 − 1 / 298.15))",
            colder,
            "",
            "G the same at 0 °C, from how the whole resistance grows; T pack temperature, K, held to between −30 "
            "and 60 °C",
            ARRHENIUS[build.pack.chemistry] if build.pack.cold_growth is None else GROWTH_GIVEN,
        ),
        Step(
            "Resistance of conduction and diffusion today, ten seconds into a pull",
            r"R_l = R_{25}\,f_T\,f_c\,(1 - k)",
            f"{factors} × {put(emptier, 4)} × (1 − {put(transfer)})",
            1000 * linear * (1 - transfer),
            "mΩ",
            "R₂₅ at small current, 25 °C and half charge, aged, mΩ; f_c what today's charge does, from the "
            "chemistry's table; k fraction of charge transfer",
            REST_VOLTAGE[build.pack.chemistry].replace("rest voltage", "resistance"),
        ),
    ]
    straight = min(current, cell_resistance.PULL_RATE * build.pack.capacity_ah)
    if transfer and current > 0:
        numbers = f"asinh({put(1000 * over_transfer, 5)} / 1000 × {put(straight, 5)} / {put(bend, 5)})"
        numbers = f"1000 × {put(bend, 5)} × {numbers}"
        formula, beyond = r"R = R_l + \frac{n v f_c}{I}\,\mathrm{asinh}\frac{R_c\,I}{n v f_c}", ""
        if straight < current:
            slope = 1000 * over_transfer / float(np.hypot(1.0, over_transfer * straight / bend))
            numbers = f"({numbers} + {put(slope, 5)} × ({put(current, 5)} − {put(straight, 5)}))"
            formula = r"R = R_l + \frac{n v f_c\,\mathrm{asinh}\frac{R_c I_s}{n v f_c} + R_s\,(I - I_s)}{I}"
            beyond = "; straight with R_s beyond I_s, four times the capacity, where no published cell was compared"
        steps.append(
            Step(
                f"Resistance with charge transfer at {put(current, 3)} A",
                formula,
                f"{put(1000 * linear * (1 - transfer), 5)} + {numbers} / {put(current, 5)}",
                1000 * resistance_today(build, current),
                "mΩ",
                "R_c charge transfer at small current, R₂₅ f_T² f_c k, mΩ; I current, A; n cells in series; v = "
                f"51 mV at 25 °C, in proportion to temperature{beyond}",
                BUTLER_VOLMER,
            )
        )
    return steps


def resistance_today(build: Build, current: float, seconds: float = 10.0) -> float:
    """The pack's resistance with today's temperature and charge, so long into a constant current, ohm."""
    own = Batch.of(build)
    now = own["conditions.charge"], own["conditions.pack_temperature"]
    return float(PackModel(own).pulse_resistance(*now, max(current, 1e-3), seconds)[0])


def sagging(now: Instant) -> list[Step]:
    """Sag and loaded voltage at an instant."""
    ohmic = 1000 * now.ohmic_resistance
    return [
        Step(
            "Sag",
            r"\Delta U = I\,R_0 + U_c + U_p",
            f"{put(now.line_current, 5)} × {put(ohmic)} / 1000 + {put(now.transfer_voltage)} + "
            f"{put(now.polarisation_voltage)}",
            now.sag,
            "V",
            "I line current, A; R₀ resistance of conduction, mΩ; U_c charge transfer, V; U_p the part that builds "
            "up over seconds, V",
            OHM,
        ),
        Step(
            "Loaded voltage",
            r"U = U_0 - \Delta U",
            f"{put(now.rest_voltage, 5)} − {put(now.sag)}",
            now.pack_voltage,
            "V",
            "U₀ rest voltage, V; ΔU sag, V",
            OHM,
            digits=4,
        ),
    ]


def weakest(now: Instant) -> Step:
    """Loaded voltage of the weakest cell at an instant."""
    build, spread = now.build, now.build.pack.charge_spread
    alone = float(cell.open_circuit_voltage(build.pack.chemistry, now.charge - spread))
    more = build.pack.resistance_spread
    return Step(
        "Weakest cell",
        r"u = u_0 - \frac{\Delta U}{n}\,(1 + s)",
        f"{put(alone, 5)} − {put(now.sag)} / {build.pack.cells_in_series} × (1 + {put(more)})",
        now.weakest_cell_voltage,
        "V",
        f"u₀ rest voltage of a cell that is {100 * spread:g} % behind in charge, V; s its extra resistance",
        SPREAD,
        digits=4,
    )


def inverse_time(build: Build, current: float) -> list[Step]:
    """How long the continuous-current rule would let a current flow, from rest."""
    rules = build.pack.protection
    steady, peak = rules.continuous_current, rules.peak_current
    if not (np.isfinite(steady) and np.isfinite(peak) and peak > steady and current > steady * 1.001):
        return []
    allowed = rules.peak_time * (peak**2 - steady**2) / (current**2 - steady**2)
    return [
        Step(
            f"How long {put(current, 3)} A may flow, by the {RULES[0]} rule",
            r"t = t_p\,\frac{I_{peak}^2 - I_c^2}{I_p^2 - I_c^2}",
            f"{put(rules.peak_time)} × ({put(peak)}² − {put(steady)}²) / ({put(current, 6)}² − {put(steady)}²)",
            allowed,
            "s",
            "t_p peak time, s; I_peak, I_c peak and continuous current of the rule, A; from rest",
            INVERSE_TIME,
        )
    ]


def fullest_cell(build: Build, charge: float, temperature: float, event: float) -> list[Step]:
    """Voltage of the fullest cell at the end of a charging event, against its limit."""
    kind, series, own = build.pack.chemistry, build.pack.cells_in_series, Batch.of(build)
    regen, rules = build.controller.regen_current, build.pack.protection
    returned = regen * event / 3600 / build.pack.capacity_ah
    end = charge + build.pack.charge_spread + returned
    table = cell.chemistry_tables().open_circuit_voltage[cell.CHEMISTRY_KEYS.index(kind)]
    alone = float(cell.open_circuit_voltage(kind, end)) + (table[-1] - table[-2]) * 100 * max(end - 1.0, 0.0)
    small, cold = float(own.small_current_resistance()[0]), float(own.conduction_growth()[0])
    at_ten = pack.resistance_now(small, kind, temperature, end, "charge", 1.0, cold)
    at = float(pack.pulse_resistance(at_ten, kind, event))
    reached = alone + regen * at * (1 + build.pack.resistance_spread) / series
    maximum = cell.chemistry(kind).voltage_maximum
    opening = rules.cell_overvoltage - 0.02
    limit = f"{maximum:.2f} V is the chemistry's highest"
    if np.isfinite(opening):
        limit += f", and {opening:.2f} V is 20 mV below the over-voltage rule"
    return [
        Step(
            "Charge one event returns",
            r"\Delta c = \frac{I\,t}{3600\,C}",
            f"{put(regen)} × {put(event)} / (3600 × {put(build.pack.capacity_ah)})",
            returned,
            "",
            "I regen current, A; t how long, s; C capacity, Ah",
            CHARGE_COUNT,
        ),
        Step(
            "Charge of the fullest cell at the end",
            r"c_e = c + s_c + \Delta c",
            f"{put(charge)} + {put(build.pack.charge_spread)} + {put(returned)}",
            end,
            "",
            "c charge of the pack at the start; s_c by how much the fullest cell is ahead",
            SPREAD,
            digits=4,
        ),
        Step(
            "Its voltage at the end",
            r"u = u_0(c_e) + \frac{I\,R}{n}\,(1 + s)",
            f"{put(alone, 5)} + {put(regen)} × {put(1000 * at)} / 1000 / {series} × "
            f"(1 + {put(build.pack.resistance_spread)})",
            reached,
            "V",
            f"u₀ rest voltage at that charge, V; R resistance of the pack while charging, {event:g} s in, at "
            f"{temperature - 273.15:.0f} °C, mΩ; n cells in series; s extra resistance of that cell. {limit}",
            f"{SPREAD}. {REST_VOLTAGE[kind]}",
            digits=4,
        ),
    ]
