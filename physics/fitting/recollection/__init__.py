"""What a rider remembers as data: values with their spread, contradictions, what is left open."""

from physics.fitting.recollection.fact import (
    CUT_OUT,
    FRONT_LIGHT,
    HELD,
    KINDS,
    LOADED_VOLTAGE,
    TIME_TO_SPEED,
    TOP_SPEED,
    Fact,
    Observable,
)
from physics.fitting.recollection.findings import CONCLUDED, STOPPED, TOO_FEW_FIT, Finding, Recollected, conclude
from physics.fitting.recollection.sampling import Drawn, refined

__all__ = [
    "CONCLUDED",
    "CUT_OUT",
    "FRONT_LIGHT",
    "HELD",
    "KINDS",
    "LOADED_VOLTAGE",
    "STOPPED",
    "TIME_TO_SPEED",
    "TOO_FEW_FIT",
    "TOP_SPEED",
    "Drawn",
    "Fact",
    "Finding",
    "Observable",
    "Recollected",
    "conclude",
    "refined",
]
