"""Riding at a steady speed: what speed is held under a speed cap, and what that takes from the cells."""

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from physics.arrays import Floats
from physics.build.batch import Batch, Builds
from physics.simulation.operating_point import OperatingPoint, operating_point
from physics.simulation.plant import Plant

_POINTS = 24


def cruise(builds: Builds, speed: ArrayLike) -> tuple[Floats, Floats]:
    """The speed that is held under a speed cap, and the energy drawn from the cells for each metre.

    A bike that rolls near the cap settles at the highest speed up to it at which drive and road load balance.
    Charge and temperatures are those of the conditions, the pack's resistor-capacitor pairs are settled.

    Parameters
    ----------
    builds : Build, sequence of Build, or Batch
        What is ridden.
    speed : float or array, shape (n,), m/s
        The cap, above 0.5.

    Returns
    -------
    tuple of arrays, shape (n,)
        Energy for each metre, J/m (open-circuit voltage times line current over speed), and the speed, m/s. Where
        no speed can be held the speed is zero and the energy is NaN.

    Raises
    ------
    ValueError
        When a cap is not accepted.

    Examples
    --------
    >>> from physics.build import example_build
    >>> energy, held = cruise(example_build(), 15.0)
    >>> round(float(held[0]), 6)
    15.0
    """
    batch = Batch.of(builds)
    cap = np.broadcast_to(np.asarray(speed, dtype=float), (len(batch),))
    if not (cap > 0.5).all():
        raise ValueError(f"speed: got {speed!r} m/s; accepts numbers above 0.5 m/s.")
    plant = Plant(batch.change({"controller.speed_cap": cap}))
    m, temperatures = plant.machine, plant.thermal.start
    rest, _, factor, transfer = plant.pack.evaluate(plant.charge, temperatures[0])
    resistance = (plant.pack.ohmic + plant.pack.pairs.sum(axis=0)) * factor + m.lead_resistance

    def at(speeds: Floats) -> OperatingPoint:
        throttle = np.broadcast_to(m.throttle, speeds.shape)
        return transfer.solve(
            lambda offset, slope: operating_point(
                m, speeds, throttle, rest - offset, resistance + slope, temperatures[1], temperatures[3]
            ),
            rest,
        )[0]

    (low, high), _ = _bracket(np.linspace(0.0, 1.0, _POINTS)[:, None] * cap, at)
    (low, high), (before, beyond) = _bracket(low + (high - low) * np.linspace(0.0, 1.0, _POINTS)[:, None], at)
    fall = before - beyond
    fraction = np.where(fall > 0, before / np.where(fall > 0, fall, 1.0), 0.0)
    held = low + np.clip(fraction, 0.0, 1.0) * (high - low)
    held = np.where(before >= 0, held, 0.0)
    current = at(held).line_current
    return np.where(held > 0, rest * current / np.where(held > 0, held, 1.0), np.nan), held


def _bracket(speeds: Floats, at: Callable[[Floats], OperatingPoint]) -> tuple[Floats, Floats]:
    """Of speeds of shape (k, n), the topmost two neighbours between which drive falls below road load.

    Returns both speeds and the accelerations there, each of shape (2, n).
    """
    acceleration = at(speeds).acceleration
    drives = acceleration >= 0
    last = len(speeds) - 1
    topmost = np.where(drives.any(axis=0), last - drives[::-1].argmax(axis=0), 0)
    pair = np.minimum(topmost, last - 1) + np.array([[0], [1]])
    return np.take_along_axis(speeds, pair, 0), np.take_along_axis(acceleration, pair, 0)
