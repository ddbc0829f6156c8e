"""Order, gaps, dropouts and unit jumps: what is looked for in a log once its cells are numbers."""

from __future__ import annotations

from bisect import bisect_left

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from physics.arrays import Floats
from physics.ridelog.quantities import QUANTITIES

# Choices of this package: what counts as a gap, a dropout and a jump.
GAP_STEPS = 5.0  # times the usual step
SHORTEST_GAP = 0.5  # s
SHORTEST_DROPOUT = 1.0  # s
MOST_NAMED = 50

_JUMP_FACTORS = {
    "speed": (3.6, 1.609344, 3600 / 1609.344, 1.852, 3600 / 1852),
    "motor_speed": (60 / (2 * np.pi), 2.0, 3.0, 4.0, 5.0, 7.0, 10.0),
    "pack_voltage": (10.0, 1000.0),
    "line_current": (10.0, 1000.0),
    "phase_current": (np.sqrt(2.0), 10.0, 1000.0),
    "altitude": (1 / 0.3048,),
}
_JUMP_FLOOR = {
    "speed": 3.0,
    "motor_speed": 20.0,
    "pack_voltage": 1.0,
    "line_current": 5.0,
    "phase_current": 5.0,
    "altitude": 30.0,
}
_JUMP_WINDOW = 10


def rising(time: ArrayLike) -> NDArray[np.bool_]:
    """Return which rows to keep so that time strictly rises, as many as can be.

    Rows without a time are left out. Where time is out of order the longest strictly increasing subsequence is
    kept (patience sorting), so that one wild stamp costs one row, not all that follow.

    Parameters
    ----------
    time : array, shape (n,), s
        As read.

    Returns
    -------
    array of bool, shape (n,)

    Examples
    --------
    >>> rising([0.0, 1.0, 99.0, 2.0, 2.0, 3.0]).tolist()
    [True, True, False, True, False, True]
    """
    t = np.asarray(time, float)
    keep = np.isfinite(t)
    rows = np.flatnonzero(keep)
    if (np.diff(t[rows]) > 0.0).all():
        return keep
    ends: list[float] = []
    end_rows: list[int] = []
    before = np.full(t.size, -1)
    for row, value in zip(rows.tolist(), t[rows].tolist(), strict=True):
        index = bisect_left(ends, value)
        before[row] = end_rows[index - 1] if index else -1
        if index == len(ends):
            ends.append(value)
            end_rows.append(row)
        elif value < ends[index]:
            ends[index] = value
            end_rows[index] = row
    keep = np.zeros(t.size, bool)
    row = end_rows[-1] if end_rows else -1
    while row >= 0:
        keep[row] = True
        row = int(before[row])
    return keep


def unroll_midnight(seconds: ArrayLike) -> Floats:
    """Add a day wherever clock times fall back by more than twelve hours.

    Parameters
    ----------
    seconds : array, shape (n,), s
        Since midnight, nan where unread.

    Returns
    -------
    array, shape (n,), s
        Since the midnight before the first reading.

    Examples
    --------
    >>> unroll_midnight([86399.0, 1.0]).tolist()
    [86399.0, 86401.0]
    """
    t = np.array(seconds, float)
    known = np.flatnonzero(np.isfinite(t))
    t[known] += 86400.0 * np.concatenate([[0], np.cumsum(np.diff(t[known]) < -43200.0)]) if known.size else 0.0
    return t


def stretches(mask: ArrayLike) -> list[tuple[int, int]]:
    """Return the runs of True as (first, last + 1) pairs.

    Parameters
    ----------
    mask : array of bool
        Any.

    Returns
    -------
    list of tuple of int
        In order; empty where nothing is True.

    Examples
    --------
    >>> stretches([False, True, True, False, True])
    [(1, 3), (4, 5)]
    """
    edges = np.diff(np.concatenate([[0], np.asarray(mask, bool).astype(np.int8), [0]]))
    return list(zip(np.flatnonzero(edges == 1).tolist(), np.flatnonzero(edges == -1).tolist(), strict=True))


def find_gaps(time: ArrayLike) -> tuple[tuple[float, float], ...]:
    """Return the pauses in a recording: steps over five times the usual one and over half a second.

    Parameters
    ----------
    time : array, shape (n,), s
        Increasing.

    Returns
    -------
    tuple of (start, end), s

    Examples
    --------
    >>> find_gaps([0.0, 0.1, 0.2, 5.0, 5.1])
    ((0.2, 5.0),)
    """
    t = np.asarray(time, float)
    if t.size < 3:
        return ()
    step = np.diff(t)
    wide = np.flatnonzero(step > max(GAP_STEPS * float(np.median(step)), SHORTEST_GAP))
    return tuple((float(t[i]), float(t[i + 1])) for i in wide)


def _held(values: Floats, moving: NDArray[np.bool_]) -> tuple[list[tuple[int, int]], float]:
    """Return the stretches over which values do not change while moving, and the usual length of one."""
    same = np.concatenate([[False], (np.diff(values) == 0.0)]) & moving
    runs = stretches(same)
    lengths = [end - first + 1 for first, end in runs]
    return runs, (float(np.median(lengths)) if lengths else 1.0)


def find_dropouts(frame: pd.DataFrame) -> tuple[tuple[float, float, str], ...]:
    """Return the stretches in which speed or position was lost.

    Looked for: no number for a second or more; a speed that falls to zero in one step from above 5 m/s and comes
    back as abruptly; a position that stands still for over two seconds and five times its usual hold while the
    speed says otherwise.

    Parameters
    ----------
    frame : DataFrame
        In SI, time increasing.

    Returns
    -------
    tuple of (start, end, why)

    Examples
    --------
    >>> import pandas as pd
    >>> t = np.arange(0.0, 10.0)
    >>> find_dropouts(pd.DataFrame({"time": t, "speed": np.where((t > 2) & (t < 6), np.nan, 20.0)}))
    ((3.0, 5.0, 'speed was lost'),)
    """
    t = frame["time"].to_numpy()
    found = []
    for name in ("speed", "latitude_deg"):
        if name not in frame:
            continue
        lost = np.isnan(frame[name].to_numpy())
        what = "position" if name == "latitude_deg" else "speed"
        found += [
            (float(t[a]), float(t[b - 1]), f"{what} was lost")
            for a, b in stretches(lost)
            if t[b - 1] - t[a] >= SHORTEST_DROPOUT and not lost.all()
        ]
    if "speed" in frame:
        v = frame["speed"].to_numpy()
        for a, b in stretches(v == 0.0):
            if a > 0 and b < v.size and v[a - 1] > 5.0 and v[b] > 5.0 and t[b] - t[a - 1] < 30.0:
                found.append((float(t[a]), float(t[b - 1]), "speed reads zero between two fast readings"))
        if "latitude_deg" in frame and "longitude_deg" in frame:
            where = frame["latitude_deg"].to_numpy() + 1000.0 * frame["longitude_deg"].to_numpy()
            runs, usual = _held(where, v > 3.0)
            found += [
                (float(t[a]), float(t[b - 1]), "position stands still while the speed does not")
                for a, b in runs
                if b - a + 1 > 5.0 * usual and t[b - 1] - t[a] > 2.0
            ]
    return tuple(sorted(found)[:MOST_NAMED])


def find_unit_jumps(frame: pd.DataFrame) -> tuple[tuple[float, str, float], ...]:
    """Return the places where a column changes by a known unit factor and stays there.

    One step must change by the factor within 8 %, and so must the medians of the ten rows on either side.

    Parameters
    ----------
    frame : DataFrame
        In SI, time increasing.

    Returns
    -------
    tuple of (time, quantity, factor)

    Examples
    --------
    >>> import pandas as pd
    >>> t = np.arange(0.0, 40.0)
    >>> find_unit_jumps(pd.DataFrame({"time": t, "speed": np.where(t < 20, 10.0, 36.0)}))
    ((20.0, 'speed', 3.6),)
    """
    t = frame["time"].to_numpy()
    found = []
    for name, factors in _JUMP_FACTORS.items():
        if name not in frame or len(frame) < 2 * _JUMP_WINDOW:
            continue
        x = np.abs(frame[name].to_numpy())
        both = np.concatenate([factors, 1.0 / np.asarray(factors)])
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = x[1:] / x[:-1]
            near = np.abs(ratio[:, None] / both - 1.0).min(axis=1) < 0.08
        near &= np.maximum(x[1:], x[:-1]) > _JUMP_FLOOR[name]
        for i in np.flatnonzero(near)[:1000] + 1:
            before, after = x[max(i - _JUMP_WINDOW, 0) : i], x[i : i + _JUMP_WINDOW]
            before, after = before[np.isfinite(before)], after[np.isfinite(after)]
            if min(before.size, after.size) < 5:
                continue
            factor = float(both[np.abs(ratio[i - 1] / both - 1.0).argmin()])
            calm = all(np.ptp(part) < 0.25 * np.median(part) for part in (before, after))
            if calm and abs(np.median(after) / np.median(before) / factor - 1.0) < 0.08:
                found.append((float(t[i]), name, factor))
    return tuple(sorted(found)[:MOST_NAMED])


def set_implausible_empty(frame: pd.DataFrame) -> tuple[tuple[str, int], ...]:
    """Set values outside what a quantity can be to nan, and count them.

    A position of exactly 0, 0 is a receiver without a fix and goes too. The frame is changed.

    Parameters
    ----------
    frame : DataFrame
        In SI.

    Returns
    -------
    tuple of (str, int)
        Quantity and number of cells, those with none left out.
    """
    counts = []
    if "latitude_deg" in frame and "longitude_deg" in frame:
        nowhere = ((frame["latitude_deg"] == 0.0) & (frame["longitude_deg"] == 0.0)).to_numpy()
        if nowhere.any():
            frame.loc[nowhere, ["latitude_deg", "longitude_deg"]] = np.nan
            counts.append(("position", int(nowhere.sum())))
    for name in frame.columns:
        if name == "time":
            continue
        held = QUANTITIES[name]
        wrong = ((frame[name] < held.low) | (frame[name] > held.high)).to_numpy()
        if wrong.any():
            frame.loc[wrong, name] = np.nan
            counts.append((name, int(wrong.sum())))
    return tuple(counts)
