"""Rides that end in a cut-out, simulated once, and the logs that loggers of several kinds would have written."""

from __future__ import annotations

from functools import cache

import numpy as np

from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from physics.build import Build
from physics.build.protection import NO_RULES
from physics.ridelog import RideLog, read_log, synthetic_log, write_csv
from physics.ridelog.cut_out import CutOutLimits
from physics.scenarios.ride import Leg, Ride, ride

CASES = {
    "empty pack": ("supermoto", {"charge": 15.0}),
    "line limit above the rating": (
        "trail",
        {"line_3": 200.0, "phase_3": 500.0, "overcurrent_law": "definite time"},
    ),
    "cold pack, slow hand": ("road", {"charge": 12.0, "air_temperature": 0.0, "throttle_ramp": 2.5}),
}
"""Preset and what is changed of it: under-voltage, continuous current, under-voltage."""

KINDS = {
    "20 a second": (20.0, True),
    "10 a second": (10.0, True),
    "10 a second, no throttle": (10.0, False),
    "5 a second": (5.0, True),
    "1 a second": (1.0, True),
    "1 a second, no throttle": (1.0, False),
}
"""Readings a second, and whether the throttle is among them."""

LEGS = (
    Leg("stand", 6.0), Leg("pull", 4.0, throttle=0.5), Leg("brake", 4.0), Leg("stand", 10.0),
    Leg("pull", 14.0), Leg("coast", 8.0), Leg("brake", 4.0), Leg("stand", 4.0),
)  # fmt: skip
"""A gentle pull, a rest, and the pull that is cut short where the protection opens."""
OPENED_AT = 24.0
"""When the throttle of the second pull opens, s."""


def build_of(case: str) -> Build:
    """The build of a case."""
    preset, changes = CASES[case]
    return make_build(PRESETS[preset].values() | changes)


@cache
def ridden(case: str, protected: bool = True) -> Ride:
    """The ride of a case, with its protection or without any."""
    build = build_of(case)
    return ride(build if protected else build.change(NO_RULES), LEGS)


def log_of(made: Ride, rate: float, throttle: bool, seed: int = 3) -> RideLog:
    """What a logger would have written, read back from its file."""
    others = {name: row for name, row in made.logged(0).items() if throttle or name != "throttle"}
    arrays = made.speed[0], made.pack_voltage[0], made.line_current[0]
    log = synthetic_log(made.time, *arrays, others=others, sample_rate=rate, seed=seed)
    log.frame["speed"] = log.frame["speed"].abs()
    if throttle:
        log.frame["throttle"] = log.frame["throttle"].clip(0.0, 1.0)
    return read_log(write_csv(log).encode())


def limits_of(build: Build) -> CutOutLimits:
    """The build's thresholds."""
    rules, pack = build.pack.protection, build.pack
    return CutOutLimits(
        under_voltage=pack.cells_in_series * rules.cell_undervoltage,
        fast_current=rules.fast_current if np.isfinite(rules.fast_current) else None,
        continuous_current=rules.continuous_current,
        continuous_time=rules.peak_time,
    )
