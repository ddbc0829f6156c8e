"""Bus voltage, line current and motor currents solved together at given speeds.

As the bus voltage rises, the best point of the (i_d, i_q) plane follows a path: up the left edge of the strip of
field weakening, round the phase circle, then at the wanted i_q back towards i_d = 0. Every point of it needs a
voltage U and a power P, and the pack gives that power at that voltage where

(1) g = U - E + R P / U = 0,  E the pack's voltage at no current, R its ohmic resistance.

Where the path's end, the wanted i_q with i_d = 0, stays inside the voltage circle, or where the line limit holds
there, (1) has a closed form. Elsewhere Newton's method finds it on that piece of the path which holds the root,
where g is smooth. The line limit holds where the path asks for more at its voltage than its current gives.
"""

import numpy as np

from physics import limits
from physics.components.controller import MAXIMUM_POWER_FRACTION, quadrature_current_for_power
from physics.simulation.current_path import on_path
from physics.simulation.dq_plane import BoundPlane, Flow, Plane

_MOST_TURNS_ON_EDGE = 20


def solve_flow(plane: Plane, drives: bool = True) -> Flow:
    """Solve bus voltage, line current and motor currents.

    Parameters
    ----------
    plane : Plane
        At some speeds.
    drives : bool
        False where no drive is asked for any more, and the line limit stands aside.

    Returns
    -------
    Flow
        The residual of (1) is below RESIDUAL_TOLERANCE x R x line limit.
    """
    p, wanted = plane, plane.wanted
    linear = p.per_ampere + p.shaft
    power = (p.square * wanted + linear) * wanted + p.fixed
    voltage = p.voltage_for_power(power)
    current = power / voltage
    within = current <= p.line
    met = within & ((voltage * p.fraction) ** 2 >= p.unloaded_voltage_squared(wanted))
    nothing, unmet, found = np.zeros(met.size), np.full(met.size, limits.VOLTAGE), np.count_nonzero(met)
    if found == met.size:
        return Flow(voltage, current, wanted, nothing, p.wanted_rate, ~met, met, unmet)
    held, i_q, rate = ~within, wanted, p.wanted_rate
    if np.count_nonzero(held):
        spare = p.line * p.lowest - p.fixed
        limited = quadrature_current_for_power(np.maximum(spare, 0.0), p.square, linear)
        held &= (spare >= 0.0) & ((p.lowest * p.fraction) ** 2 >= p.unloaded_voltage_squared(limited))
        voltage, current = np.where(held, p.lowest, voltage), np.where(held, p.line, current)
        i_q = np.where(held, limited, wanted)
        falling = -p.shaft_rate * limited / (2 * p.square * limited + linear + 1e-12)  # power stays
        rate = np.where(held, falling, rate)
        found += np.count_nonzero(held)
    if found == 0:
        return _bound_by_voltage(p, drives)
    if found == met.size:
        return Flow(voltage, current, i_q, nothing, rate, held, met, unmet)
    if i_q is wanted:
        i_q, rate = wanted.copy(), rate.copy()
    flow = Flow(voltage, current, i_q, nothing, rate, held, met, unmet)
    places = (~(met | held)).nonzero()[0]
    flow.put(places, _bound_by_voltage(p.take(places), drives))
    return flow


def _bound_by_voltage(plane: Plane, drives: bool) -> Flow:
    """Elements, arrays of one axis, that the voltage circle keeps from what they want at i_d = 0."""
    p = plane.bound()
    i_d = np.where(p.most > 0.0, p.weakest_field(p.most), p.edge)
    held = p.power(p.most, i_d) >= p.line * p.lowest
    count = np.count_nonzero(held)
    if count == 0:
        return on_path(p)
    if count == held.size:
        return _held_by_line(p, drives)
    flow = _empty_flow(held.size)
    by_line, free = held.nonzero()[0], (~held).nonzero()[0]
    flow.put(by_line, _held_by_line(p.take(by_line), drives))
    flow.put(free, on_path(p.take(free)))
    return flow


def _empty_flow(count: int) -> Flow:
    voltage, current, i_q, i_d, rate = np.empty((5, count))
    flags = np.empty((2, count), bool)
    return Flow(voltage, current, i_q, i_d, rate, flags[0], flags[1], np.empty(count, int))


def _held_by_line(p: BoundPlane, drives: bool) -> Flow:
    """i_q and i_d that use the line limit's power at its voltage, with the field weakened where that needs it."""
    centre_d, centre_q, radius = p.centre_d, p.centre_q, p.radius
    available = p.line * p.lowest
    spare = np.maximum(available - p.fixed, 0.0)
    i_q = quadrature_current_for_power(spare, p.square, p.shaft + p.per_ampere)
    free = np.sqrt(np.maximum(radius * radius - centre_d * centre_d, 0.0)) + centre_q
    weakened = ((i_q > free) | (radius < -centre_d)) & (p.field_weakening > 0.0)
    nothing = np.zeros(free.size)
    flow = Flow(
        p.lowest.copy(), p.line.copy(), np.minimum(i_q, np.maximum(np.minimum(free, p.wanted), 0.0)),
        nothing, nothing.copy(), nothing == 0, nothing > 0, np.full(free.size, limits.VOLTAGE),
    )  # fmt: skip
    if np.count_nonzero(weakened):
        places = weakened.nonzero()[0]
        some = p if places.size == weakened.size else p.take(places)
        found = _on_edge(some, spare[places])
        flow.i_q[places], flow.i_d[places], flow.rate[places] = found
    at_rest = np.maximum(p.weakest_field(0.0), p.edge)
    idle = p.power(0.0, at_rest) > available
    if np.count_nonzero(idle):
        places = idle.nonzero()[0]
        fed = quadrature_current_for_power(spare, p.square, p.per_ampere)
        flow.i_q[places] = flow.rate[places] = 0.0
        flow.i_d[places] = np.maximum(at_rest, -fed)[places]
        if drives:
            flow.put(places, _idle(p.take(places)))
    return flow


def _idle(p: BoundPlane) -> Flow:
    """Where the line limit leaves less than the controller needs without drive: it stays fed, and drives nothing.

    It takes what it needs, at most what the pack can give; i_d is what that feeds.
    """
    p.wanted = p.wanted_rate = np.zeros(p.line.size)
    p.line = MAXIMUM_POWER_FRACTION * p.source_voltage / (2.0 * p.pack_resistance)
    p.lowest = p.source_voltage - p.pack_resistance * p.line
    flow = solve_flow(p, drives=False)
    flow.held_by_line, flow.met = np.ones(p.line.size, dtype=bool), np.zeros(p.line.size, dtype=bool)
    return flow


def _on_edge(p: BoundPlane, usable: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """i_q, i_d and the rate of i_q on the edge of the voltage circle, i = centre + radius (x, y).

    Power is linear in x and y but for the part with plain current, which is taken from the turn before. Along the
    edge neither voltage nor power changes with speed: both differentials are zero, two equations for two rates.
    """
    centre_d, centre_q, radius = p.centre_d, p.centre_q, p.radius
    a = 2.0 * p.square * radius * centre_d
    b = (2.0 * p.square * centre_q + p.shaft) * radius
    squared = np.maximum(a * a + b * b, 1e-30)  # zero where power does not depend on the angle
    base = p.square * (centre_d**2 + centre_q**2 + radius**2) + p.shaft * centre_q
    total = np.sqrt(p.guess_q * p.guess_q + p.guess_d * p.guess_d)
    for _ in range(_MOST_TURNS_ON_EDGE):
        c = usable - p.per_ampere * total - base
        root = np.sqrt(np.maximum(squared - c * c, 0.0))
        i_d = centre_d + radius * (a * c + b * root) / squared
        i_q = centre_q + radius * (b * c - a * root) / squared
        before, total = total, np.sqrt(i_d * i_d + i_q * i_q)
        if not np.count_nonzero(np.abs(total - before) > 1e-8 * total):
            break
    i_q = np.minimum(np.maximum(i_q, 0.0), p.most)
    i_d = np.maximum(p.weakest_field(i_q), p.edge)
    along, across = p.voltages(i_q, i_d)
    by_current = 2 * p.square + p.per_ampere / (np.sqrt(i_q * i_q + i_d * i_d) + 1e-9)
    voltage_d = p.resistance * along + p.reactance * across
    voltage_q = p.resistance * across - p.reactance * along
    power_d, power_q = by_current * i_d, by_current * i_q + p.shaft
    voltage_v, power_v = p.voltage_rise(i_q, i_d, along, across), p.shaft_rate * i_q
    determinant = voltage_d * power_q - voltage_q * power_d
    fine = (determinant != 0) & (i_q > 0.0)
    rate = (power_d * voltage_v - voltage_d * power_v) / np.where(fine, determinant, 1.0)
    return i_q, i_d, np.where(fine, rate, 0.0)
