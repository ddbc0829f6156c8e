"""How sure a prediction is, and which unknown matters most."""

from physics.studies.uncertainty.bands import Chance, Likely, likely
from physics.studies.uncertainty.sensitivity import Sensitivity, sensitivity
from physics.studies.uncertainty.tolerance import NORMAL, UNIFORM, Tolerance

__all__ = ["NORMAL", "UNIFORM", "Chance", "Likely", "Sensitivity", "Tolerance", "likely", "sensitivity"]
