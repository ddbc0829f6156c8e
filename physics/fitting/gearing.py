"""Fitting a build to a ride log: pack resistance, gearing, the line limit that was really set.

The coast-down and the efficiency of pulls stand in fit_road.py and are reached from here. Every fit returns
a FitResult: values with standard errors, 95 % intervals that allow for residuals that hang together in time,
correlations, and a plain "this log cannot tell" where the data do not hold the answer.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from physics.fitting.coast_down import (
    coast_down_speed,
    fit_coast_down,
    fit_driveline_efficiency,
    slope_from_altitude,
)
from physics.fitting.regression import autocorrelation_time, linear_fit
from physics.fitting.result import CANNOT_TELL, TOO_FEW, FitResult, failed
from physics.ridelog.segments import running_mean

__all__ = [
    "GearRatioFit",
    "coast_down_speed",
    "effective_line_limit",
    "fit_coast_down",
    "fit_driveline_efficiency",
    "fit_gear_ratio",
    "fit_pack",
    "slope_from_altitude",
]

# Choices of this package, stated so that a reader can disagree.
SMALLEST_CURRENT_SWING = 5.0  # A between the 5th and 95th percentile
TOP_SHARE = 0.8  # of the 99th percentile: where a plateau is looked for
PLATEAU_WIDTH = (0.02, 0.05)  # of the level, the narrowest and the widest
PLATEAU_SHARE = 0.4  # of the samples above; the crest of a sine puts 0.31 there
GENTLE = 0.05  # 1/s


def fit_pack(voltage, current, time=None) -> FitResult:
    """Fit rest voltage and pack resistance to voltage against current.

    V = V0 - R I, and with `time` also - k Q, Q the charge drawn since the start: a pack that empties during
    the log would otherwise look like resistance. Robust loss soft_l1, so switching spikes weigh little. The
    resistance is the one seen at the log's own time scale: ohmic plus what builds up within a pull.

    Parameters
    ----------
    voltage : array, shape (n,), V
        Pack voltage, in the order of time.
    current : array, shape (n,), A
        Line current, discharge positive.
    time : array, shape (n,), s, optional
        Increasing; adds the fall of the rest voltage with charge drawn.

    Returns
    -------
    FitResult
        rest_voltage (V, at the start of the log), resistance (ohm) and, with `time`, fall_per_charge (V/C).
        Status -2 when the current swings by less than 5 A or the resistance comes out at or below zero.

    Raises
    ------
    ValueError
        When arrays that belong together differ in length.

    Examples
    --------
    >>> current = np.tile([0.0, 50.0, 120.0, 80.0], 10)
    >>> fit = fit_pack(96.0 - 0.08 * current, current)
    >>> round(fit.value("rest_voltage"), 6), round(fit.value("resistance"), 6)
    (96.0, 0.08)
    """
    u, i = np.asarray(voltage, float), np.asarray(current, float)
    if u.ndim != 1 or u.shape != i.shape:
        raise ValueError(f"Voltage ({u.size}) and current ({i.size}) do not pair up.")
    names = ("rest_voltage", "resistance")
    whole = np.isfinite(u) & np.isfinite(i)
    t = None
    if time is not None:
        t = np.asarray(time, float)
        if t.shape != u.shape:
            raise ValueError(f"Time ({t.size}) and voltage ({u.size}) do not pair up.")
        whole &= np.isfinite(t)
    u, i = u[whole], i[whole]
    n = int(u.size)
    if n < 8:
        return failed(
            names, n, TOO_FEW, f"{n} samples with voltage and current are too few; at least 8 are needed."
        )
    swing = float(np.subtract(*np.percentile(i, [95, 5])))
    if swing < SMALLEST_CURRENT_SWING:
        return failed(
            names, n, CANNOT_TELL, f"This log cannot tell: the line current swings by only {swing:.1f} A."
        )
    columns = [np.ones(n), -i]
    if t is not None:
        charge = np.concatenate([[0.0], np.cumsum(np.diff(t[whole]) * 0.5 * (i[1:] + i[:-1]))])
        if np.ptp(charge) > 0.0:
            columns.append(-charge)
            names = (*names, "fall_per_charge")
    fit = linear_fit(
        np.column_stack(columns),
        u,
        names,
        loss="soft_l1",
        in_time_order=True,
        judged=("rest_voltage", "resistance"),
    )
    if fit.success and not fit.value("resistance") > 0.0:
        return failed(
            names,
            n,
            CANNOT_TELL,
            "This log cannot tell: voltage rises with current. Check the sign of "
            "the line current; discharge must be positive.",
        )
    return fit


@dataclass(frozen=True)
class GearRatioFit:
    """Gearing from motor speed against road speed.

    Parameters
    ----------
    fit : FitResult
        metres_per_radian, m/rad: rolling radius over ratio.
    ratio : float
        Motor turns per wheel turn, nan unless the rolling radius was given.
    ratio_standard_error : float
        Its standard error.
    tyre_radius : float
        Rolling radius, m, nan unless the ratio was given.
    tyre_radius_standard_error : float
        Its standard error, m.
    """

    fit: FitResult
    ratio: float
    ratio_standard_error: float
    tyre_radius: float
    tyre_radius_standard_error: float

    @property
    def success(self) -> bool:
        """True when the values may be used."""
        return self.fit.success

    @property
    def message(self) -> str:
        """What the fit says, in a sentence."""
        return self.fit.message


def fit_gear_ratio(
    motor_speed,
    speed,
    time=None,
    *,
    tyre_radius=None,
    ratio=None,
    slowest=2.0,
) -> GearRatioFit:
    """Fit metres travelled per radian of the motor, and from it the ratio or the rolling radius.

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
    tyre_radius : float, m, optional
        Rolling radius; gives the ratio.
    ratio : float, optional
        Motor turns per wheel turn; gives the rolling radius.
    slowest : float, m/s
        Samples below are left out.

    Returns
    -------
    GearRatioFit

    Raises
    ------
    ValueError
        When arrays that belong together differ in length, or a radius or ratio is not above zero.

    Examples
    --------
    >>> found = fit_gear_ratio(np.arange(50.0, 350.0), np.arange(50.0, 350.0) * 0.29 / 4.5, tyre_radius=0.29)
    >>> round(found.ratio, 6)
    4.5
    """
    w, v = np.asarray(motor_speed, float), np.asarray(speed, float)
    if w.ndim != 1 or w.shape != v.shape:
        raise ValueError(f"Motor speed ({w.size}) and speed ({v.size}) do not pair up.")
    for name, value in (("tyre radius", tyre_radius), ("ratio", ratio)):
        if value is not None and not 0.0 < value < np.inf:
            raise ValueError(f"The {name} must be above zero; it was {value!r}.")
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
        fit = failed(
            names,
            n,
            TOO_FEW,
            f"{n} samples above {slowest:g} m/s with motor speed are too few; "
            "at least 8 at a steady speed are needed.",
        )
    else:
        fit = linear_fit(
            w[moving], v[moving], names, loss="soft_l1", in_time_order=True, largest_relative_error=0.05
        )
    metres = fit.values[0]
    share = fit.standard_error[0] / metres if np.isfinite(metres) else np.nan
    found_ratio = np.nan if tyre_radius is None else tyre_radius / metres
    found_radius = np.nan if ratio is None else ratio * metres
    return GearRatioFit(
        fit, float(found_ratio), float(found_ratio * share), float(found_radius), float(found_radius * share)
    )


def effective_line_limit(current, *, at_least=10) -> FitResult:
    """Find the line-current limit that really acts: the plateau against which the current leans.

    Among the samples above 0.8 of the 99th percentile the densest band is sought, 2 % of the level wide or three
    times the noise from sample to sample, at most 5 %. It counts as a plateau when it holds 40 % of those samples
    and twice what an even spread would put there, and at least `at_least`; the limit is their median.

    Parameters
    ----------
    current : array, shape (n,), A
        Line current, discharge positive, in the order of time.
    at_least : int
        Samples a plateau must hold.

    Returns
    -------
    FitResult
        line_limit (A). Status -2 when the current never leans on a limit.

    Examples
    --------
    >>> ramp = np.minimum(np.linspace(0.0, 300.0, 301), 200.0)
    >>> round(effective_line_limit(ramp).value("line_limit"), 6)
    200.0
    """
    names = ("line_limit",)
    i = np.asarray(current, float).ravel()
    i = i[np.isfinite(i)]
    if i.size < 2 * at_least:
        return failed(names, int(i.size), TOO_FEW, f"{i.size} samples of line current are too few.")
    peak = float(np.percentile(i, 99))
    if not peak > SMALLEST_CURRENT_SWING:
        return failed(names, int(i.size), CANNOT_TELL, "This log cannot tell: hardly any current is drawn.")
    high = i > TOP_SHARE * peak
    top = i[high]
    steps = np.diff(i)[high[1:] & high[:-1]]
    noise = 1.4826 * float(np.median(np.abs(steps))) / np.sqrt(2.0) if steps.size else 0.0
    width = float(np.clip(3.0 * noise / peak, *PLATEAU_WIDTH))
    ordered = np.sort(top)
    inside = np.searchsorted(ordered, ordered * (1.0 + width), side="right") - np.arange(ordered.size)
    first = int(np.argmax(inside))
    count = int(inside[first])
    if count < max(at_least, max(PLATEAU_SHARE, 2.0 * width / (1.0 - TOP_SHARE)) * top.size):
        return failed(
            names,
            int(i.size),
            CANNOT_TELL,
            "This log cannot tell: the line current never stays against one value. Something else "
            "held the bike back, or the pulls were short.",
        )
    plateau = top[(top >= ordered[first]) & (top <= ordered[first + count - 1])]
    level = float(np.median(plateau))
    # The spread of a median is sqrt(pi / 2) times that of a mean for normal readings; the band cuts the tails, so
    # the noise from sample to sample is its floor.
    spread = max(float(np.std(plateau)), noise)
    tau = autocorrelation_time(plateau)
    error = np.array([spread * np.sqrt(np.pi / 2 * tau / count)])
    value = np.array([level])
    reach = 1.959964 * error
    return FitResult(
        names,
        value,
        error,
        np.column_stack([value - reach, value + reach]),
        np.eye(1),
        (),
        plateau - level,
        count,
        count / tau,
        1,
        f"The line current leans on {level:.0f} A in {count} samples.",
    )
