"""What the readings make of the constant, and what other parts would make of it. Numbers only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from explorer.inputs.catalogue import INPUTS
from explorer.inputs.speedometer import INVERSE, MOTOR, STEPS
from explorer.page.page import Page
from physics.build import Build
from physics.build.batch import Batch
from physics.studies.speedometer import (
    PooledCalibration,
    constant_after_change,
    pooled_calibration,
    reading_after_change,
)


@dataclass(frozen=True)
class Instrument:
    """How the display is set.

    Attributes
    ----------
    constant : float
        Set now.
    inverse : bool
        Whether a larger constant reads lower.
    sensor : str
        Whose turns it counts: motor, rear or front wheel.
    at : float, m/s
        A speed it shows, asked about.
    """

    constant: float
    inverse: bool
    sensor: str
    at: float


def instrument(page: Page) -> Instrument:
    """The display as the rider describes it."""
    inputs = page.inputs
    at = float(INPUTS["speedo_shown"].si(inputs["speedo_shown"]))
    return Instrument(
        float(inputs["speedo_constant"]), inputs["speedo_way"] == INVERSE, inputs["speedo_sensor"], at
    )


def pool(page: Page, readings: Sequence[tuple[float, float]]) -> PooledCalibration | None:
    """All readings as one constant; None where there are none."""
    if not readings:
        return None
    unit = page.fmt.si("speed", 1.0)
    return pooled_calibration(
        float(page.inputs["speedo_constant"]),
        [shown for shown, _ in readings],
        [true for _, true in readings],
        inverse=page.inputs["speedo_way"] == INVERSE,
        display_resolution=float(unit * STEPS[page.inputs["speedo_display_step"]]),
        gps_resolution=float(unit * STEPS[page.inputs["speedo_gps_step"]]),
    )


def gearing_of(build: Build) -> tuple[float, float]:
    """Rolling radius of the rear wheel, m, and motor turns per wheel turn."""
    line = build.driveline
    radius = float(Batch.of(build)["bike.rolling_radius"][0])
    return radius, line.primary_ratio * line.rear_teeth / line.front_teeth


def after_change(before: Build, after: Build, display: Instrument) -> tuple[float, float]:
    """What a display that was right shows at the speed asked about, m/s, and the constant it needs then."""
    (old_radius, old_ratio), (radius, ratio) = gearing_of(before), gearing_of(after)
    where = "motor" if display.sensor == MOTOR else "wheel"
    return (
        float(reading_after_change(display.at, where, old_radius, radius, old_ratio, ratio)),
        float(
            constant_after_change(
                display.constant, where, old_radius, radius, old_ratio, ratio, inverse=display.inverse
            )
        ),
    )


TEETH = (("rear", (-4, -2, -1, 1, 2, 4)), ("front", (-1, 1)))
TYRES = (0.97, 0.985, 1.03)
"""Changes that are tried: teeth more or fewer, and the tyre's size as a factor."""


def nearest_changes(build: Build, sensor: str) -> list[tuple[str, float, Build]]:
    """The nearest changes of what the display depends on, those left out that make no build.

    Returns
    -------
    list of (what, size, Build)
        "front" or "rear" with its teeth, or "tyre" with its factor.
    """
    line, radius = build.driveline, gearing_of(build)[0]
    tried: list[tuple[str, float, dict[str, float]]] = []
    if sensor == MOTOR:
        for end, steps in TEETH:
            teeth = line.rear_teeth if end == "rear" else line.front_teeth
            tried += [(end, teeth + step, {f"driveline.{end}_teeth": teeth + step}) for step in steps]
    tried += [("tyre", factor, {"bike.rolling_radius": radius * factor}) for factor in TYRES]
    result = []
    for what, size, changes in tried:
        try:
            result.append((what, size, replace(build, name="").change(changes)))
        except ValueError:
            continue
    return result
