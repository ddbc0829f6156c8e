"""How much worse than entered things may be: the cases in which advice must still hold.

Each unknown of a build alone at an end of its half-width; all of them at once, each by its half-width over the
square root of their number k; and those of the pack at once in the same way. Independent errors seldom add up:
equal effects taken so count sqrt(k) times one of them, as the root sum of squares of JCGM 100:2008 (section 5.1,
from memory) has it. Effects that are not equal count less, never more (Cauchy and Schwarz); so the pack's own
unknowns, on which an under-voltage mostly hangs, have a case of their own.

Charge headroom adds all half-widths in full, on purpose (`physics.studies.headroom_curves`): a line limit that is
too high ends in a cut-out, for which the protection is there; a cell charged past its maximum is harmed, nothing
shows it while it happens, and the protection watches the pack's threshold, not that harm.

Some unknowns move with another one (JOINED) and make no case of their own: what a motor gives for an ampere is one
thing, and so is what a pack sags for one. There they add up in full.
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
    "pack.protection.continuous_current": -1,
    "pack.protection.peak_current": -1,
    "driveline.primary_ratio": 1,
}
"""The end of each unknown, 1 high and -1 low, at which a hard pull sags more or draws for longer."""

_SPEED_CONSTANT = "motor.kv_rpm_per_volt"
JOINED = {
    "pack.lead_resistance": "pack.resistance",
    "controller.modulation": _SPEED_CONSTANT,
    "motor.magnet_weakening": _SPEED_CONSTANT,
    "motor.saturation_current": _SPEED_CONSTANT,
    "motor.inductance_saturation_current": _SPEED_CONSTANT,
}
"""Unknowns that go up and down with another one where that is unknown too, by as many half-widths."""
_OF_THE_PACK = ("pack.", "conditions.pack_temperature", "conditions.charge")

_WORDS = {
    "pack.resistance": ("a pack resistance {} lower", "a pack resistance {} higher"),
    "pack.cold_growth": ("a pack resistance {} lower in the cold", "a pack resistance {} higher in the cold"),
    "pack.charge_spread": ("the weakest cell {} higher in charge", "the weakest cell {} lower in charge"),
    "conditions.pack_temperature": ("a pack {} colder", "a pack {} warmer"),
    "conditions.air_temperature": ("air {} colder", "air {} warmer"),
    "conditions.charge": ("{} less charge", "{} more charge"),
    "conditions.headwind": ("{} less headwind", "{} more headwind"),
    "bike.drag_area": ("{} less drag", "{} more drag"),
    "bike.rolling_coefficient": ("{} less rolling resistance", "{} more rolling resistance"),
    "bike.bike_mass": ("{} less weight", "{} more weight"),
    "pack.capacity_ah": ("a capacity {} lower", "a capacity {} higher"),
    "pack.protection.continuous_current": ("a pack rated for {} less current", "a pack rated for {} more current"),
    "pack.protection.peak_current": ("a rated peak current {} lower", "a rated peak current {} higher"),
    "driveline.primary_ratio": ("gearing {} taller", "gearing {} shorter"),
    "motor.kv_rpm_per_volt": ("a motor Kv {} lower", "a motor Kv {} higher"),
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
        changes: dict[str, np.ndarray] = {}
        for tolerance, by in self.away:
            value, accepts = tolerance.away(batch[tolerance.path], by), NUMBER_PATHS[tolerance.path]
            # what is infinite is off, and stays so
            held = np.where(np.isinf(value), value, np.clip(value, accepts.low, accepts.high))
            changes |= tolerance.changes(batch, held)
        return batch.change(changes)

    @property
    def alone(self) -> tuple[str, float, bool] | None:
        """Path, how far it is off in its own unit or as a share, and whether as a share; None unless one is off.

        Those that move with it are not told of.
        """
        if not self.away or any(JOINED.get(item.path) != self.away[0][0].path for item, _ in self.away[1:]):
            return None
        tolerance, by = self.away[0]
        if tolerance.shape == FACTOR:
            return tolerance.path, (1.0 + tolerance.half_width) ** by - 1.0, tolerance.relative
        return tolerance.path, by * tolerance.half_width, tolerance.relative

    @property
    def of_the_pack(self) -> bool:
        """Whether all that is off is the pack's."""
        return bool(self.away) and all(_is_of_the_pack(tolerance.path) for tolerance, _ in self.away)

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
            if self.of_the_pack:
                return "everything about the pack a little off at once"
            return "everything a little off at once" if self.away else "everything as entered"
        path, amount, relative = self.alone
        unit = "%" if relative else _UNITS.get(path.rpartition(".")[2], "K")
        return in_words(path, amount > 0, f"{abs(amount) * (100 if unit == '%' else 1):.3g} {unit}")


AS_ENTERED = WorseCase()


def _is_of_the_pack(path: str) -> bool:
    return path.startswith(_OF_THE_PACK)


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
        As entered first, then all at once, those of the pack at once, then each alone.

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
    >>> len(worse_cases([Tolerance("pack.resistance", 0.15), Tolerance("pack.lead_resistance", 0.004)]))
    3
    """
    if not 0 <= margin <= MOST_MARGIN:
        raise ValueError(f"Margin: got {margin!r}; accepts a number from 0 to {MOST_MARGIN:g}.")
    unknown = [item for item in tolerances if item.half_width > 0]
    if not unknown or margin == 0:
        return (AS_ENTERED,)
    paths = {item.path for item in unknown}
    leads = [item for item in unknown if JOINED.get(item.path) not in paths]

    def off(items: Sequence[Tolerance], by: float) -> WorseCase:
        """Each so many half-widths towards its worse end, and what moves with it."""
        away = []
        for item in items:
            own = adverse.get(item.path, 1) * by
            away += [(item, own), *((other, own) for other in unknown if JOINED.get(other.path) == item.path)]
        return WorseCase(tuple(away))

    cases, of_pack = [AS_ENTERED], [item for item in leads if _is_of_the_pack(item.path)]
    if len(leads) > 1:
        share = margin / len(leads) ** 0.5
        cases += [off(leads, side * share) for side in ((1, -1) if both_ends else (1,))]
    if 1 < len(of_pack) < len(leads):
        cases.append(off(of_pack, margin / len(of_pack) ** 0.5))
    for item in leads:
        cases.append(off([item], margin))
        if both_ends or item.path not in adverse:
            cases.append(off([item], -margin))
    return tuple(cases)
