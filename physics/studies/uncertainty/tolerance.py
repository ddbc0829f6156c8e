"""How well the unknowns of a build are known.

Each unknown has a half-width on either side of its value in the build, and a shape. Half-widths follow the ISO/IEC
guide JCGM 100:2008 (Evaluation of measurement data: guide to the expression of uncertainty in measurement): a
normal unknown's half-width is its expanded uncertainty with coverage factor 2, about 95 % of values (section 6.2);
a uniform unknown lies inside its half-width for certain, anywhere with equal chance (section 4.3.7), and one known
within a factor likewise in its logarithm. Section numbers from memory. Unknowns are taken to be independent of each
other. What nobody gave and the build leaves out at its default, such as the resistance of leads, is one-sided: it
may be there, never less than not at all.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from physics.build import Build
from physics.build.batch import NUMBER_PATHS, Batch
from physics.build.fields import BuildError, Fault
from physics.components import cell

NORMAL, UNIFORM, FACTOR, ONE_SIDED = "normal", "uniform", "factor", "one-sided"
SHAPES = (NORMAL, UNIFORM, FACTOR, ONE_SIDED)
COVERAGE = 2.0
"""Standard deviations in the half-width of a normal unknown."""

_NEAREST_TO_CERTAIN = 1e-9


@dataclass(frozen=True)
class Tolerance:
    """How well one number of a build is known.

    Attributes
    ----------
    path : str
        Field path, such as "bike.drag_area".
    half_width : float
        On either side of the build's value: in the field's own unit, or as a share of the value. Zero is certain.
    shape : str
        NORMAL (the half-width holds about 95 %), UNIFORM (it holds all), FACTOR (of 1 + half-width up or down, it
        holds all; the half-width is a share of the value) or ONE_SIDED (from the value to a half-width above it;
        where the value is infinite, from there to the half-width itself, so that its inverse square rises evenly:
        what saturation takes is in proportion to that).
    relative : bool
        Whether the half-width is a share of the value.
    along : tuple of str
        Paths that keep their ratio to this one: where a pack's continuous current is typical, its peak current is
        so many times that.
    """

    path: str
    half_width: float
    shape: str = NORMAL
    relative: bool = False
    along: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        faults = [
            Fault("tolerance path", path, "the path of a number field, such as bike.drag_area")
            for path in (self.path, *self.along) if path not in NUMBER_PATHS
        ]  # fmt: skip
        if not 0 <= self.half_width < np.inf:
            faults.append(Fault(f"tolerance of {self.path}", self.half_width, "a number from 0 up"))
        if self.shape not in SHAPES:
            faults.append(Fault(f"shape of {self.path}", self.shape, f"one of {', '.join(SHAPES)}"))
        if faults:
            raise BuildError(faults)

    def values(self, present: float, points: ArrayLike) -> np.ndarray:
        """Values at some places of the distribution.

        Parameters
        ----------
        present : float
            The build's value: the middle.
        points : array
            Cumulative probabilities, 0 to 1.

        Returns
        -------
        array
            Of the places' shape, held inside what the field accepts.

        Examples
        --------
        >>> drag = Tolerance("bike.drag_area", 0.1, UNIFORM, relative=True)
        >>> drag.values(0.5, [0.0, 0.5, 1.0]).round(3)
        array([0.45, 0.5 , 0.55])
        """
        from scipy.special import ndtri

        points, accepts = np.asarray(points, dtype=float), NUMBER_PATHS[self.path]
        if self.shape == FACTOR:
            return np.clip(present * np.power(1 + self.half_width, 2 * points - 1), accepts.low, accepts.high)
        width = self.half_width * (abs(present) if self.relative else 1.0)
        if self.shape == ONE_SIDED:
            return np.clip(self.away(present, points), accepts.low, accepts.high)
        if self.shape == NORMAL:
            away = ndtri(np.clip(points, _NEAREST_TO_CERTAIN, 1 - _NEAREST_TO_CERTAIN)) / COVERAGE
        else:
            away = 2 * points - 1
        return np.clip(present + width * away, accepts.low, accepts.high)

    def changes(self, batch: Batch, values: ArrayLike) -> dict[str, np.ndarray]:
        """What its values change in builds: its own path, and those that go along.

        Parameters
        ----------
        batch : Batch
            As entered: one build, or one for each value.
        values : array
            Of the path.

        Returns
        -------
        dict of str to array
            Path to values.

        Examples
        --------
        >>> from physics.build import example_build
        >>> rated = {"pack.protection.continuous_current": 100.0, "pack.protection.peak_current": 125.0}
        >>> peak = RATING.along[0]
        >>> RATING.changes(Batch.of(example_build().change(rated)), [50.0, 200.0])[peak].tolist()
        [62.5, 250.0]
        """
        values = np.asarray(values, dtype=float)
        if not self.along:
            return {self.path: values}
        present = batch[self.path]
        ratio = np.where(np.isfinite(present), values, 1.0) / np.where(np.isfinite(present), present, 1.0)
        return {self.path: values} | {path: batch[path] * ratio for path in self.along}

    def away(self, present: ArrayLike, by: ArrayLike) -> np.ndarray:
        """Values so many half-widths away.

        Parameters
        ----------
        present : float or array
            The build's value.
        by : float or array
            Half-widths; above zero is higher, or, from infinite, lower. One that is one-sided is never below zero.

        Returns
        -------
        array
            Not held inside what the field accepts.

        Examples
        --------
        >>> Tolerance("pack.lead_resistance", 0.004, ONE_SIDED).away(0.0, [-1.0, 0.5]).tolist()
        [0.0, 0.002]
        >>> Tolerance("motor.saturation_current", 300.0, ONE_SIDED).away(np.inf, [-1.0, 0.25, 1.0]).tolist()
        [inf, 600.0, 300.0]
        """
        value, by = np.asarray(present, dtype=float), np.asarray(by, dtype=float)
        if self.shape == FACTOR:
            return value * (1.0 + self.half_width) ** by
        by = np.maximum(by, 0.0) if self.shape == ONE_SIDED else by
        with np.errstate(divide="ignore", invalid="ignore"):
            sets_in = self.half_width / np.sqrt(np.maximum(by, 0.0))
            return np.where(
                np.isinf(value), sets_in, value + by * self.half_width * (np.abs(value) if self.relative else 1.0)
            )


DEFAULTS = (
    Tolerance("bike.drag_area", 0.20, NORMAL, relative=True),
    Tolerance("bike.rolling_coefficient", 0.25, NORMAL, relative=True),
    Tolerance("pack.resistance", 0.15, NORMAL, relative=True),
    Tolerance("motor.kv_rpm_per_volt", 0.04, NORMAL, relative=True),
    Tolerance("bike.bike_mass", 4.0, NORMAL),
    Tolerance("conditions.air_temperature", 2.0, UNIFORM),
    Tolerance("conditions.pack_temperature", 3.0, NORMAL),
    Tolerance("conditions.headwind", 2.0, NORMAL),
    Tolerance("conditions.charge", 0.03, NORMAL),
    Tolerance("pack.charge_spread", 0.015, NORMAL),
    Tolerance("pack.cold_growth", 0.10, NORMAL, relative=True),
    Tolerance("pack.lead_resistance", 0.30, NORMAL, relative=True),
    Tolerance("controller.modulation", 0.02, NORMAL, relative=True),
    Tolerance("motor.magnet_weakening", 0.25, NORMAL, relative=True),
)
"""What a careful builder knows before the first test ride; common practice, no source. The weight is that of bike,
rider and gear together, its error given to the bike."""

UNMEASURED_RESISTANCE = Tolerance("pack.resistance", 0.6, UNIFORM, relative=True)
"""Where a typical value stands in for a measurement: as far up as the ends of physics/typical/pack.py for a pack of
known rating; common practice, no source."""

RATING = Tolerance(
    "pack.protection.continuous_current", 1.0, FACTOR, relative=True,
    along=("pack.protection.peak_current", "pack.protection.fast_current"),
)  # fmt: skip
"""A pack's current rating where nobody gave it: half to twice what is typical of its capacity. Packs offered for
small motorcycles are rated at 2 to 10 times their one-hour current: common practice, no source."""

RATING_BY_OTHER = 0.2
"""The same where either the continuous or the peak current was given, as a factor of the other: a peak of 1.04 to
1.5 times the continuous current; common practice, no source."""


def rating_left_out(*, continuous: bool, peak: bool, fast: bool = False) -> tuple[Tolerance, ...]:
    """A pack's current rating where some of it is typical, as one unknown.

    Parameters
    ----------
    continuous, peak, fast : bool
        Whether the continuous, the peak and the fast over-current are typical, and not given.

    Returns
    -------
    tuple of Tolerance
        At most one: the continuous current, with which what is typical by it goes along, or the peak current alone.

    Examples
    --------
    >>> [(item.path, item.half_width) for item in rating_left_out(continuous=False, peak=True)]
    [('pack.protection.peak_current', 0.2)]
    """
    along = RATING.along if fast else RATING.along[:1]
    if continuous and peak:
        return (dataclasses.replace(RATING, along=along),)
    by_other = dataclasses.replace(RATING, half_width=RATING_BY_OTHER, along=())
    if continuous:
        return (by_other,)
    return (dataclasses.replace(by_other, path=along[0], along=along[1:]),) if peak else ()


LEFT_OUT = (
    # 2 m of 16 mm2 are 2.4 mohm (IEC 60228, 1.21 ohm/km, from memory); fuse, switch and plugs as much again
    Tolerance("pack.lead_resistance", 0.004, ONE_SIDED),
    # 0.95 with some voltage in reserve, 1.05 with some overmodulation: common practice, no source
    Tolerance("controller.modulation", 0.05, UNIFORM, relative=True),
    # sintered neodymium at its most usual (see physics.components.motor.magnet_share); samarium-cobalt loses less
    Tolerance("motor.magnet_weakening", 0.0011, ONE_SIDED),
)
"""Unknowns whose default leaves out what most bikes have, where nobody gave a value."""
_RESTS_AT = {"pack.lead_resistance": 0.0, "controller.modulation": 1.0, "motor.magnet_weakening": 0.0}

SATURATIONS = ("motor.saturation_current", "motor.inductance_saturation_current")
KNOWN_SATURATION = 0.15
"""How well a saturation that was given is known, as a share; common practice, no source."""


def saturation_left_out(build: Build) -> tuple[Tolerance, ...]:
    """Saturation of iron where nobody gave it: torque per ampere and inductance a tenth down at the phase limit.

    Parameters
    ----------
    build : Build
        Its phase limit, and what it has of saturation.

    Returns
    -------
    tuple of Tolerance
        One for each of SATURATIONS that is off. That a controller's phase limit is set to where the iron begins to
        saturate, not far past it: common practice, no source. A run with saturation takes nearly twice the time,
        so these stand apart: chances, rankings, run-ups and hill starts have them, and a quick band does not. No
        line limit needs them: at a given line current they take torque and add no sag.

    Examples
    --------
    >>> from physics.build import example_build
    >>> [item.half_width for item in saturation_left_out(example_build())]
    [400.0, 400.0]
    """
    limit = build.controller.phase_current_limit
    off = [path for path in SATURATIONS if np.isinf(getattr(build.motor, path.partition(".")[2]))]
    return tuple(Tolerance(path, limit, ONE_SIDED) for path in off)


def unmeasured_cold_growth(chemistry: str) -> Tolerance:
    """Growth of resistance in the cold where a chemistry's typical value stands in for a measurement.

    Parameters
    ----------
    chemistry : str
        Key of the chemistry.

    Returns
    -------
    Tolerance
        Within a factor that reaches the most that published cells show.

    Examples
    --------
    >>> round(unmeasured_cold_growth("nmc").half_width, 2)
    0.8
    """
    kind = cell.chemistry(chemistry)
    return Tolerance("pack.cold_growth", kind.cold_growth_high / kind.cold_growth - 1, FACTOR, relative=True)


def default_tolerances(build: Build) -> tuple[Tolerance, ...]:
    """How well the unknowns of a build are known if nobody says otherwise.

    Parameters
    ----------
    build : Build
        A pack without a measured resistance, or growth of it in the cold, gets a wide tolerance there; what stands
        at a default that leaves it out gets that of LEFT_OUT.

    Returns
    -------
    tuple of Tolerance
        Saturation is in it where the build has some; see `saturation_left_out`.

    Examples
    --------
    >>> from physics.build import example_build
    >>> [item.half_width for item in default_tolerances(example_build()) if item.path == "pack.resistance"]
    [0.6]
    """
    unmeasured = {}
    if build.pack.resistance is None:
        unmeasured["pack.resistance"] = UNMEASURED_RESISTANCE
    if build.pack.cold_growth is None:
        unmeasured["pack.cold_growth"] = unmeasured_cold_growth(build.pack.chemistry)
    columns = Batch.of(build)
    unmeasured |= {item.path: item for item in LEFT_OUT if columns[item.path][0] == _RESTS_AT[item.path]}
    given = tuple(
        Tolerance(path, KNOWN_SATURATION, NORMAL, relative=True)
        for path in SATURATIONS if np.isfinite(columns[path][0])
    )  # fmt: skip
    return tuple(unmeasured.get(item.path, item) for item in DEFAULTS) + given
