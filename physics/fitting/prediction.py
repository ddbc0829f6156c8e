"""Runs of a build laid over the pulls of a ride log, and how far the two are apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from physics.build import Build
from physics.ridelog.report import RideLog
from physics.ridelog.segments import Segment
from physics.simulation.result import RunResult
from physics.simulation.run import run

LARGEST_SHIFT = 1.5  # s by which a pull's start may be moved
COMPARED = {"speed": "speed", "pack_voltage": "pack_voltage", "line_current": "line_current"}


def start_of_pull(build: Build, log: RideLog, segment: Segment, charge: float | None = None) -> tuple[Build, float]:
    """Set a build to where a pull of a log begins: its charge, temperatures and throttle, and its speed.

    Parameters
    ----------
    build : Build
        What is ridden.
    log : RideLog
        Where the pull was.
    segment : Segment
        The pull.
    charge : float, optional
        At the start of the pull; the build's if not given.

    Returns
    -------
    (build, speed) : Build, float
        What the log lacks is the build's; the speed in m/s, and nothing where the bike all but stands.
    """
    changes: dict[str, float] = {}
    if charge is not None:
        changes["conditions.charge"] = float(np.clip(charge, 0.0, 1.0))
    for name, part in (
        ("pack_temperature", "pack"),
        ("motor_temperature", "motor"),
        ("controller_temperature", "controller"),
    ):
        first = log.column(name)[max(segment.first - 20, 0) : segment.first + 5]
        first = first[np.isfinite(first)]
        if first.size:
            changes[f"conditions.{part}_temperature"] = float(np.clip(np.median(first), 231.0, 359.0))
    throttle = log.column("throttle")[segment.first : segment.last]
    throttle = throttle[np.isfinite(throttle)]
    if throttle.size:
        changes["controller.throttle"] = float(np.clip(np.percentile(throttle, 90), 0.0, 1.0))
    return build.change(changes), segment.start_speed if segment.start_speed >= 1.0 else 0.0


def predicted_pulls(
    builds: Sequence[Build],
    log: RideLog,
    segments: Sequence[Segment],
    charges: Sequence[float] | None = None,
    duration: float | None = None,
) -> RunResult:
    """Run builds from where pulls of a log begin, all in one batch.

    Parameters
    ----------
    builds : sequence of Build
        One a row.
    log : RideLog
        Where the pulls were.
    segments : sequence of Segment
        One a row; the same may stand several times.
    charges : sequence of float, optional
        At the start of each pull; the builds' if not given.
    duration : float, s, optional
        Of all runs; that of the longest pull if not given.

    Returns
    -------
    RunResult
        One row each.
    """
    at_start: Sequence[float | None] = [None] * len(builds) if charges is None else charges
    rows = zip(builds, segments, at_start, strict=True)
    starts = [start_of_pull(build, log, segment, charge) for build, segment, charge in rows]
    length = max(segment.duration for segment in segments) if duration is None else duration
    speeds = np.array([speed for _, speed in starts])
    return run([build for build, _ in starts], float(np.clip(length, 0.5, 3600.0)), initial_speed=speeds)


@dataclass(frozen=True, eq=False)
class Misfit:
    """How far a prediction and a pull of a log are apart.

    Parameters
    ----------
    shift : float, s
        When the predicted pull begins, after the segment's own start.
    mean : dict of str to float
        Log less prediction, by quantity, SI; nan where the log lacks it.
    spread : dict of str to float
        Root of the mean square of the same.
    samples : int
        Rows compared.
    """

    shift: float
    mean: dict[str, float]
    spread: dict[str, float]
    samples: int


def compare_pull(predicted: RunResult, log: RideLog, segment: Segment, index: int = 0) -> Misfit:
    """Lay a predicted run over a pull of a log, begun where the speeds agree best, and say how far they are apart.

    A throttle opens somewhere near the start a segment has, which speed alone cannot tell better than the smoothing
    it was found with; so the start is moved by up to 1.5 s to where the speeds agree best.

    Parameters
    ----------
    predicted : RunResult
        The run.
    log : RideLog
        With speed.
    segment : Segment
        The pull.
    index : int
        Which row of the run.

    Returns
    -------
    Misfit
    """
    rows = slice(segment.first, segment.last)
    t = log.column("time")[rows] - segment.start
    v = log.column("speed")[rows]
    known = np.isfinite(v)
    time, speed = predicted.time, predicted.speed[index]

    def apart(shift: float) -> float:
        return float(np.mean((v[known] - np.interp(t[known] - shift, time, speed)) ** 2))

    shift = 0.0
    if known.sum() >= 5:
        for reach, count in ((LARGEST_SHIFT, 31), (0.1, 21)):
            tried = np.clip(shift + np.linspace(-reach, reach, count), -LARGEST_SHIFT, LARGEST_SHIFT)
            shift = float(tried[int(np.argmin([apart(s) for s in tried]))])
    mean, spread = {}, {}
    for name, field in COMPARED.items():
        left = log.column(name)[rows] - np.interp(t - shift, time, getattr(predicted, field)[index])
        left = left[np.isfinite(left) & (t >= shift)]
        mean[name] = float(left.mean()) if left.size else np.nan
        spread[name] = float(np.sqrt(np.mean(left**2))) if left.size else np.nan
    return Misfit(shift, mean, spread, int(known.sum()))
