"""Builds to start from. All of them are invented for this page: no such bike exists.

A kart-circuit training club keeps a few home-built electric bikes: a light one for the woodland trails on its own
ground, a spare supermoto that goes to a closed airfield on cold spring mornings, and a tall-geared road build.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from explorer.inputs.catalogue import defaults
from explorer.inputs.origins import OWN, Inputs
from explorer.inputs.power_levels import LEVELS


@dataclass(frozen=True)
class Preset:
    """A named set of inputs; what it leaves out stays at its default."""

    key: str
    name: str
    story: str
    changes: dict[str, Any]

    def values(self, given: Mapping[str, Any] | None = None) -> Inputs:
        """Every input, in home units; none of them given but these."""
        return Inputs(self.key, defaults() | self.changes, given or {})


def _limits(line: tuple[float, ...], phase: tuple[float, ...]) -> dict[str, float]:
    """The limits of a demo's power levels, A; levels that a rider adds are as its strongest."""
    last = len(line) - 1
    return {
        f"{kind}_{level}": limits[min(place, last)]
        for kind, limits in (("line", line), ("phase", phase))
        for place, level in enumerate(LEVELS)
    }


_TRAIL = Preset(
    "trail",
    "Light trail bike (invented)",
    "The club's light trail bike on a mild day: short gearing, a small pack, plenty of pull, not much top end.",
    {
        "cells": 16, "capacity": 20.0, "chemistry": "nmc", "pack_resistance": 42.0,
        "kv": 70.0, **_limits((45.0, 65.0, 85.0), (120.0, 200.0, 300.0)),
        "front_teeth": 11, "rear_teeth": 60, "tyre": "100/90-18 56P",
        "bike_mass": 64.0, "rider_mass": 80.0, "posture": "upright",
        "continuous_current": 90.0, "peak_current": 140.0, "fast_current": 250.0,
        "motor_resistance": 9.0, "motor_inductance": 80.0, "regen": 10.0,
        "bike_height": 560.0, "wheelbase": 1280.0, "bike_balance": 620.0, "fork_sag": 65.0, "seat_place": 560.0,
        "rolling": 2.5,
        "target": 70.0, "air_temperature": 15.0, "charge": 90.0, "headroom_wanted": 3.0,
    },
)  # fmt: skip

_SUPERMOTO = Preset(
    "supermoto",
    "Club spare supermoto (invented)",
    "The club's spare supermoto on a cold spring morning, flat out on a closed airfield.",
    {
        "cells": 24, "capacity": 26.0, "chemistry": "nmc", "pack_resistance": 52.0,
        "kv": 62.0, "motor_inductance": 40.0, **_limits((80.0, 140.0, 200.0), (220.0, 340.0, 480.0)),
        "front_teeth": 12, "rear_teeth": 56, "tyre": "110/70-17 54H",
        "bike_mass": 118.0, "rider_mass": 82.0, "posture": "crouched",
        "target": 115.0, "air_temperature": 6.0, "charge": 95.0,
    },
)  # fmt: skip

_ROAD = Preset(
    "road",
    "Tall-geared road build (invented)",
    "The club's heavier build for the road, on a warm day: a bigger pack, geared tall for cruising.",
    {
        "cells": 28, "capacity": 45.0, "chemistry": "nmc", "pack_resistance": 38.0,
        "kv": 58.0, **_limits((110.0, 190.0, 280.0), (260.0, 400.0, 600.0)),
        "front_teeth": 15, "rear_teeth": 52, "tyre": "140/70-17 66H",
        "bike_mass": 158.0, "rider_mass": 85.0, "posture": "crouched",
        "continuous_current": 260.0, "peak_current": 360.0, "fast_current": 600.0,
        "motor_resistance": 5.0, "motor_inductance": 55.0, "regen": 60.0,
        "target": 140.0, "air_temperature": 18.0, "charge": 95.0, "headroom_wanted": 3.0, "duration": 40.0,
    },
)  # fmt: skip

PRESETS = {preset.key: preset for preset in (_TRAIL, _SUPERMOTO, _ROAD)}
FIRST = _TRAIL.key
STARTS = PRESETS | {OWN: Preset(OWN, "My bike", "Your own: what you have not given is typical.", {})}
"""What a build may start from: a preset, or nothing but the rider's own facts."""
