"""The best point of the (i_d, i_q) plane as the bus voltage rises: a path, and the place on it that the pack feeds.

See physics/simulation/power_flow.py, whose equation (1) is solved here by Newton's method inside a bracket.
"""

from dataclasses import dataclass

import numpy as np

from physics import limits
from physics.simulation.dq_plane import PHASE_CIRCLE, BoundPlane, Flow

_MOST_NEWTON_STEPS = 80


@dataclass
class _Path:
    """The path, which piece of it holds the root, and between which values of its parameter.

    The parameter is i_q up the left edge, the angle from i_d = 0 round the phase circle, and i_d on the way back.
    """

    edge: np.ndarray
    turning: np.ndarray
    flat: np.ndarray
    low: np.ndarray
    high: np.ndarray
    at: np.ndarray


@dataclass
class _Point:
    """A point of the path."""

    i_d: np.ndarray
    i_q: np.ndarray
    i_q_rate: np.ndarray  # along the path
    power: np.ndarray
    along: np.ndarray  # the two components of the phase voltage
    across: np.ndarray
    voltage: np.ndarray  # of the bus
    residual: np.ndarray  # g of (1)
    rise: np.ndarray  # of g along the path
    per_volt: np.ndarray  # change of g with half the squared phase voltage
    per_watt: np.ndarray  # change of g with power
    by_current: np.ndarray  # change of power with half the squared current


def on_path(p: BoundPlane) -> Flow:
    """The root of (1) on the path, above the line limit's voltage.

    Parameters
    ----------
    p : BoundPlane
        Elements, arrays of one axis, that the voltage circle keeps from what they want at i_d = 0 and that the line
        limit does not hold.

    Returns
    -------
    Flow
        What flows there.
    """
    centre_d, edge = p.centre_d, p.edge
    full, wanted, nothing = p.phase_limit, p.wanted, np.zeros(p.speed.shape)
    top = np.minimum(wanted, np.sqrt(np.maximum(full * full - edge * edge, 0.0)))
    back = -np.sqrt(np.minimum(np.maximum(full * full - wanted * wanted, 0.0), edge * edge))
    # the beginning, and where the first and the second piece end
    currents = np.array([nothing, top, wanted]), np.array([edge, edge, back])
    power, (along, across) = p.power(*currents), p.voltages(*currents)
    voltage = np.maximum(np.sqrt(along * along + across * across), 1e-9) / p.fraction
    gap = voltage - p.source_voltage + p.pack_resistance * power / voltage
    piece = ((voltage < p.lowest) | (gap < 0.0)).sum(axis=0)
    stuck, turning, flat = piece == 0, piece == 2, piece == 3
    low, high = np.where(flat, back, 0.0), np.where(flat | stuck, 0.0, top)
    at = np.where(flat, p.guess_d, p.guess_q)
    if np.count_nonzero(turning):
        low = np.where(turning, np.arctan2(edge, top), low)
        high = np.where(turning, np.arctan2(back, wanted), high)
        at = np.where(turning, np.arctan2(p.guess_d, p.guess_q), at)
    at = np.minimum(np.maximum(at, low), high)
    root = _search(p, _Path(edge, turning, flat, low, high, at), stuck)
    i_d, i_q, voltage = root.i_d, root.i_q, root.voltage
    with_speed = root.per_volt * p.voltage_rise(i_q, i_d, root.along, root.across)
    with_speed += root.per_watt * p.shaft_rate * i_q
    deep = edge == centre_d  # the edge is where the circle is highest, and moves with it
    if np.count_nonzero(deep):
        resistive = p.resistance * p.resistance / (p.resistance * p.resistance + p.reactance * p.reactance)
        moved = root.per_watt * root.by_current * edge * 2.0 * edge * resistive / p.speed
        with_speed += np.where(deep, moved, 0.0)
    along_path = -with_speed / np.where(root.rise > 0.0, root.rise, np.inf)
    rate = np.where(flat, p.wanted_rate, along_path * root.i_q_rate)
    weakened = (p.field_weakening > 0.0) & (centre_d < -p.field_weakening)
    unmet = np.where(turning, PHASE_CIRCLE, np.where(weakened, limits.FIELD_WEAKENING, limits.VOLTAGE))
    current = root.power / voltage
    if np.count_nonzero(stuck):
        power = p.power(0.0, edge)
        voltage = np.where(stuck, p.voltage_for_power(power), voltage)
        current = np.where(stuck, power / voltage, current)
        i_q, i_d = np.where(stuck, 0.0, i_q), np.where(stuck, edge, i_d)
        rate = np.where(stuck, 0.0, rate)
    return Flow(voltage, current, i_q, i_d, rate, stuck & ~stuck, i_q >= wanted, unmet)


def _search(p: BoundPlane, path: _Path, stuck: np.ndarray) -> _Point:
    """Newton's steps inside the bracket."""
    at, low, high, before = path.at, path.low, path.high, np.inf
    for _ in range(_MOST_NEWTON_STEPS):
        point = _along(p, path, at)
        gap, rise, left = point.residual, point.rise, np.abs(point.residual)
        solved = (left <= p.tolerance) & (point.voltage > 0.99 * p.lowest) | stuck
        if np.count_nonzero(solved) == solved.size:
            break
        beyond = (point.voltage < p.lowest) | (gap < 0.0)
        low, high = np.where(beyond, at, low), np.where(beyond, high, at)
        newton = at - gap / np.where(rise > 0.0, rise, np.inf)
        outside = (newton <= low) | (newton >= high) | (rise <= 0.0) | (left > 0.3 * before)
        at, before = np.where(solved, at, np.where(outside, (low + high) / 2.0, newton)), left
    return point


def _along(p: BoundPlane, path: _Path, at: np.ndarray) -> _Point:
    """Currents at a place on the path and what goes with them."""
    flat, turning = path.flat, path.turning
    i_d, i_q = np.where(flat, at, path.edge), np.where(flat, p.wanted, at)
    i_d_rate, i_q_rate = flat * 1.0, ~flat * 1.0
    if np.count_nonzero(turning):
        i_d = np.where(turning, p.phase_limit * np.sin(at), i_d)
        i_q = np.where(turning, p.phase_limit * np.cos(at), i_q)
        i_d_rate = np.where(turning, i_q, i_d_rate)
        i_q_rate = np.where(turning, -i_d, i_q_rate)
    squared = i_q * i_q + i_d * i_d
    total = np.sqrt(squared)
    power = p.square * squared + p.per_ampere * total + p.shaft * i_q + p.fixed
    along, across = p.voltages(i_q, i_d)
    needed = np.maximum(np.sqrt(along * along + across * across), 1e-9)
    voltage = needed / p.fraction
    per_watt = p.pack_resistance / voltage
    drop = per_watt * power
    # g along the path, and with speed where the currents stay: dg = (1 - drop / U) dU + R dP / U
    per_volt = (1.0 - drop / voltage) / (needed * p.fraction)
    by_current = 2.0 * p.square + p.per_ampere / (total + 1e-9)
    rise = per_volt * (
        (p.resistance * along + p.reactance * across) * i_d_rate
        + (p.resistance * across - p.reactance * along) * i_q_rate
    ) + per_watt * (by_current * (i_d * i_d_rate + i_q * i_q_rate) + p.shaft * i_q_rate)
    residual = voltage - p.source_voltage + drop
    return _Point(
        i_d, i_q, i_q_rate, power, along, across, voltage, residual, rise, per_volt, per_watt, by_current
    )  # fmt: skip
