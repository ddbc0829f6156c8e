"""Inputs of the section "Speedometer"; they take part in the share link and in undo like all others."""

from __future__ import annotations

from explorer.inputs.spec import InputSpec

SPEEDOMETER, SPEEDOMETER_CONSTANT, SPEEDOMETER_READING = (
    "Speedometer", "Speedometer constant", "Speedometer reading",
)  # fmt: skip
DIRECT, INVERSE = "direct", "inverse"
MOTOR, REAR_WHEEL, FRONT_WHEEL = "motor", "rear", "front"
STEPS = {"whole": 1.0, "tenths": 0.1}
"""Last step of an instrument, in the rider's unit of speed."""

# After UNECE R.E.3, Consolidated Resolution on the Construction of Vehicles; from memory.
_CLASSES = (
    ("L1", "L1: two-wheeled moped"), ("L2", "L2: three-wheeled moped"), ("L3", "L3: motorcycle"),
    ("L4", "L4: motorcycle with sidecar"), ("L5", "L5: three-wheeler"), ("L6", "L6: light quadricycle"),
    ("L7", "L7: quadricycle"), ("M", "M: car"), ("N", "N: goods vehicle"),
)  # fmt: skip
_RESOLUTION = (("whole", "in whole numbers"), ("tenths", "in tenths"))


def speedometer_inputs() -> list[InputSpec]:
    """Every input of the section."""
    return [
        InputSpec("speedo_constant", "Current constant", SPEEDOMETER_CONSTANT, 1, 99999, 1, 1000,
               help="The wheel number in the display's settings: pulses, circumference, a factor, "
                    "whatever its maker calls it."),
        InputSpec("speedo_way", "On this speedometer", SPEEDOMETER, kind="options", default=DIRECT,
               options=((DIRECT, "a larger constant reads higher"), (INVERSE, "a larger constant reads lower")),
               help="Try it: raise the constant a little and see whether the reading goes up or down."),
        InputSpec("speedo_display_step", "Speed is displayed", SPEEDOMETER, kind="options", default="whole",
               options=_RESOLUTION),
        InputSpec("speedo_gps_step", "Measured speed is given", SPEEDOMETER, kind="options", default="tenths",
               options=_RESOLUTION,
               help="From GPS, or a stopwatch over a measured stretch; its last digit, not its accuracy."),
        InputSpec("speedo_sensor", "Speed sensor on", SPEEDOMETER, kind="options", default=MOTOR,
               options=((MOTOR, "the motor"), (REAR_WHEEL, "the rear wheel"), (FRONT_WHEEL, "the front wheel")),
               help="Decides what new sprockets or a new rear tyre do to the reading."),
        InputSpec("speedo_class", "Vehicle class", SPEEDOMETER, kind="options", default="L3", options=_CLASSES),
        InputSpec("speedo_shown", "The display shows", SPEEDOMETER_READING, 5, 200, 1, 80, "km/h", "mph",
               us_default=50),
    ]  # fmt: skip
