"""Heat in four lumped parts: pack, winding, case and controller.

Each part is one heat capacity with one path of heat: pack, case and controller to the air, the winding to the case.
Two bodies on one path are the usual reduced network of a motor (winding and case); see A. Boglietti and others,
Evolution and modern approaches for thermal analysis of electrical machines, IEEE Trans. Industrial Electronics 56
(2009) 871-882, from memory.
"""

from typing import Any

import numpy as np

from physics.build.batch import Batch
from physics.simulation.per_build import PerBuild

HEATED_PARTS = ("pack", "winding", "case", "controller")
"""The parts, in the row order of every array of temperatures here."""

FOLDED = np.array([1, 3])
"""Winding and controller, which take current away when they are hot."""


class ThermalModel(PerBuild):
    """The four parts of a batch; arrays of shape (4, n), rows as in HEATED_PARTS.

    Parameters
    ----------
    batch : Batch
        The builds.
    """

    def __init__(self, batch: Batch) -> None:
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
        self.conductance = np.array([pack, self.winding_to_case, self.winding_to_case + case_to_air, controller])
        self.from_air = np.array([pack * air, 0.0 * air, case_to_air * air, controller * air])
        self.decay_rate = -self.conductance / self.capacity
        self.air, self.start = air, start_temperatures(batch)

    def sources(self, temperatures: np.ndarray, heat: np.ndarray) -> np.ndarray:
        """How fast each part would warm if it stood at 0 K, by its own heat and by its neighbours', K/s."""
        sources = heat + self.from_air
        sources[1:3] += self.winding_to_case * temperatures[2:0:-1]
        return sources / self.capacity

    def fold(
        self,
        folding: np.ndarray,
        fall: np.ndarray,
        instants: list[tuple[np.ndarray, np.ndarray]],
        drifts: np.ndarray,
        duration: Any,
        mean: np.ndarray,
        kept: np.ndarray,
    ) -> None:
        """Put right the mean sources of parts whose own heat takes the current away, and what a correction leaves.

        Heat that goes with the square of the current falls by 2 heat / (end - temperature) a kelvin. Where little
        is left to the end that settles within a step, and a step that took it for constant would go to and fro. So
        it is a line in temperature with a drift in time, as acceleration is one in speed (see plant.py).

        Parameters
        ----------
        folding, fall : array, shape (2, n), W/K
            Which parts do, rows as in FOLDED; by how much their heat falls with their temperature.
        instants : list of two tuples of arrays, shape (4, n)
            Temperatures, K, and `sources`, K/s, now and a step before.
        drifts : array, shape (2, n)
            This step's length over that of the one before; zero where that says nothing.
        duration : array, shape (n,), s
            Of this step.
        mean, kept : array, shape (4, n)
            Mean source over the step, K/s, and the share of a correction of it that is left at its end; changed
            here.
        """
        temperature, source, *past = (values[FOLDED] for instant in instants for values in instant)
        fall = fall / self.capacity[FOLDED]
        drift = drifts * (source - past[1] + fall * (temperature - past[0]))
        exponent = np.minimum((self.decay_rate[FOLDED] - fall) * duration, -1e-4)
        phi_1 = np.expm1(exponent) / exponent
        phi_2 = (phi_1 - 1.0) / exponent
        gain = source + self.decay_rate[FOLDED] * temperature
        warmer = duration * (phi_2 * gain + (phi_2 - 0.5) / exponent * drift)  # mean over the step, K
        mean[FOLDED] = np.where(folding, source + drift / 2.0 - fall * warmer, mean[FOLDED])
        kept[FOLDED] = np.where(folding, phi_1, kept[FOLDED])


def held(rate: Any, duration: Any) -> np.ndarray:
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


def start_temperatures(batch: Batch) -> np.ndarray:
    """Temperatures of all parts at the start of the conditions.

    Parameters
    ----------
    batch : Batch
        The builds.

    Returns
    -------
    array, shape (4, n), K
        Rows as in HEATED_PARTS.
    """
    motor = batch["conditions.motor_temperature"]
    return np.array(
        [batch["conditions.pack_temperature"], motor, motor, batch["conditions.controller_temperature"]]
    )


def lumped_step(builds: Any, temperatures: np.ndarray, power: Any, duration: Any) -> np.ndarray:
    """Temperatures after a time of constant heat: the exact solution, of any length.

    One body, C dT/dt = P - G (T - air):  T = T_air + P/G + (T_0 - T_air - P/G) exp(-G t / C).
    Winding and case together are a linear pair of such equations, solved by its two eigenvalues.

    Parameters
    ----------
    builds : Build, sequence of Build, or Batch
        Their heat capacities and paths.
    temperatures : array, shape (4, n), K
        At the start; rows as in HEATED_PARTS.
    power : float or array, shape (4, n), W
        Heat in each part, held.
    duration : float or array, shape (n,), s
        Zero or above.

    Returns
    -------
    array, shape (4, n), K
        At the end.

    Examples
    --------
    >>> from physics.build import example_build
    >>> lumped_step(example_build(), np.full((4, 1), 293.15), 0.0, 600.0).round(2).T
    array([[293.15, 293.15, 293.15, 293.15]])
    """
    model = ThermalModel(Batch.of(builds))
    above = np.asarray(temperatures, dtype=float) - model.air
    warming = np.asarray(power, dtype=float) / model.capacity + model.decay_rate * above
    ended = above + warming * held(model.decay_rate, duration)
    ended[1:3] = _motor_step(model, above, power, duration)
    return ended + model.air


def _motor_step(model: ThermalModel, above: np.ndarray, power: Any, duration: Any) -> np.ndarray:
    """Winding and case: exp(M t) by the eigenvalues of M (both real, one may be zero where no heat leaves)."""
    capacity, above = model.capacity[1:3], above[1:3]
    source = np.broadcast_to(power, model.capacity.shape)[1:3] / capacity
    winding, case = model.winding_to_case / capacity
    air = (model.conductance[2] - model.winding_to_case) / capacity[1]
    total = winding + case + air
    apart = np.sqrt((winding - case - air) ** 2 + 4.0 * winding * case)
    fast = -(total + apart) / 2.0
    slow = winding * air / fast  # the product of the eigenvalues; no digits lost

    def times_matrix(vector: np.ndarray, eigenvalue: np.ndarray) -> np.ndarray:
        return np.array(
            [
                (-winding - eigenvalue) * vector[0] + winding * vector[1],
                case * vector[0] + (-case - air - eigenvalue) * vector[1],
            ]
        )

    ended = np.zeros(above.shape)
    for eigenvalue, other, sign in ((slow, fast, 1.0), (fast, slow, -1.0)):
        part = times_matrix(above, other) * np.exp(eigenvalue * duration)
        part = part + times_matrix(source, other) * held(eigenvalue, duration)
        ended = ended + sign * part / (slow - fast)
    return ended
