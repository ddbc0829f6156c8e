"""All parts and settings of one bike: what every number accepts, the parts, builds as files and as arrays."""

from physics.build.example import example_build
from physics.build.parts import (
    Bike,
    Build,
    Conditions,
    Controller,
    Driveline,
    Motor,
    Pack,
    PowerLevel,
)
from physics.build.protection import NO_RULES, OVERCURRENT_LAWS, Protection

__all__ = [
    "NO_RULES",
    "OVERCURRENT_LAWS",
    "Bike",
    "Build",
    "Conditions",
    "Controller",
    "Driveline",
    "Motor",
    "Pack",
    "PowerLevel",
    "Protection",
    "example_build",
]
