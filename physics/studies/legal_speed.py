"""The legal band of a speedometer: UN Regulation No. 39.

Source
------
UN Regulation No. 39, Uniform provisions concerning the approval of vehicles with regard to the
speedometer and odometer equipment including its installation, Revision 2 (OJ 42018X1857), paragraph 5.4
(5.3 in Revision 1): the indicated speed V1 shall not be less than the true
speed V2, and at the test speeds 0 <= V1 - V2 <= 0.1 V2 + 4 km/h. Scope, paragraph 1: categories L, M and N.
The inequality and the scope were read in copies of the text; the test speeds (paragraph 5.2.5) and the
wider bands for conformity of production (Annex 3) are from memory and say so; second-hand accounts agree on
0.1 V2 + 8 km/h and on 40, 80 and 120 km/h for motorcycles.

It is the band for approval of a vehicle type. What a modified bike on a public road must meet is local
law: ask the authority or an inspection body.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from physics.arrays import Floats

KM_H = 1.0 / 3.6
FRACTION = 0.1
TYPE_APPROVAL_OFFSET = 4.0 * KM_H
# UN Regulation No. 39, Annex 3, conformity of production: from memory, not reread in the text.
PRODUCTION_OFFSET_FROM_MEMORY = {
    "L1": 4.0 * KM_H,
    "L2": 4.0 * KM_H,
    "L3": 8.0 * KM_H,
    "L4": 8.0 * KM_H,
    "L5": 8.0 * KM_H,
    "M": 6.0 * KM_H,
    "N": 6.0 * KM_H,
}
VEHICLE_CLASSES = ("L1", "L2", "L3", "L4", "L5", "L6", "L7", "M", "N")
STAGES = ("type approval", "production")


def _offset(vehicle_class: str, stage: str) -> float:
    if stage not in STAGES:
        raise ValueError(f"The stage is {stage!r}; accepted are {' and '.join(map(repr, STAGES))}.")
    if vehicle_class not in VEHICLE_CLASSES:
        raise ValueError(
            f"The vehicle class is {vehicle_class!r}; accepted are {', '.join(VEHICLE_CLASSES)} "
            "(L3 is a motorcycle, L1 a moped)."
        )
    if stage == "type approval":
        return TYPE_APPROVAL_OFFSET
    if vehicle_class not in PRODUCTION_OFFSET_FROM_MEMORY:
        raise ValueError(f"No production band is at hand for class {vehicle_class}; ask for 'type approval'.")
    return PRODUCTION_OFFSET_FROM_MEMORY[vehicle_class]


def _speed(name: str, value: ArrayLike) -> Floats:
    speed = np.asarray(value, float)
    if not (np.isfinite(speed).all() and (speed >= 0.0).all()):
        raise ValueError(f"{name} must be a finite speed of zero or more; it was {value!r}.")
    return speed


def legal_band(true_speed: ArrayLike, vehicle_class: str = "L3", stage: str = "type approval") -> tuple[Any, Any]:
    """Return the lowest and the highest reading the regulation allows at a true speed.

    low = V2; high = V2 + 0.1 V2 + 4 km/h (UN Regulation No. 39, paragraph 5.4). The upper end is tested at
    the speeds of `approval_test_speeds`; that the display never shows too little holds at every speed.

    Parameters
    ----------
    true_speed : float or array, m/s
        V2, zero or more.
    vehicle_class : str
        One of `VEHICLE_CLASSES`; type approval treats them alike.
    stage : {"type approval", "production"}
        "production" uses the wider band of Annex 3, from memory.

    Returns
    -------
    (low, high) : floats or arrays, m/s

    Examples
    --------
    >>> low, high = legal_band(50 / 3.6)
    >>> round(low * 3.6, 6), round(high * 3.6, 6)
    (50.0, 59.0)
    """
    speed = _speed("The true speed", true_speed)
    high = speed * (1.0 + FRACTION) + _offset(vehicle_class, stage)
    return (speed, high) if speed.ndim else (float(speed), float(high))


def is_within_legal_band(
    indicated: ArrayLike, true_speed: ArrayLike, vehicle_class: str = "L3", stage: str = "type approval"
) -> Any:
    """Return whether a reading lies inside the band, its ends included (to one part in 1e12).

    Parameters
    ----------
    indicated : float or array, m/s
        V1, on the display.
    true_speed : float or array, m/s
        V2.
    vehicle_class : str
        See `legal_band`.
    stage : str
        See `legal_band`.

    Returns
    -------
    bool or array of bool
        True inside the band.

    Examples
    --------
    >>> is_within_legal_band(59 / 3.6, 50 / 3.6), is_within_legal_band(49 / 3.6, 50 / 3.6)
    (True, False)
    """
    shown = _speed("The indicated speed", indicated)
    low, high = legal_band(true_speed, vehicle_class, stage)
    rounding = 1e-12 * np.maximum(shown, high)
    inside = (shown >= low - rounding) & (shown <= high + rounding)
    return inside if np.ndim(inside) else bool(inside)


def fastest_wrong_reading(true_speed: ArrayLike, vehicle_class: str = "L3", stage: str = "type approval") -> Any:
    """Return the highest reading still inside the band: the fastest it can wrongly read.

    Parameters
    ----------
    true_speed : float or array, m/s
        V2.
    vehicle_class : str
        See `legal_band`.
    stage : str
        See `legal_band`.

    Returns
    -------
    float or array, m/s
        V1 at the upper end of the band.

    Examples
    --------
    >>> round(fastest_wrong_reading(130 / 3.6) * 3.6, 6)
    147.0
    """
    return legal_band(true_speed, vehicle_class, stage)[1]


def slowest_true_speed(indicated: ArrayLike, vehicle_class: str = "L3", stage: str = "type approval") -> Any:
    """Return the lowest true speed that may hide behind a reading: (V1 - 4 km/h) / 1.1, zero or more.

    Parameters
    ----------
    indicated : float or array, m/s
        V1, on the display.
    vehicle_class : str
        See `legal_band`.
    stage : str
        See `legal_band`.

    Returns
    -------
    float or array, m/s
        V2.

    Examples
    --------
    >>> round(slowest_true_speed(147 / 3.6) * 3.6, 6)
    130.0
    """
    shown = _speed("The indicated speed", indicated)
    slowest = np.maximum((shown - _offset(vehicle_class, stage)) / (1.0 + FRACTION), 0.0)
    return slowest if slowest.ndim else float(slowest)


def approval_test_speeds(maximum_speed: float) -> tuple[float, ...]:
    """Return the true speeds at which the band is tested (paragraph 5.2.5, from memory).

    Up to 45 km/h: 80 % of the maximum. Up to 100: 40 km/h, and 80 % if that is 55 or more. Up to 150: 40,
    80, and 80 % if that is 100 or more. Above: 40, 80 and 120 km/h.

    Parameters
    ----------
    maximum_speed : float, m/s
        The maker's maximum design speed, above zero.

    Returns
    -------
    tuple of float, m/s

    Raises
    ------
    ValueError
        When the maximum speed is not above zero.

    Examples
    --------
    >>> [round(v * 3.6) for v in approval_test_speeds(115 / 3.6)]
    [40, 80]
    """
    top = float(_speed("The maximum speed", maximum_speed)) / KM_H
    if top == 0.0:
        raise ValueError("The maximum speed must be above zero.")
    most = 0.8 * top
    if top <= 45.0:
        speeds = [most]
    elif top <= 100.0:
        speeds = [40.0] + ([most] if most >= 55.0 else [])
    elif top <= 150.0:
        speeds = [40.0, 80.0] + ([most] if most >= 100.0 else [])
    else:
        speeds = [40.0, 80.0, 120.0]
    return tuple(speed * KM_H for speed in speeds)
