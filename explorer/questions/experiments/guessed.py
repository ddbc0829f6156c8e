"""Where the answers to an experiment stand on force against speed: each has a stretch of its own. No Streamlit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from explorer.questions.experiments.two_runs import ALIKE_SPEED, FloatArray, TwoRuns


@dataclass(frozen=True)
class Scale:
    """Answers that share out the speeds the second run may get to, or the forces it may push with.

    Attributes
    ----------
    answers : tuple of str
        Their keys, from the lowest speed or force up.
    borders : callable (TwoRuns) to tuple of float
        Between each and the next, m/s or N.
    of_force : bool
        Whether it is the strongest drive that counts, and not the highest speed.
    """

    answers: tuple[str, ...]
    borders: Callable[[TwoRuns], tuple[float, ...]]
    of_force: bool = False

    def came(self, two: TwoRuns) -> FloatArray:
        """What counts, of both runs, m/s or N."""
        return _pull(two) if self.of_force else two.top

    def span(self, two: TwoRuns, answer: str) -> tuple[float, float]:
        """From where to where an answer holds, m/s or N; the highest has no end."""
        edges, place = (0.0, *self.borders(two), np.inf), self.answers.index(answer)
        return edges[place], edges[place + 1]


def _pull(two: TwoRuns) -> FloatArray:
    return two.runs.drive_force.max(axis=1)


def _of_top(*shares: float) -> Callable[[TwoRuns], tuple[float, ...]]:
    """Borders at these shares of the first run's highest speed."""
    return lambda two: tuple(share * float(two.top[0]) for share in shares)


def _less_wind(two: TwoRuns) -> tuple[float, ...]:
    wind = two.builds[1].conditions.headwind - two.builds[0].conditions.headwind
    return tuple(float(two.top[0]) - share * wind for share in (2 / 3, 1 / 3))


FASTER = Scale(("slower", "same", "faster"), _of_top(1 - ALIKE_SPEED, 1 / (1 - ALIKE_SPEED)))
LOST = Scale(("much", "some", "none"), _of_top(0.9, 0.99))
GAINED = Scale(("little", "some", "much"), _of_top(1.03, 1.1))
THROTTLED = Scale(("half", "between", "same"), _of_top(0.6, 0.95))
AGAINST_WIND = Scale(("much", "middle", "little"), _less_wind)
HARDER = Scale(
    ("none", "less", "all"),
    lambda two: tuple(share * float(_pull(two)[0]) for share in (1.03, 1.45)),
    of_force=True,
)
