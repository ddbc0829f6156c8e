"""The demo log: an invented ride of the invented club bike, so that the section can be tried without a bike.

The ride is simulated with a bike that is slightly different from the preset, as real bikes are: those are the
values that the fits should find.
"""

from __future__ import annotations

import functools

from explorer.inputs.presets import FIRST, PRESETS
from explorer.inputs.to_build import make_build
from physics.build.batch import Batch
from physics.ridelog import synthetic_log, write_csv
from physics.scenarios.ride import Leg, ride

NAME = "invented_ride.csv"
SEED = 7
TRULY = {
    "pack.resistance": 0.058,
    "bike.drag_area": 0.515,
    "bike.rolling_coefficient": 0.018,
    "driveline.efficiency": 0.94,
    "controller.line_current_limit": 192.0,
}
"""What the invented bike really has, SI; the preset says 52 mohm, 0.48 m2, 1.5 %, 96 % and 200 A. Invented."""
TRULY_SMALLER_TYRE = 0.985
"""Its rear tyre is worn."""

LEGS = (
    Leg("stand", 6.0), Leg("pull", 24.0), Leg("coast", 34.0), Leg("brake", 4.0), Leg("stand", 30.0),
    Leg("pull", 24.0), Leg("coast", 34.0), Leg("brake", 4.0), Leg("stand", 20.0),
    Leg("pull", 35.0, speed_cap=16.0), Leg("brake", 4.0), Leg("stand", 5.0),
)  # fmt: skip
"""There and back at full throttle, each time rolled out, and a steady stretch home."""


@functools.cache
def demo_csv() -> bytes:
    """The demo log as a file: what a logger with ten readings a second would have written."""
    build = make_build(PRESETS[FIRST].values())
    radius = float(Batch.of(build)["bike.rolling_radius"][0])
    ridden = ride(build.change(TRULY | {"bike.rolling_radius": radius * TRULY_SMALLER_TYRE}), LEGS)
    others = {name: values for name, values in ridden.logged(0).items() if name != "controller_temperature"}
    log = synthetic_log(
        ridden.time,
        ridden.speed[0],
        ridden.pack_voltage[0],
        ridden.line_current[0],
        others=others,
        dropouts=1,
        seed=SEED,
    )
    log.frame["speed"] = log.frame["speed"].abs()
    log.frame["throttle"] = log.frame["throttle"].clip(0.0, 1.0)
    return write_csv(log).encode()
