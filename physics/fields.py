"""What every number of a build accepts: one declaration, used for single builds and for whole batches.

A field is declared once, with its unit, range and meaning; `Fault` and `BuildError` say in plain sentences
which field was wrong, what it got and what it accepts, all faults at once.
"""

import dataclasses
import math
from dataclasses import dataclass
from typing import Any

import numpy as np


@dataclass(frozen=True)
class Fault:
    """One wrong field: where it is, what it got and what it accepts."""

    field: str
    got: Any
    accepts: str

    def __str__(self) -> str:
        return f"{self.field}: got {self.got!r}; accepts {self.accepts}."


class BuildError(ValueError):
    """A build that cannot exist. `faults` holds every wrong field, not the first alone."""

    def __init__(self, faults: list[Fault]):
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


@dataclass(frozen=True)
class Accepts:
    """What a number field accepts.

    `whole` asks for whole numbers, `optional` lets None stand for "work out a typical value",
    `off` lets infinity stand for "no such limit".
    """

    unit: str
    low: float
    high: float
    meaning: str
    whole: bool = False
    optional: bool = False
    off: bool = False

    def sentence(self) -> str:
        """The accepted range in words."""
        kind = "a whole number" if self.whole else "a number"
        text = f"{kind} from {self.low:g} to {self.high:g}"
        if self.unit:
            text += f" {self.unit}"
        if self.off:
            text += ", or infinity for no limit"
        if self.optional:
            text += ", or None for a typical value"
        return text

    def holds(self, values) -> np.ndarray:
        """Which of an array of values this field accepts (NaN stands for None in a batch)."""
        values = np.asarray(values, dtype=float)
        good = (values >= self.low) & (values <= self.high)
        if self.whole:
            good &= values == np.round(values)
        if self.off:
            good |= values == np.inf
        if self.optional:
            good |= np.isnan(values)
        return good


def number(default, unit, low, high, meaning, **options):
    """A dataclass number field with its unit, range and meaning attached.

    Parameters
    ----------
    default : float, None or REQUIRED
        Value when none is given.
    unit : str
        Unit, for the sentence of a fault.
    low, high : float
        What is accepted, both ends included.
    meaning : str
        What the field is.
    **options : bool
        `whole`, `optional` and `off` of `Accepts`.

    Returns
    -------
    dataclasses.Field
        For use in a dataclass body.
    """
    metadata = {"accepts": Accepts(unit, low, high, meaning, **options)}
    if default is dataclasses.MISSING:
        return dataclasses.field(metadata=metadata)
    return dataclasses.field(default=default, metadata=metadata)


REQUIRED = dataclasses.MISSING


def is_number(value) -> bool:
    """Whether a value is a plain real number (a bool or a text is none).

    Parameters
    ----------
    value : object
        Anything.

    Returns
    -------
    bool
        True for whole and real numbers, NaN and infinity among them.
    """
    return isinstance(value, int | float | np.integer | np.floating) and not isinstance(value, bool)


def number_faults(part, prefix: str) -> list[Fault]:
    """The faults of all number fields of one dataclass instance.

    Parameters
    ----------
    part : dataclass instance
        A part of a build.
    prefix : str
        What to put before the field's name, such as "pack.".

    Returns
    -------
    list of Fault
        Empty when all is well.
    """
    faults = []
    for field in dataclasses.fields(part):
        accepts = field.metadata.get("accepts")
        if accepts is None:
            continue
        value = getattr(part, field.name)
        if value is None and accepts.optional:
            continue
        if not is_number(value) or math.isnan(value) or not accepts.holds(value):
            faults.append(Fault(prefix + field.name, value, accepts.sentence()))
    return faults
