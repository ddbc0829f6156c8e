"""The speed that a bike settles at where a step went past it.

A voltage limit may fall from full drive to none over less than a millimetre a second. No step ends there by itself:
it would go to and fro between drive and none for ever. From the settled speed on the slope is known, and an
exponential step stays there.
"""

import numpy as np

from physics.simulation.plant import Plant, Snapshot

MOST_TURNS, LEFT = 40, 1e-3
"""How often a settled speed is looked for, and how much of the acceleration on its two sides may be left there."""


def settle(
    plant: Plant, time: np.ndarray, ends: tuple[Snapshot, Snapshot], speeds: tuple[np.ndarray, np.ndarray]
) -> tuple[Snapshot, np.ndarray]:
    """Builds at the speed at which nothing drives or brakes them, and which of them have one.

    Parameters
    ----------
    plant : Plant
        The builds.
    time : array, shape (n,), s
        At the end of the step.
    ends : tuple of two Snapshots
        At both ends of the step; their accelerations have opposite signs.
    speeds : tuple of two arrays, shape (n,), m/s
        At which those accelerations were found.

    Returns
    -------
    tuple of (Snapshot, array of bool, shape (n,))
        The snapshot of those that have one alone. By Newton's method inside a bracket that is halved where a step
        leads out of it. None where the acceleration grows with speed: the bike runs away from there.
    """
    start, over = ends
    rising = start.acceleration > 0
    low, high = np.where(rising, speeds[0], speeds[1]), np.where(rising, speeds[1], speeds[0])
    allowed = LEFT * np.abs(start.acceleration - over.acceleration)
    state, at = over.state.copy(), (low + high) / 2
    for _ in range(MOST_TURNS):
        state[0] = at
        found = plant.evaluate(state, time, None, over.currents)
        there = np.abs(found.acceleration) <= allowed
        if np.count_nonzero(there) == there.size:
            break
        low, high = np.where(found.acceleration > 0, at, low), np.where(found.acceleration > 0, high, at)
        newton = at - found.acceleration / np.where(found.slope < 0, found.slope, -np.inf)
        outside = (newton <= low) | (newton >= high) | (found.slope >= 0)
        at = np.where(there, at, np.where(outside, (low + high) / 2, newton))
    there &= low < high
    return found.take(there.nonzero()[0]), there
