"""Two rides side by side: each from a start of its own, by time and by distance, and who was where, and when."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from physics.arrays import Floats
from physics.ridelog.report import RideLog
from physics.ridelog.segments import Segment

ROLLING = 1.0
"""m/s; two pulls are laid over each other as both pass it, or the faster start: a pull's first moment is noise."""
PLACES = 200
"""At which two rides are compared, evenly spaced along the way."""


@dataclass(frozen=True, eq=False)
class Course:
    """A ride from a start of its own; arrays of shape (t,).

    Attributes
    ----------
    time, distance : array, s and m
        Since the start; both rise.
    speed, pack_voltage, line_current : array, m/s, V, A
        nan where the log has none.
    """

    time: Floats
    distance: Floats
    speed: Floats
    pack_voltage: Floats
    line_current: Floats


@dataclass(frozen=True, eq=False)
class SideBySide:
    """Two rides over the distance both went.

    Attributes
    ----------
    distance : array, shape (p,), m
        Evenly spaced, to where the shorter ends.
    times, speeds : array, shape (2, p), s and m/s
        When each was there, and how fast.
    lowest_voltages : array, shape (2,), V
        Over that distance; nan where a log has none.
    """

    distance: Floats
    times: Floats
    speeds: Floats
    lowest_voltages: Floats

    @property
    def behind(self) -> float:
        """By how much the second comes to the end of that distance later, s; below zero where sooner."""
        return float(self.times[1, -1] - self.times[0, -1])


def passing(log: RideLog, pull: Segment, speed: float) -> float:
    """When a pull first passes a speed, in a straight line between two readings.

    Parameters
    ----------
    log : RideLog
        With speed.
    pull : Segment
        Of it.
    speed : float, m/s
        Looked for from two seconds before the pull.

    Returns
    -------
    float, s
        The pull's start where the speed is not passed.

    Examples
    --------
    >>> from physics.ridelog.writer import synthetic_log
    >>> log = synthetic_log([0.0, 3.0, 13.0], [0.0, 0.0, 20.0], noise=0, sample_rate=10.0)
    >>> round(passing(log, Segment("pull", 3.0, 13.0, 30, 130, 0.0, 20.0), 1.0), 6)
    3.5
    """
    time, speeds = log.column("time"), log.column("speed")
    rows = np.flatnonzero((time >= pull.start - 2.0) & (time <= pull.end) & np.isfinite(speeds))
    above = speeds[rows] >= speed
    crossed = np.flatnonzero(~above[:-1] & above[1:])
    if not crossed.size:
        return pull.start
    one, two = rows[crossed[0]], rows[crossed[0] + 1]
    share = (speed - speeds[one]) / (speeds[two] - speeds[one])
    return float(time[one] + share * (time[two] - time[one]))


def starts_of(logs: tuple[RideLog, RideLog], pulls: tuple[Segment | None, Segment | None]) -> tuple[float, float]:
    """Where two clocks start: as both bikes pass one speed in their pulls, or with the log.

    Parameters
    ----------
    logs : (RideLog, RideLog)
        Both.
    pulls : (Segment or None, Segment or None)
        The pull of each that counts; None for the start of its log.

    Returns
    -------
    (float, float), s
        On the clocks of the logs.

    Examples
    --------
    >>> from physics.ridelog.writer import synthetic_log
    >>> log = synthetic_log([0.0, 3.0, 13.0], [0.0, 0.0, 20.0], noise=0, sample_rate=10.0)
    >>> pull = Segment("pull", 3.0, 13.0, 30, 130, 0.0, 20.0)
    >>> [round(start, 6) for start in starts_of((log, log), (pull, None))]
    [3.5, 0.0]
    """
    speed = max(ROLLING, *(pull.start_speed for pull in pulls if pull is not None), ROLLING)
    first, second = (
        float(log.column("time")[0]) if pull is None else passing(log, pull, speed)
        for log, pull in zip(logs, pulls, strict=True)
    )
    return first, second


def course_of(log: RideLog, start: float, end: float = np.inf) -> Course:
    """A ride from a start, with the distance since: the integral of speed, bridged where it was lost.

    Parameters
    ----------
    log : RideLog
        With speed.
    start, end : float, s
        On the log's clock.

    Returns
    -------
    Course
        Without rows where there is no speed at all.

    Examples
    --------
    >>> from physics.ridelog.writer import synthetic_log
    >>> log = synthetic_log([0.0, 10.0], [0.0, 20.0], noise=0, sample_rate=1.0)
    >>> course_of(log, 5.0).distance.round(1).tolist()
    [0.0, 11.0, 24.0, 39.0, 56.0, 75.0]
    """
    time, speed = log.column("time"), np.abs(log.column("speed"))
    known = np.isfinite(speed)
    if not known.any():
        nothing = np.empty(0)
        return Course(nothing, nothing, nothing, nothing, nothing)
    whole = np.interp(time, time[known], speed[known])
    way = np.concatenate([[0.0], np.cumsum(0.5 * np.diff(time) * (whole[1:] + whole[:-1]))])
    rows = (time >= start) & (time <= end)
    return Course(
        time=time[rows] - start,
        distance=way[rows] - float(np.interp(start, time, way)),
        speed=speed[rows],
        pack_voltage=log.column("pack_voltage")[rows],
        line_current=log.column("line_current")[rows],
    )


def side_by_side(first: Course, second: Course) -> SideBySide | None:
    """Compare two rides over the distance both went.

    Parameters
    ----------
    first, second : Course
        From starts of their own.

    Returns
    -------
    SideBySide or None
        None where one of them went nowhere.

    Examples
    --------
    >>> from physics.ridelog.writer import synthetic_log
    >>> slow, fast = (
    ...     course_of(synthetic_log([0.0, 10.0], [v, v], noise=0), 0.0) for v in (10.0, 12.5)
    ... )
    >>> found = side_by_side(slow, fast)
    >>> round(found.behind, 6), round(float(found.distance[-1]), 6)
    (-2.0, 100.0)
    """
    both = (first, second)
    if min(course.time.size for course in both) < 2:
        return None
    length = min(float(course.distance[-1]) for course in both)
    if not length > 0:
        return None
    places = np.linspace(0.0, length, PLACES + 1)[1:]
    times, speeds, lowest = [], [], []
    for course in both:
        ahead = np.concatenate([[True], np.diff(course.distance) > 0])  # of a standstill, its first moment
        at = np.interp(places, course.distance[ahead], course.time[ahead])
        known = np.isfinite(course.speed)
        times.append(at)
        speeds.append(np.interp(at, course.time[known], course.speed[known]) if known.any() else places * np.nan)
        volts = course.pack_voltage[course.time <= at[-1]]
        lowest.append(float(np.nanmin(volts)) if np.isfinite(volts).any() else np.nan)
    return SideBySide(places, np.array(times), np.array(speeds), np.array(lowest))
