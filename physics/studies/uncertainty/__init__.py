"""How sure a prediction is, and which unknown matters most."""

from physics.studies.uncertainty.bands import Chance, Likely, likely
from physics.studies.uncertainty.sensitivity import Sensitivity, sensitivity
from physics.studies.uncertainty.tolerance import FACTOR, NORMAL, UNIFORM, Tolerance, unmeasured_cold_growth

__all__ = [
    "FACTOR", "NORMAL", "UNIFORM", "Chance", "Likely", "Sensitivity", "Tolerance", "likely", "sensitivity",
    "unmeasured_cold_growth",
]  # fmt: skip
