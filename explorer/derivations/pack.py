"""The working behind what the pack does: sag, resistance, weakest cell, protection, headroom, bursts."""

from __future__ import annotations

import numpy as np

from explorer.derivations.derivation import Moment, Step, fastest, put
from explorer.derivations.run import back_emf
from explorer.derivations.sources import (
    ARRHENIUS,
    CHARGE_COUNT,
    CHARGING_WINDOW,
    CONTROLLER,
    INVERSE_TIME,
    OHM,
    PEAK_POWER,
    PRACTICE,
    REST_VOLTAGE,
    SPREAD,
)
from explorer.page.page import Page
from physics.build import Build
from physics.build.batch import Batch
from physics.components import cell, pack
from physics.limits import RULES
from physics.simulation.result import RunResult
from physics.studies.headroom_curves import HeadroomAnswer


def sag(page: Page) -> list[Step]:
    """Where the sag is deepest: rest voltage, resistance today, sag, loaded voltage, weakest cell."""
    now = deepest(page.build, page.run)
    return [rest(now), *resistance(page.build), *sagging(now), weakest(now)]


def deepest(build: Build, runs: RunResult, row: int = 0) -> Moment:
    """The instant of a run at which the sag is deepest."""
    return Moment(build, runs, row, int(np.argmax(runs.sag[row])))


def rest(now: Moment) -> Step:
    """Rest voltage from charge."""
    build = now.build
    one = now.rest_voltage / build.pack.cells_in_series
    return Step(
        "Rest voltage", r"U_0 = n\,u(\mathrm{charge})",
        f"{build.pack.cells_in_series} × {put(one, 5)}", now.rest_voltage, "V",
        f"n cells in series; u rest voltage of one cell at {100 * now.charge:.1f} % of charge, V",
        REST_VOLTAGE[build.pack.chemistry], digits=4,
    )  # fmt: skip


def resistance(build: Build) -> list[Step]:
    """How temperature and charge change the pack's resistance, at the start of the run."""
    own, chemistry = Batch.of(build), cell.chemistry(build.pack.chemistry)
    reference = float(own["pack.resistance"][0])
    temperature, charge = float(own["conditions.pack_temperature"][0]), build.conditions.charge
    held = min(max(temperature, cell.LOWEST_TEMPERATURE), cell.HIGHEST_TEMPERATURE)
    colder = float(cell.resistance_temperature_factor(temperature, chemistry.activation_energy))
    emptier = float(cell.resistance_charge_factor(build.pack.chemistry, charge))
    growth = build.pack.resistance_growth
    now = pack.resistance_now(reference, build.pack.chemistry, temperature, charge, growth=growth)
    return [
        Step(
            f"What a pack of {temperature - 273.15:.0f} °C does to its resistance",
            r"f_T = \exp\!\left(\frac{E}{R_g}\left(\frac{1}{T} - \frac{1}{298.15}\right)\right)",
            f"exp({put(chemistry.activation_energy, 5)} / 8.3145 × (1 / {put(held, 6)} − 1 / 298.15))", colder, "",
            "E activation energy of the chemistry, J/mol; R_g gas constant, J/(mol K); T pack temperature, K, held "
            "to between −30 and 60 °C", ARRHENIUS[build.pack.chemistry],
        ),
        Step(
            "Resistance today, ten seconds into a pull", r"R = R_{25}\,g\,f_T\,f_c",
            f"{put(1000 * reference)} × {put(growth)} × {put(colder)} × {put(emptier)}",
            1000 * float(now), "mΩ",
            "R₂₅ at 25 °C and half charge, mΩ; g ageing; f_c what today's charge does, from the chemistry's table",
            REST_VOLTAGE[build.pack.chemistry].replace("rest voltage", "resistance"),
        ),
    ]  # fmt: skip


def sagging(now: Moment) -> list[Step]:
    """Sag and loaded voltage at an instant."""
    ohmic = 1000 * now.ohmic_resistance
    return [
        Step(
            "Sag", r"\Delta U = I\,R_0 + U_p",
            f"{put(now.line_current, 5)} × {put(ohmic)} / 1000 + {put(now.polarisation_voltage)}", now.sag, "V",
            "I line current, A; R₀ the part of the resistance that acts at once, mΩ; U_p the part that builds up "
            "over seconds, V", OHM,
        ),
        Step(
            "Loaded voltage", r"U = U_0 - \Delta U", f"{put(now.rest_voltage, 5)} − {put(now.sag)}",
            now.pack_voltage, "V", "U₀ rest voltage, V; ΔU sag, V", OHM, digits=4,
        ),
    ]  # fmt: skip


def weakest(now: Moment) -> Step:
    """Loaded voltage of the weakest cell at an instant."""
    build, spread = now.build, now.build.pack.charge_spread
    alone = float(cell.open_circuit_voltage(build.pack.chemistry, now.charge - spread))
    more = build.pack.resistance_spread
    return Step(
        "Weakest cell", r"u = u_0 - \frac{\Delta U}{n}\,(1 + s)",
        f"{put(alone, 5)} − {put(now.sag)} / {build.pack.cells_in_series} × (1 + {put(more)})",
        now.weakest_cell_voltage, "V",
        f"u₀ rest voltage of a cell that is {100 * spread:g} % behind in charge, V; s its extra resistance",
        SPREAD, digits=4,
    )  # fmt: skip


def protection(page: Page) -> list[Step]:
    """The rules of the protection at the run's highest current and lowest cell voltage."""
    runs, overshoot = page.run, page.build.controller.overshoot
    most = Moment(page.build, runs, 0, int(np.argmax(runs.line_current[0])))
    lowest = Moment(page.build, runs, 0, int(np.argmin(runs.weakest_cell_voltage[0])))
    current = most.line_current * (1 + overshoot)
    made = [
        Step(
            "Current the protection sees", r"I_p = I\,(1 + o)",
            f"{put(most.line_current, 5)} × (1 + {put(overshoot)})",
            current, "A", "I highest line current of the run, A; o the controller's overshoot", PRACTICE,
        ),
        *inverse_time(page.build, current),
        weakest(lowest),
    ]  # fmt: skip
    rules = page.build.pack.protection
    if rules.cell_undervoltage > 0:
        made.append(
            Step(
                "How far that is above its threshold", r"u - u_{min}",
                f"{put(lowest.weakest_cell_voltage, 5)} − {put(rules.cell_undervoltage)}",
                lowest.weakest_cell_voltage - rules.cell_undervoltage, "V",
                f"u lowest voltage of the weakest cell, V; u_min the threshold, V. Below zero for "
                f"{rules.undervoltage_delay:g} s the pack cuts out", PRACTICE, digits=2,
            )
        )  # fmt: skip
    return made


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
            allowed, "s", "t_p peak time, s; I_peak, I_c peak and continuous current of the rule, A; from rest",
            INVERSE_TIME,
        )
    ]  # fmt: skip


def headroom(page: Page, answer: HeadroomAnswer, event: float) -> list[Step]:
    """The fullest cell at the end of one event from the highest charge that is allowed, or why none is."""
    now, status = answer.pack_temperature - 273.15, int(answer.today.status)
    if status in (-1, -2):
        bound = (answer.floor if status == -1 else answer.ceiling) - 273.15
        warm, cold = (bound, now) if status == -1 else (now, bound)
        return [
            Step(
                "How far the pack is outside its charging window", r"\Delta T = T_{warm} - T_{cold}",
                f"{put(warm)} − {put(cold)}", warm - cold, "°C",
                f"the {'lowest' if status == -1 else 'highest'} temperature at which the pack may be charged, and "
                "the pack's own, °C", CHARGING_WINDOW,
            )
        ]  # fmt: skip
    return fullest_cell(page.build, float(answer.today.highest_charge), answer.pack_temperature, event)


def fullest_cell(build: Build, charge: float, temperature: float, event: float) -> list[Step]:
    """Voltage of the fullest cell at the end of a charging event, against its limit."""
    kind, series, own = build.pack.chemistry, build.pack.cells_in_series, Batch.of(build)
    regen, rules = build.controller.regen_current, build.pack.protection
    returned = regen * event / 3600 / build.pack.capacity_ah
    end = charge + build.pack.charge_spread + returned
    table = cell.chemistry_tables().open_circuit_voltage[cell.CHEMISTRY_KEYS.index(kind)]
    alone = float(cell.open_circuit_voltage(kind, end)) + (table[-1] - table[-2]) * 100 * max(end - 1.0, 0.0)
    at = pack.resistance_now(
        float(own["pack.resistance"][0]), kind, temperature, end, "charge", build.pack.resistance_growth
    )
    at = float(pack.pulse_resistance(at, kind, event))
    reached = alone + regen * at * (1 + build.pack.resistance_spread) / series
    maximum = cell.chemistry(kind).voltage_maximum
    opening = rules.cell_overvoltage - 0.02
    limit = f"{maximum:.2f} V is the chemistry's highest"
    if np.isfinite(opening):
        limit += f", and {opening:.2f} V is 20 mV below the over-voltage rule"
    return [
        Step(
            "Charge one event returns", r"\Delta c = \frac{I\,t}{3600\,C}",
            f"{put(regen)} × {put(event)} / (3600 × {put(build.pack.capacity_ah)})", returned, "",
            "I regen current, A; t how long, s; C capacity, Ah", CHARGE_COUNT,
        ),
        Step(
            "Charge of the fullest cell at the end", r"c_e = c + s_c + \Delta c",
            f"{put(charge)} + {put(build.pack.charge_spread)} + {put(returned)}", end, "",
            "c charge of the pack at the start; s_c by how much the fullest cell is ahead", SPREAD, digits=4,
        ),
        Step(
            "Its voltage at the end", r"u = u_0(c_e) + \frac{I\,R}{n}\,(1 + s)",
            f"{put(alone, 5)} + {put(regen)} × {put(1000 * at)} / 1000 / {series} × "
            f"(1 + {put(build.pack.resistance_spread)})", reached, "V",
            f"u₀ rest voltage at that charge, V; R resistance of the pack while charging, {event:g} s in, at "
            f"{temperature - 273.15:.0f} °C, mΩ; n cells in series; s extra resistance of that cell. {limit}",
            f"{SPREAD}. {REST_VOLTAGE[kind]}", digits=4,
        ),
    ]  # fmt: skip


def burst(page: Page, power: float, seconds: float) -> list[Step]:
    """Current at a power, and the pack's largest power, so many seconds in at today's resistance."""
    build, own = page.build, Batch.of(page.build)
    kind, charge = build.pack.chemistry, build.conditions.charge
    temperature = float(own["conditions.pack_temperature"][0])
    at = pack.resistance_now(
        float(own["pack.resistance"][0]), kind, temperature, charge, growth=build.pack.resistance_growth
    )
    at = float(pack.pulse_resistance(at, kind, seconds))
    full = float(pack.rest_voltage(kind, build.pack.cells_in_series, charge))
    most = full * full / (4 * at)
    made = [
        *resistance(build),
        Step(
            f"The most such a pack can give after {seconds:g} s, whatever its protection says",
            r"P_{most} = \frac{U_0^2}{4 R}",
            f"{put(full, 5)}² / (4 × {put(1000 * at)} / 1000)", most, "W",
            "U₀ rest voltage, V; R resistance after that time, mΩ. At half the rest voltage: far below what cells "
            "allow", PEAK_POWER, "power",
        ),
    ]  # fmt: skip
    if power < most:
        current = float(pack.current_for_power(full, at, power))
        made.append(
            Step(
                "Current at the power you ask for", r"I = \frac{U_0 - \sqrt{U_0^2 - 4 R P}}{2 R}",
                f"({put(full, 6)} − √({put(full, 6)}² − 4 × {put(1000 * at, 5)} / 1000 × {put(power, 6)})) / "
                f"(2 × {put(1000 * at, 5)} / 1000)", current, "A",
                "P power, W. Charge that flows off and heat in the pack move it a little on the way", CONTROLLER,
            )
        )  # fmt: skip
        made += inverse_time(build, current * (1 + build.controller.overshoot))
    return made


def line_limit(page: Page, limit: float) -> list[Step]:
    """What a line limit asks of the protection: time allowed, and sag of the weakest cell."""
    build, overshoot = page.build, page.build.controller.overshoot
    own = Batch.of(build)
    kind, charge, more = build.pack.chemistry, build.conditions.charge, build.pack.resistance_spread
    temperature = float(own["conditions.pack_temperature"][0])
    at = float(
        pack.resistance_now(
            float(own["pack.resistance"][0]), kind, temperature, charge, growth=build.pack.resistance_growth
        )
    )
    alone = float(cell.open_circuit_voltage(kind, charge - build.pack.charge_spread))
    series = build.pack.cells_in_series
    return [
        *resistance(build),
        Step(
            f"Weakest cell after ten seconds of {put(limit, 3)} A", r"u = u_0 - \frac{I\,R}{n}\,(1 + s)",
            f"{put(alone, 5)} − {put(limit)} × {put(1000 * at)} / 1000 / {series} × (1 + {put(more)})",
            alone - limit * at * (1 + more) / series, "V",
            "u₀ its rest voltage at the start, V; I line limit, A; R resistance today, mΩ; n cells in series; s "
            f"its extra resistance. The rule counts below {build.pack.protection.cell_undervoltage:g} V", SPREAD,
            digits=4,
        ),
        *inverse_time(build, limit * (1 + overshoot)),
    ]  # fmt: skip


def voltage_window(page: Page) -> list[Step]:
    """The voltage the motor's speed asks for, and the sag that comes on top."""
    runs, at = page.run, page.reached
    if np.isfinite(at):
        now = Moment(page.build, runs, 0, int(np.argmax(runs.speed[0] >= page.target_speed)))
    else:
        now = fastest(page.build, runs)
    return [*back_emf(now, page.fmt), rest(now), *sagging(now)]
