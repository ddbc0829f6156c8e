"""Heat in four lumped parts: pack, winding, case and controller.

Each part is one heat capacity with one path of heat: pack, case and controller to the air, the winding to the case.
Two bodies on one path are the usual reduced network of a motor (winding and case); see A. Boglietti and others,
Evolution and modern approaches for thermal analysis of electrical machines, IEEE Trans. Industrial Electronics 56
(2009) 871-882, from memory.
"""

import numpy as np

from physics.build.batch import Batch
from physics.simulation.plant import held

HEATED_PARTS = ("pack", "winding", "case", "controller")
"""The parts, in the row order of every array of temperatures here."""


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


def lumped_step(builds, temperatures, power, duration) -> np.ndarray:
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
    b = Batch.of(builds)
    air = b["conditions.air_temperature"]
    power = np.broadcast_to(np.asarray(power, dtype=float), np.shape(temperatures))
    above = np.asarray(temperatures, dtype=float) - air
    ended = np.empty_like(above)
    single = [
        (0, b["pack.heat_capacity"], b["pack.thermal_conductance"]),
        (3, b["controller.heat_capacity"], b["controller.thermal_conductance"]),
    ]
    for row, capacity, conductance in single:
        rate = -conductance / capacity
        ended[row] = above[row] * np.exp(rate * duration) + power[row] / capacity * held(rate, duration)
    ended[1:3] = _motor_step(b, above[1:3], power[1:3], duration)
    return ended + air


def _motor_step(b, above, power, duration):
    """Winding and case: exp(M t) by the eigenvalues of M (both real, one may be zero where no heat leaves)."""
    winding = b["motor.winding_to_case"] / b["motor.winding_heat_capacity"]
    case = b["motor.winding_to_case"] / b["motor.case_heat_capacity"]
    air = b["motor.case_to_air"] / b["motor.case_heat_capacity"]
    total = winding + case + air
    apart = np.sqrt((winding - case - air) ** 2 + 4 * winding * case)
    fast = -(total + apart) / 2
    slow = winding * air / fast  # the product of the eigenvalues; no digits lost
    source = power / np.array([b["motor.winding_heat_capacity"], b["motor.case_heat_capacity"]])

    def times_matrix(vector, eigenvalue):
        return np.array(
            [
                (-winding - eigenvalue) * vector[0] + winding * vector[1],
                case * vector[0] + (-case - air - eigenvalue) * vector[1],
            ]
        )

    ended = 0.0
    for eigenvalue, other, sign in ((slow, fast, 1.0), (fast, slow, -1.0)):
        part = times_matrix(above, other) * np.exp(eigenvalue * duration)
        part = part + times_matrix(source, other) * held(eigenvalue, duration)
        ended = ended + sign * part / (slow - fast)
    return ended
