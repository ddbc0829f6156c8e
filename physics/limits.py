"""The names of the limits that can hold a bike back, and of the rules by which the protection cuts out.

At every instant of a run exactly one limit is named as the one that holds. A run stores the index of a limit
in `LIMITS`, so that whole batches stay arrays of small integers.
"""

LIMITS = (
    "throttle",
    "phase current",
    "line current",
    "voltage",
    "field weakening",
    "front wheel",
    "rear grip",
    "winding heat",
    "controller heat",
    "low-voltage cutback",
    "speed cap",
    "cut-out",
)
"""Every limit; its index in this tuple is what a run stores."""

(
    THROTTLE,
    PHASE_CURRENT,
    LINE_CURRENT,
    VOLTAGE,
    FIELD_WEAKENING,
    FRONT_WHEEL,
    REAR_GRIP,
    WINDING_HEAT,
    CONTROLLER_HEAT,
    LOW_VOLTAGE_CUTBACK,
    SPEED_CAP,
    CUT_OUT,
) = range(len(LIMITS))

RULES = (
    "continuous current",
    "timed over-current",
    "fast over-current",
    "under-voltage",
    "pack temperature",
)
"""The protection's rules that can open on discharge; its index in this tuple is what a run stores."""

CONTINUOUS_CURRENT, TIMED_OVER_CURRENT, FAST_OVER_CURRENT, UNDER_VOLTAGE, PACK_TEMPERATURE = range(len(RULES))
