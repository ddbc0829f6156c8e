"""The best point of the (i_d, i_q) plane as the bus voltage rises: a path, and the place on it that the pack feeds.

See physics/simulation/power_flow.py, whose equation (1) is solved here by Newton's method inside a bracket.
"""

import numpy as np

from physics import limits
from physics.simulation.dq_plane import PHASE_DISC, Flow
from physics.simulation.rows import Together

_MOST_NEWTON_STEPS = 80
_NEWTON_STEPS_TOGETHER = 2


class _Path(Together):
    """The path, which piece of it holds the root, and between which values of its parameter.

    The parameter is i_q up the left edge, the angle from i_d = 0 round the phase disc, and i_d on the way back.
    """

    NAMES = ("edge", "turning", "flat", "low", "high", "at")


def on_path(p) -> Flow:
    """The root of (1) on the path, above the line limit's voltage.

    Parameters
    ----------
    p : BoundPlane
        Elements that the voltage disc keeps from what they want at i_d = 0, and that the line limit does not hold;
        arrays of one axis.

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
    voltage = np.maximum(np.sqrt(along * along + across * across), 1e-9) / p.share
    gap = voltage - p.electromotive + p.pack_resistance * power / voltage
    piece = ((voltage < p.lowest) | (gap < 0)).sum(axis=0)
    stuck, turning, flat = piece == 0, piece == 2, piece == 3
    low, high = np.where(flat, back, 0.0), np.where(flat | stuck, 0.0, top)
    at = np.where(flat, p.near_direct, p.near_quadrature)
    if np.count_nonzero(turning):
        low = np.where(turning, np.arctan2(edge, top), low)
        high = np.where(turning, np.arctan2(back, wanted), high)
        at = np.where(turning, np.arctan2(p.near_direct, p.near_quadrature), at)
    at = np.minimum(np.maximum(at, low), high)
    here = _search(p, _Path(edge, turning, flat, low, high, at), stuck)
    direct, quadrature, quadrature_rate, power, along, across, voltage, rise, per_volt, per_watt, by_current = here
    with_speed = per_volt * p.voltage_rise(quadrature, direct, along, across)
    with_speed += per_watt * p.shaft_rate * quadrature
    deep = edge == centre_d  # the edge is where the disc is highest, and moves with it
    if np.count_nonzero(deep):
        share = p.resistance * p.resistance / (p.resistance * p.resistance + p.reactance * p.reactance)
        with_speed += np.where(deep, per_watt * by_current * edge * 2 * edge * share / p.speed, 0.0)
    rate = np.where(flat, p.wanted_rate, -with_speed / np.where(rise > 0, rise, np.inf) * quadrature_rate)
    weakened = (p.field_weakening > 0) & (centre_d < -p.field_weakening)
    unmet = np.where(turning, PHASE_DISC, np.where(weakened, limits.FIELD_WEAKENING, limits.VOLTAGE))
    current = power / voltage
    if np.count_nonzero(stuck):
        power = p.power(0.0, edge)
        voltage = np.where(stuck, p.voltage_for_power(power), voltage)
        current = np.where(stuck, power / voltage, current)
        quadrature, direct = np.where(stuck, 0.0, quadrature), np.where(stuck, edge, direct)
        rate = np.where(stuck, 0.0, rate)
    return Flow(voltage, current, quadrature, direct, rate, stuck & ~stuck, quadrature >= wanted, unmet)


def _search(p, path, stuck):
    """Newton's steps inside the bracket; those that a kink holds up go on alone."""
    at, low, high, before = path.at, path.low, path.high, np.inf
    for turn in range(_MOST_NEWTON_STEPS):
        here, gap = _along(p, path, at)
        voltage, rise = here[6], here[7]
        solved = (np.abs(gap) <= p.tolerance) & (voltage > 0.99 * p.lowest) | stuck
        left = solved.size - np.count_nonzero(solved)
        if not left:
            break
        beyond = (voltage < p.lowest) | (gap < 0)
        low, high = np.where(beyond, at, low), np.where(beyond, high, at)
        following = at - gap / np.where(rise > 0, rise, np.inf)
        outside = (following <= low) | (following >= high) | (rise <= 0) | (np.abs(gap) > 0.3 * before)
        before = np.abs(gap)
        at = np.where(solved, at, np.where(outside, (low + high) / 2, following))
        if turn >= _NEWTON_STEPS_TOGETHER and solved.size > 8 and 2 * left < solved.size:
            places = (~solved).nonzero()[0]
            alone = path.pick(places)
            alone.at, alone.low, alone.high = at[places], low[places], high[places]
            found = _search(p.pick(places), alone, np.zeros(places.size, dtype=bool))
            for values, some in zip(here, found, strict=True):
                values[places] = some
            return here
    return here


def _along(p, path, at):
    """Currents at a place on the path and what goes with them, and the residual of (1)."""
    flat, turning = path.flat, path.turning
    direct, quadrature = np.where(flat, at, path.edge), np.where(flat, p.wanted, at)
    direct_rate, quadrature_rate = flat * 1.0, ~flat * 1.0
    if np.count_nonzero(turning):
        direct = np.where(turning, p.phase_limit * np.sin(at), direct)
        quadrature = np.where(turning, p.phase_limit * np.cos(at), quadrature)
        direct_rate = np.where(turning, quadrature, direct_rate)
        quadrature_rate = np.where(turning, -direct, quadrature_rate)
    squared = quadrature * quadrature + direct * direct
    total = np.sqrt(squared)
    power = p.square * squared + p.per_ampere * total + p.shaft * quadrature + p.fixed
    along, across = p.voltages(quadrature, direct)
    needed = np.maximum(np.sqrt(along * along + across * across), 1e-9)
    voltage = needed / p.share
    per_watt = p.pack_resistance / voltage
    drop = per_watt * power
    # g along the path, and with speed where the currents stay: dg = (1 - drop / U) dU + R dP / U
    per_volt = (1 - drop / voltage) / (needed * p.share)
    by_current = 2 * p.square + p.per_ampere / (total + 1e-9)
    rise = per_volt * (
        (p.resistance * along + p.reactance * across) * direct_rate
        + (p.resistance * across - p.reactance * along) * quadrature_rate
    ) + per_watt * (by_current * (direct * direct_rate + quadrature * quadrature_rate) + p.shaft * quadrature_rate)
    here = (
        direct, quadrature, quadrature_rate, power, along, across, voltage, rise, per_volt, per_watt, by_current
    )  # fmt: skip
    return here, voltage - p.electromotive + drop
