"""Bus voltage, line current and motor currents solved together at given speeds.

As the bus voltage rises, the best point of the (i_d, i_q) plane follows a path: up the left edge of the strip of
field weakening, round the phase disc, then at the wanted i_q back towards i_d = 0. Every point of it needs a
voltage U and a power P, and the pack gives that power at that voltage where

(1) g = U - E + R P / U = 0,  E the pack's voltage at no current, R its ohmic resistance.

Where the path's end, the wanted i_q with i_d = 0, stays inside the voltage disc, or where the line limit holds
there, (1) has a closed form. Elsewhere Newton's method finds it on that piece of the path which holds the root,
where g is smooth. The line limit holds where the path asks for more at its voltage than its current gives.
"""

import numpy as np

from physics import limits, motor
from physics.controller import MAXIMUM_POWER_SHARE, quadrature_current_for_power
from physics.rows import Together

RESIDUAL_TOLERANCE = 5e-7
"""Residual of (1), as a share of R times the line limit."""

PHASE_DISC = -1
"""Stands for the name of what holds where the voltage disc and the phase disc bind together."""

_MOST_NEWTON_STEPS = 80
_NEWTON_STEPS_TOGETHER = 2
_MOST_TURNS_ON_EDGE = 20
_SLOWEST = 1e-7
"""Speed, m/s, below which the motor counts as turning this fast, so that no disc has its centre at 0 / 0."""


class Flow(Together):
    """What flows at given speeds.

    Attributes
    ----------
    voltage, current : array, V and A
        Of the bus, and the line current.
    quadrature, direct : array, A
        i_q and i_d.
    rate : array, A s/m
        How i_q changes with road speed, all limits and the pack's sag taken along.
    held_by_line : array of bool
        Whether the line limit, its foldback or the pack's own maximum power holds.
    met : array of bool
        Whether i_q is all that is wanted.
    unmet : array of int
        Where it is not, and the line limit does not hold: VOLTAGE, FIELD_WEAKENING or PHASE_DISC.
    """

    NAMES = ("voltage", "current", "quadrature", "direct", "rate", "held_by_line", "met", "unmet")

    def shaped(self, shape) -> "Flow":
        """The same in another shape."""
        return Flow(*[np.reshape(getattr(self, name), shape) for name in self.NAMES])


class Plane(Together):
    """What motor currents need at given speeds: voltage, and electrical power with all losses.

    Attributes
    ----------
    speed : array, m/s
        On the road, a little above zero at least.
    resistance, reactance, back_emf : array, ohm, ohm and V
        Of one phase.
    square, per_ampere, shaft, fixed : array, ohm, V, V and W
        Power is square i^2 + per_ampere i + shaft i_q + fixed.
    shaft_rate : array, V s/m
        Change of `shaft` with speed.
    share : array
        Peak of the phase voltage over the bus voltage.
    wanted, wanted_rate : array, A and A s/m
        The i_q asked for, and how it changes with speed.
    phase_limit, field_weakening : array, A
        Radius of the phase disc, and the largest -i_d.
    electromotive, pack_resistance : array, V and ohm
        E and R of (1).
    line, lowest : array, A and V
        Where the line limit meets the pack's line: current, and the bus voltage at it.
    tolerance : array, V
        What is left of (1) at the most.
    near_quadrature, near_direct : array, A
        Where to begin the search.
    """

    NAMES = (
        "speed", "resistance", "reactance", "back_emf", "square", "per_ampere", "shaft", "fixed", "shaft_rate",
        "share", "wanted", "wanted_rate", "phase_limit", "field_weakening", "electromotive", "pack_resistance",
        "line", "lowest", "tolerance", "near_quadrature", "near_direct",
    )  # fmt: skip

    @classmethod
    def at_speed(cls, m, speed, winding_resistance, request, electromotive, pack_resistance, line, near=None):
        """The plane of a Machine at road speeds, with what is asked for and what the pack gives.

        All arrays have one axis; speeds of shape (..., n) are laid out one row after another.
        """
        slow, wanted = np.maximum(speed, _SLOWEST), request.wanted
        values = (
            slow, winding_resistance, m.reactance_per_speed * slow, m.back_emf_per_speed * slow,
            1.5 * winding_resistance + m.loss_resistance, m.loss_per_ampere, m.shaft_per_speed * speed,
            m.fixed_loss, m.shaft_per_speed, m.voltage_share, wanted, request.rate, request.phase_limit,
            m.field_weakening, electromotive, pack_resistance, line, electromotive - pack_resistance * line,
            RESIDUAL_TOLERANCE * pack_resistance * m.line_limit, *((wanted, m.nothing) if near is None else near),
        )  # fmt: skip
        if speed.ndim > 1:
            values = [np.broadcast_to(value, speed.shape).ravel() for value in values]
        return cls(*values)

    def power(self, quadrature, direct):
        """Electrical power, W."""
        squared = quadrature * quadrature + direct * direct
        return self.square * squared + self.per_ampere * np.sqrt(squared) + self.shaft * quadrature + self.fixed

    def voltages(self, quadrature, direct):
        """The two components of the phase voltage that the currents need, V."""
        along = self.resistance * direct - self.reactance * quadrature
        return along, self.resistance * quadrature + self.reactance * direct + self.back_emf


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
    voltage = _voltage_for_power(p, power)
    current = power / voltage
    within = current <= p.line
    met = within & ((voltage * p.share) ** 2 >= _unloaded_voltage_squared(p, wanted))
    nothing, unmet = np.zeros(met.size), np.full(met.size, limits.VOLTAGE)
    found = np.count_nonzero(met)
    if found == met.size:
        return Flow(voltage, current, wanted, nothing, p.wanted_rate, ~met, met, unmet)
    held, quadrature, rate = ~within, wanted, p.wanted_rate
    if np.count_nonzero(held):
        spare = p.line * p.lowest - p.fixed
        limited = quadrature_current_for_power(np.maximum(spare, 0.0), p.square, linear)
        held &= (spare >= 0) & ((p.lowest * p.share) ** 2 >= _unloaded_voltage_squared(p, limited))
        voltage, current = np.where(held, p.lowest, voltage), np.where(held, p.line, current)
        quadrature = np.where(held, limited, wanted)
        falling = -p.shaft_rate * limited / (2 * p.square * limited + linear + 1e-12)  # power stays
        rate = np.where(held, falling, rate)
        found += np.count_nonzero(held)
    if found == 0:
        return _bound_by_voltage(p, drives)
    if found == met.size:
        return Flow(voltage, current, quadrature, nothing, rate, held, met, unmet)
    if quadrature is wanted:
        quadrature, rate = wanted.copy(), rate.copy()
    flow = Flow(voltage, current, quadrature, nothing, rate, held, met, unmet)
    places = np.flatnonzero(~(met | held))
    flow.put(places, _bound_by_voltage(p.pick(places), drives))
    return flow


def _unloaded_voltage_squared(p, quadrature):
    """Square of the phase voltage that i_q needs with i_d = 0."""
    along, across = p.reactance * quadrature, p.resistance * quadrature + p.back_emf
    return along * along + across * across


def _voltage_for_power(p, power):
    """The upper root of U (E - U) = R P; E / 2 where the pack cannot give that power."""
    root = p.electromotive * p.electromotive - 4 * p.pack_resistance * power
    return (p.electromotive + np.sqrt(np.maximum(root, 0.0))) / 2


def _disc(p):
    """The voltage disc at the lowest voltage, centre and radius, and the left edge of field weakening, A."""
    centre_d, centre_q, impedance = motor.voltage_disc_centre(1.0, p.back_emf, p.resistance, p.reactance)
    edge = np.maximum(centre_d, -np.minimum(p.field_weakening, p.phase_limit))
    return (centre_d, centre_q, p.share * p.lowest / impedance), edge


def _bound_by_voltage(p, drives) -> Flow:
    """Elements, arrays of one axis, that the voltage disc keeps from what they want at i_d = 0."""
    disc, edge = _disc(p)
    most = motor.largest_quadrature_current(*disc, p.phase_limit, p.field_weakening)[0]
    quadrature = np.minimum(most, p.wanted)
    direct = np.where(most > 0, motor.smallest_direct_current(*disc, quadrature), edge)
    held = p.power(quadrature, direct) >= p.line * p.lowest
    count = np.count_nonzero(held)
    if count == 0:
        return _on_path(p)
    if count == held.size:
        return _held_by_line(p, drives)
    flow = _empty_flow(held.size)
    by_line, free = np.flatnonzero(held), np.flatnonzero(~held)
    flow.put(by_line, _held_by_line(p.pick(by_line), drives))
    flow.put(free, _on_path(p.pick(free)))
    return flow


def _empty_flow(count):
    numbers = np.empty((5, count))
    return Flow(*numbers, np.empty(count, bool), np.empty(count, bool), np.empty(count, int))


def _held_by_line(p, drives) -> Flow:
    """i_q and i_d that use the line limit's power at its voltage, with the field weakened where that needs it."""
    disc, edge = _disc(p)
    centre_d, centre_q, radius = disc
    available = p.line * p.lowest
    spare = np.maximum(available - p.fixed, 0.0)
    quadrature = quadrature_current_for_power(spare, p.square, p.shaft + p.per_ampere)
    free = np.sqrt(np.maximum(radius * radius - centre_d * centre_d, 0.0)) + centre_q
    weakened = ((quadrature > free) | (radius < -centre_d)) & (p.field_weakening > 0)
    nothing = np.zeros(free.size)
    flow = Flow(
        p.lowest.copy(), p.line.copy(), np.minimum(quadrature, np.maximum(np.minimum(free, p.wanted), 0.0)),
        nothing, nothing.copy(), nothing == 0, nothing > 0, np.full(free.size, limits.VOLTAGE),
    )  # fmt: skip
    if np.count_nonzero(weakened):
        places = np.flatnonzero(weakened)
        some = p if places.size == weakened.size else p.pick(places)
        found = _on_edge(some, spare[places])
        flow.quadrature[places], flow.direct[places], flow.rate[places] = found
    at_rest = np.maximum(motor.smallest_direct_current(*disc, 0.0), edge)
    idle = p.power(0.0, at_rest) > available
    if np.count_nonzero(idle):
        places = np.flatnonzero(idle)
        fed = quadrature_current_for_power(spare, p.square, p.per_ampere)
        flow.quadrature[places] = flow.rate[places] = 0.0
        flow.direct[places] = np.maximum(at_rest, -fed)[places]
        if drives:
            flow.put(places, _idle(p.pick(places)))
    return flow


def _idle(p) -> Flow:
    """Where the line limit leaves less than the controller needs without drive: it stays fed, and drives nothing.

    It takes what it needs, at most what the pack can give; i_d is what that feeds.
    """
    p.wanted = p.wanted_rate = np.zeros(p.line.size)
    p.line = MAXIMUM_POWER_SHARE * p.electromotive / (2 * p.pack_resistance)
    p.lowest = p.electromotive - p.pack_resistance * p.line
    flow = solve_flow(p, drives=False)
    flow.held_by_line = np.ones(p.line.size, dtype=bool)
    return flow


def _on_edge(p, usable):
    """i_q, i_d and the rate of i_q on the edge of the voltage disc, i = centre + radius (x, y).

    Power is linear in x and y but for the part with plain current, which is taken from the turn before. Along the
    edge neither voltage nor power changes with speed: both differentials are zero, two equations for two rates.
    """
    disc, edge = _disc(p)
    centre_d, centre_q, radius = disc
    most = np.minimum(
        motor.largest_quadrature_current(*disc, p.phase_limit, p.field_weakening)[0], p.wanted
    )
    a = 2 * p.square * radius * centre_d
    b = (2 * p.square * centre_q + p.shaft) * radius
    squared = np.maximum(a * a + b * b, 1e-30)  # zero where power does not depend on the angle
    base = p.square * (centre_d**2 + centre_q**2 + radius**2) + p.shaft * centre_q
    total = np.sqrt(p.near_quadrature * p.near_quadrature + p.near_direct * p.near_direct)
    for _ in range(_MOST_TURNS_ON_EDGE):
        c = usable - p.per_ampere * total - base
        root = np.sqrt(np.maximum(squared - c * c, 0.0))
        direct = centre_d + radius * (a * c + b * root) / squared
        quadrature = centre_q + radius * (b * c - a * root) / squared
        before, total = total, np.sqrt(direct * direct + quadrature * quadrature)
        if (np.abs(total - before) <= 1e-9 * total).all():
            break
    quadrature = np.minimum(np.maximum(quadrature, 0.0), most)
    direct = np.maximum(motor.smallest_direct_current(*disc, quadrature), edge)
    along, across = p.voltages(quadrature, direct)
    by_current = 2 * p.square + p.per_ampere / (np.sqrt(quadrature * quadrature + direct * direct) + 1e-9)
    voltage_d = p.resistance * along + p.reactance * across
    voltage_q = p.resistance * across - p.reactance * along
    power_d, power_q = by_current * direct, by_current * quadrature + p.shaft
    voltage_v, power_v = _voltage_rise(p, quadrature, direct, along, across), p.shaft_rate * quadrature
    determinant = voltage_d * power_q - voltage_q * power_d
    fine = (determinant != 0) & (quadrature > 0)
    rate = (power_d * voltage_v - voltage_d * power_v) / np.where(fine, determinant, 1.0)
    return quadrature, direct, np.where(fine, rate, 0.0)


def _voltage_rise(p, quadrature, direct, along, across):
    """How half the squared phase voltage grows with speed where the currents stay, V^2 s/m."""
    return (across * (p.reactance * direct + p.back_emf) - along * p.reactance * quadrature) / p.speed


class _Path(Together):
    """The path, which piece of it holds the root, and between which values of its parameter.

    The parameter is i_q up the left edge, the angle from i_d = 0 round the phase disc, and i_d on the way back.
    """

    NAMES = ("edge", "turning", "flat", "low", "high", "at")


def _on_path(p) -> Flow:
    """The root of (1) on the path, above the line limit's voltage."""
    (centre_d, _, _), edge = _disc(p)
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
    with_speed = per_volt * _voltage_rise(p, quadrature, direct, along, across)
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
        voltage = np.where(stuck, _voltage_for_power(p, power), voltage)
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
            places = np.flatnonzero(~solved)
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
    ) + per_watt * (
        by_current * (direct * direct_rate + quadrature * quadrature_rate) + p.shaft * quadrature_rate
    )
    here = (
        direct, quadrature, quadrature_rate, power, along, across, voltage, rise, per_volt, per_watt, by_current
    )  # fmt: skip
    return here, voltage - p.electromotive + drop
