"""Invented rides of an invented pack, so that the trend can be tried without a bike. Nothing was measured."""

from __future__ import annotations

import datetime

from explorer.questions.ride_log.over_time.ride_file import RideEntry
from physics.build import Build
from physics.build.batch import Batch
from physics.fitting.ride_values import Measured, RideValues

_RIDES = (
    # date, °C, resistance, capacity and drag area over the build's; half widths are shares too
    ((2025, 4, 6), 14.0, (0.985, 0.022), None, (1.02, 0.05)),
    ((2025, 5, 18), 19.0, (1.012, 0.018), (1.004, 0.05), (0.99, 0.04)),
    ((2025, 7, 13), 27.0, (1.030, 0.016), None, (1.01, 0.04)),
    ((2025, 9, 7), 22.0, (1.038, 0.015), (0.985, 0.05), (0.97, 0.05)),
    ((2025, 10, 26), 11.0, (1.081, 0.026), None, None),
    ((2026, 3, 29), 12.0, (1.094, 0.025), (0.966, 0.05), (1.00, 0.04)),
    ((2026, 5, 10), 20.0, (1.121, 0.017), None, (1.01, 0.04)),
)


def demo_rides(build: Build) -> list[RideEntry]:
    """Seven rides over a year of a pack that ages by about one percent a month.

    Parameters
    ----------
    build : Build
        Whose values they are shares of.
    """
    batch = Batch.of(build)
    ohms = float(batch["pack.resistance"][0]) * build.pack.resistance_growth
    hours, area = float(build.pack.capacity_ah), float(batch["bike.drag_area"][0])

    def of(whole: float, share: tuple[float, float] | None) -> Measured | None:
        return None if share is None else Measured(round(whole * share[0], 5), round(whole * share[1], 5))

    return [
        RideEntry(
            date=datetime.date(*date),
            label=f"Invented {number}",
            log="",
            chemistry=build.pack.chemistry,
            cells=build.pack.cells_in_series,
            says=RideValues(
                of(ohms, resistance), of(hours, capacity), of(area, drag), 273.15 + warm, True, 0.92, 0.55
            ),
        )
        for number, (date, warm, resistance, capacity, drag) in enumerate(_RIDES, 1)
    ]
