"""Burst power, cached, and packs on offer, judged beside the page. Numbers only."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from explorer.inputs.catalogue import INPUTS
from explorer.page.page import Page
from explorer.page.pool import Task, ask
from explorer.page.regen import plan_of as regen_plan
from explorer.page.results import LIMIT_STEP, axis_with
from physics.build import Build
from physics.build.batch import Batch
from physics.scenarios.burst import Burst, burst_power
from physics.studies.packs_on_offer import Offer, OfferPlan, PackAnswer, fitted, judged, mass_of
from physics.studies.uncertainty import Tolerance

_TIMES = np.geomspace(1.0, 300.0, 13)
_WARM_CELSIUS = (10.0, 20.0, 30.0)


@dataclass(frozen=True, eq=False)
class BurstAnswer:
    """Burst power: the rider's own question, and the pack's power against time at several temperatures.

    Attributes
    ----------
    asked : Burst
        One row.
    seconds : array, shape (k,), s
        Times.
    temperature : array, shape (t,), K
        Pack temperatures.
    power : array, shape (t, k), W
        The most the pack gives for so long.
    today : int
        Index of the pack's own temperature.
    """

    asked: Burst
    seconds: NDArray[np.float64]
    temperature: NDArray[np.float64]
    power: NDArray[np.float64]
    today: int


def asked(page: Page) -> tuple[float, float]:
    """The power, W, and the time, s, that the rider asks for."""
    return 1000.0 * page.inputs["burst_power"], float(page.inputs["burst_time"])


def ahead(page: Page) -> list[Task]:
    """What can be worked out while the page above is drawn."""
    return [_burst(page)]


def burst_of(page: Page) -> BurstAnswer:
    """Whether the present pack gives what the rider asks for, and its power against time."""
    now, axis = _temperatures(page.build)
    made = _burst(page).result()
    most = made.largest_power[1:].reshape(len(axis), len(_TIMES))
    first = Burst(**{name: values[:1] for name, values in vars(made).items()})
    return BurstAnswer(first, _TIMES, axis, most, int(np.searchsorted(axis, now)))


def _burst(page: Page) -> Task:
    power, seconds = asked(page)
    now, axis = _temperatures(page.build)
    times, temperatures = np.meshgrid(_TIMES, axis)
    rows = (seconds, *times.ravel().tolist()), (now, *temperatures.ravel().tolist())
    return ask(burst_power, page.build, power, *rows)


def _temperatures(build: Build) -> tuple[float, NDArray[np.float64]]:
    """The pack's own temperature, and that among warmer ones, K."""
    now = float(Batch.of(build)["conditions.pack_temperature"][0])
    return now, axis_with(np.array(_WARM_CELSIUS) + 273.15, now, 1.0)


@dataclass(frozen=True)
class Judged:
    """Packs side by side.

    Attributes
    ----------
    offers : tuple of Offer
        Those that were judged.
    present : PackAnswer
        What the bike does with the pack it has.
    answers : tuple of PackAnswer
        One for each offer.
    """

    offers: tuple[Offer, ...]
    present: PackAnswer
    answers: tuple[PackAnswer, ...]


def plan_of(page: Page) -> OfferPlan:
    """What the packs are judged by, as the rider says it."""
    values = page.inputs
    return OfferPlan(
        page.pull,
        page.pull_margin,
        LIMIT_STEP,
        page.target_speed,
        page.duration,
        asked(page)[0],
        INPUTS["range_speed"].si(values["range_speed"]),
        replace(regen_plan(page), descent_height=0.0),
    )


def judging(
    build: Build,
    offers: tuple[Offer, ...],
    plan: OfferPlan,
    known: tuple[tuple[Tolerance, ...], ...],
) -> Callable[[Callable[[int, int], None], Callable[[], bool]], Judged | None]:
    """The work of a background job.

    Parameters
    ----------
    build : Build
        With the pack it has.
    offers : tuple of Offer
        That can be fitted.
    plan : OfferPlan
    known : tuple of tuple of Tolerance
        How well each unknown is known with the pack it has, and with each on offer.

    Returns
    -------
    callable
        For `explorer.frame.background_job.Job`; nothing where it was stopped.
    """

    def work(progress: Callable[[int, int], None], cancelled: Callable[[], bool]) -> Judged | None:
        total = len(offers) + 1
        present = judged(build, plan, known[0])
        answers = []
        for done, offer in enumerate(offers, 1):
            progress(done, total)
            if cancelled():
                return None
            answers.append(judged(fitted(build, offer), plan, known[done], mass_of(build, offer)))
        return Judged(offers, present, tuple(answers))

    return work
