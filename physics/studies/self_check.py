"""What a controller's own identification of the motor should report, if the build is as entered.

At full throttle without field weakening and with nothing to drive, the motor turns at Kv times the bus voltage
times the modulation, less a little for what turns it. Iron and controller then take

    I = (P_0 + (T_0 + k w) w) / U

Between two motor wires a controller or a meter finds twice the resistance of one phase, which is line to neutral.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from physics.build import Build
from physics.build.batch import Batch
from physics.components import motor, pack
from physics.typical.spread import Typical, around

BELOW = 0.02
"""Share by which an unloaded motor may stay below Kv times the voltage; common practice, no source."""
LOSS_LOW, LOSS_HIGH = 0.5, 2.0
"""No-load current over what is worked out, bearings and windage being what they are; common practice, no source."""


@dataclass(frozen=True)
class SelfCheck:
    """Values to compare, each as a `Typical`.

    Attributes
    ----------
    voltage : float, V
        Of the pack at rest.
    speed : Typical, rad/s
        Of the unloaded motor at full throttle.
    current : Typical, A
        From the pack meanwhile, the chain off.
    phase_resistance, line_resistance : Typical, ohm
        Line to neutral, and between two wires; at the motor's temperature of the day.
    """

    voltage: float
    speed: Typical
    current: Typical
    phase_resistance: Typical
    line_resistance: Typical

    @property
    def message(self) -> str:
        """The middle of each in a sentence."""
        rpm = float(self.speed.middle) * 60 / (2 * np.pi)
        return (
            f"{rpm:.0f} rpm, {self.current.middle:.1f} A, {1000 * self.phase_resistance.middle:.1f} mohm a phase."
        )


def self_check(build: Build, kv_doubt: float = 0.04, resistance_doubt: float = 0.1) -> SelfCheck:
    """What to expect of a controller's identification.

    Parameters
    ----------
    build : Build
        Its motor is no torque table.
    kv_doubt, resistance_doubt : float
        Shares by which the speed constant and the phase resistance may be off, 0 or above, below 1.

    Returns
    -------
    SelfCheck

    Raises
    ------
    ValueError
        For a motor that is a torque table, or a doubt that is not accepted.

    Examples
    --------
    >>> from physics.build import example_build
    >>> self_check(example_build()).message
    '6048 rpm, 3.6 A, 6.0 mohm a phase.'
    """
    if build.motor.torque_table:
        raise ValueError("Self-check: a measured torque line has no constants to compare.")
    for name, value in (("kv_doubt", kv_doubt), ("resistance_doubt", resistance_doubt)):
        if not 0 <= value < 1:
            raise ValueError(f"Self-check, {name}: got {value!r}; accepts a number from 0 to below 1.")
    given, control = build.motor, build.controller
    volts = float(pack.rest_voltage(build.pack.chemistry, build.pack.cells_in_series, build.conditions.charge))
    top = float(motor.no_load_speed(given.kv_rpm_per_volt, volts, control.modulation))
    speed = around(top, (1.0 - kv_doubt) * (1.0 - BELOW), 1.0 + kv_doubt)
    torque = given.iron_loss_torque + given.iron_loss_damping * top
    current = around((control.fixed_loss + torque * top) / volts, LOSS_LOW, LOSS_HIGH)
    temperature = float(Batch.of(build)["conditions.motor_temperature"][0])
    resistance = float(motor.winding_resistance(given.phase_resistance, temperature))
    phase = around(resistance, 1.0 - resistance_doubt, 1.0 + resistance_doubt)
    return SelfCheck(volts, speed, current, phase, Typical(*(2.0 * value for value in phase)))
