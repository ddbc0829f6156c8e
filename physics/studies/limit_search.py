"""The highest line limit that survives a pull, for many builds at once and in every worse case.

A batch of builds inside brackets: each round looks at many limits of every build at once. The limits just at and
above a rating are always among them: just above the continuous current a pull may spend longer than higher up.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from physics.arrays import Floats
from physics.build.batch import Batch
from physics.limits import PACK_TEMPERATURE
from physics.scenarios.pull import Pull, make_pull
from physics.studies.limit_use import PEAK_RATING, what_binds
from physics.studies.uncertainty.worse import WorseCase

_OFF = 5000.0
_AT_ONCE, _ROWS = 7, 700
"""Limits between two known ones that are tried at once; more where that makes fewer runs than these, for a batch of
so many takes little longer than one of few."""
_GUIDES = 2
"""Cases in which a limit below the continuous rating is looked for, before it is held against all."""
_KEPT_BACK = 0.99
"""Share of the peak time that a line limit may use: moments of passing a rating are found by straight lines."""
_STRICTER = {"cell_undervoltage": 1.002, "fast_current": 0.999}
_SHORTER = 0.98
_BETWEEN_STEPS = 1.005
"""By what the highest current may lie between two steps of a run."""
"""Thresholds and delays are taken a hair stricter than they are: by what a run of few steps may err."""


@dataclass(frozen=True, eq=False)
class HighestLimits:
    """The highest line limits that survive; arrays of the shape that was asked for.

    Attributes
    ----------
    limit : array, A
        Infinite where none is needed, 0 where none survives.
    rule : array of int
        Index in BINDS of what binds above the limit; -1 where no limit is needed.
    case : array of int
        Index of the case in which it does.
    cell : array of int
        Index among the builds of the one in which it does: this, or one warmer or fuller.
    largest_current : array, A
        The most line current the pull draws with the line limit off, in all cases; where a limit is needed, up to
        a cut-out and in the cases that said so.
    """

    limit: np.ndarray
    rule: np.ndarray
    case: np.ndarray
    cell: np.ndarray
    largest_current: np.ndarray


def highest_limits(
    cells: Batch,
    shape: tuple[int, ...],
    pull: Pull,
    cases: Sequence[WorseCase],
    step: float,
    steps: int | None = None,
) -> HighestLimits:
    """The highest line limit that survives in every case, here and in every warmer or fuller pack.

    Parameters
    ----------
    cells : Batch
        The builds; their own line limits are replaced.
    shape : tuple of int
        In which the builds stand: the last two axes are pack temperature and charge, rising.
    pull : Pull
        What must be survived.
    cases : sequence of WorseCase
        In which of them, as entered first.
    step : float, A
        Limits looked at are whole multiples of it.
    steps : int, optional
        Time steps of each run.

    Returns
    -------
    HighestLimits

    Examples
    --------
    >>> from physics.build import example_build
    >>> from physics.studies.uncertainty.worse import AS_ENTERED
    >>> cells = Batch.of(example_build().change({"pack.protection.peak_current": 103.0}))
    >>> highest_limits(cells, (1, 1), Pull(10.0), [AS_ENTERED], 5.0).limit
    array([[100.]])
    """
    search = _Search(cells, pull, cases, step, steps)
    cell = search.run(shape)
    return HighestLimits(
        search.limit[cell], search.rule[cell], search.case[cell], cell, search.largest_current.reshape(shape)
    )


class _Search:
    """Each cell's own limit, and what binds above it in which case; arrays of shape (cells,).

    First the limit is off as entered and with several things off at once; then it stands at the continuous rating,
    where most answers lie, in every case. What fails is narrowed down in the cases that fail first. Every answer,
    or the stricter one of a warmer or fuller cell, is held against all cases; those that fail take part.
    """

    def __init__(
        self, cells: Batch, pull: Pull, cases: Sequence[WorseCase], step: float, steps: int | None
    ) -> None:
        self.pull, self.steps, self.step = pull, steps, step
        self.count, self.every = len(cells), stricter(Batch.join([case.applied(cells) for case in cases]))
        self.takes_part = np.zeros((self.count, len(cases)), dtype=bool)
        self.takes_part[:, [not case.alone for case in cases]] = True
        self.low = np.zeros(self.count, dtype=int)
        self.high = np.zeros(self.count, dtype=int)  # the first that is known to fail
        self.rule = np.full(self.count, -1)
        self.case = np.zeros(self.count, dtype=int)
        self.largest_current = np.zeros(self.count)
        self.held = np.full(self.count, np.inf)  # the limit that was held against all cases, A
        self.known: dict[tuple[int, int, float], list[float]] = {}  # what was tried, see `_tried`
        gain = 1 + cells["controller.overshoot"]
        rated = [cells[f"pack.protection.{one}_current"] / gain for one in ("continuous", "peak")]
        self.rated = np.floor(np.minimum(rated, _OFF) / step * (1 + 1e-9)).astype(int)
        self.peak = self.every["pack.protection.peak_current"] / np.tile(gain, len(cases))  # in each case
        self.folds = cells["controller.foldback_start_voltage"] > cells["controller.foldback_end_voltage"]

    @property
    def limit(self) -> Floats:
        """Highest limit that survives, A; infinite where none is needed."""
        return np.where(self.rule >= 0, self.low * self.step, np.inf)

    def run(self, shape: tuple[int, ...]) -> NDArray[np.int_]:
        """Narrow every cell's bracket down to one step, and hold the answers against all cases.

        Returns for each cell, in this shape, the place of the one whose limit holds there.
        """
        if self.takes_part.size <= _ROWS:
            self._look_ahead()
        self._without_limit(np.arange(self.count), self.takes_part)
        self._without_limit(np.flatnonzero(self.rule < 0), ~self.takes_part)
        above_peak = np.flatnonzero((self.rule >= 0) & (self.high > self.rated[1] + 1))
        none = np.zeros(len(above_peak), dtype=int)
        self._fails(above_peak, none, self.rated[1, above_peak] + 1, none + PEAK_RATING)
        self._at_rating()
        while True:
            self._narrow()
            strictest = _strictest_when_warmer_or_fuller(self.limit.reshape(shape), self.rule.reshape(shape))
            held = self.limit[strictest.ravel()]
            cells = np.flatnonzero((held > 0) & (held != self.held))
            if not len(cells):
                return strictest
            self.held[cells] = held[cells]
            others, elsewhere = ~self.takes_part[cells], (held < self.limit)[cells, None]
            before = np.arange(others.shape[1]) < self.case[cells, None]  # and may fail as soon as what binds
            above, cell, case = np.nonzero([others | elsewhere, others & before & ~elsewhere])
            cell = cells[cell]
            limit = np.where(above, self.high[cell], np.round(np.minimum(held, _OFF)[cell] / self.step).astype(int))
            why = self._tried(cell, case, limit * self.step)[0]
            failed = why >= 0
            self._fails(cell[failed], case[failed], limit[failed], why[failed])

    def _look_ahead(self) -> None:
        """What is tried first, mostly: few builds go through both rounds in one batch."""
        part = self.takes_part & (self.rated[0] > 0)[:, None]
        off, rated, above = map(np.nonzero, (self.takes_part, part | (self.rated[0] > 0)[:, None], part))
        cell, case = np.hstack([off, rated, above])
        limits = self.rated[0] * self.step, (self.rated[0] + 1) * self.step
        self._tried(cell, case, np.r_[np.full(len(off[0]), _OFF), limits[0][rated[0]], limits[1][above[0]]])

    def _at_rating(self) -> None:
        """All cells at the continuous rating, in every case, and one step above it."""
        rated = self.rated[0]
        cells = np.flatnonzero((self.rule >= 0) & (rated > 0) & (rated < self.high))
        part = self.takes_part[cells]
        above, cell, case = np.nonzero([part | True, part & (rated + 1 < self.high)[cells, None]])
        cell = cells[cell]
        limit = rated[cell] + above
        why, _, end = self._tried(cell, case, limit * self.step)
        failed = np.flatnonzero((why >= 0) & (above == 0))
        open_below = np.isin(cell, cell[failed])
        self._seen(*(each[~open_below] for each in (cell, case, limit, why)))
        self.held[cell[~open_below]] = rated[cell[~open_below]] * self.step
        failed = failed[np.lexsort((end[failed], cell[failed]))]
        rank = np.arange(len(failed)) - np.searchsorted(cell[failed], cell[failed])
        guides = failed[rank < _GUIDES]
        self.takes_part[cell[guides]] = False
        self._fails(*(each[guides] for each in (cell, case, limit, why)))

    def _without_limit(self, cells: NDArray[np.int_], asked: NDArray[np.bool_]) -> None:
        """Some cases with the limit off: unless limits fold back, one at or above what is drawn fails as well."""
        cell, case = np.nonzero(asked[cells])
        cell = cells[cell]
        why, drawn, _ = self._tried(cell, case, np.full(len(cell), _OFF))
        np.maximum.at(self.largest_current, cell, np.ceil(drawn))
        self.high[cells] = np.ceil(_OFF / self.step)
        highest = np.maximum(np.ceil(np.where(self.folds[cell], _OFF, drawn) / self.step), 1).astype(int)
        peak = self.peak[case * self.count + cell]
        close = (why < 0) & (drawn * _BETWEEN_STEPS > peak)
        above = np.floor(np.minimum(peak, _OFF) / self.step * (1 + 1e-9)).astype(int) + 1
        why, highest = np.where(close, PEAK_RATING, why), np.where(close, above, highest)
        failed = why >= 0
        self._fails(cell[failed], case[failed], highest[failed], why[failed])

    def _narrow(self) -> None:
        while len(cells := np.flatnonzero((self.rule >= 0) & (self.high - self.low > 1))):
            low, high = self.low[cells, None], self.high[cells, None]
            at_once = max(_AT_ONCE, _ROWS // int(self.takes_part[cells].sum()))
            evenly = (high - low) * np.arange(1, at_once + 1) / (at_once + 1)
            near = (high - low) ** np.linspace(0.0, 1.0, at_once)
            just_failed = np.isfinite(self.held[cells, None]) & (low == 0)
            tried = high - np.round(np.where(just_failed, near, evenly)).astype(int)
            rated = self.rated[:, cells].T
            tried = np.sort(np.clip(np.hstack([tried, rated, rated + 1]), low + 1, high - 1), axis=1)
            fresh = np.diff(tried, axis=1, prepend=0) > 0
            place, column = np.nonzero(fresh)
            pair, case = np.nonzero(self.takes_part[cells[place]])
            cell, limit = cells[place[pair]], tried[place[pair], column[pair]]
            self._seen(cell, case, limit, self._tried(cell, case, limit * self.step)[0])

    def _seen(
        self, cell: NDArray[np.int_], case: NDArray[np.int_], limit: NDArray[np.int_], why: NDArray[np.int_]
    ) -> None:
        """Limits that were looked at in all cases that take part."""
        failed = why >= 0
        self._fails(cell[failed], case[failed], limit[failed], why[failed])
        good = limit < self.high[cell]
        np.maximum.at(self.low, cell[good], limit[good])

    def _fails(
        self, cell: NDArray[np.int_], case: NDArray[np.int_], limit: NDArray[np.int_], why: NDArray[np.int_]
    ) -> None:
        """Keep the lowest limit that fails, with the first case in which it does."""
        for one in np.lexsort((case, limit, cell))[::-1]:
            here = cell[one]
            self.takes_part[here, case[one]] = True
            if limit[one] <= self.high[here]:
                self.high[here], self.case[here], self.rule[here] = limit[one], case[one], why[one]
                if self.low[here] >= limit[one]:
                    self.low[here] = 0

    def _tried(
        self, cell: NDArray[np.int_], case: NDArray[np.int_], limit: Floats
    ) -> tuple[NDArray[np.int_], Floats, Floats]:
        """What binds in each run, or -1; its highest current, A; and when it is cut out, s, infinite if never."""
        rows = list(zip(cell.tolist(), case.tolist(), limit.tolist(), strict=True))
        new = [place for place, row in enumerate(rows) if row not in self.known]
        if new:
            batch = self.every.take((case * self.count + cell)[new])
            batch = batch.change({"controller.line_current_limit": limit[new]})
            made = make_pull(batch, self.pull, None, self.steps)
            end = np.where(np.isnan(made.run.cut_out_time), np.inf, made.run.cut_out_time)
            found = what_binds(batch, made, _KEPT_BACK), made.run.maximum_line_current, end
            self.known |= zip([rows[place] for place in new], np.transpose(found).tolist(), strict=True)
        why, drawn, end = np.reshape([self.known[row] for row in rows], (-1, 3)).T
        return why.astype(int), drawn, end


def stricter(batch: Batch) -> Batch:
    """Builds with thresholds and delays of the protection a hair stricter: by what a run of few steps may err.

    Parameters
    ----------
    batch : Batch
        As they are.

    Returns
    -------
    Batch

    Examples
    --------
    >>> from physics.build import example_build
    >>> batch = Batch.of(example_build().change({"pack.protection.fast_current": 400.0}))
    >>> float(stricter(batch)["pack.protection.fast_current"][0])
    399.6
    """
    path = "pack.protection."
    changes = {path + name: batch[path + name] * by for name, by in _STRICTER.items()}
    delays = [path + name for name in ("fast_delay", "undervoltage_delay", "temperature_delay")]
    return batch.change(changes | {name: batch[name] * _SHORTER for name in delays})


def _strictest_when_warmer_or_fuller(limit: Floats, rule: NDArray[np.int_]) -> NDArray[np.int_]:
    """For each cell the flat index of the strictest among itself and all warmer or fuller ones."""
    strict = np.where(rule == PACK_TEMPERATURE, np.inf, limit).ravel()
    index = np.arange(limit.size).reshape(limit.shape)
    strictest = index.copy()
    for place in np.ndindex(limit.shape):
        *group, row, column = place
        others = index[(*group, slice(row, None), slice(column, None))].ravel()
        least = others[strict[others].argmin()]
        if strict[least] < limit[place]:
            strictest[place] = least
    return strictest
