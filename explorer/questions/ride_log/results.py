"""What is worked out of a session's ride log: segments, fits, predictions, cut-outs. Kept in the session alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import streamlit as st

from explorer.frame.background_job import latest, watch
from explorer.inputs.catalogue import INPUTS
from explorer.page.page import Page
from explorer.questions.ride_log.source import KEY, remembered, source
from explorer.questions.ride_log.words import FITTING
from physics.arrays import Floats
from physics.build import Build
from physics.build.batch import Batch
from physics.components.tyre import DEFAULT_ROLLING_FACTOR
from physics.fitting import build as fit_log
from physics.fitting.build import Fitted, LogFit
from physics.fitting.pack import pack_course, start_charge
from physics.fitting.prediction import Misfit, compare_pull, predicted_pulls
from physics.ridelog import track
from physics.ridelog.reader import RideLog
from physics.ridelog.segments import MOST_PARTS, Segment, find_segments
from physics.simulation.result import RunResult
from physics.units import from_si

_INPUT = {
    fit_log.RESISTANCE: "pack_resistance",
    fit_log.CHARGE: "charge",
    fit_log.DRAG_AREA: "drag_area",
    fit_log.ROLLING: "rolling",
    fit_log.EFFICIENCY: "efficiency",
}
_DIGITS = {
    fit_log.RESISTANCE: 2, fit_log.CHARGE: 1, fit_log.DRAG_AREA: 4, fit_log.ROLLING: 3, fit_log.EFFICIENCY: 2,
}  # fmt: skip


_LONG = 20_000
"""Rows; the fits of a longer log are made beside the page."""


@dataclass(frozen=True, eq=False)
class Predicted:
    """A pull of the log and what was predicted for it.

    Attributes
    ----------
    runs : RunResult
        Row 0 is the build's; row 1, where something was fitted, the fitted build's.
    misfits : tuple of Misfit
        One a row.
    """

    runs: RunResult
    misfits: tuple[Misfit, ...]


def log_key(log: RideLog) -> Any:
    """What tells this log, as it is read now, from another."""
    held = source()
    return held.token, *held.choices, len(log.frame)


def segments_of(log: RideLog) -> tuple[Segment, ...]:
    """Every part of the ride."""
    return remembered("segments", log_key(log), lambda: find_segments(log))


def track_of(log: RideLog) -> track.Track | None:
    """What the speed of the ride says by itself."""
    return remembered("track", log_key(log), lambda: track.track_of(log))


def chosen_of(segments: Sequence[Segment]) -> list[bool]:
    """Which of them the rider uses."""
    return [round(10 * segment.start) not in source().left_out for segment in segments]


def fit_of(log: RideLog, segments: Sequence[Segment], build: Build, trusted: str) -> LogFit | None:
    """Everything the chosen parts say about the build, or nothing while that is being worked out.

    A log is fitted once, with the build as it stood then: that one was ridden, and what is tried out on the page
    since says nothing about it.
    """
    held = source()
    ridden = held.ridden = held.ridden or build
    used = tuple(segment for segment, use in zip(segments, chosen_of(segments), strict=True) if use)
    key = (log_key(log), tuple(round(10 * segment.start) for segment in used), repr(ridden), trusted)
    if len(log.frame) <= _LONG:
        with st.spinner(FITTING):
            fit = remembered("fit", key, lambda: fit_log.fit_log(log, ridden, used, trusted))
    else:
        job, _ = latest(KEY, key, lambda *_: fit_log.fit_log(log, ridden, used, trusted), wait=0.0)
        if job.error is not None:
            raise job.error
        if not job.ended:
            watch(job, KEY, FITTING, stops=False)
        fit = job.result
    return None if fit is None else fit.compared_with(build)


def more_than_fitted(segments: Sequence[Segment]) -> list[str]:
    """The kinds of parts of which the rider uses more than are fitted."""
    used = [segment for segment, use in zip(segments, chosen_of(segments), strict=True) if use]
    return [kind for kind in ("pull", "coast-down") if sum(s.kind == kind for s in used) > MOST_PARTS]


def prediction(log: RideLog, pull: Segment, build: Build, fit: LogFit) -> Predicted:
    """The build's run, and the fitted build's, laid over a pull."""
    key = (log_key(log), pull.start, repr(build), tuple(sorted(fit.changes().items())))
    return remembered("prediction", key, lambda: _predict(log, pull, build, fit))


def _predict(log: RideLog, pull: Segment, build: Build, fit: LogFit) -> Predicted:
    course = charge_course(log, build, fit)
    charge = None if course is None else float(course[pull.first])
    builds = [build]
    changes = {path: value for path, value in fit.changes().items() if path != "conditions.charge"}
    if changes:
        builds.append(build.change(changes))
    count = len(builds)
    charges = None if charge is None else [charge] * count
    runs = predicted_pulls(builds, log, [pull] * count, charges, pull.duration + 3.0)
    return Predicted(runs, tuple(compare_pull(runs, log, pull, row) for row in range(count)))


def charge_course(log: RideLog, build: Build, fit: LogFit) -> Floats | None:
    """The charge at every row of the log, counted from its start; None where the log does not hold it."""
    if not log.holds("pack_voltage", "line_current"):
        return None
    begin = fit.item(fit_log.CHARGE)
    at_start = begin.value if begin.identified else start_charge(log, build)[0]
    time, current, voltage = (log.column(name) for name in ("time", "line_current", "pack_voltage"))
    key = (log_key(log), repr(build.pack), at_start)
    return remembered("course", key, lambda: pack_course(build, time, current, voltage, None, at_start)[2])


def as_inputs(fit: LogFit, keys: Sequence[str], page: Page) -> tuple[dict[str, Any], list[str]]:
    """Fitted values as inputs of the page.

    Parameters
    ----------
    fit : LogFit
        What the log says.
    keys : sequence of str
        Which values are to be used.
    page : Page
        What the section is given.

    Returns
    -------
    tuple of (dict, list of str)
        Input to value in home units, and a sentence for each that could not go in as it is.
    """
    inputs: dict[str, Any] = {}
    sentences: list[str] = []
    for item in fit.items:
        if not item.identified or item.key not in keys:
            continue
        name, value = _as_input(item, page)
        held, sentence = INPUTS[name].clean(value)
        if sentence:
            sentences.append(sentence)
        if held is not None:
            inputs[name] = round(held) if INPUTS[name].whole else held
    return inputs, sentences


def _as_input(item: Fitted, page: Page) -> tuple[str, Any]:
    if item.key == fit_log.RADIUS:
        return "tyre", f"{2000.0 * item.value / DEFAULT_ROLLING_FACTOR:.1f} mm"
    if item.key == fit_log.LINE_LIMIT:
        return f"line_{page.inputs['level']}", round(item.value, 1)
    if item.key == fit_log.RATIO:
        d = page.build.driveline
        return "rear_teeth", round(item.value * d.front_teeth / d.primary_ratio)
    name = _INPUT[item.key]
    return name, round(float(from_si(item.value, INPUTS[name].unit)), _DIGITS[item.key])


def rolling_radius_of(build: Build) -> float:
    """Rolling radius of the rear wheel, m."""
    return float(Batch.of(build)["bike.rolling_radius"][0])
