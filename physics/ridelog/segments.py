"""Parts of a ride: standstills, pulls, coast-downs, steady stretches."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from physics.arrays import Floats
from physics.ridelog.cleaning import GAP_STEPS, SHORTEST_GAP, stretches
from physics.ridelog.report import RideLog

MOST_PARTS = 12
"""Of one kind; of more, those over the widest span of speed are fitted."""

FEWEST_SMOOTHED = 3
"""Rows over which speed is averaged at least: one position a second leaves noise that would break a coast-down."""

KINDS = ("standstill", "pull", "coast-down", "steady")


@dataclass(frozen=True)
class SegmentRules:
    """What counts as which part of a ride. Common practice, no source, except where said.

    Parameters
    ----------
    smoothing : float, s
        Speed is averaged over this long before it is differentiated.
    standstill_speed : float, m/s
        Below it the bike stands.
    standstill_time, pull_time, coast_time, steady_time : float, s
        Shortest of each kind.
    pull_acceleration : float, m/s2
        Above it the bike is pulled.
    pull_gain, coast_loss : float, m/s
        Smallest change of speed.
    coast_speed : float, m/s
        Below it a coast-down ends.
    coast_drag : float, 1/m
        A coast-down slows by no more than coast_rolling + coast_drag v^2; beyond it, the brake is on. 0.0025 is a
        drag area of 0.8 m2 on 190 kg.
    coast_rolling : float, m/s2
        0.3 is a rolling resistance of 0.03.
    steady_acceleration : float, m/s2
        Below it, either way, the speed is steady.
    idle_fraction : float
        Line current below this share of its 99th percentile (and 2 A at least) drives nothing.
    """

    smoothing: float = 1.0
    standstill_speed: float = 0.5
    standstill_time: float = 2.0
    pull_time: float = 1.5
    coast_time: float = 4.0
    steady_time: float = 4.0
    pull_acceleration: float = 0.4
    pull_gain: float = 3.0
    coast_loss: float = 2.0
    coast_speed: float = 2.0
    coast_drag: float = 0.0025
    coast_rolling: float = 0.3
    steady_acceleration: float = 0.15
    idle_fraction: float = 0.02


@dataclass(frozen=True)
class Segment:
    """One part of a ride.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    start, end : float, s
        First and last time.
    first, last : int
        Rows of the frame, `last` not included.
    start_speed, end_speed : float, m/s
        Smoothed speed at both ends.
    note : str
        What the log leaves open; empty if nothing.
    """

    kind: str
    start: float
    end: float
    first: int
    last: int
    start_speed: float
    end_speed: float
    note: str = ""

    @property
    def duration(self) -> float:
        """Length, s."""
        return self.end - self.start


def running_mean(values: Floats, count: int) -> Floats:
    """Return the mean over an odd number of neighbours, fewer near the ends.

    Parameters
    ----------
    values : array, shape (n,)
        Without gaps.
    count : int
        Odd; below 3 nothing is done.

    Returns
    -------
    array, shape (n,)
        The window shrinks evenly near the ends, so that a straight line stays one.

    Examples
    --------
    >>> running_mean(np.array([0.0, 3.0, 0.0, 3.0]), 3).tolist()
    [0.0, 1.0, 2.0, 3.0]
    """
    if count < 3:
        return values
    half = count // 2
    sums = np.concatenate([[0.0], np.cumsum(values)])
    i = np.arange(values.size)
    reach = np.minimum(np.minimum(i, values.size - 1 - i), half)
    return (sums[i + reach + 1] - sums[i - reach]) / (2 * reach + 1)


def _closed(mask: NDArray[np.bool_], time: Floats, hole: float) -> NDArray[np.bool_]:
    """Fill holes shorter than `hole` seconds between two stretches."""
    mask = mask.copy()
    for a, b in stretches(~mask):
        if a > 0 and b < mask.size and time[b] - time[a - 1] < hole:
            mask[a:b] = True
    return mask


def _undriven(log: RideLog, rules: SegmentRules) -> NDArray[np.bool_] | None:
    """Return where nothing drives the bike (bool), or None when the log does not hold it."""
    if log.holds("line_current"):
        current = log.column("line_current")
        if np.isfinite(current).any():
            top = float(np.nanpercentile(np.abs(current), 99))
            return np.abs(current) <= max(2.0, rules.idle_fraction * top)
    if log.holds("throttle"):
        return log.column("throttle") < 0.02
    return None


def find_segments(log: RideLog, rules: SegmentRules | None = None) -> tuple[Segment, ...]:
    """Find standstills, pulls, coast-downs and steady stretches.

    No part reaches over a gap in the recording or a stretch without speed. Parts of different kinds never overlap
    but for a coast-down that is also steady, which counts as coast-down.

    Parameters
    ----------
    log : RideLog
        With speed; line current or throttle tell coasting from riding on.
    rules : SegmentRules, optional
        Defaults if not given.

    Returns
    -------
    tuple of Segment
        In the order of time; empty when the log has no speed.

    Examples
    --------
    >>> from physics.ridelog.writer import synthetic_log
    >>> log = synthetic_log([0.0, 5.0, 15.0, 25.0], [0.0, 0.0, 30.0, 30.0], noise=0)
    >>> [s.kind for s in find_segments(log)]
    ['standstill', 'pull', 'steady']
    """
    rules = rules or SegmentRules()
    if not log.holds("speed"):
        return ()
    t, v = log.column("time"), log.column("speed")
    if t.size < 5:
        return ()
    usual = float(np.median(np.diff(t)))
    count = int(np.clip(np.round(rules.smoothing / usual), FEWEST_SMOOTHED, t.size)) | 1
    undriven = _undriven(log, rules)
    broken = np.concatenate([[True], np.diff(t) > max(GAP_STEPS * usual, SHORTEST_GAP)])
    part = np.cumsum(broken)
    segments = []
    for a, b in stretches(np.isfinite(v)):
        edges = [a, *(np.flatnonzero(np.diff(part[a:b])) + a + 1).tolist(), b]
        for first, last in pairwise(edges):
            if last - first >= 5:
                idle = None if undriven is None else undriven[first:last]
                segments += _segments_of(t[first:last], v[first:last], idle, count, first, rules)
    return tuple(sorted(segments, key=lambda s: (s.start, KINDS.index(s.kind))))


def _segments_of(
    t: Floats, v: Floats, idle: NDArray[np.bool_] | None, count: int, offset: int, rules: SegmentRules
) -> list[Segment]:
    """Find the segments of one unbroken part."""
    u = running_mean(v, min(count, v.size))
    a = np.gradient(u, t)
    out = []

    def add(
        mask: NDArray[np.bool_], kind: str, shortest: float, change: float = 0.0, note: str = "", blurred: int = 0
    ) -> NDArray[np.bool_]:
        taken = np.zeros(t.size, bool)
        for start, end in stretches(_closed(mask, t, 0.5)):
            i, j = start + blurred, end - blurred
            if j - i >= 2 and t[j - 1] - t[i] >= shortest and abs(u[j - 1] - u[i]) >= change:
                out.append(
                    Segment(
                        kind,
                        float(t[i]),
                        float(t[j - 1]),
                        offset + i,
                        offset + j,
                        float(u[i]),
                        float(u[j - 1]),
                        note,
                    )
                )
                taken[start:end] = True
        return taken

    standing = u < rules.standstill_speed
    used = add(standing, "standstill", rules.standstill_time)
    driven = np.ones(t.size, bool) if idle is None else ~idle
    pulled = (a > rules.pull_acceleration) & ~standing & driven & ~used
    used |= add(pulled, "pull", rules.pull_time, rules.pull_gain)
    coasting = (a < 0.0) & (-a < rules.coast_rolling + rules.coast_drag * u**2) & (u > rules.coast_speed)
    note = ""
    if idle is None:
        note = "Without line current or throttle in the log this may be riding on a closing throttle."
    else:
        coasting &= idle
    # With a row a second, two at either end hold some of what came before or after, by the mean and by positions.
    blurred = count // 2 + 1 if np.median(np.diff(t)) > 0.5 * rules.smoothing else 0
    used |= add(coasting & ~used, "coast-down", rules.coast_time, rules.coast_loss, note, blurred)
    add((np.abs(a) < rules.steady_acceleration) & (u > rules.coast_speed) & ~used, "steady", rules.steady_time)
    return out


def samples_of(log: RideLog, kind: str, segments: Sequence[Segment] | None = None) -> pd.DataFrame:
    """Return the rows of all segments of one kind, numbered by segment, ready for the fits.

    Parameters
    ----------
    log : RideLog
        The log the segments were found in.
    kind : str
        One of `KINDS`.
    segments : sequence of Segment, optional
        From `find_segments`, which is asked if not given.

    Returns
    -------
    DataFrame
        Columns of the log and "part", 0, 1, ...; without rows when there is no such segment.

    Raises
    ------
    ValueError
        When there is no such kind.

    Examples
    --------
    >>> from physics.ridelog.writer import synthetic_log
    >>> log = synthetic_log([0.0, 5.0, 15.0, 25.0], [0.0, 0.0, 30.0, 30.0], noise=0)
    >>> rows = samples_of(log, "pull")
    >>> sorted(rows.columns), rows["part"].unique().tolist()
    (['part', 'speed', 'time'], [0])
    """
    if kind not in KINDS:
        raise ValueError(f"No segment is of kind {kind!r}; accepted are {', '.join(KINDS)}.")
    chosen = [s for s in (find_segments(log) if segments is None else segments) if s.kind == kind]
    rows = np.concatenate([np.arange(s.first, s.last) for s in chosen]) if chosen else np.empty(0, int)
    parts = np.concatenate([np.full(s.last - s.first, k) for k, s in enumerate(chosen)]) if chosen else rows
    return log.frame.iloc[rows].assign(part=parts).reset_index(drop=True)


def widest(segments: Sequence[Segment], kind: str) -> list[Segment]:
    """Return the parts of one kind over the widest span of speed, twelve at the most, in the order of time.

    Parameters
    ----------
    segments : sequence of Segment
        Any.
    kind : str
        One of `KINDS`.

    Returns
    -------
    list of Segment
    """
    those = sorted((s for s in segments if s.kind == kind), key=lambda s: -abs(s.end_speed - s.start_speed))
    return sorted(those[:MOST_PARTS], key=lambda s: s.start)
