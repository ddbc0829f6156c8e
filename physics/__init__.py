"""The model of the page for a notebook: a build, its run, and the questions that are asked of it.

What stands here is imported when it is first asked for, so that a part of the package, such as `physics.units`,
loads without the rest. All is SI; `physics.units` converts. Everything else of use stands in the rooms below:
components, build, ridelog, simulation, scenarios, fitting, studies.
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from physics.build import (
        Bike,
        Build,
        Conditions,
        Controller,
        Driveline,
        Motor,
        Pack,
        PowerLevel,
        Protection,
    )
    from physics.fitting.build import fit_log
    from physics.ridelog import read_log
    from physics.simulation.result import RunResult
    from physics.simulation.run import run
    from physics.studies.gearing import gearing_map
    from physics.studies.headroom_curves import headroom_answer as headroom
    from physics.studies.line_limit import line_limit
    from physics.studies.target import reach_target
    from physics.studies.uncertainty import likely
    from physics.studies.voltage_window import voltage_window

__all__ = [
    "Bike",
    "Build",
    "Conditions",
    "Controller",
    "Driveline",
    "Motor",
    "Pack",
    "PowerLevel",
    "Protection",
    "RunResult",
    "fit_log",
    "gearing_map",
    "headroom",
    "likely",
    "line_limit",
    "reach_target",
    "read_log",
    "run",
    "voltage_window",
]

_HOMES = {
    "RunResult": "physics.simulation.result.RunResult",
    "fit_log": "physics.fitting.build.fit_log",
    "gearing_map": "physics.studies.gearing.gearing_map",
    "headroom": "physics.studies.headroom_curves.headroom_answer",
    "likely": "physics.studies.uncertainty.likely",
    "line_limit": "physics.studies.line_limit.line_limit",
    "reach_target": "physics.studies.target.reach_target",
    "read_log": "physics.ridelog.read_log",
    "run": "physics.simulation.run.run",
    "voltage_window": "physics.studies.voltage_window.voltage_window",
}
"""Where a name stands; the parts of a build all stand in physics.build."""


def __getattr__(name: str) -> Any:
    from importlib import import_module

    if name not in __all__:
        raise AttributeError(f"module 'physics' has no attribute {name!r}")
    module, _, attribute = _HOMES.get(name, f"physics.build.{name}").rpartition(".")
    return getattr(import_module(module), attribute)


def __dir__() -> list[str]:
    return sorted(__all__)
