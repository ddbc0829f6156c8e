"""What a controller's identification should report, in words: values with their ends, and their derivation."""

from __future__ import annotations

import math

import pandas as pd

from explorer.derivations.derivation import Step, put
from explorer.derivations.sources import CONTROLLER, COPPER, MACHINE
from explorer.format import UnitFormatter
from explorer.page.page import Page
from explorer.page.tolerances import doubts
from physics.studies.self_check import SelfCheck, self_check
from physics.typical.spread import Typical

GIVEN_DOUBT = 0.1
"""Share by which an entered phase resistance may be off; common practice, no source."""
NOTE = (
    "Chain off, motor as warm as entered, field weakening off, full throttle for a moment. Some controllers "
    "report the resistance of one phase, some that between two wires, which is twice as much. Compare both."
)
CAUTION = (
    "An unloaded motor spins up at once: bolt it down, keep hands, chain and clothing away, and follow the "
    "controller maker's instructions. Above 60 V DC a touch can kill: wiring is for people trained for it."
)


def found_of(page: Page) -> SelfCheck | None:
    """The values; None for a motor that is a torque line."""
    if page.build.motor.torque_table:
        return None
    known = {item.path: item.half_width for item in doubts(page.inputs)}
    resistance = known.get("motor.phase_resistance", GIVEN_DOUBT)
    return self_check(page.build, known["motor.kv_rpm_per_volt"], resistance)


def verdict(page: Page, found: SelfCheck | None) -> str:
    """The three values."""
    if found is None:
        return "**Nothing to compare:** the motor was entered as a measured torque line."
    fmt = page.fmt
    speed, current = fmt("motor speed", found.speed.middle), fmt("current", found.current.middle, 1)
    resistance = fmt("resistance", found.phase_resistance.middle)
    return (
        f"**Expect about {speed} with no load at {fmt('voltage', found.voltage)}, {current} from the pack, and "
        f"{resistance} per phase.** If the controller reports anything outside the range below, check Kv, "
        "resistance and wiring."
    )


def _ends(fmt: UnitFormatter, quantity: str, value: Typical, digits: int | None = None) -> str:
    return f"{fmt.digits(quantity, value.low, digits)} to {fmt(quantity, value.high, digits)}"


def table(page: Page, found: SelfCheck) -> pd.DataFrame:
    """Each value with its ends."""
    fmt = page.fmt
    rows = [
        ("No-load speed of the motor", "motor speed", found.speed, None),
        ("No-load current from the pack", "current", found.current, 1),
        ("Resistance of one phase (line to neutral)", "resistance", found.phase_resistance, None),
        ("Resistance between two wires (line to line)", "resistance", found.line_resistance, None),
    ]
    return pd.DataFrame(
        [
            {
                "": label,
                "expected": fmt(what, value.middle, digits),
                "acceptable range": _ends(fmt, what, value, digits),
            }
            for label, what, value, digits in rows
        ]
    )


def derivation(page: Page, found: SelfCheck) -> list[Step]:
    """Speed, current and resistance."""
    motor, control = page.build.motor, page.build.controller
    speed = float(found.speed.middle)
    celsius = float(page.batch["conditions.motor_temperature"][0]) - 273.15
    return [
        Step(
            "No-load speed",
            r"n = K_v\,U\,m",
            f"{put(motor.kv_rpm_per_volt)} × {put(found.voltage, 5)} × {put(control.modulation)}",
            speed * 60 / (2 * math.pi),
            "rpm",
            "K_v speed constant, rpm/V; U pack at rest, V; m modulation. Left out: bearing drag, 1 or 2 %",
            MACHINE,
        ),
        Step(
            "No-load current",
            r"I = \frac{P_0 + (T_0 + k\,\omega)\,\omega}{U}",
            f"({put(control.fixed_loss)} + ({put(motor.iron_loss_torque)} + {put(motor.iron_loss_damping)} × "
            f"{put(speed, 5)}) × {put(speed, 5)}) / {put(found.voltage, 5)}",
            float(found.current.middle),
            "A",
            "P₀ controller, W; T₀ + k ω drag of the iron, N m; ω motor speed, rad/s. Half to twice that is "
            "usual: common practice, no source. Left out: windage, and the small copper loss",
            CONTROLLER,
        ),
        Step(
            "Resistance of one phase today",
            r"R = R_{20}\,\frac{235 + T}{235 + 20}",
            f"{put(1000 * motor.phase_resistance)} × (235 + {put(celsius)}) / (235 + 20)",
            1000 * float(found.phase_resistance.middle),
            "mΩ",
            "R₂₀ at 20 °C, mΩ; T motor temperature, °C. Between two wires it is twice that. Left out: motor "
            "leads and connectors",
            COPPER,
        ),
    ]
