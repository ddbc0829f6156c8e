"""From what a rider remembers to the values of his build: the whole way, with progress and a stop."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor

import numpy as np

from physics.arrays import Floats
from physics.build import Build
from physics.fitting.recollection import STOPPED, Fact, Recollected, conclude, refined
from physics.studies.recollection.predict import predictions, rides, seconds, unknowns_of
from physics.studies.uncertainty.draws import SEED, spread_points
from physics.studies.uncertainty.tolerance import Tolerance

STAGES, COUNT = 4, 4096
"""Stages of sampling, and samples in each: each sample is one run for every ride that is remembered."""


def recollect(
    build: Build,
    facts: Sequence[Fact],
    tolerances: Sequence[Tolerance] | None = None,
    *,
    stages: int = STAGES,
    count: int = COUNT,
    seed: int = SEED,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Recollected:
    """What facts say of a build's unknowns.

    Parameters
    ----------
    build : Build
        The middle of what was known before.
    facts : sequence of Fact
        At least one.
    tolerances : sequence of Tolerance, optional
        How well each unknown was known before; by default `default_tolerances`. Those of the day hold for every
        ride on its own.
    stages : int
        How often samples are drawn, each time nearer to the facts.
    count : int
        Samples in each stage, a power of two.
    seed : int
        The same seed gives the same samples.
    executor, progress, cancelled
        As `physics.studies.sweep.sweep` takes them. Stopped, it concludes from the stages that are done.

    Returns
    -------
    Recollected
        Its findings are named by the fields' paths.

    Raises
    ------
    ValueError
        When there are no facts, or no unknown to find.

    Examples
    --------
    >>> from physics.build import example_build
    >>> from physics.fitting.recollection import LOADED_VOLTAGE, Observable
    >>> fact = Fact(Observable(LOADED_VOLTAGE, 150.0), 89.0, 1.5)
    >>> found = recollect(example_build(), [fact], stages=2, count=1024).finding("pack.resistance")
    >>> found.left_open
    False
    """
    observables = [fact.observable for fact in facts]
    unknowns = unknowns_of(build, observables, tolerances)
    if not facts or not unknowns.build:
        raise ValueError("It takes one fact at least, and one number of the build that is not certain.")
    lasting = [seconds(fact.observable, fact.value) for fact in facts]
    done = 0

    def predict(drawn: Floats, days: Floats) -> Floats | None:
        nonlocal done

        def counted(part: int, whole: int) -> None:
            if progress is not None:
                progress(done * whole + part, stages * whole)

        found = predictions(
            build,
            observables,
            lasting,
            unknowns,
            drawn,
            days,
            executor=executor,
            progress=counted,
            cancelled=cancelled,
        )
        done += 1
        return found

    dimensions = len(unknowns.build)
    columns = dimensions + len(unknowns.day) * len(rides(observables))
    points = [spread_points(columns, count, seed + stage) for stage in range(stages)]
    drawn = refined(predict, facts, points, dimensions)
    names = [item.path for item in unknowns.build]
    if drawn is None:
        none = np.empty(0)
        message = "Stopped before anything was found."
        return Recollected(STOPPED, message, (), (), (), 0, 0.0, none, none.reshape(0, dimensions))
    kept = unknowns.values(build, drawn.unknowns)  # what goes along with an unknown is none itself
    values = np.column_stack([kept[name] for name in names])
    return conclude(names, values, drawn, facts)
