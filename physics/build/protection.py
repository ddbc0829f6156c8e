"""The rules by which a pack's protection cuts out, and the laws by which over-current counts."""

import math
from dataclasses import dataclass

from physics.build.fields import Fault, Part, Relation, number

UNKNOWN_LAW, DEFINITE_TIME, SQUARE_OF_CURRENT = OVERCURRENT_LAWS = (
    "unknown",
    "definite time",
    "square of current",
)
"""Laws by which time above the continuous current counts; with "unknown" both run, the first that is full opens."""


@dataclass(frozen=True)
class Protection(Part):
    """Rules by which the pack's protection cuts out. Infinity (or zero for a floor) switches a rule off.

    `overcurrent_law` is one of OVERCURRENT_LAWS; `physics.simulation.protection` says what each means.
    """

    RELATIONS = (Relation("peak_current", "at least", "continuous_current"),)

    continuous_current: float = number(math.inf, "A", 1, 5000, "line current allowed for ever", off=True)
    peak_current: float = number(math.inf, "A", 1, 10000, "line current allowed for peak_time", off=True)
    peak_time: float = number(10.0, "s", 0.1, 600, "how long the peak current is allowed")
    fast_current: float = number(math.inf, "A", 1, 20000, "line current that opens after fast_delay", off=True)
    fast_delay: float = number(0.1, "s", 0.001, 10, "delay of the fast over-current rule")
    cell_undervoltage: float = number(0.0, "V", 0, 4, "weakest-cell voltage that opens on discharge")
    undervoltage_delay: float = number(1.0, "s", 0.001, 60, "delay of the under-voltage rule")
    cell_overvoltage: float = number(math.inf, "V", 3, 5, "cell voltage that opens on charge", off=True)
    overvoltage_delay: float = number(1.0, "s", 0.001, 60, "delay of the over-voltage rule")
    discharge_temperature_minimum: float = number(233.15, "K", 200, 400, "coldest pack that may discharge")
    discharge_temperature_maximum: float = number(333.15, "K", 200, 450, "hottest pack that may discharge")
    charge_temperature_minimum: float = number(273.15, "K", 200, 400, "coldest pack that may charge")
    charge_temperature_maximum: float = number(318.15, "K", 200, 450, "hottest pack that may charge")
    temperature_delay: float = number(2.0, "s", 0.001, 60, "delay of the temperature rules")
    overcurrent_law: str = UNKNOWN_LAW

    def faults(self, prefix: str = "pack.protection.") -> list[Fault]:
        """Every wrong field of the protection, its law included."""
        faults = super().faults(prefix)
        if self.overcurrent_law not in OVERCURRENT_LAWS:
            accepts = "one of " + ", ".join(OVERCURRENT_LAWS)
            faults.append(Fault(prefix + "overcurrent_law", self.overcurrent_law, accepts))
        return faults


NO_RULES = {
    "pack.protection.continuous_current": math.inf,
    "pack.protection.peak_current": math.inf,
    "pack.protection.fast_current": math.inf,
    "pack.protection.cell_undervoltage": 0.0,
    "pack.protection.undervoltage_delay": 60.0,  # some packs are calculated to sag below 0 V
    "pack.protection.discharge_temperature_minimum": 200.0,
    "pack.protection.discharge_temperature_maximum": 450.0,
}
"""Changes for a calculation without a cut-out, to see what lies beyond it. Never a setting for a pack."""
