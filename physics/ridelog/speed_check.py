"""The unit of a speed that names none: held against the positions, or else against how hard bikes brake."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from physics.ridelog.gpx import distance_between
from physics.ridelog.quantities import QUANTITIES, factor_to_si

# Choices of this package.
WINDOW = 2.0  # s between the positions that are compared
WIDEST = 10.0  # s; over a longer step the track may have turned
SHORTEST_WAY = 6.0  # m
FEWEST_WINDOWS = 8
AGREES = (0.8, 1.25)
SURE = 0.08  # of a factor
# Strongest speeding up and slowing down of a ride with stops, m/s2: common practice, no source.
GENTLEST_UP, GENTLEST_DOWN = 0.7, 0.9
STANDING, SLOWEST_TOP, FASTEST_UNNAMED = 0.3, 2.0, 45.0  # m/s


@dataclass(frozen=True)
class SpeedUnit:
    """What a speed column turns out to be in.

    Parameters
    ----------
    unit : str
        One of the units a speed is accepted in.
    factor : float
        By which values read in the unit assumed must be multiplied.
    reason : str
        Why, in a sentence.
    """

    unit: str
    factor: float
    reason: str


def ratio_to_positions(
    time: ArrayLike,
    speed: ArrayLike,
    latitude: ArrayLike,
    longitude: ArrayLike,
    segment: NDArray[np.int_] | None = None,
) -> float:
    """Return how many times the distance between positions the distance of a speed column is.

    Distances are compared over windows of two seconds and more between positions that differ, since a receiver
    often has fewer positions a second than a logger has rows. The median of the windows counts.

    Parameters
    ----------
    time : array, shape (n,), s
        Increasing.
    speed : array, shape (n,), m/s
        nan where lost.
    latitude, longitude : array, shape (n,), degrees
        nan where lost.
    segment : array of int, shape (n,), optional
        Points of different segments are never joined.

    Returns
    -------
    float
        nan where fewer than eight windows of more than 6 m can be compared.

    Examples
    --------
    >>> t = np.arange(0.0, 60.0, 0.1)
    >>> north = 50.0 + np.floor(t) * 20.0 / 111_229.0  # one position a second
    >>> round(ratio_to_positions(t, np.full(t.size, 20.0), north, np.full(t.size, 8.0)), 2)
    1.0
    """
    t, v, lat, lon = (np.asarray(x, float) for x in (time, speed, latitude, longitude))
    part = np.zeros(t.size, int) if segment is None else np.asarray(segment)
    seen = np.flatnonzero(np.isfinite(lat) & np.isfinite(lon))
    if seen.size < FEWEST_WINDOWS:
        return np.nan
    moved = np.concatenate([[True], (np.diff(lat[seen]) != 0.0) | (np.diff(lon[seen]) != 0.0)])
    nodes = seen[moved]
    nodes = nodes[np.unique(np.floor(t[nodes] / WINDOW), return_index=True)[1]]
    step = np.diff(t)
    mean = 0.5 * (v[1:] + v[:-1])
    known = np.isfinite(mean)
    way = np.concatenate([[0.0], np.cumsum(np.where(known, mean * step, 0.0))])
    lost = np.concatenate([[0], np.cumsum(~known)])
    first, last = nodes[:-1], nodes[1:]
    across = distance_between(lat[first], lon[first], lat[last], lon[last])
    good = (lost[last] == lost[first]) & (part[last] == part[first]) & (t[last] - t[first] <= WIDEST)
    good &= (across > SHORTEST_WAY) & (way[last] > way[first])
    if good.sum() < FEWEST_WINDOWS:
        return np.nan
    return float(np.median((way[last] - way[first])[good] / across[good]))


def unit_by_positions(ratio: float, assumed: str) -> SpeedUnit | None:
    """Return the unit that makes a speed column agree with the positions; None where it agrees, or none does.

    Parameters
    ----------
    ratio : float
        From `ratio_to_positions`, with the column read in the unit assumed; may be nan.
    assumed : str
        That unit.

    Returns
    -------
    SpeedUnit or None

    Examples
    --------
    >>> unit_by_positions(0.279, "km/h").unit
    'm/s'
    """
    if not np.isfinite(ratio) or AGREES[0] < ratio < AGREES[1]:
        return None
    own = factor_to_si("speed", assumed)[1]
    factors = {unit: factor_to_si("speed", unit)[1] / own for unit in QUANTITIES["speed"].accepted}
    unit = min(factors, key=lambda name: abs(np.log(ratio * factors[name])))
    if abs(np.log(ratio * factors[unit])) > SURE:
        return None
    return SpeedUnit(unit, factors[unit], f"in {unit} it agrees with the positions, in {assumed} it does not")


def unit_by_riding(time: ArrayLike, speed: ArrayLike, assumed: str) -> SpeedUnit | None:
    """Return metres per second where a ride read as km/h would be too gentle to be one, else None.

    Only a ride that starts from a standstill, comes back to one, and as m/s stays below 45 m/s is judged: its
    strongest speeding up and slowing down over a second.

    Parameters
    ----------
    time : array, shape (n,), s
        Increasing.
    speed : array, shape (n,), m/s
        Read in the unit assumed.
    assumed : str
        Only "km/h" is judged.

    Returns
    -------
    SpeedUnit or None

    Examples
    --------
    >>> t = np.arange(0.0, 60.0, 0.1)
    >>> v = np.interp(t, [0, 5, 15, 40, 48, 60], [0, 0, 20, 20, 0, 0])  # brakes at 2.5 m/s2
    >>> unit_by_riding(t, v / 3.6, "km/h").unit, unit_by_riding(t, v, "km/h")
    ('m/s', None)
    """
    t, v = np.asarray(time, float), np.asarray(speed, float)
    known = np.isfinite(v)
    t, v = t[known], v[known]
    if assumed != "km/h" or t.size < 20 or not t[-1] - t[0] > 20.0:
        return None
    top = int(np.argmax(v))
    stands = max(v[: top + 1].min(), v[top:].min()) < STANDING
    if not stands or not SLOWEST_TOP < v[top] < FASTEST_UNNAMED / 3.6:
        return None
    change = np.diff(np.interp(np.arange(t[0], t[-1], 1.0), t, v))  # over one second each
    up, down = float(change.max()), float(-change.min())
    if up < GENTLEST_UP and down < GENTLEST_DOWN:
        return SpeedUnit(
            "m/s",
            3.6,
            f"m/s is taken, since in km/h the bike would brake with {down:.1f} m/s² at most; choose km/h if so",
        )
    return None
