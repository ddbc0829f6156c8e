"""Bus voltage, line current and motor currents solved together at given speeds.

As the bus voltage rises, the best point of the (i_d, i_q) plane follows a path: up the left edge of the strip of
field weakening, round the phase disc, then at the wanted i_q back towards i_d = 0. Every point of it needs a
voltage U and a power P, and the pack gives that power at that voltage where

(1) g = U - E + R P / U = 0,  E the pack's voltage at no current, R its ohmic resistance.

Where the path's end, the wanted i_q with i_d = 0, stays inside the voltage disc, or where the line limit holds
there, (1) has a closed form. Elsewhere Newton's method finds it on that piece of the path which holds the root,
where g is smooth. The line limit holds where the path asks for more at its voltage than its current gives.
"""

from dataclasses import dataclass, fields

import numpy as np

from physics import limits, motor
from physics.controller import MAXIMUM_POWER_SHARE, quadrature_current_for_power

RESIDUAL_TOLERANCE = 5e-7
"""Residual of (1), as a share of R times the line limit."""

PHASE_DISC = -1
"""Stands for the name of what holds where the voltage disc and the phase disc bind together."""

_MOST_NEWTON_STEPS = 80
_MOST_TURNS_ON_EDGE = 20
_SLOWEST = 1e-7
"""Speed, m/s, below which the motor counts as turning this fast, so that no disc has its centre at 0 / 0."""

_STUCK, _UP, _ROUND, _BACK = range(4)  # pieces of the path; stuck where no voltage reaches its beginning


@dataclass
class Flow:
    """What flows at given speeds; arrays of one shape.

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

    voltage: np.ndarray
    current: np.ndarray
    quadrature: np.ndarray
    direct: np.ndarray
    rate: np.ndarray
    held_by_line: np.ndarray
    met: np.ndarray
    unmet: np.ndarray

    @classmethod
    def of(cls, shape, *values) -> "Flow":
        """Values broadcast to one shape, as arrays of their own."""
        return cls(*(np.array(value) if np.shape(value) == shape else np.full(shape, value) for value in values))

    def put(self, places, other: "Flow") -> None:
        """Write the elements at places in the flattened arrays."""
        for field in fields(self):
            getattr(self, field.name).reshape(-1)[places] = getattr(other, field.name)


class Plane:
    """What motor currents need at given speeds: voltage, and electrical power with all losses.

    Parameters
    ----------
    m : Machine
        The builds.
    speed : array, shape (..., n), m/s
        Road speed.
    winding_resistance : array, shape (n,), ohm
        At the winding's temperature.
    request : Request
        The i_q asked for, its change with speed, and the phase limit.
    electromotive, pack_resistance : array, shape (n,), V and ohm
        Pack voltage at no current, E, and the ohmic part of the pack's resistance, R.
    line : array, shape (n,), A
        The current at which the line limit meets the pack's line.
    near : tuple of arrays, optional
        i_q and i_d near the answer.
    """

    def __init__(self, m, speed, winding_resistance, request, electromotive, pack_resistance, line, near=None):
        self.speed = np.maximum(speed, _SLOWEST)  # reactance and back-EMF grow in proportion to it
        self.resistance = winding_resistance
        self.reactance = m.reactance_per_speed * self.speed
        self.back_emf = m.back_emf_per_speed * self.speed
        self.shaft, self.shaft_rate = m.shaft_per_speed * speed, m.shaft_per_speed
        self.share = m.voltage_share
        self.square = 1.5 * winding_resistance + m.loss_resistance
        self.per_ampere = m.loss_per_ampere
        self.fixed = m.fixed_loss
        self.wanted, self.wanted_rate = request.wanted, request.rate
        self.phase_limit = request.phase_limit
        self.field_weakening = m.field_weakening
        self.electromotive, self.pack_resistance, self.line = electromotive, pack_resistance, line
        self.tolerance = RESIDUAL_TOLERANCE * pack_resistance * m.line_limit
        self.lowest = electromotive - pack_resistance * line
        self.near_quadrature, self.near_direct = (None, None) if near is None else near

    def pick(self, places, shape) -> "Plane":
        """The elements at places in the flattened arrays of a shape."""
        made = object.__new__(Plane)
        for name, values in vars(self).items():
            if values is not None:
                if np.shape(values) != shape:
                    values = np.broadcast_to(values, shape)
                values = values.reshape(-1)[places]
            setattr(made, name, values)
        return made

    def at(self, quadrature, direct):
        """Electrical power, W, and the two components of the voltage that the currents need, U x share, V."""
        squared = quadrature * quadrature + direct * direct
        power = self.square * squared + self.per_ampere * np.sqrt(squared) + self.shaft * quadrature + self.fixed
        along = self.resistance * direct - self.reactance * quadrature
        across = self.resistance * quadrature + self.reactance * direct + self.back_emf
        return power, along, across

    def set_disc(self) -> None:
        """The voltage disc at the lowest voltage, and how far field weakening may go."""
        self.centre_d, self.centre_q, impedance = motor.voltage_disc_centre(
            1.0, self.back_emf, self.resistance, self.reactance
        )
        self.radius = self.share * self.lowest / impedance
        self.edge = np.maximum(self.centre_d, -np.minimum(self.field_weakening, self.phase_limit))


def solve_flow(plane: Plane, drives: bool = True) -> Flow:
    """Solve bus voltage, line current and motor currents.

    Parameters
    ----------
    plane : Plane
        At some speeds, shape (..., n).
    drives : bool
        False where no drive is asked for any more, and the line limit stands aside.

    Returns
    -------
    Flow
        The residual of (1) is below RESIDUAL_TOLERANCE x R x line limit.
    """
    p, wanted = plane, plane.wanted
    power = (p.square * wanted + p.per_ampere + p.shaft) * wanted + p.fixed
    voltage = _voltage_for_power(p, power)
    current = power / voltage
    met = (current <= p.line) & (voltage * p.share >= _unloaded_voltage(p, wanted))
    shape = met.shape
    if met.all():
        return Flow.of(shape, voltage, current, wanted, 0.0, p.wanted_rate, False, True, limits.VOLTAGE)
    spare = p.line * p.lowest - p.fixed
    linear = p.shaft + p.per_ampere
    limited = quadrature_current_for_power(np.maximum(spare, 0.0), p.square, linear)
    held = (current > p.line) & (spare >= 0) & (p.lowest * p.share >= _unloaded_voltage(p, limited))
    falling = -p.shaft_rate * limited / (2 * p.square * limited + linear + 1e-12)  # power stays
    flow = Flow.of(
        shape, np.where(held, p.lowest, voltage), np.where(held, p.line, current), np.where(held, limited, wanted),
        0.0, np.where(held, falling, p.wanted_rate), held, met, limits.VOLTAGE,
    )  # fmt: skip
    places = np.flatnonzero(~(met | held))
    if places.size:
        flow.put(places, _bound_by_voltage(p.pick(places, shape), drives))
    return flow


def _unloaded_voltage(p, quadrature):
    """Voltage, U x share, that i_q needs with i_d = 0."""
    along, across = p.reactance * quadrature, p.resistance * quadrature + p.back_emf
    return np.sqrt(along * along + across * across)


def _voltage_for_power(p, power):
    """The upper root of U (E - U) = R P; E / 2 where the pack cannot give that power."""
    root = p.electromotive * p.electromotive - 4 * p.pack_resistance * power
    return (p.electromotive + np.sqrt(np.maximum(root, 0.0))) / 2


def _bound_by_voltage(p, drives) -> Flow:
    """Elements, arrays of one axis, that the voltage disc keeps from what they want at i_d = 0."""
    p.set_disc()
    disc = p.centre_d, p.centre_q, p.radius
    most, _, edge, _, _ = motor.largest_quadrature_current(*disc, p.phase_limit, p.field_weakening)
    p.most = np.minimum(most, p.wanted)
    direct = np.where(most > 0, motor.smallest_direct_current(*disc, p.most), edge)
    held = p.at(p.most, direct)[0] >= p.line * p.lowest
    flow = Flow.of(held.shape, *[np.nan] * 5, held, False, limits.VOLTAGE)
    for chosen in (held, ~held):
        places = np.flatnonzero(chosen)
        if places.size:
            some = p.pick(places, held.shape)
            flow.put(places, _held_by_line(some, drives) if chosen is held else _on_path(some))
    return flow


def _held_by_line(p, drives) -> Flow:
    """i_q and i_d that use the line limit's power at its voltage, field weakened."""
    disc = p.centre_d, p.centre_q, p.radius
    available = p.line * p.lowest
    idle_direct = np.maximum(motor.smallest_direct_current(*disc, 0.0), p.edge)
    spare = np.maximum(available - p.fixed, 0.0)
    quadrature = np.minimum(quadrature_current_for_power(spare, p.square, p.shaft + p.per_ampere), p.most)
    direct = np.zeros(quadrature.shape)
    free = np.sqrt(np.maximum(p.radius**2 - p.centre_d**2, 0.0)) + p.centre_q
    weakened = ((quadrature > free) | (p.radius < -p.centre_d)) & (p.field_weakening > 0)
    rate = np.zeros(quadrature.shape)
    if weakened.any():
        places = np.flatnonzero(weakened)
        some = p.pick(places, weakened.shape)
        quadrature[places] = _on_edge(some, spare[places], quadrature[places])
        at_disc = motor.smallest_direct_current(*(values[places] for values in disc), quadrature[places])
        direct[places] = np.maximum(at_disc, some.edge)
        rate[places] = np.where(
            quadrature[places] > 0, _rate_on_edge(some, quadrature[places], direct[places]), 0.0
        )
    flow = Flow.of(
        direct.shape, p.lowest, p.line, quadrature, direct, rate, True, False, limits.VOLTAGE
    )
    idle = p.at(0.0, idle_direct)[0] > available
    if idle.any():
        fed = quadrature_current_for_power(spare, p.square, p.per_ampere)
        flow.quadrature[idle], flow.rate[idle] = 0.0, 0.0
        flow.direct[idle] = np.maximum(idle_direct, -fed)[idle]
        if drives:
            flow.put(np.flatnonzero(idle), _idle(p.pick(np.flatnonzero(idle), idle.shape)))
    return flow


def _idle(p) -> Flow:
    """Where the line limit leaves less than the controller needs without drive: it stays fed, and drives nothing.

    It takes what it needs, at most what the pack can give; i_d is what that feeds.
    """
    p.wanted, p.wanted_rate = np.zeros_like(p.wanted), np.zeros_like(p.wanted)
    p.line = MAXIMUM_POWER_SHARE * p.electromotive / (2 * p.pack_resistance)
    p.lowest = p.electromotive - p.pack_resistance * p.line
    flow = solve_flow(p, drives=False)
    flow.held_by_line[:] = True
    return flow


def _on_edge(p, usable, total):
    """i_q on the edge of the voltage disc, i = centre + radius (x, y), where power is linear in x and y."""
    a = 2 * p.square * p.radius * p.centre_d
    b = (2 * p.square * p.centre_q + p.shaft) * p.radius
    squared = np.maximum(a * a + b * b, 1e-30)  # zero where power does not depend on the angle
    base = p.square * (p.centre_d**2 + p.centre_q**2 + p.radius**2) + p.shaft * p.centre_q
    for _ in range(_MOST_TURNS_ON_EDGE):
        c = usable - p.per_ampere * total - base
        root = np.sqrt(np.maximum(squared - c * c, 0.0))
        direct = p.centre_d + p.radius * (a * c + b * root) / squared
        quadrature = p.centre_q + p.radius * (b * c - a * root) / squared
        before, total = total, np.sqrt(direct * direct + quadrature * quadrature)
        if (np.abs(total - before) <= 1e-9 * total).all():
            break
    return np.minimum(np.maximum(quadrature, 0.0), p.most)


def _voltage_rise(p, quadrature, direct, along, across):
    """How half the squared voltage grows with speed where the currents stay, V^2 s/m."""
    return (across * (p.reactance * direct + p.back_emf) - along * p.reactance * quadrature) / p.speed


def _rate_on_edge(p, quadrature, direct):
    """Change of i_q with speed where voltage and power stay: both differentials are zero."""
    _, along, across = p.at(quadrature, direct)
    by_current = 2 * p.square + p.per_ampere / np.sqrt(quadrature * quadrature + direct * direct + 1e-18)
    voltage_d = p.resistance * along + p.reactance * across
    voltage_q = p.resistance * across - p.reactance * along
    power_d, power_q = by_current * direct, by_current * quadrature + p.shaft
    voltage_v, power_v = _voltage_rise(p, quadrature, direct, along, across), p.shaft_rate * quadrature
    determinant = voltage_d * power_q - voltage_q * power_d
    safe = np.where(determinant == 0, 1.0, determinant)
    return np.where(determinant == 0, 0.0, (power_d * voltage_v - voltage_d * power_v) / safe)


def _on_path(p) -> Flow:
    """The root of (1) on the path, above the line limit's voltage."""
    full, edge, wanted, count = p.phase_limit, p.edge, p.wanted, p.edge.size
    top = np.minimum(wanted, np.sqrt(np.maximum(full * full - edge * edge, 0.0)))
    back = -np.sqrt(np.minimum(np.maximum(full * full - wanted * wanted, 0.0), edge * edge))
    # the beginning, and where the first and the second piece end
    power, along, across = p.at(np.array([np.zeros(count), top, wanted]), np.array([edge, edge, back]))
    voltage = np.maximum(np.sqrt(along * along + across * across), 1e-9) / p.share
    gap = voltage - p.electromotive + p.pack_resistance * power / voltage
    piece = ((voltage < p.lowest) | (gap < 0)).sum(axis=0)
    stuck, turning = piece == _STUCK, piece == _ROUND
    flat = piece == _BACK
    low, high = np.where(flat, back, 0.0), np.where(flat, 0.0, np.where(stuck, 0.0, top))
    at = p.near_direct if p.near_direct is None else np.where(flat, p.near_direct, p.near_quadrature)
    if turning.any():
        low = np.where(turning, np.arctan2(edge, top), low)
        high = np.where(turning, np.arctan2(back, wanted), high)
        if at is not None:
            at = np.where(turning, np.arctan2(p.near_direct, p.near_quadrature), at)
    at = (low + high) / 2 if at is None else np.minimum(np.maximum(at, low), high)
    before = np.inf
    for _ in range(_MOST_NEWTON_STEPS):
        direct, quadrature = np.where(flat, at, edge), np.where(flat, wanted, at)
        direct_rate, quadrature_rate = np.where(flat, 1.0, 0.0), np.where(flat, 0.0, 1.0)
        if turning.any():
            direct = np.where(turning, full * np.sin(at), direct)
            quadrature = np.where(turning, full * np.cos(at), quadrature)
            direct_rate = np.where(turning, quadrature, direct_rate)
            quadrature_rate = np.where(turning, -direct, quadrature_rate)
        power, along, across = p.at(quadrature, direct)
        needed = np.maximum(np.sqrt(along * along + across * across), 1e-9)
        voltage = needed / p.share
        drop = p.pack_resistance * power / voltage
        gap = voltage - p.electromotive + drop
        # g along the path, and with speed where the currents stay: dg = (1 - drop / U) dU + R dP / U
        per_volt, per_watt = (1 - drop / voltage) / (needed * p.share), p.pack_resistance / voltage
        by_current = 2 * p.square + p.per_ampere / np.sqrt(quadrature * quadrature + direct * direct + 1e-18)
        rise = per_volt * (
            (p.resistance * along + p.reactance * across) * direct_rate
            + (p.resistance * across - p.reactance * along) * quadrature_rate
        ) + per_watt * (
            by_current * (direct * direct_rate + quadrature * quadrature_rate) + p.shaft * quadrature_rate
        )
        beyond = (voltage < p.lowest) | (gap < 0)
        solved = (np.abs(gap) <= p.tolerance) & (voltage > 0.99 * p.lowest) | stuck
        if solved.all():
            break
        low, high = np.where(beyond, at, low), np.where(beyond, high, at)
        following = at - gap / np.where(rise > 0, rise, np.inf)
        outside = (following <= low) | (following >= high) | (rise <= 0) | (np.abs(gap) > 0.3 * before)
        before = np.abs(gap)
        following = np.where(outside, (low + high) / 2, following)
        at = np.where(solved, at, following)
    with_speed = per_volt * _voltage_rise(p, quadrature, direct, along, across) + per_watt * (
        p.shaft_rate * quadrature
    )
    deep = edge == p.centre_d  # the edge is where the disc is highest, and moves with it
    if deep.any():
        share = p.resistance * p.resistance / (p.resistance * p.resistance + p.reactance * p.reactance)
        with_speed = with_speed + np.where(deep, per_watt * by_current * edge * 2 * edge * share / p.speed, 0.0)
    rate = np.where(flat, p.wanted_rate, -with_speed / np.where(rise > 0, rise, np.inf) * quadrature_rate)
    if stuck.any():
        standing = _voltage_for_power(p, p.at(0.0, edge)[0])
        voltage, power = np.where(stuck, standing, voltage), np.where(stuck, p.at(0.0, edge)[0], power)
        direct, quadrature = np.where(stuck, edge, direct), np.where(stuck, 0.0, quadrature)
        rate = np.where(stuck, 0.0, rate)
    weakened = (p.field_weakening > 0) & (p.centre_d < -p.field_weakening)
    unmet = np.where(turning, PHASE_DISC, np.where(weakened, limits.FIELD_WEAKENING, limits.VOLTAGE))
    met, current = quadrature >= wanted, power / voltage
    return Flow.of(met.shape, voltage, current, quadrature, direct, rate, False, met, unmet)
