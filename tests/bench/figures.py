"""A figure that must hold: what was wanted, what was measured, and whether it is met."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module


@dataclass(frozen=True)
class Figure:
    """One line of the table.

    Attributes
    ----------
    name : str
        What is measured.
    wanted : float
        The bound.
    measured : float
        What came out, in the same unit.
    at_least : bool
        Whether the bound is the least that is wanted; else it is the most.
    unit : str
        Of both; empty for a ratio.
    """

    name: str
    wanted: float
    measured: float
    at_least: bool = False
    unit: str = ""

    @property
    def met(self) -> bool:
        """Whether it holds; what could not be measured (NaN) does not."""
        return self.measured >= self.wanted if self.at_least else self.measured <= self.wanted

    def __str__(self) -> str:
        bound = f"{'at least' if self.at_least else 'at most'} {self.wanted:g}"
        return f"{self.name:64}{bound:>16}{self.measured:10.3g} {self.unit:8}{'met' if self.met else 'NOT MET'}"


def measured(name: str) -> list[Figure]:
    """The figures of one measurement; imported here, since some settle how many threads a process may use."""
    found: list[Figure] = import_module(f"tests.bench.{name}").figures()
    return found
