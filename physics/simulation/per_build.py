"""Arrays whose last axis is the builds, so that some builds are taken out of all of them at once."""

from typing import ClassVar, Self

import numpy as np


class PerBuild:
    """Base of objects whose arrays have the builds as last axis, but for those that SHARED names."""

    SHARED: ClassVar[tuple[str, ...]] = ()

    def take(self, indices) -> Self:
        """The builds at some indices, copied."""
        taken = object.__new__(type(self))
        for name, value in vars(self).items():
            if isinstance(value, PerBuild):
                value = value.take(indices)
            elif isinstance(value, np.ndarray) and name not in self.SHARED:
                value = value[..., indices]
            vars(taken)[name] = value
        return taken

    def put(self, indices, other: Self) -> None:
        """Write the builds at some indices."""
        for name, value in vars(self).items():
            value[..., indices] = vars(other)[name]
