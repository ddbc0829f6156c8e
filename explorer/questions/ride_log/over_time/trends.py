"""What rides of several dates say together: those that count, their trend, the season in it. No Streamlit."""

from __future__ import annotations

import datetime
from collections.abc import Sequence

import numpy as np

from explorer.questions.ride_log.over_time.ride_file import RideEntry
from physics.build import Build
from physics.fitting.ride_values import Measured
from physics.fitting.trend import Trend, trend

LEAST_DAYS = 30
"""From the first ride to the last; in less, a warm week looks like a trend: common practice, no source."""
MONTH = 365.25 / 12.0
"""Days."""
SEASON = 5.0
"""K; by how much later rides must be colder or warmer on the whole to be worth a word."""
OF_THE_PACK = ("resistance", "capacity_ah")


def counting(rides: Sequence[RideEntry], build: Build, name: str) -> list[RideEntry]:
    """The rides that say this value of this build's pack, or of the bike.

    Parameters
    ----------
    rides : sequence of RideEntry
        Any.
    build : Build
        Its chemistry and cells.
    name : str
        "resistance", "capacity_ah" or "drag_area".
    """
    pack = (build.pack.chemistry, build.pack.cells_in_series)
    return [
        ride
        for ride in rides
        if getattr(ride.says, name) is not None
        and (name not in OF_THE_PACK or (ride.chemistry, ride.cells) == pack)
    ]


def days(rides: Sequence[RideEntry]) -> list[int]:
    """The date of each, in days."""
    return [ride.date.toordinal() for ride in rides]


def measured(rides: Sequence[RideEntry], name: str) -> list[Measured]:
    """The value of each, SI."""
    return [getattr(ride.says, name) for ride in rides]


def trend_of(rides: Sequence[RideEntry], name: str) -> Trend:
    """The trend of a value, a day; a `TooFewError` where there are too few rides, or too close together.

    Parameters
    ----------
    rides : sequence of RideEntry
        Those that count.
    name : str
        The value.
    """
    values = measured(rides, name)
    y, width = np.array([one.value for one in values]), np.array([one.half_width for one in values])
    return trend(days(rides), y, y - width, y + width, LEAST_DAYS)


def warmer(rides: Sequence[RideEntry]) -> float:
    """How much warmer the pack was from the first ride to the last, K, along a straight line; 0 where unknown."""
    known = [(ride.date.toordinal(), ride.says.pack_temperature) for ride in rides]
    days, warm = np.array([(day, kelvin) for day, kelvin in known if kelvin is not None], float).reshape(-1, 2).T
    if np.unique(days).size < 2:
        return 0.0
    return float(np.polyfit(days - days[0], warm, 1)[0] * np.ptp(days))


def of_day(ordinal: float) -> datetime.date:
    """The date of a number of days."""
    return datetime.date.fromordinal(round(ordinal))
