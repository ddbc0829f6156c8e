"""From a change of the build that was found to the inputs of the page that make it. No Streamlit here."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from explorer.inputs.catalogue import INPUTS
from physics.build import Build
from physics.components.tyre import DEFAULT_ROLLING_FACTOR
from physics.studies.target import Lever, PairChange, default_levers
from physics.studies.target.levers import with_range
from physics.units import from_si

_BY_PATH = {spec.path: key for key, spec in INPUTS.items() if spec.path}
_TYRE_LOW, _TYRE_HIGH = 0.2, 0.9


def levers(
    build: Build, inputs: dict[str, Any], of: Callable[[Build], tuple[Lever, ...]] = default_levers
) -> tuple[Lever, ...]:
    """What may be changed, inside what the page's inputs accept.

    Parameters
    ----------
    build : Build
        As it is.
    inputs : dict
        The inputs it was made from.
    of : callable
        Gives the levers of a build: those that may bring speed, or those that may keep the pack on.

    Returns
    -------
    tuple of Lever
    """
    result = []
    for lever in of(build):
        low, high = _accepted(lever, inputs)
        present = lever.present(build)
        low, high = max(lever.low, min(low, present)), min(lever.high, max(high, present))
        result.append(with_range(lever, low, high))
    return tuple(result)


def as_inputs(build: Build, inputs: dict[str, Any], lever: Lever, value: float) -> dict[str, Any]:
    """The inputs that make a change, in home units.

    Parameters
    ----------
    build : Build
        As it is.
    inputs : dict
        The inputs it was made from.
    lever : Lever
        What is changed.
    value : float
        Where it goes, in the build's unit.

    Returns
    -------
    dict
        Only what changes. More than one input where parts hang together.
    """
    moved = lever.changes(build, value)
    changes = {path: float(moved[path]) for path in moved}
    return inputs_of(
        inputs, {path: to for path, to in changes.items() if path == lever.path or _differs(build, path, to)}
    )


def inputs_of(inputs: dict[str, Any], changes: dict[str, float]) -> dict[str, Any]:
    """Fields of a build as inputs of the page; a field that no input holds is left out.

    Parameters
    ----------
    inputs : dict
        Every input by key: the power level in use is among them.
    changes : dict
        Path in the build to value, in the build's unit.

    Returns
    -------
    dict
        Input to value in home units, inside what it accepts.
    """
    changed: dict[str, Any] = {}
    for path, number in changes.items():
        if path == "bike.rolling_radius":
            changed["tyre"] = f"{number / DEFAULT_ROLLING_FACTOR * 2000:.1f}".removesuffix(".0") + " mm"
        elif key := _key(path, inputs):
            spec = INPUTS[key]
            changed[key] = spec.clamp(number if path.endswith("_ah") else float(from_si(number, spec.unit)))
    return changed


def _key(path: str, inputs: dict[str, Any]) -> str | None:
    special = {
        "controller.line_current_limit": f"line_{inputs['level']}",
        "controller.phase_current_limit": f"phase_{inputs['level']}",
        "bike.drag_area": "drag_area",
    }
    return special.get(path) or _BY_PATH.get(path)


def _accepted(lever: Lever, inputs: dict[str, Any]) -> tuple[float, float]:
    """What the page's input accepts, in the build's unit."""
    if lever.key == "rolling_radius":
        return _TYRE_LOW / 2 * DEFAULT_ROLLING_FACTOR, _TYRE_HIGH / 2 * DEFAULT_ROLLING_FACTOR
    key = _key(lever.path, inputs)
    if key is None:
        raise KeyError(lever.path)
    spec = INPUTS[key]
    if lever.path.endswith("_ah"):
        return spec.low, spec.high
    return spec.si(spec.low), spec.si(spec.high)


def _differs(build: Build, path: str, number: float) -> bool:
    owner: Any = build
    for name in path.split("."):
        owner = getattr(owner, name)
    return owner is not None and abs(owner - number) > 1e-9


def pair_as_inputs(build: Build, inputs: dict[str, Any], pair: PairChange) -> dict[str, Any]:
    """The inputs that make two changes together.

    Parameters
    ----------
    build, inputs
        As for `as_inputs`.
    pair : PairChange
        Both changes.

    Returns
    -------
    dict
    """
    first, second = (as_inputs(build, inputs, *one) for one in zip(pair.levers, pair.values, strict=True))
    both = first | second
    if "bike_mass" in first and "bike_mass" in second:  # each adds its own
        both["bike_mass"] = INPUTS["bike_mass"].clamp(
            first["bike_mass"] + second["bike_mass"] - inputs["bike_mass"]
        )
    return both
