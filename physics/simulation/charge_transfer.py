"""Charge transfer in the pack: a voltage that grows less than linearly with line current.

Everything else of the pack is a straight line of voltage against current at an instant, for which bus voltage and
currents have a closed form. So the curve is replaced by the line that touches it near the current looked for. The
curve is concave: the line lies above it, the sag is never too small, and by little where the current was foreseen.
"""

from collections.abc import Callable
from typing import Any

import numpy as np

from physics.components.cell_resistance import PULL_RATE
from physics.simulation.operating_point import OperatingPoint
from physics.simulation.per_build import PerBuild

MOST_LINES = 5
"""So many are tried. In deep cold a pack at its last may drive on the steeper line and not on the flatter, and none
touches at its own current: then the last is the steeper, which sags more, whichever came before."""
TOLERANCE = 1e-3
"""Of the pack's voltage: by so much at the very most the line may lie above the curve at the current found."""
LEAST_RADIUS = 2.598
"""27^(1/2) / 2: the largest second derivative of asinh is one over it; at x it is below 1 / x^2."""


class Transfer(PerBuild):
    """Voltage over charge transfer against line current: in (1) of `cell_resistance`, v asinh(R I / v).

    Beyond `cell_resistance.PULL_RATE`, where no published cell was compared, it goes on straight: on the safe side.

    Parameters
    ----------
    resistance : array, shape (n,), ohm
        R: at small current.
    scale : array, shape (n,), V
        v: where it bends.
    straight : array, shape (n,), A
        From which current on it goes straight.
    """

    def __init__(self, resistance: np.ndarray, scale: np.ndarray, straight: np.ndarray) -> None:
        self.resistance, self.scale, self.straight = resistance, scale, straight
        self.per_ampere = resistance / scale
        self.allowed = 2.0 * TOLERANCE

    @property
    def one_hour(self) -> np.ndarray:
        """The one-hour current, A, shape (n,), where a search begins.

        In deep cold the line that touches at no current is so steep that not even a controller's own loss could be
        fed.
        """
        return self.straight / PULL_RATE

    def voltage(self, current: Any) -> np.ndarray:
        """At a current."""
        offset, slope = self.tangent(current)
        return offset + slope * current

    def tangent(self, current: Any) -> tuple[np.ndarray, np.ndarray]:
        """Voltage at no current and resistance of the line that touches it at a current."""
        touching = np.minimum(current, self.straight)
        x = self.per_ampere * touching
        slope = self.resistance / np.sqrt(1.0 + x * x)
        return self.scale * np.arcsinh(x) - slope * touching, slope

    def line(
        self, at: Callable[[np.ndarray, np.ndarray], OperatingPoint], voltage: np.ndarray, near: Any
    ) -> tuple[OperatingPoint, np.ndarray, np.ndarray]:
        """The operating point with the line that touches at a current, its voltage, and where it is off.

        Parameters
        ----------
        at, voltage
            See `solve`.
        near : array, shape (..., n), A
            Line current where it touches.

        Returns
        -------
        tuple of (OperatingPoint, array, array of bool)
            Arrays of the operating point's shape.
        """
        offset, slope = self.tangent(near)
        point = at(offset, slope)
        from_x, to_x = near * self.per_ampere, point.line_current * self.per_ampere
        least, apart = np.minimum(from_x, to_x), to_x - from_x  # the curve bends by at most 1 / max(2.6, x^2)
        off = self.scale * (apart * apart) > self.allowed * voltage * np.maximum(least * least, LEAST_RADIUS)
        return point, offset + slope * point.line_current, off

    def solve(
        self, at: Callable[[np.ndarray, np.ndarray], OperatingPoint], voltage: np.ndarray, near: Any = None
    ) -> tuple[OperatingPoint, np.ndarray]:
        """The operating point with this in the pack, and the voltage over it.

        Parameters
        ----------
        at : callable
            The operating point of a pack with so much less source voltage, V, and so much more resistance, ohm.
        voltage : array, shape (n,), V
            Of the pack at no current: what the tolerance is a share of.
        near : array, shape (..., n), A, optional
            Line current where the first line touches; else the one-hour current.

        Returns
        -------
        tuple of (OperatingPoint, array)
            Arrays of the operating point's shape.
        """
        near = self.one_hour if near is None else near
        for count in range(1, MOST_LINES + 1):
            point, over, off = self.line(at, voltage, near)
            if not np.count_nonzero(off):
                break
            found = point.line_current if count < MOST_LINES - 1 else np.minimum(point.line_current, near)
            near = np.where(off, found, near)  # a build's answer does not hang on its neighbours
        return point, over
