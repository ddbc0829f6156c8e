"""Today's line limit: the highest that survives a pull, and how much of each rule a pull uses.

A search is a batch of builds inside a monotone bracket: each round looks at many values of every cell of a map at
once. Results defer to the makers' limits; nothing here is a reason to change or defeat a protection.
"""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from physics.arrays import Floats
from physics.build import NO_RULES, Build
from physics.build.batch import Batch
from physics.limits import PACK_TEMPERATURE, RULES
from physics.scenarios.pull import Pull, make_pull

LIMIT_FOUND, NO_LIMIT_NEEDED, NONE_SURVIVES = 0, 1, 2
"""Status of a cell of the map of line limits."""

WARM = 313.15
"""K, 40 degrees C: a limit for today must also hold in a pack as warm as this, and in a full one."""

_MOST_AT_ONCE = 3000
_OFF = 5000.0


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
    own_limit : array, A
        The same for this temperature and charge alone.
    rule : array of int
        Index in RULES of the rule that would open above the limit; -1 where no limit is needed.
    largest_current : array, A
        The most line current the pull draws with the line limit off.
    step : float, A
        Limits are whole multiples of it.
    margin : float
        Share of each allowance that is left over.
    """

    temperature: np.ndarray
    charge: np.ndarray
    limit: np.ndarray
    own_limit: np.ndarray
    rule: np.ndarray
    largest_current: np.ndarray
    step: float
    margin: float

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
        rule = RULES[self.rule[row, column]]
        if status == NONE_SURVIVES:
            return f"None survives: the {rule} rule opens at any limit."
        return f"{self.limit[row, column]:g} A; above it the {rule} rule comes first."


def line_limit(
    build: Build,
    pull: Pull | float,
    margin: float = 0.2,
    temperatures: ArrayLike | None = None,
    charges: ArrayLike | None = None,
    step: float = 1.0,
    steps: int | None = None,
) -> LineLimits:
    """The highest line limit that survives a pull with a margin, over temperature and charge.

    Survives means that no trip timer goes past 1 - margin before the pull is over. A cell's limit is the largest
    below which every limit that was looked at survives. An emptier pack can seem to allow more,
    because it no longer pushes the bike to where it draws much; the answer is therefore the lowest of this cell's
    and of all warmer and fuller ones', up to WARM and full, where heat of the pack itself is not what binds: a
    rider who reads the thermometer or the voltmeter low is then still safe.

    Parameters
    ----------
    build : Build
        The bike; its own line limit, pack temperature and charge are replaced. Air stays as it is.
    pull : Pull, or float, s
        What must be survived; or for how long flat out from a standstill.
    margin : float
        Share of every rule's allowance left over, 0 to 0.9.
    temperatures : sequence of float, K, optional
        Of the pack; by default the conditions' own.
    charges : sequence of float, optional
        At the start, 0 to 1; by default the conditions' own.
    step : float, A
        Limits looked at are whole multiples of it; 0.1 to 100.
    steps : int, optional
        Time steps of each run.

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
    '95 A; above it the definite-time over-current rule comes first.'
    """
    if not (0 <= margin <= 0.9 and 0.1 <= step <= 100):
        raise ValueError(
            f"Line limit: got a margin of {margin!r} and a step of {step!r} A; accepts a margin from 0 to 0.9 "
            "and a step from 0.1 to 100 A."
        )
    pull = pull if isinstance(pull, Pull) else Pull(pull)
    own = Batch.of(build)
    wanted_rows = _axis(temperatures, own["conditions.pack_temperature"])
    wanted_columns = _axis(charges, own["conditions.charge"])
    rows, columns = np.union1d(wanted_rows, [WARM]), np.union1d(wanted_columns, [1.0])
    cells = Batch.vary(build, {"conditions.pack_temperature": rows[:, None], "conditions.charge": columns[None, :]})
    limit, rule, largest_current = _search(cells, pull, 1 - margin, step, steps)
    shape = (len(rows), len(columns))
    limit, rule, largest_current = limit.reshape(shape), rule.reshape(shape), largest_current.reshape(shape)
    held, held_rule = _never_more_when_colder_or_emptier(limit, rule)
    cell = np.ix_(np.searchsorted(rows, wanted_rows), np.searchsorted(columns, wanted_columns))
    return LineLimits(
        wanted_rows, wanted_columns, held[cell], limit[cell], held_rule[cell], largest_current[cell], step, margin
    )


def _axis(values: ArrayLike | None, default: Floats) -> Floats:
    values = default if values is None else values
    return np.unique(np.atleast_1d(np.asarray(values, dtype=float)))


def _search(
    cells: Batch, pull: Pull, most_used: float, step: float, steps: int | None
) -> tuple[Floats, NDArray[np.int_], Floats]:
    """Each cell's own limit, the rule that binds above it, and the most current drawn with the limit off."""
    count = len(cells)
    off = cells.change({"controller.line_current_limit": _OFF})
    both = make_pull(Batch.join([off, off.change(NO_RULES)]), pull, None, steps)
    largest_current = np.ceil(both.run.maximum_line_current[count:])
    rule = np.where(both.worst[:count] > most_used, both.rule[:count], -1)
    low = np.zeros(count, dtype=int)
    high = np.where(rule >= 0, np.ceil(largest_current / step).astype(int), 0)  # the first that is known to fail
    while True:
        open_cells = np.flatnonzero(high - low > 1)
        if not len(open_cells):
            break
        width = (high - low)[open_cells].max()
        at_once = int(np.clip(_MOST_AT_ONCE // len(open_cells), 1, math.ceil(math.sqrt(width))))
        fraction = np.arange(1, at_once + 1) / (at_once + 1)
        start, end = low[open_cells, None], high[open_cells, None]
        tried = np.clip(np.round(start + (end - start) * fraction).astype(int), start + 1, end - 1)
        many = cells.take(np.repeat(open_cells, at_once))
        result = make_pull(many.change({"controller.line_current_limit": tried.ravel() * step}), pull, None, steps)
        failed = (result.worst > most_used).reshape(tried.shape)
        rules = result.rule.reshape(tried.shape)
        first = np.where(failed.any(axis=1), failed.argmax(axis=1), at_once)
        inner = np.arange(len(open_cells))
        fails = first < at_once
        low[open_cells] = np.where(first > 0, tried[inner, np.maximum(first - 1, 0)], start[:, 0])
        index = np.minimum(first, at_once - 1)
        high[open_cells] = np.where(fails, tried[inner, index], end[:, 0])
        rule[open_cells] = np.where(fails, rules[inner, index], rule[open_cells])
    return np.where(rule >= 0, low * step, np.inf), rule, largest_current


def _never_more_when_colder_or_emptier(limit: Floats, rule: NDArray[np.int_]) -> tuple[Floats, NDArray[np.int_]]:
    """Each cell's limit and rule, or those of the strictest warmer or fuller cell where those are stricter."""
    strict = np.where(rule == PACK_TEMPERATURE, np.inf, limit)
    held, held_rule = limit.copy(), rule.copy()
    for row in range(limit.shape[0]):
        for column in range(limit.shape[1]):
            warmer = strict[row:, column:]
            least = warmer.min()
            if least < held[row, column]:
                held[row, column] = least
                held_rule[row, column] = rule[row:, column:].ravel()[warmer.argmin()]
    return held, held_rule


def allowance_against_limit(build: Build, pull: Pull, limits: ArrayLike, steps: int | None = None) -> np.ndarray:
    """How much of each rule's allowance a pull uses at several line limits, today.

    Parameters
    ----------
    build : Build
        The bike in its conditions.
    pull : Pull
        What is ridden.
    limits : array, shape (k,), A
        Line limits.
    steps : int, optional
        Time steps of each run.

    Returns
    -------
    array, shape (k, len(RULES))
        0 none, 1 a cut-out.

    Examples
    --------
    >>> from physics.build import example_build
    >>> rules = {"pack.protection.continuous_current": 100.0, "pack.protection.peak_current": 150.0}
    >>> build = example_build().change(rules)
    >>> allowance_against_limit(build, Pull(20.0), [95.0, 200.0])[:, 0]
    array([0., 1.])
    """
    batch = Batch.vary(build, {"controller.line_current_limit": np.asarray(limits, dtype=float)})
    return make_pull(batch, pull, None, steps).used
