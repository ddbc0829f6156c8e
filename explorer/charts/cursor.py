"""The cursor that charts of the run share: an instant pointed at in one of them is read in all of them at once."""

from __future__ import annotations

from typing import Any

from physics.arrays import Floats
from physics.simulation.result import RunResult

RUN: dict[str, Any] = {"cursor": "run"}
"""For the layout's `meta` of a chart over the time of the run."""
READ = "%{{customdata[{}]:.1f}} V, %{{customdata[{}]:.0f}} A, %{{customdata[{}]:.1f}} kW"
"""What the pack gives, for a hover template; to be filled with places in the custom data."""


def along(name: str) -> dict[str, Any]:
    """For a chart over something else, in which the line of this name has the instants first in its custom data."""
    return RUN | {"along": name}


def readings(run: RunResult) -> tuple[Floats, Floats, Floats, Floats]:
    """Instants of a run (one row) and what its pack gives there: s, V, A, kW; each of shape (t,)."""
    volts, amps = run.pack_voltage[0], run.line_current[0]
    return run.time, volts, amps, volts * amps / 1000
