"""The working behind the answer: what resists where the bike is fastest, what drives it, and the limit that holds.

Pure functions from a run (or a `Page`) to lists of `explorer.derivations.derivation.Step`; nothing here draws.
The pack's side stands in why_pack.py, what the other sections need in why_parts.py.
"""

from __future__ import annotations

import math

from explorer.derivations.derivation import Moment, Step, fastest, put
from explorer.derivations.sources import (
    CONTROLLER,
    DRAG,
    FORCE_BALANCE,
    GEARING,
    LOAD_TRANSFER,
    MACHINE,
    PRACTICE,
    ROLLING,
    TORQUE,
)
from explorer.format import UnitFormatter
from explorer.page.page import Page
from physics.components.air import STANDARD_GRAVITY as GRAVITY


def answer(page: Page) -> list[Step]:
    """The working behind the answer at the top: the forces where it is fastest, and what holds there."""
    now = fastest(page.build, page.run)
    return [*resistances(now, page.fmt), *held(now, page.fmt), *left_over(now, page.fmt)]


def resistances(now: Moment, fmt: UnitFormatter) -> list[Step]:
    """What resists on the road: drag, rolling resistance, slope."""
    bike, day = now.build.bike, now.build.conditions
    at = fmt("speed", now.speed)
    wind = f" − {put(-day.headwind)}" if day.headwind < 0 else f" + {put(day.headwind)}"
    along = f"({put(now.speed)}{wind})" if day.headwind else put(now.speed)
    sign = "" if now.speed + day.headwind >= 0 else "−"
    made = [
        Step(
            f"Air drag at {at}", r"F_d = \tfrac{1}{2}\,\rho\,C_dA\,(v + w)\,|v + w|",
            f"{sign}0.5 × {put(now.density)} × {put(bike.drag_area)} × {along}²", now.drag_force, "N",
            f"ρ density of the air, kg/m³; CdA drag area, m²; v speed, m/s ({at}); w headwind, m/s", DRAG, "force",
        ),
        Step(
            f"Rolling resistance at {at}", r"F_r = m\,g\,\cos\alpha\,(c_0 + c_2 v^2)",
            f"{put(now.mass)} × {put(GRAVITY)} × {put(math.cos(day.slope), 5)} × "
            f"({put(bike.rolling_coefficient)} + {put(bike.rolling_coefficient_speed_squared)} × "
            f"{put(now.speed)}²)",
            now.rolling_force, "N",
            f"m mass of bike and rider, kg ({fmt('mass', now.mass)}); g gravity, m/s²; α slope; "
            "c₀, c₂ rolling coefficients", ROLLING, "force",
        ),
    ]  # fmt: skip
    if day.slope:
        made.append(
            Step(
                "Weight along the slope", r"F_s = m\,g\,\sin\alpha",
                f"{put(now.mass)} × {put(GRAVITY)} × {put(math.sin(day.slope))}", now.slope_force, "N",
                "α angle of the road, uphill above zero", FORCE_BALANCE, "force",
            )
        )  # fmt: skip
    return made


def left_over(now: Moment, fmt: UnitFormatter) -> list[Step]:
    """Acceleration: what the drive has left over the resistances; nothing where the bike stands still."""
    if now.speed <= 0 and now.acceleration == 0:  # it neither gains speed nor rolls back
        return []
    parts = [now.drive_force, now.drag_force, now.rolling_force, *([now.slope_force] if now.slope_force else [])]
    step = Step(
        "What is left to gain speed with", r"a = \frac{F - F_d - F_r - F_s}{m_e}",
        f"({' − '.join(put(part, 5) for part in parts)}) / {put(now.inertia)}", now.acceleration, "m/s²",
        "F drive at the road, N; mₑ mass with wheels and rotor, kg. At zero the speed is settled; here the bike "
        f"does {fmt('speed', now.speed)}", FORCE_BALANCE, places=2,
    )  # fmt: skip
    return [step]


def held(now: Moment, fmt: UnitFormatter) -> list[Step]:
    """The limit that holds at an instant, in its own formula."""
    makers = {
        "voltage": at_the_voltage_limit, "field weakening": at_the_voltage_limit, "line current": power_given,
        "front wheel": front_wheel,
        "rear grip": _rear_grip, "winding heat": _winding_heat, "controller heat": _controller_heat,
        "low voltage foldback": _foldback, "speed cap": _speed_cap, "throttle": _throttle,
    }  # fmt: skip
    return [*makers.get(now.limit, _nothing)(now, fmt), *drive(now, fmt)]


def drive(now: Moment, fmt: UnitFormatter) -> list[Step]:
    """From phase current to force at the road."""
    if now.drive_force < 0:
        return []
    return [
        Step(
            "Torque for each ampere", r"k = \frac{\sqrt{3}}{2}\,\frac{60}{2\pi K_v}",
            f"√3 / 2 × 60 / (2 × 3.1416 × {put(now.build.motor.kv_rpm_per_volt)})", now.torque_per_ampere,
            "N m/A", "Kv speed constant, rpm for each volt of line-to-line peak", TORQUE,
        ),
        Step(
            "Drive at the road", r"F = (k\,i_q - T_{iron})\,\frac{G\,\eta}{r}",
            f"({put(now.torque_per_ampere, 5)} × {put(now.i_q, 5)} − {put(now.iron_torque)}) × "
            f"{put(now.ratio, 5)} × {put(now.efficiency)} / {put(now.radius)}", now.drive_force, "N",
            "i_q part of the peak phase current that makes torque, A; T_iron drag of iron loss, N m; G motor turns "
            "for one turn of the wheel; η efficiency of the driveline; r rolling radius, m", FORCE_BALANCE, "force",
        ),
    ]  # fmt: skip


def back_emf(now: Moment, fmt: UnitFormatter) -> list[Step]:
    """Motor speed and its back-EMF."""
    return [
        Step(
            f"Motor speed at {fmt('speed', now.speed)}", r"n = \frac{60}{2\pi}\,\frac{v\,G}{r}",
            f"60 / (2 × 3.1416) × {put(now.speed)} × {put(now.ratio, 5)} / {put(now.radius)}", now.rpm, "rpm",
            "v speed, m/s; G motor turns for one turn of the wheel; r rolling radius, m", GEARING,
            digits=4,
        ),
        Step(
            "Back-EMF, line to line, peak", r"E = n / K_v",
            f"{put(now.rpm)} / {put(now.build.motor.kv_rpm_per_volt)}", now.rpm / now.build.motor.kv_rpm_per_volt,
            "V", "n motor speed, rpm; Kv speed constant, rpm/V", MACHINE, digits=4,
        ),
    ]  # fmt: skip


def motor_voltage(now: Moment) -> float:
    """Line-to-line peak voltage at the motor's terminals, V."""
    turning = now.motor_speed * now.pole_pairs
    resistance, inductance = now.winding_resistance, now.build.motor.phase_inductance
    direct = resistance * now.i_d - turning * inductance * now.i_q
    across = resistance * now.i_q + turning * (inductance * now.i_d + now.flux)
    return math.sqrt(3) * math.hypot(direct, across)


def at_the_voltage_limit(now: Moment, fmt: UnitFormatter) -> list[Step]:
    turning = now.motor_speed * now.pole_pairs
    build, reactance = now.build, turning * now.build.motor.phase_inductance
    resistance, flux = put(now.winding_resistance), put(turning * now.flux, 5)
    i_q, i_d = put(now.i_q, 5), put(now.i_d, 5)
    return [
        *back_emf(now, fmt),
        Step(
            "Voltage the motor asks for",
            r"V = \sqrt{3}\,\sqrt{(R\,i_d - X i_q)^2 + (R\,i_q + X i_d + \omega\lambda)^2}",
            f"√3 × √(({resistance} × {i_d} − {put(reactance)} × {i_q})² + "
            f"({resistance} × {i_q} + {put(reactance)} × {i_d} + {flux})²)",
            motor_voltage(now), "V",
            "R phase resistance, warm, ohm; X = ωL reactance, ohm; i_q, i_d the torque and the field part of the "
            "peak phase current, A; ωλ back-EMF of one phase, V", MACHINE, digits=4,
        ),
        Step(
            "Voltage the controller can give", r"V_{most} = U\,u",
            f"{put(now.pack_voltage)} × {put(build.controller.modulation)}",
            now.pack_voltage * build.controller.modulation, "V",
            "U pack voltage under load, V; u modulation. Where the two are equal, voltage holds", MACHINE,
            digits=4,
        ),
    ]  # fmt: skip


def power_given(now: Moment, fmt: UnitFormatter) -> list[Step]:
    taken = now.pack_voltage * now.line_current
    made = [
        Step(
            "Power the pack gives", r"P = U\,I", f"{put(now.pack_voltage)} × {put(now.line_current)}", taken, "W",
            "U pack voltage under load, V; I line current, A", CONTROLLER, "power",
        )
    ]  # fmt: skip
    if taken > 0 and now.drive_force > 0:
        share = now.drive_force * now.speed / taken
        made.append(
            Step(
                "Of which reaches the road", r"\eta = \frac{F\,v}{P}",
                f"{put(now.drive_force, 5)} × {put(now.speed)} / {put(taken, 5)}", share, "",
                "F drive at the road, N; v speed, m/s; the rest is heat in motor, controller and chain",
                FORCE_BALANCE,
            )
        )  # fmt: skip
    return made


def front_wheel(now: Moment, fmt: UnitFormatter) -> list[Step]:
    bike, slope = now.build.bike, now.build.conditions.slope
    along, height = bike.centre_of_gravity_to_rear_axle, bike.centre_of_gravity_height
    lift = now.mass * GRAVITY * math.cos(slope) * along / height + now.rolling_force
    lift += now.drag_force * (1 - bike.drag_height / height)
    return [
        Step(
            "Drive that lifts the front wheel",
            r"F_{lift} = \frac{m\,g\,b\cos\alpha}{h} + F_r + F_d\left(1 - \frac{h_d}{h}\right)",
            f"{put(now.mass)} × {put(GRAVITY)} × {put(along)} × {put(math.cos(slope), 5)} / {put(height)} "
            f"+ {put(now.rolling_force)} + {put(now.drag_force)} × (1 − {put(bike.drag_height)} / {put(height)})",
            lift, "N",
            "b, h balance point before the rear axle and above the road, m; h_d height at which drag acts, m; F_r, "
            "F_d rolling resistance and drag, N", LOAD_TRANSFER, "force",
        )
    ]  # fmt: skip


def _rear_grip(now: Moment, fmt: UnitFormatter) -> list[Step]:
    bike, slope = now.build.bike, now.build.conditions.slope
    height, weight = bike.centre_of_gravity_height, now.mass * GRAVITY * math.cos(slope)
    moment = weight * bike.centre_of_gravity_to_rear_axle - (now.drive_force - now.rolling_force) * height
    front = max((moment - now.drag_force * (bike.drag_height - height)) / bike.wheelbase, 0.0)
    return [
        Step(
            "Largest drive the rear tyre carries", r"F_{slip} = \mu\,(m\,g\cos\alpha - N_f)",
            f"{put(bike.grip)} × ({put(weight)} − {put(front, 5)})", bike.grip * (weight - front), "N",
            "µ grip of the rear tyre; m g cos α weight on the road, N; N_f load left on the front wheel, N",
            LOAD_TRANSFER, "force",
        )
    ]  # fmt: skip


def _folded(heading: str, value: float, start: float, end: float, fmt: UnitFormatter) -> list[Step]:
    """Share of a limit that is left while it folds back with temperature."""
    left = min(max(1 - (value - start) / (end - start), 0.0), 1.0)
    kelvin = 273.15
    return [
        Step(
            heading, r"s = 1 - \frac{T - T_1}{T_2 - T_1}",
            f"1 − ({put(value - kelvin)} − {put(start - kelvin)}) / "
            f"({put(end - kelvin)} − {put(start - kelvin)})",
            left, "",
            f"T temperature now, °C ({fmt('temperature', value)}); T₁, T₂ where the limit begins to fold and "
            "where nothing is left, °C", PRACTICE, digits=2,
        )
    ]  # fmt: skip


def _winding_heat(now: Moment, fmt: UnitFormatter) -> list[Step]:
    m = now.build.motor
    edges = (m.winding_foldback_start, m.winding_temperature_maximum)
    return _folded("Share of the phase limit that heat leaves", now.winding_temperature, *edges, fmt)


def _controller_heat(now: Moment, fmt: UnitFormatter) -> list[Step]:
    c = now.build.controller
    edges = (c.foldback_start_temperature, c.temperature_maximum)
    return _folded("Share of the phase limit that heat leaves", now.controller_temperature, *edges, fmt)


def _foldback(now: Moment, fmt: UnitFormatter) -> list[Step]:
    c = now.build.controller
    start, end = c.foldback_start_voltage, c.foldback_end_voltage
    current = c.line_current_limit * (now.pack_voltage - end) / (start - end)
    return [
        Step(
            "Line current the foldback leaves", r"I = I_{limit}\,\frac{U - U_2}{U_1 - U_2}",
            f"{put(c.line_current_limit)} × ({put(now.pack_voltage, 6)} − {put(end)}) / "
            f"({put(start)} − {put(end)})",
            current, "A",
            "U pack voltage under load, V; U₁, U₂ where the limit begins to fold and where nothing is left, V",
            PRACTICE,
        )
    ]  # fmt: skip


def _speed_cap(now: Moment, fmt: UnitFormatter) -> list[Step]:
    cap = now.build.controller.speed_cap
    return [
        Step(
            "How near the cap it is", r"v / v_{cap}", f"{put(now.speed)} / {put(cap)}", now.speed / cap, "",
            f"v speed, m/s; v_cap speed cap, m/s ({fmt('speed', cap)}); drive fades out over the last 2 %",
            PRACTICE,
        )
    ]  # fmt: skip


def _throttle(now: Moment, fmt: UnitFormatter) -> list[Step]:
    c = now.build.controller
    opened = now.build.controller.throttle
    if c.throttle_ramp_time > 0:
        opened = min(opened, now.time / c.throttle_ramp_time)
    return [
        Step(
            "Phase current the throttle asks for", r"i = s\,I_{phase}",
            f"{put(opened)} × {put(c.phase_current_limit)}", opened * c.phase_current_limit, "A peak",
            "s throttle, 0 to 1; I_phase phase current limit, A peak", PRACTICE,
        )
    ]  # fmt: skip


def _nothing(now: Moment, fmt: UnitFormatter) -> list[Step]:
    return []
