"""A batch of builds as arrays: one leading axis, the builds, runs through everything.

A single build is a batch of one. `Batch.of` stacks builds; `Batch.vary` makes many from one without making a
dataclass for each, which is what maps, bands and searches use.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from operator import attrgetter
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from physics.arrays import Floats
from physics.build import OVERCURRENT_LAWS, Build, Protection
from physics.build.fields import Accepts, BuildError, Fault, Part, Relation
from physics.build.parts import PARTS
from physics.components import cell, cell_resistance, charging, pack, tyre
from physics.components.load_transfer import Stance
from physics.typical.pack import resistance_from_rating

_OWNERS: dict[str, type[Part]] = PARTS | {"pack.protection": Protection}


def _number_paths() -> dict[str, Accepts]:
    paths = {}
    for part, kind in _OWNERS.items():
        for field in dataclasses.fields(kind):
            if "accepts" in field.metadata:
                paths[f"{part}.{field.name}"] = field.metadata["accepts"]
    return paths


def _relations() -> list[tuple[str, str, Relation]]:
    return [(f"{part}.{r.field}", f"{part}.{r.other}", r) for part, kind in _OWNERS.items() for r in kind.RELATIONS]


NUMBER_PATHS = _number_paths()
"""Every number field of a build by its path, with what it accepts."""

_CHOICES: dict[str, tuple[Any, ...]] = {
    "pack.chemistry": cell.CHEMISTRY_KEYS,
    "pack.protection.overcurrent_law": OVERCURRENT_LAWS,
    "bike.hold_front_down": (False, True),
}
"""Every field that is one of a few; a batch holds its place among them."""

_read, _read_choices = attrgetter(*NUMBER_PATHS), attrgetter(*_CHOICES)


class Batch:
    """Builds as arrays of shape (n,), read by field path: `batch["pack.capacity_ah"]`.

    Values left to their default (None in a build) are already worked out here, so nothing is NaN.

    Parameters
    ----------
    columns : dict of str to array, shape (n,)
        Every path of NUMBER_PATHS, NaN for None; every field that is one of a few, as its place among them.
    torque_tables : tuple
        One torque table (possibly empty) for each build.
    """

    def __init__(
        self,
        columns: dict[str, NDArray[Any]],
        torque_tables: tuple[tuple[tuple[float, float], ...], ...],
    ) -> None:
        self._columns = columns
        self.torque_tables = torque_tables
        self._work_out_typical_values()

    @classmethod
    def _complete(cls, columns: dict[str, NDArray[Any]], torque_tables: tuple[Any, ...]) -> Batch:
        """A batch from columns of others, in which every typical value is worked out."""
        batch = cls.__new__(cls)
        batch._columns, batch.torque_tables = columns, torque_tables
        return batch

    @classmethod
    def of(cls, builds: Build | Batch | Sequence[Build]) -> Batch:
        """A batch from one build or several (a batch comes back as it is)."""
        if isinstance(builds, Batch):
            return builds
        if isinstance(builds, Build):
            builds = [builds]
        table = np.array([_read(build) for build in builds], dtype=float).reshape(-1, len(NUMBER_PATHS))
        radius = list(NUMBER_PATHS).index("bike.rolling_radius")
        for row, build in enumerate(builds):
            if np.isnan(table[row, radius]):
                table[row, radius] = tyre.rolling_radius(tyre.free_radius(build.bike.tyre))
        choices = np.array([_places(build) for build in builds], dtype=int).reshape(-1, len(_CHOICES))
        return cls(
            dict(zip((*NUMBER_PATHS, *_CHOICES), (*table.T.copy(), *choices.T.copy()), strict=True)),
            tuple(build.motor.torque_table for build in builds),
        )

    @classmethod
    def vary(cls, build: Build, changes: dict[str, Any]) -> Batch:
        """Many builds from one: each path gets an array of values.

        Parameters
        ----------
        build : Build
            What all of them share.
        changes : dict of str to array
            Field path to values; the arrays are broadcast against each other and flattened.

        Returns
        -------
        Batch
            As many builds as the broadcast arrays have elements.

        Raises
        ------
        BuildError
            When a path names no number field or a value is not accepted.
        """
        faults = [
            Fault(path, "a change", "the path of a number field, such as pack.capacity_ah")
            for path in changes
            if path not in NUMBER_PATHS
        ]
        if faults:
            raise BuildError(faults)
        arrays = np.broadcast_arrays(*[_numbers(path, values) for path, values in changes.items()])
        count = arrays[0].size if arrays else 1
        one = build_columns(build) | dict(zip(_CHOICES, _places(build), strict=True))
        columns = {path: np.full(count, value) for path, value in one.items()}
        for path, values in zip(changes, arrays, strict=True):
            flat = np.array(values, dtype=float).ravel()
            good = NUMBER_PATHS[path].holds(flat)
            if not good.all():
                got = flat[~good][0]
                faults.append(Fault(path, float(got), NUMBER_PATHS[path].sentence()))
            columns[path] = flat
        for field, other, relation in _relations():
            good = relation.holds(columns[field], columns[other])
            if not faults and not good.all():
                first = int(np.argmin(good))
                accepts = relation.sentence(columns[other][first], NUMBER_PATHS[other].unit)
                faults.append(Fault(field, float(columns[field][first]), accepts))
        if faults:
            raise BuildError(faults)
        if np.isnan(columns["bike.rolling_radius"]).any():
            columns["bike.rolling_radius"][:] = tyre.rolling_radius(tyre.free_radius(build.bike.tyre))
        return cls(columns, (build.motor.torque_table,) * count)

    @classmethod
    def join(cls, batches: Sequence[Batch]) -> Batch:
        """Several batches after one another as one."""
        paths = (*NUMBER_PATHS, *_CHOICES)
        return cls._complete(
            {path: np.concatenate([batch[path] for batch in batches]) for path in paths},
            tuple(table for batch in batches for table in batch.torque_tables),
        )

    def take(self, index: slice | ArrayLike) -> Batch:
        """Some of the builds, by a slice, or by an array of indices or of truths."""
        chosen = np.atleast_1d(np.arange(len(self))[index if isinstance(index, slice) else np.asarray(index)])
        return self._complete(
            {path: values[chosen] for path, values in self._columns.items()},
            tuple(self.torque_tables[each] for each in chosen),
        )

    def change(self, changes: dict[str, Any]) -> Batch:
        """A batch with other values in some number fields.

        Parameters
        ----------
        changes : dict of str to float or array, shape (n,)
            Field path to new values; they are not checked again.

        Returns
        -------
        Batch
            As many builds as before; typical values stay as they were worked out.
        """
        columns = dict(self._columns)
        for path, values in changes.items():
            columns[path] = np.array(np.broadcast_to(np.asarray(values, dtype=float), (len(self),)))
        return self._complete(columns, self.torque_tables)

    def __len__(self) -> int:
        return len(self.torque_tables)

    def __getitem__(self, path: str) -> NDArray[Any]:
        return self._columns[path]

    @property
    def chemistry(self) -> NDArray[np.intp]:
        """Rows in `cell.CHEMISTRY_KEYS`, shape (n,)."""
        return self["pack.chemistry"]

    @property
    def hold_front_down(self) -> NDArray[np.bool_]:
        """Whether the front wheel is kept on the ground, shape (n,)."""
        return self["bike.hold_front_down"] == 1

    def stance(self) -> Stance:
        """How each build stands on its wheels."""
        return Stance(
            self["bike.bike_mass"] + self["bike.rider_mass"],
            self["bike.wheelbase"],
            self["bike.centre_of_gravity_to_rear_axle"],
            self["bike.centre_of_gravity_height"],
            self["bike.drag_height"],
            self["conditions.slope"],
            self["bike.wheel_inertia"],
            self["bike.rolling_radius"],
            self["motor.rotor_inertia"],
            self["driveline.primary_ratio"] * self["driveline.rear_teeth"] / self["driveline.front_teeth"],
            self["bike.fork_sag"],
        )

    def small_current_resistance(self) -> Floats:
        """Ten-second resistance of each pack at small current, ohm: 25 degrees C, half charge, ageing included."""
        return cell_resistance.small_current_resistance(*self._measured())

    def conduction_growth(self) -> Floats:
        """What the cold does to conduction and diffusion, see `cell_resistance.conduction_growth`."""
        return cell_resistance.conduction_growth(self["pack.cold_growth"], *self._measured())

    def _measured(self) -> tuple[Floats, Floats, Floats]:
        transfer = cell.chemistry_tables().transfer_fraction[self.chemistry]
        resistance = self["pack.resistance"] * self["pack.resistance_growth"]
        return resistance, transfer, self["pack.resistance_current"] / self["pack.cells_in_series"]

    def _work_out_typical_values(self) -> None:
        columns = self._columns
        series, capacity = columns["pack.cells_in_series"], columns["pack.capacity_ah"]
        air = columns["conditions.air_temperature"]
        typical = {
            "pack.resistance": lambda: (
                resistance_from_rating(
                    self.chemistry,
                    series,
                    capacity,
                    columns["pack.protection.continuous_current"],
                    columns["pack.protection.peak_current"],
                ).middle
            ),
            "pack.charge_current": lambda: charging.typical_charge_current(capacity),
            "pack.resistance_current": lambda: cell_resistance.PULL_RATE * capacity,
            "pack.cold_growth": lambda: cell.chemistry_tables().cold_growth[self.chemistry],
            "pack.heat_capacity": lambda: pack.typical_heat_capacity(series, capacity, self.chemistry),
            "pack.thermal_conductance": lambda: pack.typical_thermal_conductance(series, capacity, self.chemistry),
            "conditions.pack_temperature": lambda: air,
            "conditions.motor_temperature": lambda: air,
            "conditions.controller_temperature": lambda: air,
        }
        for path, value in typical.items():
            missing = np.isnan(columns[path])
            if missing.any():
                columns[path] = np.where(missing, value(), columns[path])


Builds = Build | Sequence[Build] | Batch
"""What a function of many builds takes: see `Batch.of`."""


def build_columns(build: Build) -> dict[str, float]:
    """Every number of one build by its path; NaN stands for None.

    Parameters
    ----------
    build : Build
        The build to read.

    Returns
    -------
    dict of str to float
        One entry for each path of NUMBER_PATHS.

    Examples
    --------
    >>> from physics.build import example_build
    >>> build_columns(example_build())['pack.capacity_ah']
    26.0
    """
    values = zip(NUMBER_PATHS, _read(build), strict=True)
    return {path: float("nan") if value is None else float(value) for path, value in values}


def _places(build: Build) -> list[int]:
    """The place of every field that is one of a few among them."""
    return [options.index(value) for options, value in zip(_CHOICES.values(), _read_choices(build), strict=True)]


def _numbers(path: str, values: Any) -> Floats:
    """An array of numbers (NaN for None) out of what `Batch.vary` was given for one path."""
    try:
        return np.asarray(values, dtype=float)
    except (TypeError, ValueError, OverflowError):
        raise BuildError([Fault(path, values, "an array of numbers")]) from None
