"""The demo log: an invented ride of an invented club bike, so that the section can be tried without a bike.

The ride is simulated with a bike that is slightly different from the preset, as real bikes are: those are the
values that the fits should find.
"""

from __future__ import annotations

import functools

from explorer.inputs.presets import FIRST, PRESETS
from explorer.inputs.to_build import make_build
from physics.build import Build
from physics.build.batch import Batch
from physics.ridelog import synthetic_log, write_csv
from physics.scenarios.ride import Leg, ride

NAME, COLD_NAME = "invented_ride.csv", "invented_cold_ride.csv"
SEED = 7
OFF = {
    "pack.resistance": 58 / 52,
    "bike.drag_area": 515 / 480,
    "bike.rolling_coefficient": 1.2,
    "driveline.efficiency": 94 / 96,
    "controller.line_current_limit": 0.96,
    "bike.rolling_radius": 0.985,
}
"""What the invented bike really has, over what the preset says: its rear tyre is worn. Invented."""

LEGS = (
    Leg("stand", 6.0), Leg("pull", 24.0), Leg("coast", 34.0), Leg("brake", 4.0), Leg("stand", 30.0),
    Leg("pull", 24.0), Leg("coast", 34.0), Leg("brake", 4.0), Leg("stand", 20.0),
    Leg("pull", 35.0, speed_cap=16.0), Leg("brake", 4.0), Leg("stand", 5.0),
)  # fmt: skip
"""There and back at full throttle, each time rolled out, and a steady stretch home."""


def truly(preset: str) -> dict[str, float]:
    """What the bike really has, SI, by path in the build.

    Parameters
    ----------
    preset : str
        The build that the page starts from; the rider's own has no invented ride, and gets the first demo's.

    Examples
    --------
    >>> round(truly("supermoto")["pack.resistance"], 4)
    0.058
    """
    said = Batch.of(_build(preset))
    return {name: share * float(said[name][0]) for name, share in OFF.items()}


def _build(preset: str) -> Build:
    return make_build(PRESETS.get(preset, PRESETS[FIRST]).values())


COLD = {"conditions.pack_temperature": 279.15, "conditions.air_temperature": 279.15, "conditions.charge": 0.7}
"""Another day, K, and less charge. Invented."""


@functools.cache
def demo_csv(preset: str, cold: bool = False) -> bytes:
    """The demo log of a preset as a file: what a logger with ten readings a second would have written."""
    ridden = ride(_build(preset).change(truly(preset) | (COLD if cold else {})), LEGS)
    others = {name: values for name, values in ridden.logged(0).items() if name != "controller_temperature"}
    log = synthetic_log(
        ridden.time,
        ridden.speed[0],
        ridden.pack_voltage[0],
        ridden.line_current[0],
        others=others,
        dropouts=1,
        seed=SEED + cold,
    )
    log.frame["speed"] = log.frame["speed"].abs()
    log.frame["throttle"] = log.frame["throttle"].clip(0.0, 1.0)
    return write_csv(log).encode()
