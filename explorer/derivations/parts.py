"""The working behind gearing, target, heat, front wheel, speedometer, chances and a ride log."""

from __future__ import annotations

import numpy as np

from explorer.derivations.derivation import Moment, Step, put
from explorer.derivations.run import drive, front_wheel
from explorer.derivations.sources import (
    COPPER,
    LOAD_TRANSFER,
    MACHINE,
    PRACTICE,
)
from explorer.page.page import Page


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
