"""Many builds described by one build and lists of values: samples side by side, or every combination on a grid."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from physics.arrays import Floats
from physics.build import Build
from physics.build.batch import Batch


@dataclass(frozen=True)
class Samples:
    """Many builds made from one, without a dataclass for each.

    Attributes
    ----------
    build : Build
        What all of them share.
    changes : dict of str to array, shape (n,)
        Field path to one value for each build.
    shape : tuple of int
        The grid's shape, or (n,).
    """

    build: Build
    changes: dict[str, Floats]
    shape: tuple[int, ...]

    def __len__(self) -> int:
        return math.prod(self.shape)

    def part(self, start: int, stop: int) -> Samples:
        """The builds from `start` up to `stop`, as samples in one row.

        Parameters
        ----------
        start, stop : int
            Indices among the builds.

        Returns
        -------
        Samples
        """
        stop = min(stop, len(self))
        chosen = {path: values[start:stop] for path, values in self.changes.items()}
        return Samples(self.build, chosen, (stop - start,))

    def batch(self) -> Batch:
        """All of them as one batch."""
        return Batch.vary(self.build, self.changes)


def samples(build: Build, changes: dict[str, Any]) -> Samples:
    """Builds that differ from one in lists of values, taken side by side.

    Parameters
    ----------
    build : Build
        What all of them share.
    changes : dict of str to array
        Field path to values; arrays are broadcast against each other, and the shape is kept.

    Returns
    -------
    Samples

    Examples
    --------
    >>> from physics.build import example_build
    >>> len(samples(example_build(), {"conditions.charge": [1.0, 0.8, 0.6], "bike.drag_area": 0.5}))
    3
    """
    arrays = np.broadcast_arrays(*[np.asarray(values, dtype=float) for values in changes.values()])
    shape = arrays[0].shape if arrays else (1,)
    flat = {path: np.ascontiguousarray(values).ravel() for path, values in zip(changes, arrays, strict=True)}
    return Samples(build, flat, shape or (1,))


def grid(build: Build, axes: dict[str, Any]) -> Samples:
    """Builds at every combination of lists of values.

    Parameters
    ----------
    build : Build
        What all of them share.
    axes : dict of str to array, one-dimensional
        Field path to the values along that axis, in the order of the grid's axes.

    Returns
    -------
    Samples
        With one axis of `shape` for each path.

    Examples
    --------
    >>> from physics.build import example_build
    >>> grid(example_build(), {"driveline.front_teeth": [12, 13], "driveline.rear_teeth": [50, 53, 56]}).shape
    (2, 3)
    """
    values = np.meshgrid(*[np.asarray(axis, dtype=float) for axis in axes.values()], indexing="ij")
    return samples(build, dict(zip(axes, values, strict=True)))
