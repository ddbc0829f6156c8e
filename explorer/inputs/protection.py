"""Inputs of the pack's protection: its rules, their thresholds and delays.

Thresholds that are switched off take what is typical of the chemistry.
"""

from __future__ import annotations

from typing import Any

from explorer.inputs.spec import InputSpec
from physics.components.cell import CHEMISTRY_KEYS, chemistry
from physics.components.thresholds import typical_thresholds

PROTECTION = "Battery protection (BMS)"
LAWS = (
    ("unknown", "not sure: the stricter of the two"), ("definite time", "plain timer"),
    ("square of current", "the square of current"),
)  # fmt: skip


def _typical(place: int) -> str:
    """What stands for a threshold of the protection that the rider does not know."""
    each = (f"{typical_thresholds(key)[place]:.2f} V for {chemistry(key).name}" for key in CHEMISTRY_KEYS)
    return f"If off, the page uses a typical value: {'; '.join(each)}."


def protection_inputs() -> list[InputSpec]:
    """Every input of the group."""

    def one(key: str, label: str, field: str, *numbers: Any, **more: Any) -> InputSpec:
        more |= {"path": f"pack.protection.{field}", "advanced": True}
        return InputSpec(key, label, PROTECTION, *numbers, **more)

    return [
        one("continuous_current", "Continuous current", "continuous_current", 20, 600, 5, 180, "A", kind="limit",
            switch="Continuous-current rule", start=180, help="Line current the BMS allows indefinitely."),
        one("peak_current", "Peak current", "peak_current", 20, 1000, 5, 240, "A", kind="limit",
            switch="Peak-current rule", start=240, help="Line current the BMS allows for the peak time."),
        one("peak_time", "Peak time", "peak_time", 0.5, 60, 0.5, 10, "s",
            help="How long the peak current may flow. If time counts by the square of current, anything between "
                 "continuous and peak may flow for longer; with a plain timer it may not."),
        one("overcurrent_law", "Time above continuous counts by", "overcurrent_law", kind="options",
            default="unknown", options=LAWS,
            help="Most BMSs run a plain timer above one threshold and reset it below: enter that threshold as "
                 "the continuous current and its delay as the peak time. Some weigh by the square of current. "
                 "If the maker does not say, both run here and the first to trip counts."),
        one("fast_current", "Fast over-current", "fast_current", 50, 2000, 10, 400, "A", kind="limit",
            switch="Fast over-current rule", start=400, help="Line current that trips it almost at once."),
        one("fast_delay", "Fast over-current delay", "fast_delay", 1, 1000, 1, 20, "ms",
            help="How long the current has to stay above it."),
        one("undervoltage", "Cell under-voltage", "cell_undervoltage", 1.5, 3.6, 0.05, None, "V", kind="optional",
            switch="I know the cell under-voltage", start=2.8,
            help="Loaded voltage of the weakest cell below which the pack cuts out. " + _typical(0)),
        one("undervoltage_delay", "Under-voltage delay", "undervoltage_delay", 0.05, 20, 0.05, 1.0, "s",
            help="How long the voltage has to stay below it."),
        one("overvoltage", "Cell over-voltage", "cell_overvoltage", 3.4, 4.5, 0.01, None, "V", kind="optional",
            switch="I know the cell over-voltage", start=4.25,
            help="Voltage of the fullest cell above which the BMS stops charging. " + _typical(1)),
        one("overvoltage_delay", "Over-voltage delay", "overvoltage_delay", 0.05, 20, 0.05, 1.0, "s",
            help="How long the voltage has to stay above it."),
        one("discharge_minimum", "Lowest pack temperature to discharge", "discharge_temperature_minimum",
            -40, 10, 1, -20, "degC", "degF"),
        one("discharge_maximum", "Highest pack temperature to discharge", "discharge_temperature_maximum",
            40, 90, 1, 60, "degC", "degF"),
        one("charge_minimum", "Lowest pack temperature to charge", "charge_temperature_minimum", -30, 15, 1, 0,
            "degC", "degF",
            help="Charging a cold lithium cell plates lithium and damages it permanently: keep to the "
                 "cell maker's limit."),
        one("charge_maximum", "Highest pack temperature to charge", "charge_temperature_maximum", 30, 80, 1, 45,
            "degC", "degF"),
    ]  # fmt: skip
