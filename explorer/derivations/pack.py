"""The pack: rest voltage, resistance today, sag, weakest and fullest cell, how long a current may flow."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from explorer.derivations.derivation import Instant, Step, put
from explorer.derivations.sources import (
    ARRHENIUS,
    BUTLER_VOLMER,
    CHARGE_COUNT,
    DEFINITE_TIME,
    GROWTH_GIVEN,
    INVERSE_TIME,
    OHM,
    REST_VOLTAGE,
    SPREAD,
)
from physics.build import Build
from physics.build.batch import Batch
from physics.components import cell, cell_resistance
from physics.limits import CONTINUOUS_CURRENT, RULES, TIMED_OVER_CURRENT
from physics.scenarios.charging import ChargeEvent, fullest_cell_voltages, rest_beyond_full
from physics.simulation.plant import PackModel
from physics.simulation.protection import TripTimers
from physics.simulation.result import RunResult
from physics.studies.headroom import MARGIN


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
        f"n cells in series; u rest voltage of one cell at {100 * now.charge:.1f} % charge, V",
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
            f"Resistance factor at {temperature - 273.15:.0f} °C",
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
    return resistance_by_current(build, seconds)(current)


def resistance_by_current(build: Build, seconds: float) -> Callable[[float], float]:
    """The same for many currents: a function from current, A, to resistance, ohm."""
    own = Batch.of(build)
    model, now = PackModel(own), (own["conditions.charge"], own["conditions.pack_temperature"])
    return lambda current: float(model.pulse_resistance(*now, max(current, 1e-3), seconds)[0])


def sagging(now: Instant) -> list[Step]:
    """Sag and loaded voltage at an instant."""
    ohmic = 1000 * (now.ohmic_resistance + now.build.pack.lead_resistance)
    return [
        Step(
            "Sag",
            r"\Delta U = I\,R_0 + U_c + U_p",
            f"{put(now.line_current, 5)} × {put(ohmic)} / 1000 + {put(now.transfer_voltage)} + "
            f"{put(now.polarisation_voltage)}",
            now.sag,
            "V",
            "I line current, A; R₀ resistance of conduction, leads included, mΩ; U_c charge transfer, V; U_p the "
            "part that builds up over seconds, V",
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
    sag = now.sag - now.line_current * build.pack.lead_resistance  # the leads are not in the cells
    alone = float(cell.open_circuit_voltage(build.pack.chemistry, now.charge - spread))
    more = build.pack.resistance_spread
    return Step(
        "Weakest cell",
        r"u = u_0 - \frac{\Delta U}{n}\,(1 + s)",
        f"{put(alone, 5)} − {put(sag)} / {build.pack.cells_in_series} × (1 + {put(more)})",
        now.weakest_cell_voltage,
        "V",
        f"u₀ rest voltage of a cell with {100 * spread:g} % less charge, V; s its extra resistance",
        SPREAD,
        digits=4,
    )


def weakest_after_ten_seconds(build: Build, current: float) -> Step:
    """Loaded voltage of the weakest cell after ten seconds of a current, A, at today's charge and temperature."""
    parts = build.pack
    spread, ohms = parts.resistance_spread, resistance_today(build, current)
    alone = float(cell.open_circuit_voltage(parts.chemistry, build.conditions.charge - parts.charge_spread))
    return Step(
        f"Weakest cell after ten seconds of {put(current, 3)} A",
        r"u = u_0 - \frac{I\,R}{n}\,(1 + s)",
        f"{put(alone, 5)} − {put(current)} × {put(1000 * ohms)} / 1000 / {parts.cells_in_series} × "
        f"(1 + {put(spread)})",
        alone - current * ohms * (1 + spread) / parts.cells_in_series,
        "V",
        "u₀ its rest voltage at the start, V; I line limit, A; R resistance today, mΩ; n cells in series; s "
        f"its extra resistance. The rule counts below {parts.protection.cell_undervoltage:g} V",
        SPREAD,
        digits=4,
    )


def overcurrent(build: Build, current: float) -> list[Step]:
    """How long a current above the continuous one may flow, from rest, by each law that counts in this build."""
    rules, watched = build.pack.protection, TripTimers(Batch.of(build)).watched[:, 0]
    steady, peak = min(rules.continuous_current, rules.peak_current), rules.peak_current
    if not current > steady * 1.001:
        return []
    title, steps = f"How long {put(current, 3)} A may flow, by the {{}} rule", []
    if watched[CONTINUOUS_CURRENT]:
        steps.append(
            Step(
                title.format(RULES[CONTINUOUS_CURRENT]),
                r"t = t_p\,\frac{I_{peak}^2 - I_c^2}{I_p^2 - I_c^2}",
                f"{put(rules.peak_time)} × ({put(peak)}² − {put(steady)}²) / ({put(current, 6)}² − {put(steady)}²)",
                rules.peak_time * (peak**2 - steady**2) / (current**2 - steady**2),
                "s",
                "t_p peak time, s; I_peak, I_c peak and continuous current of the rule, A; from rest",
                INVERSE_TIME,
            )
        )
    if watched[TIMED_OVER_CURRENT]:
        steps.append(
            Step(
                title.format(RULES[TIMED_OVER_CURRENT]),
                r"t = t_p",
                put(rules.peak_time),
                rules.peak_time,
                "s",
                f"t_p peak time, s, at any current above {put(steady)} A; below, it starts again",
                DEFINITE_TIME,
            )
        )
    return steps


def fullest_cell(build: Build, event: ChargeEvent, charge: float) -> list[Step]:
    """Voltage of the fullest cell at the end of the last charging event, against its limit."""
    kind, rules = build.pack.chemistry, build.pack.protection
    swung, time = 1.0 + float(event.overshoot), float(event.duration)
    returned = event.events * float(event.returned_charge())
    end = charge + float(event.charge_spread) + returned
    alone = float(rest_beyond_full(kind, end))
    reached = float(fullest_cell_voltages(event, charge)[-1, -1])
    flowing = float(event.current) * swung
    at = (reached - alone) / flowing if flowing else 0.0
    maximum = cell.chemistry(kind).voltage_maximum
    opening = rules.cell_overvoltage - MARGIN
    limit = f"{maximum:.2f} V is the chemistry's highest"
    if np.isfinite(opening):
        limit += f", and {opening:.2f} V is 20 mV below the over-voltage rule"
    return [
        Step(
            "Charge the events return",
            r"\Delta c = \frac{m\,I\,(1 + o)\,t}{3600\,C}",
            f"{event.events} × {put(float(event.current))} × (1 + {put(float(event.overshoot))}) × {put(time)} / "
            f"(3600 × {put(build.pack.capacity_ah)})",
            returned,
            "",
            "m events; I regen current, A; o its overshoot; t how long each, s; C capacity, Ah",
            CHARGE_COUNT,
        ),
        Step(
            "Charge of the fullest cell at the end",
            r"c_e = c + s_c + \Delta c",
            f"{put(charge)} + {put(float(event.charge_spread))} + {put(returned)}",
            end,
            "",
            "c charge of the pack at the start; s_c how much fuller the fullest cell may be, including the "
            "error in the charge entered",
            SPREAD,
            digits=4,
        ),
        Step(
            "Its voltage at the end",
            r"u = u_0(c_e) + I\,(1 + o)\,R",
            f"{put(alone, 5)} + {put(float(event.current))} × (1 + {put(float(event.overshoot))}) × "
            f"{put(1000 * at)} / 1000",
            reached,
            "V",
            "u₀ rest voltage at that charge, V; R resistance of the worst cell at the end of the last event, "
            f"mΩ: worked out in steps from the pack's {put(1000 * float(event.resistance))} mΩ at small current "
            f"and 25 °C, at {float(event.temperature) - 273.15:.0f} °C, with both as much worse than entered as "
            "they plausibly may be, each in full, because an overcharged cell is damaged without any sign. "
            f"{limit}",
            f"{SPREAD}. {REST_VOLTAGE[kind]}",
            digits=4,
        ),
    ]
