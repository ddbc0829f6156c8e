"""What a build can do while it is held at a speed: force against speed, and when the front wheel lifts."""

from physics.studies.force.against_speed import OWN_LIMITS, ForceAgainstSpeed, around_cap, force_against_speed
from physics.studies.force.front_wheel import (
    LIFTED,
    LIGHT,
    FrontWheel,
    force_against_throttle,
    front_wheel,
    levels_of,
    phase_limit_that_holds,
)

__all__ = [
    "LIFTED", "LIGHT", "OWN_LIMITS", "ForceAgainstSpeed", "FrontWheel", "around_cap", "force_against_speed",
    "force_against_throttle", "front_wheel", "levels_of", "phase_limit_that_holds",
]  # fmt: skip
