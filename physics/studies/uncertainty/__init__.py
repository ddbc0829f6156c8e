"""How sure a prediction is, and which unknown matters most."""

from physics.studies.uncertainty.bands import Chance, Likely, likely
from physics.studies.uncertainty.sensitivity import Sensitivity, sensitivity
from physics.studies.uncertainty.tolerance import (
    FACTOR,
    NORMAL,
    ONE_SIDED,
    UNIFORM,
    Tolerance,
    saturation_left_out,
    unmeasured_cold_growth,
)

__all__ = [
    "FACTOR", "NORMAL", "ONE_SIDED", "UNIFORM", "Chance", "Likely", "Sensitivity", "Tolerance", "likely",
    "saturation_left_out", "sensitivity", "unmeasured_cold_growth",
]  # fmt: skip
