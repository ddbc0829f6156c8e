"""Arrays that belong together, so that some of their elements are taken out of all of them at once."""

import numpy as np


class Together:
    """Arrays of one shape, attributes by the names in NAMES.

    Parameters
    ----------
    values : array, shape (n,)
        In the order of NAMES.
    """

    NAMES: tuple[str, ...] = ()

    def __init__(self, *values):
        vars(self).update(zip(self.NAMES, values, strict=True))

    def pick(self, places):
        """The elements at some places, copied."""
        return type(self)(*[getattr(self, name)[places] for name in self.NAMES])

    def put(self, places, other) -> None:
        """Write the elements at some places."""
        for name in self.NAMES:
            getattr(self, name)[places] = getattr(other, name)


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
