"""What the speed of a ride says by itself: length, times, stops, climbs, and how long each speed was ridden."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from physics.arrays import Floats
from physics.ridelog.cleaning import GAP_STEPS, SHORTEST_GAP, stretches
from physics.ridelog.report import RideLog
from physics.ridelog.segments import SegmentRules, running_mean

# Choices of this package.
SMOOTHED = 1.0  # s, over which the top speed is held
SMALLEST_CLIMB = 5.0  # m; a receiver's altitude wanders by less
SPEED_STEP = 5.0 / 3.6  # m/s, width of a bin


@dataclass(frozen=True, eq=False)
class Track:
    """A ride by its speed.

    Parameters
    ----------
    length : float, m
        Of the way: speed over time, pauses of the recording left out.
    duration, moving_time : float, s
        From first to last row, and how much of it above standstill.
    unknown_time : float, s
        Without a speed: pauses of the recording, and where it was lost.
    top_speed, moving_speed : float, m/s
        Held for a second; mean above standstill.
    stops : int
        Standstills of two seconds and more between two stretches of riding.
    climbed, descended : float, m
        Each rise and fall of 5 m and more; nan without altitude.
    bin_edges : array, shape (b + 1,), m/s
        Of the speeds in `bin_times`.
    bin_times : array, shape (b,), s
        How long each speed was ridden.
    """

    length: float
    duration: float
    moving_time: float
    unknown_time: float
    top_speed: float
    moving_speed: float
    stops: int
    climbed: float
    descended: float
    bin_edges: Floats
    bin_times: Floats


def track_of(log: RideLog, rules: SegmentRules | None = None, speed_step: float = SPEED_STEP) -> Track | None:
    """Work out what a ride's speed says.

    Parameters
    ----------
    log : RideLog
        With speed; altitude tells the climbs.
    rules : SegmentRules, optional
        What counts as a standstill.
    speed_step : float, m/s
        Width of the bins of speed, above zero.

    Returns
    -------
    Track or None
        None when the log has no speed.

    Examples
    --------
    >>> from physics.ridelog.writer import synthetic_log
    >>> track = track_of(synthetic_log([0.0, 10.0, 110.0, 120.0], [0.0, 20.0, 20.0, 0.0], noise=0))
    >>> round(track.length), round(track.top_speed), track.stops
    (2200, 20, 0)
    """
    rules = rules or SegmentRules()
    t, v = log.column("time"), np.abs(log.column("speed"))
    if t.size < 2 or not np.isfinite(v).any():
        return None
    step = np.diff(t)
    usual = float(np.median(step))
    mean = 0.5 * (v[1:] + v[:-1])
    known = np.isfinite(mean) & (step <= max(GAP_STEPS * usual, SHORTEST_GAP))
    mean, spent = mean[known], step[known]
    moving = mean >= rules.standstill_speed
    length, moving_time = float(mean @ spent), float(spent[moving].sum())
    edges = np.arange(0.0, (mean.max(initial=0.0) // speed_step + 2) * speed_step, speed_step)
    up, down = _climbs(log.column("altitude"))
    return Track(
        length=length,
        duration=float(t[-1] - t[0]),
        moving_time=moving_time,
        unknown_time=float(step[~known].sum()),
        top_speed=_held(v, usual),
        moving_speed=float(mean[moving] @ spent[moving]) / moving_time if moving_time > 0 else 0.0,
        stops=_stops(t, v, rules),
        climbed=up,
        descended=down,
        bin_edges=edges,
        bin_times=np.histogram(mean, edges, weights=spent)[0],
    )


def _held(speed: Floats, usual: float) -> float:
    """The highest speed held for a second: one reading may be a fault of the receiver."""
    count = int(np.clip(np.round(SMOOTHED / usual), 1, speed.size)) | 1
    return max(float(running_mean(speed[a:b], count).max()) for a, b in stretches(np.isfinite(speed)))


def _stops(time: Floats, speed: Floats, rules: SegmentRules) -> int:
    """Standstills between two stretches of riding."""
    stands = speed < rules.standstill_speed
    return sum(
        bool(a > 0 and b < speed.size and time[b - 1] - time[a] >= rules.standstill_time)
        for a, b in stretches(stands)
    )


def _climbs(altitude: Floats) -> tuple[float, float]:
    """The sums of all rises and of all falls of 5 m and more; nan where there is no altitude."""
    heights = altitude[np.isfinite(altitude)]
    if heights.size < 2:
        return np.nan, np.nan
    up = down = 0.0
    turn = low = high = float(heights[0])
    way = 0  # 1 up, -1 down, 0 while neither is sure
    for height in heights[np.flatnonzero(np.diff(heights, prepend=np.nan))].tolist():
        low, high = min(low, height), max(high, height)
        if way >= 0 and high - height >= SMALLEST_CLIMB:
            up += way * (high - turn)
            turn, low, way = high, height, -1
        elif way <= 0 and height - low >= SMALLEST_CLIMB:
            down -= way * (turn - low)
            turn, high, way = low, height, 1
    return up + max(way, 0) * (high - turn), down - min(way, 0) * (turn - low)
