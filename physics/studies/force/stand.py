"""Builds held at a speed with a rested pack, as on a dynamometer: what they would do there at an instant."""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from physics.arrays import Floats, Numbers
from physics.build.batch import Batch
from physics.components import load_transfer, motor, road_load
from physics.components.controller import foldback
from physics.simulation.machine import Machine
from physics.simulation.operating_point import SPEED_CAP_TIME, OperatingPoint, operating_point
from physics.simulation.plant import Plant


class Stand:
    """Builds held at some speeds, at the charge and the temperatures of their conditions. SI.

    Parameters
    ----------
    batch : Batch
        n builds. Speeds of shape (..., 1) or (..., n) broadcast against them.
    """

    def __init__(self, batch: Batch) -> None:
        self.stance = batch.stance()
        plant = Plant(batch)
        self.machine = plant.machine
        temperatures = plant.thermal.start
        self.winding, self.controller = temperatures[1], temperatures[3]
        self.rest, _, factor, self.transfer = plant.pack.evaluate(plant.charge, temperatures[0])
        self.resistance = plant.pack.ohmic * factor + plant.machine.lead_resistance

    def at(
        self,
        speed: ArrayLike,
        throttle: Floats,
        machine: Machine | None = None,
        builds: NDArray[np.intp] | slice = slice(None),
    ) -> OperatingPoint:
        """The operating point of some builds, k of them; speed and throttle broadcast to (..., k)."""
        rest = self.rest[builds]
        shape = np.broadcast_shapes(np.shape(speed), throttle.shape, rest.shape)
        return self.transfer.take(builds).solve(
            lambda offset, slope: operating_point(
                machine or self.machine,
                np.broadcast_to(speed, shape),
                throttle,
                rest - offset,
                self.resistance[builds] + slope,
                self.winding[builds],
                self.controller[builds],
            ),
            rest,
        )[0]

    def resistances(self, speed: Any) -> tuple[Floats, Floats]:
        """Drag and rolling resistance at some speeds, N, shape (..., n)."""
        m = self.machine
        drag, _ = road_load.drag_force(m.drag_factor, speed + m.headwind)
        rolling, _ = road_load.rolling_force(m.rolling_constant, m.rolling_squared, speed)
        return drag, rolling

    def road_load(self, speed: Any) -> Floats:
        """Drag, rolling resistance and slope at some speeds, N, shape (..., n)."""
        drag, rolling = self.resistances(speed)
        return drag + rolling + self.machine.slope_force

    def front_force(self, speed: Any, fraction: Numbers = 0.0) -> Floats:
        """Drive force at which the front carries a fraction of its standing load, N, shape (..., n)."""
        return load_transfer.front_load_limit(self.stance, fraction).at(*self.resistances(speed))

    def slip_force(self, speed: Any, grip: ArrayLike) -> Floats:
        """Drive force at which the rear tyre slips with the front down, N, shape (..., n)."""
        slip = load_transfer.rear_slip_limit(self.stance, np.asarray(grip, dtype=float))
        return slip.at(*self.resistances(speed))

    def cap_force(self, speed: Any, cap: ArrayLike) -> Floats:
        """Drive force that brings the bike to its speed cap and holds it there, N, shape (..., n)."""
        return self.road_load(speed) + self.machine.inertia / SPEED_CAP_TIME * (np.asarray(cap) - speed)

    def current_for(self, force: Any, speed: Any) -> Floats:
        """Torque current that a drive force needs, A, shape (..., n)."""
        return self.machine.current_for(force, speed, self.winding)

    @property
    def heat_share(self) -> Floats:
        """Share of the phase limit that the heat of winding and controller leaves, shape (n,)."""
        m = self.machine
        return foldback(np.array([self.winding, self.controller]), m.heat_start, m.heat_end).min(axis=0)

    @property
    def force_per_ampere(self) -> Floats:
        """Drive force of the first ampere, N/A, shape (n,)."""
        m = self.machine
        return m.torque_per_ampere * motor.magnet_share(m.magnet_weakening, self.winding) / m.per_force
