"""The current plane at given speeds, and bus voltage and line current solved together on it.

The unknown is the bus voltage U between the line limit's own voltage and the pack's no-current voltage E, and
g(U) = U - E + R P(U) / U has one root there, found by Newton steps with the exact derivative inside a bracket.
"""

import numpy as np

from physics import motor
from physics.controller import MAXIMUM_POWER_SHARE, quadrature_current_for_power

RESIDUAL_TOLERANCE = 5e-7
"""Residual of the coupled solution, as a share of the line limit."""

_MOST_NEWTON_STEPS = 80
_NEWTON_STEPS_TOGETHER = 3
_MOST_TURNS_ON_EDGE = 20


class Plane:
    """The current plane at given speeds; `at` evaluates it at a bus voltage."""

    _FIXED = (
        "centre_d",
        "centre_q",
        "radius_per_volt",
        "phase_limit",
        "wanted",
        "field_weakening",
        "square",
        "per_ampere",
        "shaft",
        "fixed",
    )

    def __init__(self, m, motor_speed, winding_resistance, request):
        electrical_speed = np.maximum(motor_speed * m.pole_pairs, 1e-3)
        self.centre_d, self.centre_q, impedance = motor.voltage_disc_centre(
            electrical_speed, m.flux, winding_resistance, m.inductance
        )
        self.radius_per_volt = m.voltage_share / impedance
        self.phase_limit = request.phase_limit
        self.wanted = request.wanted
        self.field_weakening = m.field_weakening
        self.any_field_weakening = m.any_field_weakening
        self.square = 1.5 * winding_resistance + m.loss_resistance
        self.per_ampere = m.loss_per_ampere
        self.shaft = m.torque_per_ampere * motor_speed * m.shaft_gain
        self.fixed = m.fixed_loss

    def pick(self, chosen) -> "Plane":
        """The plane of some elements of the arrays of speeds, as arrays of one axis."""
        made = object.__new__(Plane)
        for name in self._FIXED:
            setattr(made, name, np.broadcast_to(getattr(self, name), chosen.shape)[chosen])
        made.any_field_weakening = self.any_field_weakening
        return made

    def at(self, voltage):
        """Electrical power and its derivative at a bus voltage; keeps i_q, i_d and what binds."""
        radius = self.radius_per_volt * voltage
        self.radius = radius
        if not self.any_field_weakening:
            root = np.sqrt(np.maximum(radius * radius - self.centre_d * self.centre_d, 1e-12))
            most = np.maximum(root + self.centre_q, 0.0)
            self.met = most >= self.wanted
            self.quadrature = np.minimum(most, self.wanted)
            self.direct = 0.0
            slope = np.where(self.met | (most <= 0), 0.0, radius / root)
            power = (
                (self.square * self.quadrature + self.per_ampere + self.shaft) * self.quadrature + self.fixed
            )
            rise = (2 * self.square * self.quadrature + self.per_ampere + self.shaft) * slope
            self.edge_binds, self.both_bind = ~self.met, None
            return power, rise * self.radius_per_volt
        most, slope, edge, self.edge_binds, self.both_bind = motor.largest_quadrature_current(
            self.centre_d, self.centre_q, radius, self.phase_limit, self.field_weakening
        )
        self.met = most >= self.wanted
        quadrature = np.minimum(most, self.wanted)
        direct = motor.smallest_direct_current(self.centre_d, self.centre_q, radius, quadrature)
        direct = np.where(most > 0, direct, edge)
        squared = quadrature * quadrature + direct * direct
        total = np.sqrt(squared)
        power = self.square * squared + self.per_ampere * total + self.shaft * quadrature + self.fixed
        # along the way the voltage moves the point: i_q alone (left edge), round the phase disc, or i_d alone
        by_current = 2 * self.square + self.per_ampere / np.maximum(total, 1e-9)
        inward = np.where(direct < 0, radius / np.maximum(direct - self.centre_d, 1e-6 * radius), 0.0)
        rise = np.where(
            self.met,
            np.where(most > 0, by_current * direct * inward, 0.0),
            (self.shaft + np.where(self.edge_binds, by_current * quadrature, 0.0)) * slope,
        )
        self.quadrature, self.direct = quadrature, direct
        return power, rise * self.radius_per_volt

    def idle_power(self):
        """Electrical power without drive at the voltage last looked at: fixed loss and field-weakening current."""
        if not self.any_field_weakening:
            return self.fixed
        direct = motor.smallest_direct_current(self.centre_d, self.centre_q, self.radius, 0.0)
        direct = np.minimum(-direct, np.minimum(self.field_weakening, self.phase_limit))
        return (self.square * direct + self.per_ampere) * direct + self.fixed

    def for_power(self, power, needed):
        """i_q and i_d that use a given electrical power at the voltage last looked at, where they are needed."""
        usable = np.maximum(power - self.fixed, 0.0)
        quadrature = quadrature_current_for_power(usable, self.square, self.shaft + self.per_ampere)
        quadrature = np.minimum(quadrature, self.wanted)
        if not self.any_field_weakening:
            return quadrature, 0.0
        free = np.sqrt(np.maximum(self.radius**2 - self.centre_d**2, 0.0)) + self.centre_q
        weakened = ((quadrature > free) | (self.radius < -self.centre_d)) & needed
        direct = np.zeros(quadrature.shape)
        if weakened.any():
            some = self.pick(weakened)
            some.radius, most = self.radius[weakened], self.quadrature[weakened]
            usable = np.broadcast_to(usable, quadrature.shape)[weakened]
            quadrature[weakened], direct[weakened] = some._on_edge(usable, quadrature[weakened], most)
        return quadrature, direct

    def _on_edge(self, usable, total, most):
        """The same on the edge of the voltage disc, i = centre + radius (x, y): power is linear in x and y."""
        a = 2 * self.square * self.radius * self.centre_d
        b = (2 * self.square * self.centre_q + self.shaft) * self.radius
        squared = np.maximum(a * a + b * b, 1e-30)  # zero where power does not depend on the angle
        base = self.square * (self.centre_d**2 + self.centre_q**2 + self.radius**2) + self.shaft * self.centre_q
        for _ in range(_MOST_TURNS_ON_EDGE):
            c = usable - self.per_ampere * total - base
            root = np.sqrt(np.maximum(squared - c * c, 0.0))
            direct = self.centre_d + self.radius * (a * c + b * root) / squared
            on_edge = self.centre_q + self.radius * (b * c - a * root) / squared
            before, total = total, np.hypot(direct, on_edge)
            if (np.abs(total - before) <= 1e-9 * total).all():
                break
        on_edge = np.minimum(np.maximum(on_edge, 0.0), most)
        direct = motor.smallest_direct_current(self.centre_d, self.centre_q, self.radius, on_edge)
        return on_edge, np.maximum(direct, -np.minimum(self.field_weakening, self.phase_limit))


def solve_bus_voltage(plane, electromotive, resistance, line, lowest, guess, line_limit):
    """Newton inside a bracket for g(U) = U - E + R P(U) / U on [lowest, E]; lowest is the line limit's voltage.

    Builds that a kink of P(U) holds up go on alone, so that they do not hold up the others.

    Parameters
    ----------
    plane : Plane
        Gives power at a voltage.
    electromotive : array, V
        Pack voltage at no current, E.
    resistance : array, ohm
        Ohmic part of the pack's resistance, R.
    line : array, A
        The line limit's current.
    lowest : array, V
        The bus voltage at that current, E - R line.
    guess : array, V
        Where to begin.
    line_limit : array, A
        What the residual is measured against.

    Returns
    -------
    tuple of arrays
        Bus voltage, V, and the electrical power there, W; the plane holds the currents that go with it.
    """
    low, high = lowest, electromotive
    before = np.inf
    inside = False  # whether the root is known to lie above the line limit's voltage
    voltage = np.minimum(np.maximum(guess, low), high)
    tolerance = RESIDUAL_TOLERANCE * resistance * line_limit
    for turn in range(_MOST_NEWTON_STEPS):
        power, slope = plane.at(voltage)
        drop = resistance * power / voltage
        residual = voltage - electromotive + drop
        solved = (np.abs(residual) <= tolerance) | ((voltage <= lowest) & (residual >= 0))
        if solved.all():
            break
        if turn >= _NEWTON_STEPS_TOGETHER and solved.size > 8 and 2 * solved.sum() > solved.size:
            left = ~solved
            given = [
                np.broadcast_to(values, voltage.shape)[left]
                for values in (electromotive, resistance, line, lowest, voltage, line_limit)
            ]
            voltage[left] = solve_bus_voltage(plane.pick(left), *given)[0]
            return voltage, plane.at(voltage)[0]
        inside = inside | (residual < 0)
        low = np.where(residual < 0, voltage, low)
        high = np.where(residual < 0, high, voltage)
        following = voltage - residual / np.maximum(1 + (resistance * slope - drop) / voltage, 1e-3)
        outside = (following < low) | (following > high)
        # a kink can hold Newton's steps up: halve the bracket where the last one gained little
        outside |= np.abs(residual) > 0.3 * before
        before = np.abs(residual)
        following = np.where(outside, np.where(inside, (low + high) / 2, lowest), following)
        voltage = np.where(solved, voltage, following)
    return voltage, power


def idle_point(plane, electromotive, resistance, line_limit):
    """Where the line limit leaves less than the controller needs without drive: it stays fed, and drives nothing.

    Parameters
    ----------
    plane : Plane
        At the speeds in question; no drive is asked of it afterwards.
    electromotive : array, V
        Pack voltage at no current.
    resistance : array, ohm
        Ohmic part of the pack's resistance.
    line_limit : array, A
        What the residual is measured against.

    Returns
    -------
    tuple of arrays
        Bus voltage, V, line current and i_d, A. At most what the pack can give; i_d is what that feeds.
    """
    plane.wanted = np.zeros_like(electromotive)
    most = MAXIMUM_POWER_SHARE * electromotive / (2 * resistance)
    lowest = electromotive - resistance * most
    voltage, power = solve_bus_voltage(
        plane, electromotive, resistance, most, lowest, electromotive.copy(), line_limit
    )
    current = np.minimum(power / voltage, most)
    spare = np.maximum(current * voltage - plane.fixed, 0.0)
    fed = quadrature_current_for_power(spare, plane.square, plane.per_ampere)
    return voltage, current, np.maximum(plane.direct, -fed)
