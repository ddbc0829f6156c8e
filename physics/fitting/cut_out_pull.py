"""The pull of a log that ended in a cut-out, ridden again by a build as the log has it.

What the log says of the pull goes into the build: voltage at rest before it, pack temperature, how far and how
quickly the throttle was opened, and the current it was held to. What it does not say is the build's.

Left out: what still settles in the pack from before the pull, wind and slope other than the build's, and a throttle
that is not held once it is open.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from physics.arrays import Floats
from physics.build import Build
from physics.components import cell
from physics.fitting.line_limit import effective_line_limit
from physics.fitting.pack import NOTHING_FLOWS, charge_at
from physics.fitting.prediction import start_of_pull
from physics.limits import CONTINUOUS_CURRENT, RULES, TIMED_OVER_CURRENT
from physics.ridelog.cut_out import CutOut
from physics.ridelog.report import RideLog
from physics.ridelog.segments import Segment
from physics.simulation.result import RunResult
from physics.simulation.run import run

# Choices of this package, stated so that a reader can disagree.
SHUT, OPENING, OPENED = 0.02, 0.5, 0.9  # of the throttle at the cut-out
LEAST_SHUT = 0.01  # throttle that counts as shut, however little it was opened
LEAST_ROLL_ON = 0.1  # s by which a throttle opened more slowly than the build's counts
LONGEST_ROLL_ON = 5.0  # s from shut to half open, of one opening
FLICKER = 2.0  # s by which a pull may begin later than its current
REST_BEFORE = 3.0  # s before a pull in which its voltage at rest is read
LEAST_REST = 1.0  # s without current, for a voltage to count as at rest
NEAREST_SPEED = 2.0  # s
TELLS_CHARGE = (0.005, 0.2)  # a rest voltage tells the charge where this much of it is at most so much charge
SAME_TIME = (1.0, 0.2)  # s, or that share of the pull: how far apart the two cut-outs may be
SAME_VOLTAGE, SAME_CURRENT = 0.05, 0.10  # of the log's
_LOGGED_AS = {TIMED_OVER_CURRENT: CONTINUOUS_CURRENT}  # both count what passes the continuous current
SHORTEST = 0.5  # s to the cut-out
STANDING = 1.0  # m/s, below which a bike stands at the start of a log


@dataclass(frozen=True)
class CutOutPull:
    """A pull that ended in a cut-out.

    Parameters
    ----------
    cut_out : CutOut
        Its end.
    number : int
        Which of the ride's pulls it is, from 1; 0 where it is none of them.
    start, held : float, s
        When it began, and how long it lasted.
    start_speed, end_speed : float, m/s
        At its start and at the cut-out; below 1 m/s at the start the bike stood.
    rest_voltage : float, V
        Before it; nan where the pack was not at rest.
    build : Build
        As it was at the start, as far as the log says.
    told : tuple of str
        Fields of the build that come from the pull itself, by path.
    spacing : float, s
        Between the reading of the cut-out and the one before.
    """

    cut_out: CutOut
    number: int
    start: float
    held: float
    start_speed: float
    end_speed: float
    rest_voltage: float
    build: Build
    told: tuple[str, ...]
    spacing: float

    @property
    def slack(self) -> float:
        """How far apart the cut-out of the log and that of a run may be and still be one and the same, s."""
        return max(SAME_TIME[0], SAME_TIME[1] * self.held) + self.spacing


def pull_of(
    cut_out: CutOut, log: RideLog, build: Build, segments: Sequence[Segment], charges: Floats | None = None
) -> CutOutPull | None:
    """Find where the pull began that ended in a cut-out, and set a build to that moment.

    With the throttle in the log a pull begins where it was last opened; without it, where the current last began
    to flow, or the part of the ride that is a pull.

    Parameters
    ----------
    cut_out : CutOut
        One of `physics.ridelog.cut_out.find_cut_out`.
    log : RideLog
        In which it was found.
    build : Build
        What was ridden.
    segments : sequence of Segment
        Parts of the ride.
    charges : array, shape (rows of the log,), optional
        The charge at every row, for where the voltage at rest before the pull does not tell it; the build's if not
        given.

    Returns
    -------
    CutOutPull or None
        None where the log has no speed near its start, or begins in the middle of it.

    Examples
    --------
    >>> from physics.build import example_build
    >>> from physics.ridelog.cut_out import find_cut_out
    >>> from physics.ridelog.writer import synthetic_log
    >>> t = np.arange(0.0, 12.0, 0.1)
    >>> on = (t > 2.0) & (t < 7.0)
    >>> volts, current = np.where(on, 82.0, 92.0), np.where(on, 150.0, 0.0)
    >>> speed = np.clip(4.0 * t - 8.0, 0.0, 20.0)
    >>> throttle = {"throttle": np.where(t > 2.0, 1.0, 0.0)}
    >>> log = synthetic_log(t, speed, volts, current, others=throttle, noise=0)
    >>> pull = pull_of(find_cut_out(log)[0], log, example_build(), ())
    >>> round(pull.held, 1), pull.rest_voltage, pull.build.controller.line_current_limit
    (5.0, 92.0, 150.0)
    """
    time, row = log.column("time"), cut_out.row
    pulls = [segment for segment in segments if segment.kind == "pull" and segment.start < cut_out.time]
    first = _begins(log, row, pulls)
    held = float(cut_out.time - time[first])
    speeds = [_speed_at(log, float(time[index])) for index in (first, row)]
    begun = first == 0 and speeds[0] >= STANDING
    if begun or held < SHORTEST or not np.isfinite(speeds).all():
        return None
    part = Segment("pull", float(time[first]), cut_out.time, first, row, max(speeds[0], 0.0), max(speeds[1], 0.0))
    volts = _rest_voltage(log, first)
    charge = _charge_told(build, volts)
    if charge is None and charges is not None:
        charge = float(charges[first])
    changes = _settings(log, part, build, cut_out)
    ready, start_speed = start_of_pull(build.change(changes), log, part, charge)
    known = {"pack_temperature": "conditions.pack_temperature", "throttle": "controller.throttle"}
    named = [path for name, path in known.items() if np.isfinite(log.column(name)).any()]
    if charge is not None:
        named.append("conditions.charge")
    number = len(pulls) if pulls and pulls[-1].end > part.start else 0
    return CutOutPull(
        cut_out=cut_out,
        number=number,
        start=part.start,
        held=held,
        start_speed=start_speed,
        end_speed=part.end_speed,
        rest_voltage=volts,
        build=ready,
        told=(*changes, *named),
        spacing=float(time[row] - time[row - 1]),
    )


def _begins(log: RideLog, row: int, pulls: Sequence[Segment]) -> int:
    """The row at which a pull began that ended at another; 0 where the log begins in the middle of it."""
    time, throttle, current = (log.column(name) for name in ("time", "throttle", "line_current"))
    level = _typical(throttle[(time >= time[row] - 1.0) & (np.arange(time.size) < row)])
    if np.isfinite(level) and level > 0.0:
        half = _last(throttle[:row] < OPENING * level)
        shut = _last(throttle[: half + 1] <= max(SHUT * level, LEAST_SHUT))
        return shut if shut and time[half] - time[shut] <= LONGEST_ROLL_ON else half
    first = _last(np.abs(current[:row]) <= NOTHING_FLOWS)
    if pulls and pulls[-1].start > time[first] + FLICKER and pulls[-1].end > time[row] - SAME_TIME[0]:
        return pulls[-1].first
    return first


def _last(mask: NDArray[np.bool_]) -> int:
    """The last row that is true; 0 where none is."""
    found = np.flatnonzero(mask)
    return int(found[-1]) if found.size else 0


def _typical(values: Floats) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if known.size else np.nan


def _speed_at(log: RideLog, when: float) -> float:
    """Speed at a moment, m/s, between readings in a straight line; nan where none is near."""
    time, speed = log.column("time"), log.column("speed")
    known = np.isfinite(speed)
    if not known.any() or np.abs(time[known] - when).min() > NEAREST_SPEED:
        return np.nan
    return float(np.interp(when, time[known], speed[known]))


def _rest_voltage(log: RideLog, first: int) -> float:
    """Pack voltage before a row while no current flows, V; nan where it does, or none was read."""
    time, current, voltage = (log.column(name) for name in ("time", "line_current", "pack_voltage"))
    loaded = np.abs(current[: first + 1]) > NOTHING_FLOWS
    since = float(time[_last(loaded)]) if loaded.any() else -np.inf
    if time[first] - since < LEAST_REST:
        return np.nan
    before = time[: first + 1]
    return _typical(voltage[: first + 1][(before > since) & (before >= time[first] - REST_BEFORE)])


def _charge_told(build: Build, volts: float) -> float | None:
    """The charge at which a build's pack rests at a voltage; None where that does not tell it."""
    kind = cell.chemistry(build.pack.chemistry)
    each = volts / build.pack.cells_in_series
    if not kind.voltage_minimum <= each <= kind.voltage_maximum + 0.03:
        return None
    reach, most = TELLS_CHARGE
    if charge_at(build, volts * (1 + reach)) - charge_at(build, volts * (1 - reach)) > most:
        return None
    return charge_at(build, volts)


def _settings(log: RideLog, part: Segment, build: Build, cut_out: CutOut) -> dict[str, float]:
    """Line limit and throttle ramp as a pull had them, by path, where it tells."""
    rows = slice(part.first, part.last)
    current, throttle, time = (log.column(name)[rows] for name in ("line_current", "throttle", "time"))
    settings: dict[str, float] = {}
    plateau = effective_line_limit(current)
    if plateau.success:
        settings["controller.line_current_limit"] = max(plateau.value("line_limit"), 1.0)
    elif cut_out.current_before > build.controller.line_current_limit:
        settings["controller.line_current_limit"] = cut_out.current_before
    known = np.isfinite(throttle)
    if known.sum() < 3:
        return settings
    time, throttle = time[known], throttle[known]
    level = float(np.percentile(throttle, 90))
    low, high = (int(np.argmax(throttle >= share * level)) for share in (1 - OPENED, OPENED))
    if high > low >= 1:
        crossed = [
            np.interp(share * level, throttle[at - 1 : at + 1], time[at - 1 : at + 1])
            for share, at in ((1 - OPENED, low), (OPENED, high))
        ]
        ramp = float(crossed[1] - crossed[0]) / ((2 * OPENED - 1) * level)
        if ramp - build.controller.throttle_ramp_time > max(2.0 * float(np.median(np.diff(time))), LEAST_ROLL_ON):
            settings["controller.throttle_ramp_time"] = min(ramp, 20.0)
    return settings


@dataclass(frozen=True, eq=False)
class Replay:
    """A pull ridden again by the build, beside what the log has.

    Parameters
    ----------
    pull : CutOutPull
        What was ridden.
    time : float, s
        When the run cuts out, from the start of the pull; nan where it does not while the log would call it one.
    rule : int
        Index in RULES of the rule that opens; -1 where none does.
    rest_voltage : float, V
        Of the run before it begins.
    voltage, current, speed : float, V, A and m/s
        Of the run at its cut-out; where there is none the lowest voltage and the highest current in the half second
        before that of the log, and the speed there.
    """

    pull: CutOutPull
    time: float
    rule: int
    rest_voltage: float
    voltage: float
    current: float
    speed: float

    @property
    def opens(self) -> bool:
        """Whether the run cuts out at all."""
        return self.rule >= 0

    @property
    def in_time(self) -> bool:
        """Whether it does when the log does, as near as may be asked."""
        return self.opens and abs(self.time - self.pull.held) <= self.pull.slack

    @property
    def same_voltage(self) -> bool:
        """Whether the voltages agree; true where the log has none."""
        logged = self.pull.cut_out.voltage_before
        return not abs(self.voltage - logged) > SAME_VOLTAGE * abs(logged)

    @property
    def same_current(self) -> bool:
        """Whether the currents agree."""
        logged = self.pull.cut_out.current_before
        return not abs(self.current - logged) > SAME_CURRENT * abs(logged)

    @property
    def same_rule(self) -> bool:
        """Whether the rule that opens is one that the log came near to; true where it came near to none."""
        near = self.pull.cut_out.near
        return self.opens and (not near or RULES[_LOGGED_AS.get(self.rule, self.rule)] in near)

    @property
    def agrees(self) -> bool:
        """Whether the run is the log's pull: only then does it say what would have saved it."""
        return self.in_time and self.same_voltage and self.same_current and self.same_rule


def ridden_again(pull: CutOutPull) -> Replay:
    """Ride a pull again with its build, a little longer than it lasted.

    Parameters
    ----------
    pull : CutOutPull
        From `pull_of`.

    Returns
    -------
    Replay
    """
    made = run(pull.build, min(2.0 * pull.held + pull.slack, 3600.0), pull.start_speed).one(0)
    rule = int(made.cut_out_rule[0])
    rested = float(made.rest_voltage[0, 0])
    if rule >= 0:
        at = (made.cut_out_time, made.cut_out_voltage, made.cut_out_current, made.cut_out_speed)
        time, voltage, current, speed = (float(values[0]) for values in at)
        return Replay(pull, time, rule, rested, voltage, current, speed)
    return Replay(pull, np.nan, rule, rested, *_at(made, pull.held))


def _at(made: RunResult, when: float) -> tuple[float, float, float]:
    """Lowest voltage and highest current in the half second before a moment, and the speed there."""
    moments = np.linspace(max(when - 0.5, 0.0), when, 11)
    voltage, current, speed = (
        np.interp(moments, made.time, values[0]) for values in (made.pack_voltage, made.line_current, made.speed)
    )
    return float(voltage.min()), float(current.max()), float(speed[-1])
