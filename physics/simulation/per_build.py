"""Arrays whose last axis is the builds, so that some builds are taken out of all of them at once."""

from typing import Any, ClassVar, Self

import numpy as np


class PerBuild:
    """Base of objects whose arrays have the builds as last axis; those that SHARED names, of two axes, do not."""

    SHARED: ClassVar[tuple[str, ...]] = ()

    def take(self, indices: Any) -> Self:
        """The builds at some indices, copied."""
        taken = object.__new__(type(self))
        values = vars(taken)
        for name, value in vars(self).items():
            if isinstance(value, np.ndarray):
                if value.ndim == 1:
                    value = value[indices]  # faster than with the ellipsis
                elif name not in self.SHARED:
                    value = value[..., indices]
            elif isinstance(value, PerBuild):
                value = value.take(indices)
            values[name] = value
        return taken

    def put(self, indices: Any, other: Self) -> None:
        """Write the builds at some indices."""
        for value, some in zip(vars(self).values(), vars(other).values(), strict=True):
            value[..., indices] = some
