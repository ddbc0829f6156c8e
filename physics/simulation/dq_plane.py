"""The (i_d, i_q) plane at given speeds: what motor currents need in voltage and in power, and what flows.

Equations (1) to (4) of physics/components/motor.py. How bus voltage and currents are found stands in
physics/simulation/power_flow.py.
"""

from dataclasses import dataclass, fields
from typing import Self

import numpy as np

from physics.components import motor
from physics.simulation.machine import Machine
from physics.simulation.per_build import PerBuild

RESIDUAL_TOLERANCE = 5e-7
"""Residual of (1), as a fraction of R times the line limit."""

PHASE_CIRCLE = -1
"""Stands for the name of what holds where the voltage circle and the phase circle bind together."""

_SLOWEST = 1e-7
"""Speed, m/s, below which the motor counts as turning this fast, so that no circle has its centre at 0 / 0."""


@dataclass
class Flow(PerBuild):
    """What flows at given speeds.

    Attributes
    ----------
    voltage, current : array, V and A
        Of the bus, and the line current.
    i_q, i_d : array, A
        Torque and field part of the phase current.
    rate : array, A s/m
        How i_q changes with road speed, all limits and the pack's sag taken along.
    held_by_line : array of bool
        Whether the line limit, its foldback or the pack's own maximum power holds.
    met : array of bool
        Whether i_q is all that is wanted.
    unmet : array of int
        Where it is not, and the line limit does not hold: VOLTAGE, FIELD_WEAKENING or PHASE_CIRCLE.
    """

    voltage: np.ndarray
    current: np.ndarray
    i_q: np.ndarray
    i_d: np.ndarray
    rate: np.ndarray
    held_by_line: np.ndarray
    met: np.ndarray
    unmet: np.ndarray


@dataclass
class Plane(PerBuild):
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
    fraction : array
        Peak of the phase voltage over the bus voltage.
    wanted, wanted_rate : array, A and A s/m
        The i_q asked for, and how it changes with speed.
    phase_limit, field_weakening : array, A
        Radius of the phase circle, and the largest -i_d.
    source_voltage, pack_resistance : array, V and ohm
        E and R of (1).
    line, lowest : array, A and V
        Where the line limit meets the pack's line: current, and the bus voltage at it.
    tolerance : array, V
        What is left of (1) at the most.
    guess_q, guess_d : array, A
        Where to begin the search.
    """

    speed: np.ndarray
    resistance: np.ndarray
    reactance: np.ndarray
    back_emf: np.ndarray
    square: np.ndarray
    per_ampere: np.ndarray
    shaft: np.ndarray
    fixed: np.ndarray
    shaft_rate: np.ndarray
    fraction: np.ndarray
    wanted: np.ndarray
    wanted_rate: np.ndarray
    phase_limit: np.ndarray
    field_weakening: np.ndarray
    source_voltage: np.ndarray
    pack_resistance: np.ndarray
    line: np.ndarray
    lowest: np.ndarray
    tolerance: np.ndarray
    guess_q: np.ndarray
    guess_d: np.ndarray

    @classmethod
    def at_speed(
        cls, m: Machine, speed, winding_resistance, request, source_voltage, resistance, line, guess
    ) -> Self:
        """The plane of a Machine at road speeds, with what is asked for and what the pack gives.

        All arrays have one axis; speeds of shape (..., n) are laid out one row after another.
        """
        slow = np.maximum(speed, _SLOWEST)
        guess_q, guess_d = (request.wanted, m.nothing) if guess is None else guess
        plane = cls(
            speed=slow,
            resistance=winding_resistance,
            reactance=m.reactance_per_speed * slow,
            back_emf=m.back_emf_per_speed * slow,
            square=1.5 * winding_resistance + m.loss_resistance,
            per_ampere=m.loss_per_ampere,
            shaft=m.shaft_per_speed * speed,
            fixed=m.fixed_loss,
            shaft_rate=m.shaft_per_speed,
            fraction=m.voltage_fraction,
            wanted=request.wanted,
            wanted_rate=request.rate,
            phase_limit=request.phase_limit,
            field_weakening=m.field_weakening,
            source_voltage=source_voltage,
            pack_resistance=resistance,
            line=line,
            lowest=source_voltage - resistance * line,
            tolerance=RESIDUAL_TOLERANCE * resistance * m.line_limit,
            guess_q=guess_q,
            guess_d=guess_d,
        )
        if speed.ndim > 1:
            for field in fields(cls):
                values = np.broadcast_to(getattr(plane, field.name), speed.shape).ravel()
                setattr(plane, field.name, values)
        return plane

    def power(self, i_q, i_d):
        """Electrical power, W."""
        squared = i_q * i_q + i_d * i_d
        return self.square * squared + self.per_ampere * np.sqrt(squared) + self.shaft * i_q + self.fixed

    def voltages(self, i_q, i_d):
        """The two components of the phase voltage that the currents need, V."""
        along = self.resistance * i_d - self.reactance * i_q
        return along, self.resistance * i_q + self.reactance * i_d + self.back_emf

    def unloaded_voltage_squared(self, i_q):
        """Square of the phase voltage that i_q needs with i_d = 0."""
        along, across = self.reactance * i_q, self.resistance * i_q + self.back_emf
        return along * along + across * across

    def voltage_rise(self, i_q, i_d, along, across):
        """How half the squared phase voltage grows with speed where the currents stay, V^2 s/m."""
        growing = across * (self.reactance * i_d + self.back_emf) - along * self.reactance * i_q
        return growing / self.speed

    def voltage_for_power(self, power):
        """The upper root of U (E - U) = R P; E / 2 where the pack cannot give that power."""
        root = self.source_voltage * self.source_voltage - 4 * self.pack_resistance * power
        return (self.source_voltage + np.sqrt(np.maximum(root, 0.0))) / 2

    def bound(self) -> "BoundPlane":
        """The same with the voltage circle at the lowest voltage."""
        centre_d, centre_q, impedance = motor.voltage_disc_centre(
            1.0, self.back_emf, self.resistance, self.reactance
        )
        radius = self.fraction * self.lowest / impedance
        edge = np.maximum(centre_d, -np.minimum(self.field_weakening, self.phase_limit))
        most = motor.largest_quadrature_current(centre_d, centre_q, radius, self.phase_limit, self.field_weakening)
        own = [getattr(self, field.name) for field in fields(Plane)]  # it may be bound already
        return BoundPlane(*own, centre_d, centre_q, radius, edge, np.minimum(most, self.wanted))


@dataclass
class BoundPlane(Plane):
    """A plane with the voltage circle at the lowest voltage, where the line limit meets the pack's line.

    Attributes
    ----------
    centre_d, centre_q, radius : array, A
        Of the circle.
    edge : array, A
        Left edge of the strip of field weakening; not left of the circle's centre.
    most : array, A
        The largest i_q inside circle, phase circle and strip, at most the wanted one.
    """

    centre_d: np.ndarray
    centre_q: np.ndarray
    radius: np.ndarray
    edge: np.ndarray
    most: np.ndarray

    def weakest_field(self, i_q):
        """The i_d nearest to zero that an i_q needs, A."""
        return motor.smallest_direct_current(self.centre_d, self.centre_q, self.radius, i_q)
