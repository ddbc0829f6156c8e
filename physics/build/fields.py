"""What every number of a build accepts: one declaration, used for single builds and for whole batches.

A field is declared once, with its unit, range and meaning; `Fault` and `BuildError` say in plain sentences
which field was wrong, what it got and what it accepts, all faults at once.
"""

import dataclasses
import math
from dataclasses import dataclass
from functools import cache
from typing import Any, ClassVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from physics.arrays import Numbers


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

    def holds(self, values: ArrayLike) -> Any:
        """Which of an array of values this field accepts (NaN stands for None in a batch), or whether one float."""
        array: Any = values if type(values) is float else np.asarray(values, dtype=float)  # a tenth of the time
        good = (array >= self.low) & (array <= self.high)
        if self.whole:
            good &= array == np.round(array)
        if self.off:
            good |= array == math.inf
        if self.optional:
            good |= np.isnan(array)
        return good


def number(default: Any, unit: str, low: float, high: float, meaning: str, **options: bool) -> Any:
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

    Examples
    --------
    >>> field = number(1.0, 'V', 0, 5, 'a voltage', off=True)
    >>> field.metadata['accepts'].sentence()
    'a number from 0 to 5 V, or infinity for no limit'
    """
    metadata = {"accepts": Accepts(unit, low, high, meaning, **options)}
    if default is dataclasses.MISSING:
        return dataclasses.field(metadata=metadata)
    return dataclasses.field(default=default, metadata=metadata)


REQUIRED = dataclasses.MISSING

_COMPARISONS = {"at least": np.greater_equal, "more than": np.greater, "less than": np.less}


@dataclass(frozen=True)
class Relation:
    """What one field of a part must be beside another field of it: at least, more than or less than the other."""

    field: str
    words: str
    other: str

    def holds(self, values: Numbers, others: Numbers) -> NDArray[np.bool_]:
        """Where values of the field stand as they must to values of the other; one that is off asks for nothing."""
        return _COMPARISONS[self.words](values, others) | np.isinf(others)

    def sentence(self, other: float, unit: str) -> str:
        """What is accepted beside one value of the other field."""
        return f"{self.words} {self.other}, {other:g} {unit}"


def is_number(value: object) -> bool:
    """Whether a value is a plain real number (a bool or a text is none).

    Parameters
    ----------
    value : object
        Anything.

    Returns
    -------
    bool
        True for whole and real numbers, NaN and infinity among them.

    Examples
    --------
    >>> is_number(2.5), is_number(True), is_number('2.5')
    (True, False, False)
    """
    return isinstance(value, int | float | np.integer | np.floating) and not isinstance(value, bool)


def number_faults(part: Any, prefix: str) -> list[Fault]:
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

    Examples
    --------
    >>> from physics.build import Driveline
    >>> [str(fault) for fault in number_faults(Driveline(3, 56), 'driveline.')]
    ['driveline.front_teeth: got 3; accepts a whole number from 6 to 60 teeth.']
    """
    faults = []
    for name, accepts in _numbers(part.__class__).items():
        value = getattr(part, name)
        if value is None and accepts.optional:
            continue
        if not _accepted(value, accepts):
            faults.append(Fault(prefix + name, value, accepts.sentence()))
    return faults


def relation_faults(part: Any, prefix: str) -> list[Fault]:
    """The faults of one part's RELATIONS; a field that is wrong by itself is left to `number_faults`.

    Parameters
    ----------
    part : dataclass instance
        A part of a build.
    prefix : str
        What to put before the field's name.

    Returns
    -------
    list of Fault
        Empty when all is well.

    Examples
    --------
    >>> from physics.build import Protection
    >>> [str(fault) for fault in relation_faults(Protection(300.0, 200.0), '')]
    ['peak_current: got 200.0; accepts at least continuous_current, 300 A.']
    """
    accepts, faults = _numbers(part.__class__), []
    for relation in part.RELATIONS:
        value, other = getattr(part, relation.field), getattr(part, relation.other)
        if not (_accepted(value, accepts[relation.field]) and _accepted(other, accepts[relation.other])):
            continue
        if not relation.holds(value, other):
            sentence = relation.sentence(other, accepts[relation.other].unit)
            faults.append(Fault(prefix + relation.field, value, sentence))
    return faults


@cache
def _numbers(kind: type[Any]) -> dict[str, Accepts]:
    """What each number field of a kind of part accepts."""
    fields = dataclasses.fields(kind)
    return {field.name: field.metadata["accepts"] for field in fields if "accepts" in field.metadata}


def _accepted(value: Any, accepts: Accepts) -> bool:
    """Whether one value is a number that a field accepts by itself."""
    try:
        return is_number(value) and not math.isnan(value) and bool(accepts.holds(float(value)))
    except OverflowError:  # a whole number of hundreds of digits
        return False


@dataclass(frozen=True)
class Part:
    """A part that can list its own faults."""

    RELATIONS: ClassVar[tuple[Relation, ...]] = ()

    def faults(self, prefix: str = "") -> list[Fault]:
        """Every wrong field of this part, named with `prefix` before it."""
        return number_faults(self, prefix) + relation_faults(self, prefix)
