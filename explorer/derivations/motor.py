"""Motor and controller: torque and drive, back-EMF, the voltage the motor asks for, the power the pack gives."""

from __future__ import annotations

import math

from explorer.derivations.derivation import Instant, Step, put
from explorer.derivations.sources import CONTROLLER, FORCE_BALANCE, GEARING, MACHINE, TORQUE
from explorer.format import UnitFormatter


def drive(now: Instant, fmt: UnitFormatter) -> list[Step]:
    """From phase current to force at the road."""
    if now.drive_force < 0:
        return []
    formula, weaker = r"k = \frac{\sqrt{3}}{2}\,\frac{60}{2\pi K_v}", now.flux_share != 1
    return [
        Step(
            "Torque per amp",
            formula + (r"\,s" if weaker else ""),
            f"√3 / 2 × 60 / (2 × 3.1416 × {put(now.build.motor.kv_rpm_per_volt)})"
            + (f" × {put(now.flux_share)}" if weaker else ""),
            now.torque_per_ampere,
            "N m/A",
            "Kv speed constant, rpm per volt of line-to-line peak"
            + ("; s share of the flux at 20 °C and low current that is left" if weaker else ""),
            TORQUE,
        ),
        Step(
            "Drive at the road",
            r"F = (k\,i_q - T_{iron})\,\frac{G\,\eta}{r}",
            f"({put(now.torque_per_ampere, 5)} × {put(now.i_q, 5)} − {put(now.iron_torque)}) × "
            f"{put(now.ratio, 5)} × {put(now.efficiency)} / {put(now.radius)}",
            now.drive_force,
            "N",
            "i_q part of the peak phase current that makes torque, A; T_iron drag of iron loss, N m; G "
            "motor turns for one turn of the wheel; η driveline efficiency; r rolling radius, m",
            FORCE_BALANCE,
            "force",
        ),
    ]


def back_emf(now: Instant, fmt: UnitFormatter) -> list[Step]:
    """Motor speed and its back-EMF."""
    return [
        Step(
            f"Motor speed at {fmt('speed', now.speed)}",
            r"n = \frac{60}{2\pi}\,\frac{v\,G}{r}",
            f"60 / (2 × 3.1416) × {put(now.speed)} × {put(now.ratio, 5)} / {put(now.radius)}",
            now.rpm,
            "rpm",
            "v speed, m/s; G motor turns for one turn of the wheel; r rolling radius, m",
            GEARING,
            digits=4,
        ),
        Step(
            "Back-EMF, line to line, peak",
            r"E = n / K_v",
            f"{put(now.rpm)} / {put(now.build.motor.kv_rpm_per_volt)}",
            now.rpm / now.build.motor.kv_rpm_per_volt,
            "V",
            "n motor speed, rpm; Kv speed constant, rpm/V",
            MACHINE,
            digits=4,
        ),
    ]


def motor_voltage(now: Instant) -> float:
    """Line-to-line peak voltage at the motor's terminals, V."""
    turning = now.motor_speed * now.pole_pairs
    resistance, inductance = now.winding_resistance, now.inductance
    direct = resistance * now.i_d - turning * inductance * now.i_q
    across = resistance * now.i_q + turning * (inductance * now.i_d + now.flux)
    return math.sqrt(3) * math.hypot(direct, across)


def at_the_voltage_limit(now: Instant, fmt: UnitFormatter) -> list[Step]:
    """Back-EMF, the voltage the motor asks for with it, and the voltage there is."""
    turning = now.motor_speed * now.pole_pairs
    build, reactance = now.build, turning * now.inductance
    resistance, flux = put(now.winding_resistance), put(turning * now.flux, 5)
    i_q, i_d = put(now.i_q, 5), put(now.i_d, 5)
    return [
        *back_emf(now, fmt),
        Step(
            "Voltage the motor needs",
            r"V = \sqrt{3}\,\sqrt{(R\,i_d - X i_q)^2 + (R\,i_q + X i_d + \omega\lambda)^2}",
            f"√3 × √(({resistance} × {i_d} − {put(reactance)} × {i_q})² + "
            f"({resistance} × {i_q} + {put(reactance)} × {i_d} + {flux})²)",
            motor_voltage(now),
            "V",
            "R phase resistance, warm, ohm; X = ωL reactance, ohm; i_q, i_d the torque and the field part of the "
            "peak phase current, A; ωλ back-EMF of one phase, V",
            MACHINE,
            digits=4,
        ),
        Step(
            "Voltage the controller can give",
            r"V_{most} = U\,u",
            f"{put(now.pack_voltage)} × {put(build.controller.modulation)}",
            now.pack_voltage * build.controller.modulation,
            "V",
            "U pack voltage under load, V; u modulation. Where the two are equal, voltage is the limit",
            MACHINE,
            digits=4,
        ),
    ]


def power_given(now: Instant, fmt: UnitFormatter) -> list[Step]:
    """Power from the pack, and the fraction of it that reaches the road."""
    taken = now.pack_voltage * now.line_current
    steps = [
        Step(
            "Power the pack gives",
            r"P = U\,I",
            f"{put(now.pack_voltage)} × {put(now.line_current)}",
            taken,
            "W",
            "U pack voltage under load, V; I line current, A",
            CONTROLLER,
            "power",
        )
    ]
    if taken > 0 and now.drive_force > 0:
        steps.append(
            Step(
                "Share that reaches the road",
                r"\eta = \frac{F\,v}{P}",
                f"{put(now.drive_force, 5)} × {put(now.speed)} / {put(taken, 5)}",
                now.drive_force * now.speed / taken,
                "",
                "F drive at the road, N; v speed, m/s; the rest is heat in motor, controller and chain",
                FORCE_BALANCE,
            )
        )
    return steps
