"""Heat in four lumped parts: pack, winding, case and controller.

Each part is one heat capacity with one path of heat: pack, case and controller to the air, the winding to the case.
Two bodies on one path are the usual reduced network of a motor; see A. Boglietti and others, Evolution and modern
approaches for thermal analysis of electrical machines, IEEE Trans. Industrial Electronics 56 (2009) 871-882, from
memory.
"""

import numpy as np

from physics.build.batch import Batch
from physics.simulation.per_build import PerBuild


class ThermalModel(PerBuild):
    """The four parts of a batch, in rows: pack, winding, case, controller; arrays of shape (4, n).

    Parameters
    ----------
    batch : Batch
        The builds.
    """

    def __init__(self, batch: Batch):
        air = batch["conditions.air_temperature"]
        self.winding_to_case, case_to_air = batch["motor.winding_to_case"], batch["motor.case_to_air"]
        self.capacity = np.array(
            [
                batch["pack.heat_capacity"],
                batch["motor.winding_heat_capacity"],
                batch["motor.case_heat_capacity"],
                batch["controller.heat_capacity"],
            ]
        )
        pack, controller = batch["pack.thermal_conductance"], batch["controller.thermal_conductance"]
        self.conductance = np.array(
            [pack, self.winding_to_case, self.winding_to_case + case_to_air, controller]
        )
        self.from_air = np.array([pack * air, 0.0 * air, case_to_air * air, controller * air])
        self.decay_rate = -self.conductance / self.capacity
        motor = batch["conditions.motor_temperature"]
        self.start = np.array(
            [batch["conditions.pack_temperature"], motor, motor, batch["conditions.controller_temperature"]]
        )

    def sources(self, temperatures: np.ndarray, heat: np.ndarray) -> np.ndarray:
        """Heat that arises in each part, with what its neighbours would give it if it stood at 0 K, W."""
        sources = heat + self.from_air
        sources[1:3] += self.winding_to_case * temperatures[2:0:-1]
        return sources

    def step(self, temperatures: np.ndarray, sources: np.ndarray, hold: np.ndarray) -> np.ndarray:
        """Each part's exact solution for sources held over a step; `hold` is `held` of its length."""
        return temperatures + (sources - self.conductance * temperatures) / self.capacity * hold


def held(rate, duration):
    """Integral of exp(rate t) over a step: duration phi_1(rate duration).

    Parameters
    ----------
    rate : array, 1/s
        Zero or negative.
    duration : float or array, s
        Length of the step.

    Returns
    -------
    array, s
        The duration where the rate is zero.
    """
    rate = np.minimum(rate, -1e-12)
    return np.expm1(rate * duration) / rate
