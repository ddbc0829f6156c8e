"""The working behind gearing, target, heat, front wheel, speedometer, chances and a ride log."""

from __future__ import annotations

import math

import numpy as np

from explorer.derivations.derivation import Moment, Step, fastest, put
from explorer.derivations.run import back_emf, drive, front_wheel
from explorer.derivations.sources import (
    COPPER,
    DRAG,
    FORCE_BALANCE,
    GEARING,
    LEAST_SQUARES,
    LOAD_TRANSFER,
    MACHINE,
    PRACTICE,
    REGULATION_39,
    SAMPLING,
    SPEEDOMETER,
)
from explorer.page.page import Page
from physics.components.air import STANDARD_GRAVITY as GRAVITY
from physics.fitting.build import LogFit


def gearing(page: Page) -> list[Step]:
    """Ratio, motor speed and pull of the present pair, where the run is fastest."""
    now, line = fastest(page.build, page.run), page.build.driveline
    return [
        Step(
            "Ratio", r"G = G_1\,\frac{z_{rear}}{z_{front}}",
            f"{put(line.primary_ratio)} × {line.rear_teeth} / {line.front_teeth}", now.ratio, "",
            "z teeth; G₁ any reduction before the sprockets", GEARING, digits=4,
        ),
        *back_emf(now, page.fmt),
        Step(
            "Voltage the pack holds there", r"U = U_0 - \Delta U", f"{put(now.rest_voltage, 5)} − {put(now.sag)}",
            now.pack_voltage, "V",
            "U₀ rest voltage, V; ΔU sag, V. Back-EMF below it leaves room for current; the nearer, the less. Fewer "
            "rear teeth lower the back-EMF at each speed, and the pull with it", MACHINE, digits=4,
        ),
        *drive(now, page.fmt),
    ]  # fmt: skip


def target(page: Page) -> list[Step]:
    """What the target speed asks for at the wheel, and what the build gives where it is fastest."""
    speed, fmt = page.target_speed, page.fmt
    now, day, bike = fastest(page.build, page.run), page.build.conditions, page.build.bike
    relative = speed + day.headwind
    drag = 0.5 * now.density * bike.drag_area * relative * abs(relative)
    weight = now.mass * GRAVITY * math.cos(day.slope)
    rolling = weight * (bike.rolling_coefficient + bike.rolling_coefficient_speed_squared * speed**2)
    needed = drag + rolling + now.slope_force
    sign = "" if relative >= 0 else "−"
    along = f"({put(speed)} + {put(day.headwind)})" if day.headwind else put(speed)
    climb = f" + {put(now.slope_force)}" if now.slope_force else ""
    at = fmt("speed", speed)
    return [
        Step(
            f"Air drag at {at}", r"F_d = \tfrac{1}{2}\,\rho\,C_dA\,(v + w)\,|v + w|",
            f"{sign}0.5 × {put(now.density)} × {put(bike.drag_area)} × {along}²", drag, "N",
            f"ρ density of the air, kg/m³; CdA drag area, m²; v speed, m/s ({at}); w headwind, m/s", DRAG, "force",
        ),
        Step(
            "Power the target asks for at the wheel", r"P = (F_d + F_r + F_s)\,v",
            f"({put(drag, 5)} + {put(rolling)}{climb}) × {put(speed)}", needed * speed, "W",
            "F_d drag, F_r rolling resistance, F_s weight along a slope, N", FORCE_BALANCE, "power",
        ),
        Step(
            f"Power at the wheel now, at {fmt('speed', now.speed)}", r"P = F\,v",
            f"{put(now.drive_force, 5)} × {put(now.speed)}", now.drive_force * now.speed, "W",
            f"F drive where the run is fastest, N. What holds it there: {now.limit}", FORCE_BALANCE, "power",
        ),
        *back_emf(now, fmt),
    ]  # fmt: skip


def heat(page: Page) -> list[Step]:
    """Where heat arises in the run, at its highest phase current."""
    build, runs = page.build, page.run
    place = int(np.argmax(runs.phase_current[0]))
    now, m, c = Moment(build, runs, 0, place), build.motor, build.controller
    celsius, amps = now.winding_temperature - 273.15, now.phase_current
    copper = 1.5 * now.winding_resistance * amps**2
    lost = c.fixed_loss + c.loss_per_ampere * amps + c.loss_resistance * amps**2
    return [
        Step(
            "Resistance of the warm winding", r"R = R_{20}\,\frac{235 + T}{235 + 20}",
            f"{put(1000 * m.phase_resistance)} × (235 + {put(celsius)}) / (235 + 20)",
            1000 * now.winding_resistance, "mΩ",
            "R₂₀ phase resistance at 20 °C, mΩ; T winding temperature, °C", COPPER,
        ),
        Step(
            "Heat in the winding at the highest phase current", r"P_w = \tfrac{3}{2}\,R\,i^2",
            f"1.5 × {put(1000 * now.winding_resistance)} / 1000 × {put(amps, 5)}²", copper, "W",
            f"i peak phase current, A, {now.time:.1f} s into the run", MACHINE, "power",
        ),
        Step(
            "Heat in the controller then", r"P_c = P_0 + a\,i + R_c\,i^2",
            f"{put(c.fixed_loss)} + {put(c.loss_per_ampere)} × {put(amps, 5)} + {put(c.loss_resistance)} × "
            f"{put(amps, 5)}²", lost, "W",
            "P₀ loss with no current, W; a part with current, W/A; R_c part with current squared, ohm", PRACTICE,
            "power",
        ),
        Step(
            "How fast that warms the winding, at first", r"\frac{dT}{dt} = \frac{P_w}{C_w}",
            f"{put(copper, 5)} / {put(m.winding_heat_capacity)}", copper / m.winding_heat_capacity, "K/s",
            "C_w heat capacity of the winding, J/K. The warmer it is above the case, the more flows off", PRACTICE,
            digits=2,
        ),
    ]  # fmt: skip


def front(page: Page) -> list[Step]:
    """Drive that lifts the front wheel from a standstill, and the phase current that gives it."""
    now = Moment(page.build, page.run, 0, 0)
    lift = front_wheel(now, page.fmt)[0]
    current = (lift.value * now.radius / (now.ratio * now.efficiency) + now.iron_torque) / now.torque_per_ampere
    return [
        lift,
        *(step for step in drive(now, page.fmt) if step.unit == "N m/A"),
        Step(
            "Phase current that gives that drive",
            r"i_q = \frac{1}{k}\left(\frac{F_{lift}\,r}{G\,\eta} + T_{iron}\right)",
            f"({put(lift.value, 5)} × {put(now.radius)} / ({put(now.ratio, 5)} × {put(now.efficiency)}) + "
            f"{put(now.iron_torque)}) / {put(now.torque_per_ampere, 5)}", current, "A peak",
            "r rolling radius, m; G motor turns for one turn of the wheel; η efficiency of the driveline; T_iron "
            "drag of iron loss, N m. Against the phase limit that is the throttle at which it lifts", LOAD_TRANSFER,
        ),
    ]  # fmt: skip


def speedometer(page: Page, indicated: float, measured: float, constant: float, inverse: bool) -> list[Step]:
    """The new constant from one reading, and the regulation's band at the measured speed."""
    ratio = indicated / measured if inverse else measured / indicated
    unit, fmt = page.fmt.unit("speed"), page.fmt
    shown, true = (float(fmt.number("speed", value)) for value in (indicated, measured))
    over, under = (shown, true) if inverse else (true, shown)
    highest = measured * 3.6 * 1.1 + 4
    return [
        Step(
            "Constant from one reading", r"k' = k\,\frac{v_{shown}}{v_{true}}" if inverse
            else r"k' = k\,\frac{v_{true}}{v_{shown}}",
            f"{put(constant, 6)} × {put(over, 5)} / {put(under, 5)}", constant * ratio, "",
            f"k constant set now; v speeds, {unit}. Several readings: the least-squares line through them and zero",
            SPEEDOMETER, digits=5,
        ),
        Step(
            f"Highest it may show at a true {fmt('speed', measured, 1)}", r"V_1 \le V_2 + 0.1\,V_2 + 4",
            f"{put(measured * 3.6, 5)} + 0.1 × {put(measured * 3.6, 5)} + 4", highest, "km/h",
            "V₁ speed shown, V₂ true speed, km/h; and never less than V₂", REGULATION_39, digits=4,
        ),
    ]  # fmt: skip


def sure(count: int, of: int) -> list[Step]:
    """A chance from samples, with the end of its 95 % interval that has a closed form where all or none do."""
    made = [
        Step(
            "Chance, as the share of runs", r"p = \frac{k}{n}", f"{count} / {of}", count / of, "",
            "k runs of which it holds; n runs, each of a build drawn from what is known of every number", SAMPLING,
        )
    ]  # fmt: skip
    if count in (0, of):
        end = 0.025 ** (1 / of)
        made.append(
            Step(
                "At least" if count else "At most",
                r"p_{low} = 0.025^{1/n}" if count else r"p_{high} = 1 - 0.025^{1/n}",
                f"{'' if count else '1 − '}exp(ln(0.025) / {of})", end if count else 1 - end, "",
                "end of the 95 % interval", SAMPLING, digits=4,
            )
        )  # fmt: skip
    return made


def ride_log(fit: LogFit, labels: dict[str, str]) -> list[Step]:
    """How far each value of a log stands from the build's, in standard errors."""
    return [
        Step(
            "How far the log stands from the build, in standard errors", r"z = \frac{|x_{log} - x_{build}|}{s}",
            f"({' − '.join(put(value, 6) for value in sorted((item.value, item.present), reverse=True))}) / "
            f"{put(item.standard_error, 5)}",
            abs(item.value - item.present) / item.standard_error, "",
            "x the value, in SI units; s its standard error from the fit. Beyond 2 the two disagree", LEAST_SQUARES,
            name=labels[item.key],
        )
        for item in fit.items
        if item.identified and item.standard_error > 0
    ]  # fmt: skip
