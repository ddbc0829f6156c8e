"""The (i_d, i_q) plane at given speeds: what motor currents need in voltage and in power, and what flows.

Equations (1) to (4) of physics/components/motor.py. How bus voltage and currents are found stands in
physics/simulation/power_flow.py.
"""

import numpy as np

from physics.components import motor
from physics.simulation.rows import Together

RESIDUAL_TOLERANCE = 5e-7
"""Residual of (1), as a share of R times the line limit."""

PHASE_DISC = -1
"""Stands for the name of what holds where the voltage disc and the phase disc bind together."""

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

    def unloaded_voltage_squared(self, quadrature):
        """Square of the phase voltage that i_q needs with i_d = 0."""
        along, across = self.reactance * quadrature, self.resistance * quadrature + self.back_emf
        return along * along + across * across

    def voltage_rise(self, quadrature, direct, along, across):
        """How half the squared phase voltage grows with speed where the currents stay, V^2 s/m."""
        growing = across * (self.reactance * direct + self.back_emf) - along * self.reactance * quadrature
        return growing / self.speed

    def voltage_for_power(self, power):
        """The upper root of U (E - U) = R P; E / 2 where the pack cannot give that power."""
        root = self.electromotive * self.electromotive - 4 * self.pack_resistance * power
        return (self.electromotive + np.sqrt(np.maximum(root, 0.0))) / 2

    def bound(self) -> "BoundPlane":
        """The same with the voltage disc at the lowest voltage."""
        centre_d, centre_q, impedance = motor.voltage_circle_centre(
            1.0, self.back_emf, self.resistance, self.reactance
        )
        radius = self.share * self.lowest / impedance
        edge = np.maximum(centre_d, -np.minimum(self.field_weakening, self.phase_limit))
        most = motor.largest_quadrature_current(centre_d, centre_q, radius, self.phase_limit, self.field_weakening)
        values = (getattr(self, name) for name in Plane.NAMES)
        return BoundPlane(*values, centre_d, centre_q, radius, edge, np.minimum(most, self.wanted))


class BoundPlane(Plane):
    """A plane with the voltage disc at the lowest voltage, where the line limit meets the pack's line.

    Attributes
    ----------
    centre_d, centre_q, radius : array, A
        Of the disc.
    edge : array, A
        Left edge of the strip of field weakening; not left of the disc's centre.
    most : array, A
        The largest i_q inside disc, phase disc and strip, at most the wanted one.
    """

    NAMES = (*Plane.NAMES, "centre_d", "centre_q", "radius", "edge", "most")

    def weakest_field(self, quadrature):
        """The i_d nearest to zero that an i_q needs, A."""
        return motor.smallest_direct_current(self.centre_d, self.centre_q, self.radius, quadrature)
