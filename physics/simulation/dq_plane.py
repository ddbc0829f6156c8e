"""The (i_d, i_q) plane at given speeds: what motor currents need in voltage and in power, and what flows.

Equations (1) to (4) of physics/components/motor.py. How bus voltage and currents are found stands in
physics/simulation/power_flow.py.
"""

from dataclasses import dataclass, fields
from typing import Any, Self

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
    """What flows at given speeds."""

    voltage: np.ndarray  # V, of the bus
    current: np.ndarray  # A, in the line
    i_q: np.ndarray  # A
    i_d: np.ndarray  # A
    rate: np.ndarray  # A s/m: how i_q changes with road speed, all limits and the pack's sag taken along
    held_by_line: np.ndarray  # whether the line limit, its foldback or the pack's own maximum power holds
    met: np.ndarray  # whether i_q is all that is wanted
    unmet: np.ndarray  # where it is not, and the line limit does not hold: VOLTAGE, FIELD_WEAKENING or PHASE_CIRCLE


@dataclass
class Plane(PerBuild):
    """What motor currents need at given speeds: voltage, and electrical power with all losses.

    Power is square i^2 + per_ampere i + shaft i_q + fixed.
    """

    speed: np.ndarray  # m/s on the road, a little above zero at least
    resistance: np.ndarray  # ohm, of one phase
    reactance: np.ndarray  # ohm, of one phase
    back_emf: np.ndarray  # V, of one phase
    square: np.ndarray  # ohm
    per_ampere: np.ndarray  # V
    shaft: np.ndarray  # V
    fixed: np.ndarray  # W
    shaft_rate: np.ndarray  # V s/m: change of `shaft` with speed
    fraction: np.ndarray  # peak of the phase voltage over the bus voltage
    wanted: np.ndarray  # A: the i_q asked for
    wanted_rate: np.ndarray  # A s/m: how that changes with speed
    phase_limit: np.ndarray  # A: radius of the phase circle
    field_weakening: np.ndarray  # A: the largest -i_d
    source_voltage: np.ndarray  # V: E of (1)
    pack_resistance: np.ndarray  # ohm: R of (1)
    line: np.ndarray  # A: where the line limit meets the pack's line
    lowest: np.ndarray  # V: the bus voltage there
    tolerance: np.ndarray  # V: what is left of (1) at the most
    guess_q: np.ndarray  # A: where to begin the search
    guess_d: np.ndarray  # A

    @classmethod
    def at_speed(
        cls,
        m: Machine,
        speed: Any,
        winding_resistance: np.ndarray,
        request: Any,
        source_voltage: np.ndarray,
        resistance: np.ndarray,
        line: np.ndarray,
        guess: Any,
    ) -> Self:
        """The plane of a Machine at road speeds, with what is asked for and what the pack gives.

        All arrays have one axis; speeds of shape (..., n) are laid out one row after another.
        """
        slow = np.maximum(speed, _SLOWEST)
        guess_q, guess_d = (request.wanted, m.nothing) if guess is None else guess[:2]
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
            own = vars(plane)
            for name, values in own.items():
                if np.shape(values) != speed.shape:  # half the time of np.broadcast_to
                    filled = np.empty(speed.shape)
                    filled[...] = values
                    values = filled
                own[name] = values.ravel()
        return plane

    def power(self, i_q: Any, i_d: Any) -> np.ndarray:
        """Electrical power, W."""
        squared = i_q * i_q + i_d * i_d
        return self.square * squared + self.per_ampere * np.sqrt(squared) + self.shaft * i_q + self.fixed

    def voltages(self, i_q: Any, i_d: Any) -> tuple[np.ndarray, np.ndarray]:
        """The two components of the phase voltage that the currents need, V."""
        along = self.resistance * i_d - self.reactance * i_q
        return along, self.resistance * i_q + self.reactance * i_d + self.back_emf

    def unloaded_voltage_squared(self, i_q: Any) -> np.ndarray:
        """Square of the phase voltage that i_q needs with i_d = 0."""
        along, across = self.reactance * i_q, self.resistance * i_q + self.back_emf
        return along * along + across * across

    def voltage_rise(self, i_q: Any, i_d: Any, along: np.ndarray, across: np.ndarray) -> np.ndarray:
        """How half the squared phase voltage grows with speed where the currents stay, V^2 s/m."""
        growing = across * (self.reactance * i_d + self.back_emf) - along * self.reactance * i_q
        return growing / self.speed

    def voltage_for_power(self, power: Any) -> np.ndarray:
        """The upper root of U (E - U) = R P; E / 2 where the pack cannot give that power."""
        root = self.source_voltage * self.source_voltage - 4.0 * self.pack_resistance * power
        return (self.source_voltage + np.sqrt(np.maximum(root, 0.0))) / 2.0

    def bound(self) -> "BoundPlane":
        """The same with the voltage circle at the lowest voltage."""
        centre_d, centre_q, impedance = motor.voltage_circle_centre(
            1.0, self.back_emf, self.resistance, self.reactance
        )
        radius = self.fraction * self.lowest / impedance
        edge = np.maximum(centre_d, -np.minimum(self.field_weakening, self.phase_limit))
        most = motor.largest_quadrature_current(centre_d, centre_q, radius, self.phase_limit, self.field_weakening)
        own = {name: getattr(self, name) for name in _OF_A_PLANE}  # it may be bound already
        most = np.minimum(most, self.wanted)
        return BoundPlane(**own, centre_d=centre_d, centre_q=centre_q, radius=radius, edge=edge, most=most)


_OF_A_PLANE = tuple(field.name for field in fields(Plane))


@dataclass
class BoundPlane(Plane):
    """A plane with the voltage circle at the lowest voltage, where the line limit meets the pack's line."""

    centre_d: np.ndarray  # A, of the circle
    centre_q: np.ndarray  # A
    radius: np.ndarray  # A
    edge: np.ndarray  # A: left edge of the strip of field weakening; not left of the circle's centre
    most: np.ndarray  # A: the largest i_q inside circle, phase circle and strip, at most the wanted one

    def weakest_field(self, i_q: Any) -> np.ndarray:
        """The i_d nearest to zero that an i_q needs, A."""
        return motor.smallest_direct_current(self.centre_d, self.centre_q, self.radius, i_q)
