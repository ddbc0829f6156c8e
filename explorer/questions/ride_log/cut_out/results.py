"""The cut-outs of a session's ride log, the pulls they ended, and what would have saved them. Numbers only."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from explorer.frame.background_job import Job, latest
from explorer.inputs.origins import Inputs
from explorer.inputs.to_build import make_build
from explorer.page.lever_inputs import inputs_of
from explorer.page.lever_inputs import levers as page_levers
from explorer.page.page import Page
from explorer.page.tolerances import tolerances
from explorer.questions.ride_log.results import as_inputs, charge_course, log_key
from explorer.questions.ride_log.source import SAVING, note, noted, remembered, source
from physics.build import Build
from physics.build.batch import Batch
from physics.build.fields import BuildError
from physics.fitting.build import CHARGE, LogFit
from physics.fitting.cut_out_pull import CutOutPull, Replay, pull_of, ridden_again
from physics.ridelog.cut_out import CutOut, CutOutLimits, find_cut_out
from physics.ridelog.reader import RideLog
from physics.ridelog.segments import Segment
from physics.studies.target import Saving, Survival, saving_levers, what_saves

MOST = 8
"""Cut-outs of one log that are ridden again."""
GOES_ON = 2.0
"""Seconds by which a pull must outlast its cut-out at the least; common practice, no source."""


def cut_outs_of(log: RideLog, build: Build) -> tuple[CutOut, ...]:
    """The log's cut-outs, with the build's thresholds to compare with."""
    rules, pack = build.pack.protection, build.pack

    def finite(value: float) -> float | None:
        return float(value) if np.isfinite(value) else None

    limits = CutOutLimits(
        under_voltage=pack.cells_in_series * rules.cell_undervoltage if rules.cell_undervoltage > 0 else None,
        fast_current=finite(rules.fast_current),
        continuous_current=finite(rules.continuous_current),
        continuous_time=rules.peak_time,
        highest_temperature=rules.discharge_temperature_maximum,
        lowest_temperature=rules.discharge_temperature_minimum,
    )
    return remembered("cut_outs", (log_key(log), repr(limits)), lambda: find_cut_out(log, limits))


@dataclass(frozen=True, eq=False)
class Ridden:
    """The pull that a cut-out ended, ridden again.

    Attributes
    ----------
    replay : Replay
        The pull, and what the build does in it.
    entered : Inputs
        The page's inputs when the log was fitted: what neither the log nor a fit of it says comes from here.
    changes : dict
        Inputs that the pull and the fits say.
    fitted : bool
        Whether there are fits among them.
    """

    replay: Replay
    entered: Inputs
    changes: dict[str, Any]
    fitted: bool

    @property
    def pull(self) -> CutOutPull:
        """What was ridden."""
        return self.replay.pull

    @property
    def inputs(self) -> Inputs:
        """The inputs that make the pull's build, as near as inputs can be set."""
        return self.entered | self.changes


def ridden_of(
    log: RideLog, segments: Sequence[Segment], cuts: Sequence[CutOut], page: Page, fit: LogFit
) -> tuple[Ridden | None, ...]:
    """Each of the first cut-outs with its pull; None where the log does not show how that pull began."""
    entered, fits = _as_ridden(page, fit)
    key = (log_key(log), tuple(cut.row for cut in cuts), repr(entered | fits), len(segments))

    def make() -> tuple[Ridden | None, ...]:
        build = make_build(entered | fits)
        charges = charge_course(log, build, fit)
        pulls = [pull_of(cut, log, build, segments, charges) for cut in cuts[:MOST]]
        return tuple(None if pull is None else _ridden(pull, entered, fits) for pull in pulls)

    return remembered("cut_out_pulls", key, make)


def _ridden(pull: CutOutPull, entered: Inputs, fits: dict[str, Any]) -> Ridden:
    batch = Batch.of(pull.build)
    told = inputs_of(entered, {path: float(batch[path][0]) for path in pull.told})
    return Ridden(ridden_again(pull), entered, fits | told, bool(fits))


def _as_ridden(page: Page, fit: LogFit) -> tuple[Inputs, dict[str, Any]]:
    """The inputs when the log was fitted, and those that the fits say."""
    held = source()
    entered: Inputs = remembered("entered", (held.token, repr(held.ridden)), lambda: page.inputs)
    keys = [item.key for item in fit.items if item.identified and item.key != CHARGE]
    fits, _ = as_inputs(fit, keys, replace(page, inputs=entered, build=held.ridden or page.build))
    try:
        make_build(entered | fits)
    except BuildError:
        return entered, {}
    return entered, fits


def saving_of(ridden: Ridden, page: Page) -> tuple[Job, Job | None]:
    """The search for what would have saved a pull, done beside the page: this one, and the last that ended."""
    pull = ridden.pull
    known = tolerances(ridden.inputs)
    levers = page_levers(pull.build, ridden.inputs, saving_levers)
    duration = max(float(page.inputs["pull_time"]), float(np.ceil(pull.held + GOES_ON)))
    key = (repr(pull.build), duration, pull.start_speed, page.pull_margin, known, levers)

    def work(progress: Callable[[int, int], None], _: Callable[[], bool]) -> Survival:
        margin = page.pull_margin
        return what_saves(pull.build, duration, pull.start_speed, margin, known, levers, progress)

    return latest(SAVING, key, work)


def keep(found: tuple[Ridden, Survival] | None) -> None:
    """Keep a pull and what would have saved it for the setup sheet; None where nothing is known any more."""
    note("what_saves", found)


def kept() -> tuple[Ridden, Survival] | None:
    """What was found of the log that is open, where anything was."""
    return noted("what_saves")


def tried(ridden: Ridden, one: Saving | None = None) -> dict[str, Any]:
    """The inputs that put a pull on the page, with a change that would have saved it where one is given."""
    inputs = ridden.inputs
    weight = {"bike_mass": inputs["bike_mass"]}
    changed = {} if one is None else inputs_of(inputs, {one.lever.path: one.value})
    return weight | ridden.changes | changed
