"""Rows of values and their slopes at instants, read between them by cubics (Hermite's)."""

from typing import Any

import numpy as np


def time_of_level(time: np.ndarray, values: np.ndarray, slopes: np.ndarray, level: Any) -> np.ndarray:
    """When rows of values first reach a level, by the cubic through values and slopes (Hermite's).

    Parameters
    ----------
    time : array, shape (t,) or (n, t), s
    values, slopes : array, shape (n, t)
        Values, and their derivatives with respect to time.
    level : float or array, shape (n,)
        The level.

    Returns
    -------
    array, shape (n,), s
        NaN where no instant is at or above the level.

    Examples
    --------
    >>> time = np.array([[0.0, 2.0]])
    >>> float(time_of_level(time, time**2, 2 * time, 1.0)[0].round(9))
    1.0
    """
    level, time = (
        np.broadcast_to(np.asarray(level, dtype=float), values.shape[:1]),
        np.broadcast_to(time, values.shape),
    )
    above = values >= level[:, None]
    reached = above.any(axis=1)
    place = np.where(reached, above.argmax(axis=1), 0)
    before, rows = np.maximum(place - 1, 0), np.arange(len(values))
    start, end = values[rows, before], values[rows, place]
    width = time[rows, place] - time[rows, before]
    first, last = slopes[rows, before] * width, slopes[rows, place] * width
    rise = end - start
    share = np.where(rise > 0, (level - start) / np.where(rise > 0, rise, 1.0), 1.0)
    low, high = np.zeros(len(rows)), np.ones(len(rows))
    for _ in range(30):  # Newton's step or a bisection in one bracket: the cubic may bend but crosses it
        u = share
        value = start + u * (first + u * (3 * rise - 2 * first - last + u * (first + last - 2 * rise)))
        slope = first + u * (2 * (3 * rise - 2 * first - last) + 3 * u * (first + last - 2 * rise))
        low, high = np.where(value < level, u, low), np.where(value < level, high, u)
        newton = u - (value - level) / np.where(np.abs(slope) > 1e-12, slope, 1e-12)
        share = np.where((newton > low) & (newton < high), newton, (low + high) / 2)
        if (np.abs(share - u) < 1e-12).all():
            break
    share = np.where(rise > 0, share, 1.0)
    return np.where(reached, time[rows, before] + share * width, np.nan)


def value_at(time: np.ndarray, values: np.ndarray, slopes: np.ndarray, when: np.ndarray) -> np.ndarray:
    """What rows of values are at a moment of each, by the cubic through values and slopes (Hermite's).

    Parameters
    ----------
    time : array, shape (t,) or (n, t), s
    values, slopes : array, shape (n, t)
        Values, and their derivatives with respect to time.
    when : array, shape (n,), s
        Within the instants; NaN gives NaN.

    Returns
    -------
    array, shape (n,)
        The values.

    Examples
    --------
    >>> time = np.array([[0.0, 2.0]])
    >>> float(value_at(time, time**2, 2 * time, np.array([0.5]))[0].round(9))
    0.25
    """
    rows, time = np.arange(len(values)), np.broadcast_to(time, values.shape)
    before = np.clip((time <= np.nan_to_num(when)[:, None]).sum(axis=1) - 1, 0, time.shape[1] - 2)
    start, rise = values[rows, before], values[rows, before + 1] - values[rows, before]
    width = time[rows, before + 1] - time[rows, before]
    first, last = slopes[rows, before] * width, slopes[rows, before + 1] * width
    u = (when - time[rows, before]) / np.where(width > 0, width, 1.0)
    return start + u * (first + u * (3 * rise - 2 * first - last + u * (first + last - 2 * rise)))
