"""Inputs of the section that says how sure a prediction is: how well each unknown is known.

The half-widths' defaults are those of physics/studies/uncertainty/tolerance.py: common practice, no source.
"""

from __future__ import annotations

from explorer.inputs.spec import InputSpec

SURE = "How well you know each value"

TYPICAL_DRAG, TYPICAL_RESISTANCE = 20.0, 60.0
"""Where a typical value stands in for a measured one, at least so many percent of drag area and pack resistance."""


def sure_inputs() -> list[InputSpec]:
    """Every input of the section."""
    return [
        InputSpec("sure_drag", "Drag area, ±", SURE, 0, 50, 1, 10, "%",
               help="About 5 % after good coast-downs. A typical value for the riding position counts as at "
                    "least 20 %."),
        InputSpec("sure_rolling", "Rolling resistance, ±", SURE, 0, 60, 1, 25, "%",
               help="Tyre, pressure and surface: about 10 % after good coast-downs."),
        InputSpec("sure_resistance", "Pack resistance, ±", SURE, 0, 60, 1, 15, "%",
               help="About 5 % after a measured pull. A typical value counts as 60 %: packs with the same "
                    "rating differ by a factor of two and more."),
        InputSpec("sure_kv", "Motor Kv, ±", SURE, 0, 20, 0.5, 4, "%",
               help="Under 1 % once you have measured back-EMF or no-load speed."),
        InputSpec("sure_weight", "Weight of bike and rider, ±", SURE, 0, 30, 0.5, 4, "kg", "lb",
               help="Scales under each wheel, rider in gear."),
        InputSpec("sure_air", "Air temperature, ±", SURE, 0, 10, 0.5, 2, "degC difference", "degF difference",
               help="Anywhere in this range is equally likely."),
        InputSpec("sure_pack_temperature", "Pack temperature, ±", SURE, 0, 15, 0.5, 3, "degC difference",
               "degF difference", help="Of the cells inside, not the case."),
        InputSpec("sure_wind", "Wind, ±", SURE, 0, 30, 0.5, 7, "km/h", "mph",
               help="Only the part along your direction, gusts included. Runs in both directions show it."),
        InputSpec("sure_charge", "Charge, ±", SURE, 0, 15, 0.5, 3, "%",
               help="A rest voltage is good to about 2 %, worse on the flat part of an iron-phosphate "
                    "pack."),
        InputSpec("sure_weakest", "Weakest cell: charge deficit, ±", SURE, 0, 10, 0.5, 1.5, "%",
               help="Rested cell voltages at low charge show it."),
        InputSpec("sure_cold_growth", "Growth of resistance in the cold, ±", SURE, 0, 60, 1, 10, "%",
               help="About 10 % if you measured the resistance on a mild and a cold day. A typical value is "
                    "only as good as cells of one chemistry are alike: half to nearly twice. It matters only "
                    "below 25 °C."),
        InputSpec("sure_leads", "Leads, fuse, switch, connectors, ±", SURE, 0, 100, 5, 30, "%",
               help="If you have not entered their resistance, it counts as anything up to 4 mΩ."),
        InputSpec("sure_modulation", "Maximum motor voltage / pack voltage, ±", SURE, 0, 10, 0.5, 2, "%",
               help="If you have not entered it, it counts as ±5 %: some controllers hold voltage back, some "
                    "overmodulate."),
        InputSpec("sure_magnets", "Magnets weaken with heat, ±", SURE, 0, 100, 5, 25, "%",
               help="If you have not entered a value, it counts as anything up to 0.11 %/K."),
        InputSpec("sure_saturation", "Current at which torque or inductance falls, ±", SURE, 0, 60, 1, 15, "%",
               help="If you have not entered them, either may be down by up to 10 % at the phase limit. The "
                    "band on the run leaves that out; the chances here include it."),
    ]  # fmt: skip
