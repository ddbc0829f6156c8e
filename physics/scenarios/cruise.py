"""Riding at a steady speed: what speed is held under a speed cap, and what that takes from the cells."""

import numpy as np
from numpy.typing import ArrayLike

from physics.arrays import Floats
from physics.build.batch import Batch, Builds
from physics.simulation.operating_point import OperatingPoint, operating_point
from physics.simulation.plant import Plant

_POINTS = 24
_NEAR, _ROUNDING = 1.0 - (_POINTS - 1.0) ** -2, 1e-9
"""Share of the cap from which a bike must get back to it; m/s2 that may lack at the cap, where it needs none."""


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
    held, point = cap.copy(), _at(plant, np.array([[_NEAR], [1.0]]) * cap)
    current = point.line_current[1].copy()
    slower = np.flatnonzero((point.acceleration < -_ROUNDING).any(axis=0))
    if slower.size:
        some = plant.take(slower)
        held[slower] = _topmost(some, cap[slower])
        current[slower] = _at(some, held[slower]).line_current
    rest = plant.pack.evaluate(plant.charge, plant.thermal.start[0])[0]
    return np.where(held > 0, rest * current / np.where(held > 0, held, 1.0), np.nan), held


def _at(plant: Plant, speeds: Floats) -> OperatingPoint:
    """The operating points at speeds of shape (..., n), the pack settled."""
    m, temperatures = plant.machine, plant.thermal.start
    rest, _, factor, transfer = plant.pack.evaluate(plant.charge, temperatures[0])
    resistance = (plant.pack.ohmic + plant.pack.pairs.sum(axis=0)) * factor + m.lead_resistance
    throttle = np.broadcast_to(m.throttle, speeds.shape)
    return transfer.solve(
        lambda offset, slope: operating_point(
            m, speeds, throttle, rest - offset, resistance + slope, temperatures[1], temperatures[3]
        ),
        rest,
    )[0]


def _topmost(plant: Plant, cap: Floats) -> Floats:
    """The highest speed below the cap that is held; zero where none is."""
    (low, high), _ = _bracket(np.linspace(0.0, 1.0, _POINTS)[:, None] * cap, plant)
    speeds = low + (high - low) * np.linspace(0.0, 1.0, _POINTS)[:, None]
    (low, high), (before, beyond) = _bracket(speeds, plant)
    fall = before - beyond
    fraction = np.where(fall > 0, before / np.where(fall > 0, fall, 1.0), 0.0)
    held = low + np.clip(fraction, 0.0, 1.0) * (high - low)
    return np.where(before >= 0, held, 0.0)


def _bracket(speeds: Floats, plant: Plant) -> tuple[Floats, Floats]:
    """Of speeds of shape (k, n), the topmost two neighbours between which drive falls below road load.

    Returns both speeds and the accelerations there, each of shape (2, n).
    """
    acceleration = _at(plant, speeds).acceleration
    drives = acceleration >= 0
    last = len(speeds) - 1
    topmost = np.where(drives.any(axis=0), last - drives[::-1].argmax(axis=0), 0)
    pair = np.minimum(topmost, last - 1) + np.array([[0], [1]])
    return np.take_along_axis(speeds, pair, 0), np.take_along_axis(acceleration, pair, 0)
