"""How much worse than entered things may be: the cases in which advice must still hold.

Each unknown of a build alone at an end of its half-width, and all of them at once, each by its half-width over the
square root of their number: independent errors seldom add up. Taken together so, equal effects count sqrt(k) times
one of them, as the root sum of squares of JCGM 100:2008 (section 5.1, from memory) has it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from physics.build.batch import NUMBER_PATHS, Batch
from physics.studies.uncertainty.tolerance import FACTOR, Tolerance

MOST_MARGIN = 2.0
"""The largest margin: everything twice as wrong as it may well be."""

AGAINST_A_PULL: dict[str, int] = {
    "pack.resistance": 1,
    "pack.cold_growth": 1,
    "pack.charge_spread": 1,
    "conditions.pack_temperature": -1,
    "conditions.charge": -1,
    "conditions.headwind": 1,
    "conditions.air_temperature": -1,
    "bike.drag_area": 1,
    "bike.rolling_coefficient": 1,
    "bike.bike_mass": 1,
    "motor.kv_rpm_per_volt": 1,
    "pack.capacity_ah": -1,
    "driveline.primary_ratio": 1,
}
"""The end of each unknown, 1 high and -1 low, at which a hard pull sags more or draws for longer."""

_WORDS = {
    "pack.resistance": ("a pack resistance {} lower", "a pack resistance {} higher"),
    "pack.cold_growth": ("a pack resistance {} lower in the cold", "a pack resistance {} higher in the cold"),
    "pack.charge_spread": ("a weakest cell lagging {} less", "a weakest cell lagging {} more"),
    "conditions.pack_temperature": ("a pack {} colder", "a pack {} warmer"),
    "conditions.air_temperature": ("air {} colder", "air {} warmer"),
    "conditions.charge": ("{} less charge", "{} more charge"),
    "conditions.headwind": ("{} less headwind", "{} more headwind"),
    "bike.drag_area": ("{} less drag", "{} more drag"),
    "bike.rolling_coefficient": ("{} less rolling resistance", "{} more rolling resistance"),
    "bike.bike_mass": ("{} less weight", "{} more weight"),
    "pack.capacity_ah": ("a capacity {} lower", "a capacity {} higher"),
    "driveline.primary_ratio": ("gearing {} taller", "gearing {} shorter"),
    "motor.kv_rpm_per_volt": ("a motor speed constant {} lower", "a motor speed constant {} higher"),
}
_UNITS = {"charge": "%", "charge_spread": "%", "headwind": "m/s", "bike_mass": "kg"}


@dataclass(frozen=True)
class WorseCase:
    """Some unknowns off from what was entered.

    Attributes
    ----------
    away : tuple of (Tolerance, float)
        Each unknown that is off, and by how many of its half-widths: above zero is higher. Empty: as entered.
    """

    away: tuple[tuple[Tolerance, float], ...] = ()

    def applied(self, batch: Batch) -> Batch:
        """Builds with these unknowns off.

        Parameters
        ----------
        batch : Batch
            As entered.

        Returns
        -------
        Batch
            As many builds, each value held inside what its field accepts.

        Examples
        --------
        >>> from physics.build import example_build
        >>> drag = Tolerance("bike.drag_area", 0.2, relative=True)
        >>> batch = Batch.of(example_build())
        >>> worse = WorseCase(((drag, 1.0),)).applied(batch)
        >>> float((worse["bike.drag_area"] / batch["bike.drag_area"])[0].round(6))
        1.2
        """
        changes = {}
        for tolerance, by in self.away:
            present, accepts = batch[tolerance.path], NUMBER_PATHS[tolerance.path]
            width = _away(tolerance, by) * (np.abs(present) if tolerance.relative else 1.0)
            changes[tolerance.path] = np.clip(present + width, accepts.low, accepts.high)
        return batch.change(changes)

    @property
    def alone(self) -> tuple[str, float, bool] | None:
        """Path, how far it is off in its own unit or as a share, and whether as a share; None unless one is off."""
        if len(self.away) != 1:
            return None
        tolerance, by = self.away[0]
        return tolerance.path, _away(tolerance, by), tolerance.relative

    @property
    def message(self) -> str:
        """The case in a few words, in SI.

        Examples
        --------
        >>> WorseCase().message
        'everything as entered'
        >>> WorseCase(((Tolerance("conditions.pack_temperature", 3.0), -1.0),)).message
        'a pack 3 K colder'
        """
        if self.alone is None:
            return "everything a little off at once" if self.away else "everything as entered"
        path, amount, relative = self.alone
        unit = "%" if relative else _UNITS.get(path.rpartition(".")[2], "K")
        return in_words(path, amount > 0, f"{abs(amount) * (100 if unit == '%' else 1):.3g} {unit}")


AS_ENTERED = WorseCase()


def _away(tolerance: Tolerance, by: float) -> float:
    """How far off an unknown is so many half-widths away; one known within a factor is so many factors off."""
    if tolerance.shape == FACTOR:
        return (1.0 + tolerance.half_width) ** by - 1.0
    return by * tolerance.half_width


def in_words(path: str, higher: bool, amount: str) -> str:
    """One unknown that is off, in a few words.

    Parameters
    ----------
    path : str
        Of the unknown.
    higher : bool
        Or lower.
    amount : str
        By how much, with its unit.

    Returns
    -------
    str

    Examples
    --------
    >>> in_words("pack.resistance", True, "15 %")
    'a pack resistance 15 % higher'
    """
    name = path.rpartition(".")[2].replace("_", " ")
    return _WORDS.get(path, (f"{name} {{}} lower", f"{name} {{}} higher"))[higher].format(amount)


def worse_cases(
    tolerances: Sequence[Tolerance],
    margin: float = 1.0,
    adverse: Mapping[str, int] = AGAINST_A_PULL,
    both_ends: bool = True,
) -> tuple[WorseCase, ...]:
    """The cases in which advice must hold.

    Parameters
    ----------
    tolerances : sequence of Tolerance
        How well each unknown is known; see `default_tolerances`.
    margin : float
        How wrong values may be, 0 to MOST_MARGIN: 0 exactly as entered, 1 as wrong as each may well be.
    adverse : mapping of str to int
        The worse end of each unknown, 1 or -1, by path. One that is not in it is taken at both ends, and high
        among all of them.
    both_ends : bool
        Whether each unknown is taken at its other end as well, and all of them at once there: for advice that
        several rules may bind from different sides.

    Returns
    -------
    tuple of WorseCase
        As entered first, then all at once, then each alone.

    Raises
    ------
    ValueError
        When the margin is not accepted.

    Examples
    --------
    >>> cases = worse_cases([Tolerance("pack.resistance", 0.15, relative=True)], both_ends=False)
    >>> [case.message for case in cases]
    ['everything as entered', 'a pack resistance 15 % higher']
    >>> len(worse_cases([Tolerance("pack.resistance", 0.15), Tolerance("bike.drag_area", 0.1)]))
    7
    """
    if not 0 <= margin <= MOST_MARGIN:
        raise ValueError(f"Margin: got {margin!r}; accepts a number from 0 to {MOST_MARGIN:g}.")
    unknown = [item for item in tolerances if item.half_width > 0]
    if not unknown or margin == 0:
        return (AS_ENTERED,)
    cases = [AS_ENTERED]
    if len(unknown) > 1:
        share = margin / len(unknown) ** 0.5
        ends = [adverse.get(item.path, 1) for item in unknown]
        for side in (1, -1) if both_ends else (1,):
            cases.append(
                WorseCase(tuple((item, side * end * share) for item, end in zip(unknown, ends, strict=True)))
            )
    for item in unknown:
        end = adverse.get(item.path, 1)
        cases.append(WorseCase(((item, end * margin),)))
        if both_ends or item.path not in adverse:
            cases.append(WorseCase(((item, -end * margin),)))
    return tuple(cases)
