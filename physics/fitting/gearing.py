"""Gearing from a ride log: how far the bike goes for each radian of the motor."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from physics.fitting.regression import linear_fit
from physics.fitting.result import TOO_FEW, FitResult, failed
from physics.ridelog.segments import running_mean

GENTLE = 0.05  # 1/s, change of motor speed over motor speed; a choice


def fit_gear_ratio(
    motor_speed: ArrayLike, speed: ArrayLike, time: ArrayLike | None = None, *, slowest: float = 2.0
) -> FitResult:
    """Fit metres travelled per radian of the motor: rolling radius over ratio.

    speed = (rolling radius / ratio) x motor speed, a line through the origin with the robust loss soft_l1, over
    the samples above `slowest`: GPS is poor near standstill. A receiver reports speed late (0.2 to 1 s, common
    practice, no source), which reads as a wrong ratio while the speed changes, as wheel slip does under power; with
    `time` only samples are used where the motor speed changes by less than 5 % a second.

    Parameters
    ----------
    motor_speed : array, shape (n,), rad/s
        Mechanical speed of the motor.
    speed : array, shape (n,), m/s
        Speed over the ground from GPS, not from the bike's own display.
    time : array, shape (n,), s, optional
        Increasing; leaves out samples at changing speed.
    slowest : float, m/s
        Samples below are left out.

    Returns
    -------
    FitResult
        metres_per_radian (m/rad).

    Raises
    ------
    ValueError
        When arrays that belong together differ in length.

    Examples
    --------
    >>> fit = fit_gear_ratio(np.arange(50.0, 350.0), np.arange(50.0, 350.0) * 0.29 / 4.5)
    >>> round(0.29 / fit.value("metres_per_radian"), 6)
    4.5
    """
    w, v = np.asarray(motor_speed, float), np.asarray(speed, float)
    if w.ndim != 1 or w.shape != v.shape:
        raise ValueError(f"Motor speed ({w.size}) and speed ({v.size}) do not pair up.")
    names = ("metres_per_radian",)
    moving = np.isfinite(w) & np.isfinite(v) & (v > slowest) & (w > 0.0)
    if time is not None:
        t = np.asarray(time, float)
        if t.shape != w.shape:
            raise ValueError(f"Time ({t.size}) and motor speed ({w.size}) do not pair up.")
        known = np.flatnonzero(np.isfinite(w) & np.isfinite(t))
        if known.size > 5:
            count = int(np.clip(np.round(1.0 / np.median(np.diff(t[known]))), 1, known.size)) | 1
            calm = running_mean(w[known], count)
            moving[known] &= np.abs(np.gradient(calm, t[known])) < GENTLE * np.abs(calm)
    n = int(moving.sum())
    if n < 8:
        message = (
            f"{n} samples above {slowest:g} m/s with motor speed are too few; "
            "at least 8 at a steady speed are needed."
        )
        return failed(names, n, TOO_FEW, message)
    return linear_fit(w[moving], v[moving], names, loss="soft_l1", in_time_order=True, largest_relative_error=0.05)
