"""Speedometer: calibration constants, what a change of tyre or sprockets does.

A digital instrument counts pulses from the motor or a wheel and shows a speed in proportion to a
constant, so new = old x measured / indicated. On some instruments it is the other way round (the
larger the constant, the lower the reading); then `inverse=True` gives new = old x indicated / measured.

All speeds are m/s. Calibration works in any unit as long as both speeds share it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from physics.arrays import Floats
from physics.fitting.regression import linear_fit
from physics.fitting.result import CANNOT_TELL
from physics.studies.legal_speed import KM_H

# Common practice, no source: 3.5 is a usual limit for a robust score of few readings.
DISAGREES_BEYOND = 3.5


def _positive(name: str, value: ArrayLike) -> Floats:
    array = np.asarray(value, float)
    if not (np.isfinite(array).all() and (array > 0.0).all()):
        raise ValueError(f"{name} must be a finite number above zero; it was {value!r}.")
    return array


def calibration_constant(
    old_constant: ArrayLike, indicated: ArrayLike, measured: ArrayLike, *, inverse: bool = False
) -> Any:
    """Return the constant that makes the display right.

    new = old x measured / indicated; with `inverse`, new = old x indicated / measured.

    Parameters
    ----------
    old_constant : float or array, dimensionless
        Constant set now, above zero.
    indicated : float or array
        Speed on the display, above zero.
    measured : float or array
        True speed at the same moment, for example from GPS, same unit, above zero.
    inverse : bool
        True for an instrument on which a larger constant gives a lower reading.

    Returns
    -------
    float or array
        Not rounded: instruments differ in whether they take decimals.

    Examples
    --------
    >>> round(calibration_constant(1450, 30, 16), 2)
    773.33
    >>> round(calibration_constant(1000, 30, 15, inverse=True))
    2000
    """
    old = _positive("The constant", old_constant)
    shown = _positive("The indicated speed", indicated)
    true = _positive("The measured speed", measured)
    new = old * shown / true if inverse else old * true / shown
    return new if new.ndim else float(new)


@dataclass(frozen=True)
class PooledCalibration:
    """A constant from several readings.

    Parameters
    ----------
    constant : float
        Best constant; nan when the readings do not give one.
    standard_error : float
        Its standard error; nan with one reading.
    interval : (float, float)
        Two-sided 95 % interval (Student t); nan with one reading.
    resolution_range : (float, float)
        Constants that agree with every reading not flagged, each taken as good to half a step of the
        display and of the GPS. Low above high means that no single constant agrees with them all.
    disagrees : tuple of bool
        One a reading: True where its robust score passes 3.5. The score is its own constant's distance from the
        median constant, over 1.4826 times the median distance or the half step of the instruments, the larger.
    n : int
        Readings in the line (those not flagged).
    status : int
        1 pooled; 2 pooled without the readings that disagree; 3 one reading, no spread; -2 cannot tell.
    message : str
        The same in a sentence.
    """

    constant: float
    standard_error: float
    interval: tuple[float, float]
    resolution_range: tuple[float, float]
    disagrees: tuple[bool, ...]
    n: int
    status: int
    message: str

    @property
    def success(self) -> bool:
        """True when the constant may be used."""
        return self.status > 0


def pooled_calibration(
    old_constant: ArrayLike,
    indicated: ArrayLike,
    measured: ArrayLike,
    *,
    inverse: bool = False,
    display_resolution: float = KM_H,
    gps_resolution: float = 0.1 * KM_H,
) -> PooledCalibration:
    """Pool several readings into one constant by a least-squares line through the origin.

    A reading whose robust score passes 3.5 is flagged and left out of the line. The score compares it
    with the median of all, on a scale that never falls below what the instruments can resolve, so a
    last digit that flickers flags nothing. At least three readings are needed to flag one.

    Parameters
    ----------
    old_constant : float, dimensionless
        Constant set now, above zero.
    indicated : array, shape (n,), m/s
        Display, above zero.
    measured : array, shape (n,), m/s
        True speed at the same moments, above zero.
    inverse : bool
        True for an instrument on which a larger constant gives a lower reading.
    display_resolution : float, m/s
        Last step of the display, 1 km/h unless said otherwise; zero or more.
    gps_resolution : float, m/s
        Last step of the measured speed, zero or more. It is the step shown, not the receiver's accuracy.

    Returns
    -------
    PooledCalibration

    Examples
    --------
    >>> pooled = pooled_calibration(1000, [10, 20, 30], [9, 18, 27])
    >>> round(pooled.constant, 6), pooled.status
    (900.0, 1)
    """
    old = float(_positive("The constant", old_constant))
    shown = np.atleast_1d(_positive("The indicated speed", indicated))
    true = np.atleast_1d(_positive("The measured speed", measured))
    if shown.ndim != 1 or shown.shape != true.shape:
        raise ValueError(
            f"{shown.size} indicated and {true.size} measured speeds do not pair up; "
            "give as many of one as of the other."
        )
    if not (0.0 <= display_resolution < np.inf and 0.0 <= gps_resolution < np.inf):
        raise ValueError("Resolutions must be zero or more.")
    n = shown.size
    if n == 0:
        raise ValueError("There is no reading; at least one pair of speeds is needed.")
    ratio = true / shown
    half = 0.5 * (gps_resolution / true + display_resolution / shown)
    distance = np.abs(ratio - np.median(ratio))
    scale = np.maximum(1.4826 * np.median(distance), ratio * half)
    score = distance / np.where(scale > 0.0, scale, 1e-9 * ratio)
    apart = score > DISAGREES_BEYOND if n >= 3 else np.zeros(n, bool)

    with np.errstate(divide="ignore"):
        low = np.clip(true - gps_resolution / 2, 0.0, None) / (shown + display_resolution / 2)
        under = shown - display_resolution / 2
        high = np.where(under > 0.0, (true + gps_resolution / 2) / np.where(under > 0.0, under, 1.0), np.inf)
    keep = ~apart
    ends = [old * low[keep].max(), old * high[keep].min()]
    if inverse:
        lowest, highest = low[keep].max(), high[keep].min()
        ends = [old / highest, old / lowest if lowest > 0.0 else np.inf]

    count = int(keep.sum())
    if count == 1:
        slope, relative, reach = float(ratio[keep][0]), np.nan, (np.nan, np.nan)
    else:
        fit = linear_fit(shown[keep], true[keep], ("ratio",))
        slope, reach = fit.value("ratio"), fit.bounds("ratio")
        relative = fit.error("ratio") / slope
    constant = calibration_constant(old, 1.0, slope, inverse=inverse)
    # A small interval turns over by 1/x; one that reaches zero has no upper end.
    if inverse:
        interval = (old / reach[1], old / reach[0] if not reach[0] <= 0.0 else np.inf)
    else:
        interval = (old * reach[0], old * reach[1])
    if count < n / 2 or (count > 1 and not relative < 0.3):
        status = CANNOT_TELL
        message = "The readings disagree too much to give one constant; take them again at a steady speed."
    elif apart.any():
        status = 2
        numbers = ", ".join(str(i + 1) for i in np.flatnonzero(apart))
        message = f"Pooled from {count} of {n} readings; left out as an outlier: reading {numbers}."
    elif n == 1:
        status, message = 3, "One reading gives a constant but no spread; take two more at other speeds."
    else:
        status, message = 1, f"Pooled from {n} readings."
    if status > 0 and ends[0] > ends[1]:
        message += " No single constant agrees with them all within the steps of display and GPS."
    return PooledCalibration(
        constant,
        constant * relative,
        interval,
        (float(ends[0]), float(ends[1])),
        tuple(bool(a) for a in apart),
        count,
        status,
        message,
    )


def _change_factor(
    sensor: str,
    old_radius: ArrayLike,
    new_radius: ArrayLike,
    old_ratio: ArrayLike | None,
    new_ratio: ArrayLike | None,
) -> Floats:
    """Return reading after over reading before, at one true speed."""
    before = _positive("The old rolling radius", old_radius)
    after = _positive("The new rolling radius", new_radius)
    if sensor == "wheel":
        return before / after
    if sensor == "motor":
        if old_ratio is None or new_ratio is None:
            raise ValueError("A sensor on the motor needs the old and the new ratio (motor turns per wheel turn).")
        ratio = _positive("The new ratio", new_ratio) / _positive("The old ratio", old_ratio)
        return (before / after) * ratio
    raise ValueError(f"The sensor sits at {sensor!r}; accepted are 'motor' and 'wheel'.")


def reading_after_change(
    true_speed: ArrayLike,
    sensor: str,
    old_radius: ArrayLike,
    new_radius: ArrayLike,
    old_ratio: ArrayLike | None = None,
    new_ratio: ArrayLike | None = None,
    *,
    display_error: ArrayLike = 0.0,
) -> Any:
    """Return what the display shows after a change of tyre or sprockets, its constant untouched.

    Pulses per metre go with 1 / radius on a wheel sensor and with ratio / radius on a motor sensor, so
    a motor sensor sees sprockets and the driven tyre; a wheel sensor sees only the tyre of its wheel.

    Parameters
    ----------
    true_speed : float or array, m/s
        Speed over the ground.
    sensor : {"motor", "wheel"}
        Where the pulses come from.
    old_radius, new_radius : float or array, m
        Rolling radius of that wheel before and after ("motor": the driven wheel), above zero.
    old_ratio, new_ratio : float or array, optional
        Motor turns per wheel turn before and after; needed for "motor".
    display_error : float or array, fraction
        How much the display read high before (0.04 for 4 %), -1 < error.

    Returns
    -------
    float or array, m/s
        Speed shown.

    Examples
    --------
    >>> round(reading_after_change(20.0, "motor", 0.30, 0.30, 4.0, 5.0), 9)
    25.0
    >>> round(reading_after_change(20.0, "wheel", 0.30, 0.25, 4.0, 5.0), 9)
    24.0
    """
    factor = _change_factor(sensor, old_radius, new_radius, old_ratio, new_ratio)
    shown = np.asarray(true_speed, float) * (1.0 + np.asarray(display_error, float)) * factor
    return shown if np.ndim(shown) else float(shown)


def constant_after_change(
    old_constant: ArrayLike,
    sensor: str,
    old_radius: ArrayLike,
    new_radius: ArrayLike,
    old_ratio: ArrayLike | None = None,
    new_ratio: ArrayLike | None = None,
    *,
    inverse: bool = False,
) -> Any:
    """Return the constant that keeps the display as right after the change as it was before.

    Parameters
    ----------
    old_constant : float or array, dimensionless
        Constant set now.
    sensor : {"motor", "wheel"}
        Where the pulses come from.
    old_radius, new_radius : float or array, m
        Rolling radius before and after.
    old_ratio, new_ratio : float or array, optional
        Motor turns per wheel turn before and after; needed for "motor".
    inverse : bool
        True for an instrument on which a larger constant gives a lower reading.

    Returns
    -------
    float or array, dimensionless
        Constant to set.

    Examples
    --------
    >>> round(constant_after_change(1000, "motor", 0.30, 0.30, 4.0, 5.0), 9)
    800.0
    """
    factor = _change_factor(sensor, old_radius, new_radius, old_ratio, new_ratio)
    old = _positive("The constant", old_constant)
    new = old * factor if inverse else old / factor
    return new if np.ndim(new) else float(new)


def true_speed(display: ArrayLike, display_error: ArrayLike) -> Any:
    """Speed over the ground, m/s, behind a display that reads wrong by a known share.

    Parameters
    ----------
    display : float or array, m/s
        Speed shown.
    display_error : float or array, fraction
        (shown - true) / true, above -1.

    Examples
    --------
    >>> true_speed(22.0, 0.10)
    20.0
    """
    error = np.asarray(display_error, float)
    if not (np.isfinite(error).all() and (error > -1.0).all()):
        raise ValueError(f"The display error must be a fraction above -1; it was {display_error!r}.")
    speed = np.asarray(display, float) / (1.0 + error)
    return speed if speed.ndim else float(speed)


def display_error(indicated: ArrayLike, measured: ArrayLike) -> Any:
    """Return the share by which the display reads high: (indicated - measured) / measured.

    Parameters
    ----------
    indicated : float or array, m/s
        Speed shown.
    measured : float or array, m/s
        Speed over the ground, above zero.

    Returns
    -------
    float or array, fraction
        Above zero where the display reads high.

    Examples
    --------
    >>> round(display_error(22.0, 20.0), 9)
    0.1
    """
    error = np.asarray(indicated, float) / _positive("The measured speed", measured) - 1.0
    return error if error.ndim else float(error)


def odometer_error(distance_shown: ArrayLike, distance_error: ArrayLike) -> tuple[Any, Any]:
    """Return the true distance and how much too much was counted.

    An odometer fed by the same pulses is wrong by the same share as the speed before the display's own
    deliberate surplus; where the two differ, measure the odometer over a known distance.

    Parameters
    ----------
    distance_shown : float or array, m
        Distance on the odometer since the change.
    distance_error : float or array, fraction
        (shown - true) / true, above -1.

    Returns
    -------
    (true_distance, surplus) : floats or arrays, m

    Examples
    --------
    >>> true_distance, surplus = odometer_error(1250.0, 0.25)
    >>> true_distance, surplus
    (1000.0, 250.0)
    """
    true_distance = true_speed(distance_shown, distance_error)
    surplus = np.asarray(distance_shown, float) - true_distance
    return true_distance, surplus if np.ndim(surplus) else float(surplus)
