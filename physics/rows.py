"""Arrays that belong together as the rows of one array, so that some builds are taken out of all of them at once."""

import numpy as np


class Rows:
    """Arrays of one shape as the rows of one array, each also an attribute by its name in NAMES.

    Parameters
    ----------
    rows : array, shape (len(NAMES), ...)
        The values; attributes are views of it.
    """

    NAMES: tuple[str, ...] = ()

    def __init__(self, rows):
        self.rows = rows
        for name, row in zip(self.NAMES, rows, strict=True):
            setattr(self, name, row)

    @classmethod
    def of(cls, shape, *values):
        """Rows of a shape from values that broadcast to it."""
        rows = np.empty((len(cls.NAMES), *shape))
        for row, value in zip(rows, values, strict=True):
            row[...] = value
        return cls(rows)

    def pick(self, places):
        """The elements at places in the flattened arrays, copied."""
        return type(self)(self.rows.reshape(len(self.rows), -1)[:, places])

    def put(self, places, other) -> None:
        """Write the elements at places in the flattened arrays."""
        self.rows.reshape(len(self.rows), -1)[:, places] = other.rows


class Constants:
    """Base of objects whose attributes are arrays with the builds as last axis.

    A subclass sets its attributes and ends with `_settle`; numbers, and what SHARED names, are the same for all
    builds.
    """

    SHARED: tuple[str, ...] = ()

    def _settle(self):
        own = {
            name: value
            for name, value in vars(self).items()
            if isinstance(value, np.ndarray) and name not in self.SHARED
        }
        self._others = tuple(name for name, value in own.items() if value.dtype != float)
        self._layout, parts, start = {}, [], 0
        for name, value in own.items():
            if name not in self._others:
                rows = np.atleast_2d(value)
                self._layout[name] = start if value.ndim == 1 else slice(start, start + len(rows))
                start += len(rows)
                parts.append(rows)
        self._bind(np.concatenate(parts))

    def _bind(self, rows):
        self._rows = rows
        for name, place in self._layout.items():
            setattr(self, name, rows[place])

    def take(self, places):
        """The builds at some places, copied."""
        made = object.__new__(type(self))
        vars(made).update(vars(self))
        made._bind(self._rows[:, places])
        for name in self._others:
            setattr(made, name, getattr(self, name)[..., places])
        return made
