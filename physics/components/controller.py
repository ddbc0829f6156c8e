"""The motor controller: throttle, foldback, the line limit against the pack, losses.

Linear foldbacks between two values are common practice, no source; each is a setting of the build.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from physics.arrays import Floats, Numbers

MAXIMUM_POWER_FRACTION = 0.95
"""Fraction of the current of maximum power transfer, E / (2 R), beyond which no current is drawn."""


def throttle_position(time: Numbers, held: Numbers, ramp_time: Numbers) -> Floats:
    """Throttle against time: it opens at a constant rate to the position that is held.

    Parameters
    ----------
    time : float or array, s
        Since the start of the run.
    held : float or array
        Position that is held, 0 to 1.
    ramp_time : float or array, s
        Time from closed to full; zero is at once.

    Returns
    -------
    float or array
        Position, 0 to 1.

    Examples
    --------
    >>> float(throttle_position(0.15, 1.0, 0.3))
    0.5
    """
    return np.minimum(held, time / np.maximum(ramp_time, 1e-9) + (np.asarray(ramp_time) <= 0))


def foldback(value: Numbers, start: Numbers, end: Numbers) -> Floats:
    """Fraction of a limit that is left: 1 up to `start`, 0 from `end`, linear between (either may be larger).

    Parameters
    ----------
    value : float or array
        What the foldback looks at.
    start, end : float or array
        Where it begins and where nothing is left, in the value's unit; equal means no foldback.

    Returns
    -------
    float or array
        0 to 1.

    Examples
    --------
    >>> float(foldback(85.0, 80.0, 100.0))
    0.75
    """
    width = np.asarray(end, dtype=float) - start
    none = width == 0
    left = 1.0 - (value - start) / np.where(none, 1.0, width)
    return np.where(none, 1.0, np.minimum(np.maximum(left, 0.0), 1.0))


def line_limit_current(
    source_voltage: Numbers, resistance: Numbers, limit: Numbers, foldback_start: Numbers, foldback_end: Numbers
) -> tuple[Floats, NDArray[np.bool_], NDArray[np.bool_]]:
    """The line current at which the line limit, foldback included, meets the pack's own line U = E - R I.

    With foldback I = limit (U - end) / (start - end), which together with U = E - R I gives
    I = limit (E - end) / (start - end + R limit).

    Parameters
    ----------
    source_voltage : float or array, V
        Pack voltage at no current, polarisation taken off.
    resistance : float or array, ohm
        Ohmic part of the pack's resistance.
    limit : float or array, A
        Line limit before foldback.
    foldback_start, foldback_end : float or array, V
        Pack voltages where folding begins and where nothing is left; equal means no foldback.

    Returns
    -------
    tuple of arrays
        Current, A; whether foldback holds it; whether the pack's maximum power holds it.

    Examples
    --------
    >>> current, folding, _ = line_limit_current(84.0, 0.05, 400.0, 80.0, 60.0)
    >>> round(float(current), 6), bool(folding)
    (240.0, True)
    """
    most = MAXIMUM_POWER_FRACTION * source_voltage / (2.0 * resistance)
    drop = resistance * limit
    folding = np.less(source_voltage - drop, foldback_start) & np.greater(foldback_start, foldback_end)
    current = np.minimum(limit, most)
    if np.count_nonzero(folding):
        left = np.maximum(source_voltage - foldback_end, 0.0)
        folded = limit * left / np.where(folding, foldback_start - foldback_end + drop, 1.0)
        current = np.where(folding, np.minimum(folded, current), current)
        folding &= np.minimum(folded, limit) <= most
        return current, folding, ~folding & np.greater(limit, most)
    return current, folding, np.greater(limit, most)


def controller_loss(fixed: Numbers, per_ampere: Numbers, resistance: Numbers, phase_current: Numbers) -> Numbers:
    """Loss of the controller: a fixed part, a part with current, a part with current squared.

    Parameters
    ----------
    fixed : float or array, W
        With no current.
    per_ampere : float or array, W/A
        Per ampere of peak phase current (switching).
    resistance : float or array, ohm
        Per square ampere of peak phase current (conduction).
    phase_current : float or array, A
        Peak.

    Returns
    -------
    float or array, W
        Heat in the controller.

    Examples
    --------
    >>> float(controller_loss(10.0, 0.1, 1e-3, 100.0))
    30.0
    """
    return fixed + per_ampere * phase_current + resistance * phase_current * phase_current


def quadrature_current_for_power(power: Numbers, square: Numbers, linear: Numbers) -> Floats:
    """The positive root of square i^2 + linear i = power, in the form that loses no digits.

    Parameters
    ----------
    power : float or array, W
        What may be used, zero or above.
    square : float or array, ohm
        Coefficient of i^2, zero or above.
    linear : float or array, V
        Coefficient of i, zero or above.

    Returns
    -------
    float or array, A
        The current.

    Examples
    --------
    >>> round(float(quadrature_current_for_power(12.0, 1.0, 1.0)), 9)
    3.0
    """
    return 2 * power / (linear + np.sqrt(linear * linear + 4 * square * power) + 1e-12)
