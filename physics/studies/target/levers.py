"""What can be changed about a build: its levers, the range each may move in, and what moves with it.

A lever is more than one field where parts hang together: more amp-hours are more cells in parallel, so resistance
falls, and current rating and mass rise; more cells in series raise voltage, resistance, mass and the controller's
foldback voltages; a pack rated for more current is of other cells, with less resistance and more mass.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from physics.arrays import Floats, Numbers
from physics.build import Build, Pack
from physics.build.batch import NUMBER_PATHS, Batch
from physics.components.pack import CELL_MASS_FRACTION, typical_cell_mass
from physics.components.road_load import POSTURES
from physics.components.tyre import DEFAULT_ROLLING_FACTOR
from physics.typical.pack import MASS_EXPONENT, RATE_EXPONENT, pack_mass

TODAY, SETTING, PART = "today", "setting", "part"
"""What kind of change it is: something of the day, a setting of the controller, or another part."""


@dataclass(frozen=True)
class Lever:
    """One thing that can be changed alone, and how far.

    Attributes
    ----------
    key : str
        Its name, one of EVERY_PATH.
    low, high : float
        Allowed range in the field's own unit (SI unless the field's name says otherwise).
    step : float
        What it can be set to in practice: a multiple of this; 1 for teeth and cells. 0 for any value.
    kind : str
        TODAY, SETTING or PART.
    origin : float
        From where steps are counted, such as 273.15 K for whole degrees Celsius.
    """

    key: str
    low: float
    high: float
    step: float = 0.0
    kind: str = PART
    origin: float = 0.0

    @property
    def path(self) -> str:
        """The field of the build that it moves."""
        return EVERY_PATH[self.key]

    @property
    def whole(self) -> bool:
        """Whether only whole numbers exist."""
        return NUMBER_PATHS[self.path].whole

    def present(self, build: Build) -> float:
        """Where it stands in a build, typical values worked out.

        Parameters
        ----------
        build : Build
            The build to read.

        Returns
        -------
        float
        """
        return float(Batch.of(build)[self.path][0])

    def changes(self, build: Build, values: ArrayLike) -> dict[str, np.ndarray]:
        """Every field that moves when this lever takes some values.

        Parameters
        ----------
        build : Build
            Where it starts from.
        values : array
            What the lever is set to.

        Returns
        -------
        dict of str to array
            Field path to values, as `Batch.vary` and, one by one, `Build.change` take them.
        """
        values = np.asarray(values, dtype=float)
        more = _WITH_IT.get(self.key)
        return {self.path: values} | (more(build, values) if more else {})

    def fraction(self, present: float, value: ArrayLike) -> Floats:
        """How much of what is allowed on its side a change uses up: 0 none, 1 all.

        Parameters
        ----------
        present : float
            Where the lever stands.
        value : float or array
            Where it would go.

        Returns
        -------
        float or array
        """
        value = np.asarray(value, dtype=float)
        room = np.where(value >= present, self.high - present, present - self.low)
        return (np.abs(value - present) / np.where(room > 0, room, 1.0))[()]

    def rounded(self, present: float, value: float, back: bool = False) -> float:
        """The next value away from the present one, or back towards it, that the lever can be set to in practice.

        Parameters
        ----------
        present : float
            Where the lever stands.
        value : float
            Where it must go at least; at most, where it is rounded back.
        back : bool
            Whether it is.

        Returns
        -------
        float
            Inside the allowed range.
        """
        if not self.step:
            return value
        away = np.ceil if (value >= present) != back else np.floor
        steps = float(away(np.round((value - self.origin) / self.step, 6)))
        return float(np.clip(float(f"{self.origin + steps * self.step:.10g}"), self.low, self.high))


PATHS = {
    "charge": "conditions.charge",
    "pack_temperature": "conditions.pack_temperature",
    "drag_area": "bike.drag_area",
    "line_limit": "controller.line_current_limit",
    "phase_limit": "controller.phase_current_limit",
    "field_weakening": "controller.field_weakening_current",
    "rear_teeth": "driveline.rear_teeth",
    "front_teeth": "driveline.front_teeth",
    "rolling_radius": "bike.rolling_radius",
    "bike_mass": "bike.bike_mass",
    "pack_resistance": "pack.resistance",
    "pack_capacity": "pack.capacity_ah",
    "pack_rating": "pack.protection.continuous_current",
    "cells_in_series": "pack.cells_in_series",
}
"""The key of every lever that may bring speed, and the field it moves."""

EVERY_PATH = PATHS | {"throttle_ramp": "controller.throttle_ramp_time"}
"""The same with those that can only keep a pack from cutting out."""

ZERO_CELSIUS = 273.15
WARMEST_PACK = 308.15
"""To what a pack is warmed at most before a ride, K (35 degrees C); common practice, no source."""

COOLED_PACK = 293.15
"""To what a hot pack is left to cool, K (20 degrees C); common practice, no source."""
LONGEST_RAMP = 5.0
"""Seconds from closed to full throttle that a rider may set or ride; common practice, no source."""


ONE_MILLIMETRE_OF_TYRE = 0.0005 * DEFAULT_ROLLING_FACTOR
"""What a millimetre more of free diameter adds to the rolling radius, m."""


def default_levers(build: Build) -> tuple[Lever, ...]:
    """Every lever with a range that is plausible around a build: a starting point, to be narrowed by the rider.

    Parameters
    ----------
    build : Build
        Where it starts from.

    Returns
    -------
    tuple of Lever
        In the order of PATHS; a pack's rating only where it is known. Ranges are common practice, no source, and
        hold the present value.

    Examples
    --------
    >>> from physics.build import example_build
    >>> lever = {lever.key: lever for lever in default_levers(example_build())}["rear_teeth"]
    >>> lever.low, lever.high
    (40.0, 72.0)
    """
    now = Batch.of(build)
    at = {key: float(now[path][0]) for key, path in PATHS.items()}
    hottest = min(WARMEST_PACK, build.pack.protection.discharge_temperature_maximum)
    areas = [posture.drag_area for posture in POSTURES.values()]
    ranges = {
        "charge": (0.0, 1.0, 0.01, TODAY),
        "pack_temperature": (at["pack_temperature"], hottest, 0.5, TODAY),
        "drag_area": (min(areas), max(areas), 0.005, TODAY),
        "line_limit": (0.25 * at["line_limit"], 2 * at["line_limit"], 1.0, SETTING),
        "phase_limit": (0.25 * at["phase_limit"], 2 * at["phase_limit"], 1.0, SETTING),
        "field_weakening": (0.0, 0.5 * at["phase_limit"], 1.0, SETTING),
        "rear_teeth": (at["rear_teeth"] - 16, at["rear_teeth"] + 16, 1.0, PART),
        "front_teeth": (max(at["front_teeth"] - 3, min(9, at["front_teeth"])), at["front_teeth"] + 5, 1.0, PART),
        "rolling_radius": (0.9 * at["rolling_radius"], 1.1 * at["rolling_radius"], ONE_MILLIMETRE_OF_TYRE, PART),
        "bike_mass": (0.85 * at["bike_mass"], at["bike_mass"], 0.5, PART),
        "pack_resistance": (0.4 * at["pack_resistance"], at["pack_resistance"], 0.0005, PART),
        "pack_capacity": (0.5 * at["pack_capacity"], 2 * at["pack_capacity"], 0.5, PART),
        "pack_rating": (at["pack_rating"], 2 * at["pack_rating"], 5.0, PART),
        "cells_in_series": (at["cells_in_series"] - 6, at["cells_in_series"] + 6, 1.0, PART),
    }
    known = {key: given for key, given in ranges.items() if math.isfinite(at[key])}
    return tuple(_lever(key, at[key], *given) for key, given in known.items())


def saving_levers(build: Build) -> tuple[Lever, ...]:
    """Levers that may keep a pull from a cut-out, on the day or in the controller, each in a plausible range.

    Parameters
    ----------
    build : Build
        Where it starts from.

    Returns
    -------
    tuple of Lever
        Less line current, a warmer or a cooler pack, more or less charge, a slower throttle, less weight. Ranges
        are common practice, no source, and hold the present value.

    Examples
    --------
    >>> from physics.build import example_build
    >>> [lever.key for lever in saving_levers(example_build())]
    ['line_limit', 'pack_temperature', 'charge', 'throttle_ramp', 'bike_mass']
    """
    now = Batch.of(build)
    keys = ("line_limit", "pack_temperature", "charge", "throttle_ramp", "bike_mass")
    at = {key: float(now[EVERY_PATH[key]][0]) for key in keys}
    rules = build.pack.protection
    coolest = max(min(COOLED_PACK, at["pack_temperature"]), rules.discharge_temperature_minimum)
    hottest = min(WARMEST_PACK, rules.discharge_temperature_maximum)
    ranges = {
        "line_limit": (0.1 * at["line_limit"], at["line_limit"], 1.0, SETTING),
        "pack_temperature": (coolest, hottest, 0.5, TODAY),
        "charge": (0.0, 1.0, 0.01, TODAY),
        "throttle_ramp": (at["throttle_ramp"], LONGEST_RAMP, 0.1, SETTING),
        "bike_mass": (0.85 * at["bike_mass"], at["bike_mass"], 0.5, PART),
    }
    return tuple(_lever(key, at[key], *given) for key, given in ranges.items())


def _lever(key: str, present: float, low: float, high: float, step: float, kind: str) -> Lever:
    """A lever whose range holds the present value and stays inside what the field accepts."""
    accepts = NUMBER_PATHS[EVERY_PATH[key]]
    low, high = max(min(low, present), accepts.low), min(max(high, present), accepts.high)
    return Lever(key, float(low), float(high), step, kind, ZERO_CELSIUS if key == "pack_temperature" else 0.0)


def with_range(lever: Lever, low: float, high: float) -> Lever:
    """The same lever with another allowed range.

    Parameters
    ----------
    lever : Lever
        The lever.
    low, high : float
        The range, in the field's own unit.

    Returns
    -------
    Lever
        Its range cut to what the field accepts.

    Raises
    ------
    ValueError
        When the range is empty.
    """
    if not low <= high:
        raise ValueError(f"{lever.key}: the allowed range must not end before it starts; got {low:g} to {high:g}.")
    accepts = NUMBER_PATHS[lever.path]
    return dataclasses.replace(lever, low=max(low, accepts.low), high=min(high, accepts.high))


def _with_capacity(build: Build, values: Floats) -> dict[str, Floats]:
    """More cells in parallel: resistance over capacity; rating, heat capacity, surface and mass with the cells."""
    pack, ratio = build.pack, values / build.pack.capacity_ah
    more = {"bike.bike_mass": _mass(build, pack.cells_in_series, values)} | _rated(pack, ratio)
    if pack.resistance is not None:
        more["pack.resistance"] = pack.resistance / ratio
    return more | _heat(pack, ratio)


def _with_rating(build: Build, values: Floats) -> dict[str, Floats]:
    """Other cells of the same capacity: less resistance and more mass by the rules of `physics.typical.pack`."""
    pack, ratio = build.pack, values / build.pack.protection.continuous_current
    mass = float(pack_mass(pack.cells_in_series, pack.capacity_ah, pack.chemistry).middle)
    more = _rated(pack, ratio) | {"bike.bike_mass": build.bike.bike_mass + mass * (ratio**MASS_EXPONENT - 1.0)}
    more["pack.protection.peak_current"] = np.maximum(more["pack.protection.peak_current"], values)
    del more[PATHS["pack_rating"]]
    if pack.resistance is not None:
        more["pack.resistance"] = pack.resistance * ratio**RATE_EXPONENT
    return more


def _rated(pack: Pack, ratio: Floats) -> dict[str, Floats]:
    """The current ratings of a pack, all in proportion; those that are off stay off."""
    rules = pack.protection
    continuous = rules.continuous_current * ratio
    return {
        "pack.protection.continuous_current": continuous,
        "pack.protection.peak_current": np.maximum(rules.peak_current * ratio, continuous),
        "pack.protection.fast_current": rules.fast_current * ratio,
    }


def _with_cells(build: Build, values: Floats) -> dict[str, Floats]:
    """More cells in series: resistance, heat, mass, and the foldback voltages that belong to a cell's voltage."""
    pack, controller, ratio = build.pack, build.controller, values / build.pack.cells_in_series
    more = {
        "bike.bike_mass": _mass(build, values, pack.capacity_ah),
        "controller.foldback_start_voltage": controller.foldback_start_voltage * ratio,
        "controller.foldback_end_voltage": controller.foldback_end_voltage * ratio,
    }
    if pack.resistance is not None:
        more["pack.resistance"] = pack.resistance * ratio
    return more | _heat(pack, ratio)


def _heat(pack: Pack, ratio: Floats) -> dict[str, Floats]:
    """Heat capacity with the cells, and the path to the air with the pack's surface, where they were given."""
    more = {}
    if pack.heat_capacity is not None:
        more["pack.heat_capacity"] = pack.heat_capacity * ratio
    if pack.thermal_conductance is not None:
        more["pack.thermal_conductance"] = pack.thermal_conductance * ratio ** (2 / 3)
    return more


def _mass(build: Build, series: Numbers, capacity_ah: Numbers) -> Floats:
    pack = build.pack
    before = typical_cell_mass(pack.cells_in_series, pack.capacity_ah, pack.chemistry)
    after = typical_cell_mass(series, capacity_ah, pack.chemistry)
    return np.maximum(build.bike.bike_mass + (after - before) / CELL_MASS_FRACTION, 5.0)


_WITH_IT = {"pack_capacity": _with_capacity, "pack_rating": _with_rating, "cells_in_series": _with_cells}
