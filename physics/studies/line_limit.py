"""Today's line limit: the highest that survives a pull, even where things are worse than entered.

Survives means that no rule of the protection opens and no rating is passed, as entered and in every worse case (see
`physics.studies.uncertainty.worse`). Results defer to the makers' limits; nothing here is a reason to
change or defeat a protection.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from physics.arrays import Floats
from physics.build import Build
from physics.build.batch import Batch
from physics.scenarios.pull import Pull
from physics.studies.limit_search import highest_limits
from physics.studies.limit_use import binding
from physics.studies.uncertainty.tolerance import Tolerance, default_tolerances
from physics.studies.uncertainty.worse import WorseCase, worse_cases

LIMIT_FOUND, NO_LIMIT_NEEDED, NONE_SURVIVES = 0, 1, 2
"""Status of a cell of the map of line limits."""

WARM = 313.15
"""K, 40 degrees C: a limit for today must also hold in a pack as warm as this, and in a full one."""


@dataclass(frozen=True, eq=False)
class LineLimits:
    """The highest line limit that survives a pull, over pack temperature and charge.

    Arrays have shape (temperatures, charges) unless noted.

    Attributes
    ----------
    temperature : array, shape (t,), K
        Of the pack.
    charge : array, shape (c,)
        At the start, 0 to 1.
    limit : array, A
        Highest limit that survives here and in every warmer or fuller pack; infinite where none is needed, 0 where
        none survives.
    rule : array of int
        Index in BINDS of what binds above the limit; -1 where no limit is needed.
    case : array of int
        Index in `cases` of the case in which it does.
    place : array, shape (t, c, 2), K and 1
        Pack temperature and charge at which it does: this cell's own, or a warmer or fuller one's.
    largest_current : array, A
        The most line current the pull draws with the line limit off, in all cases; where a limit is needed, up to
        a cut-out and in the cases that said so.
    step : float, A
        Limits are whole multiples of it.
    margin : float
        How wrong each value may be, in its half-widths.
    cases : tuple of WorseCase
        What every limit survives, as entered first.
    """

    temperature: np.ndarray
    charge: np.ndarray
    limit: np.ndarray
    rule: np.ndarray
    case: np.ndarray
    place: np.ndarray
    largest_current: np.ndarray
    step: float
    margin: float
    cases: tuple[WorseCase, ...]

    @cached_property
    def status(self) -> np.ndarray:
        """LIMIT_FOUND, NO_LIMIT_NEEDED or NONE_SURVIVES."""
        status = np.where(np.isinf(self.limit), NO_LIMIT_NEEDED, LIMIT_FOUND)
        return np.where(self.limit <= 0, NONE_SURVIVES, status)

    def message(self, row: int = 0, column: int = 0) -> str:
        """One sentence for one cell.

        Parameters
        ----------
        row, column : int
            Index on the temperature and on the charge axis.

        Returns
        -------
        str
        """
        status = self.status[row, column]
        if status == NO_LIMIT_NEEDED:
            return f"No limit needed: the pull draws at most {self.largest_current[row, column]:.0f} A."
        binds, case = binding(self.rule[row, column]), self.cases[self.case[row, column]].message
        if status == NONE_SURVIVES:
            return f"None survives: with {case}, {binds} binds at any limit."
        return f"{self.limit[row, column]:g} A; above it, with {case}, {binds} binds."


def line_limit(
    build: Build,
    pull: Pull | float,
    margin: float = 1.0,
    temperatures: ArrayLike | None = None,
    charges: ArrayLike | None = None,
    step: float = 1.0,
    steps: int | None = None,
    tolerances: Sequence[Tolerance] | None = None,
) -> LineLimits:
    """The highest line limit that survives a pull with a margin, over temperature and charge.

    A cell's limit is the largest below which every limit that was looked at survives. No limit passes a rating of
    the pack: above the continuous current only for the peak time, never above the peak current, overshoot counted.
    An emptier pack can seem to allow more, because it no longer pushes the bike to where it draws much; the answer
    is therefore the lowest of this cell's and of all warmer and fuller ones', up to WARM and full, where heat of
    the pack itself is not what binds: a rider who reads the thermometer or the voltmeter low is then still safe.

    Parameters
    ----------
    build : Build
        The bike; its own line limit, pack temperature and charge are replaced. Air stays as it is.
    pull : Pull, or float, s
        What must be survived; or for how long flat out from a standstill.
    margin : float
        How wrong values may be, 0 to 2: 0 exactly as entered, 1 as wrong as each may well be.
    temperatures : sequence of float, K, optional
        Of the pack; by default the conditions' own.
    charges : sequence of float, optional
        At the start, 0 to 1; by default the conditions' own.
    step : float, A
        Limits looked at are whole multiples of it; 0.1 to 100.
    steps : int, optional
        Time steps of each run.
    tolerances : sequence of Tolerance, optional
        How well each unknown is known; by default `default_tolerances` of the build.

    Returns
    -------
    LineLimits
        One cell for each temperature and charge.

    Raises
    ------
    ValueError
        When margin or step are not accepted.
    BuildError
        When a temperature or a charge is not accepted.

    Examples
    --------
    >>> from physics.build import example_build
    >>> rules = {"pack.protection.continuous_current": 100.0, "pack.protection.peak_current": 150.0}
    >>> build = example_build().change(rules)
    >>> line_limit(build, 20.0, step=5.0).message()
    '95 A; above it, with everything as entered, the timed over-current rule binds.'
    """
    if not 0.1 <= step <= 100:
        raise ValueError(f"Line limit: got a step of {step!r} A; accepts a step from 0.1 to 100 A.")
    cases = worse_cases(default_tolerances(build) if tolerances is None else tolerances, margin)
    pull = pull if isinstance(pull, Pull) else Pull(pull)
    own = Batch.of(build)
    wanted_rows = _axis(temperatures, own["conditions.pack_temperature"])
    wanted_columns = _axis(charges, own["conditions.charge"])
    rows, columns = np.union1d(wanted_rows, [WARM]), np.union1d(wanted_columns, [1.0])
    cells = Batch.vary(build, {"conditions.pack_temperature": rows[:, None], "conditions.charge": columns[None, :]})
    found = highest_limits(cells, (len(rows), len(columns)), pull, cases, step, steps)
    at = np.ix_(np.searchsorted(rows, wanted_rows), np.searchsorted(columns, wanted_columns))
    row, column = np.divmod(found.cell[at], len(columns))
    return LineLimits(
        wanted_rows,
        wanted_columns,
        found.limit[at],
        found.rule[at],
        found.case[at],
        np.stack([rows[row], columns[column]], axis=-1),
        found.largest_current[at],
        step,
        margin,
        cases,
    )


def _axis(values: ArrayLike | None, default: Floats) -> Floats:
    values = default if values is None else values
    return np.unique(np.atleast_1d(np.asarray(values, dtype=float)))
