"""The integrator: a batch of builds moved through time by a predictor, a corrector and control of the error.

All builds share the instants at which a run is kept; between two of them each takes as few steps as its error
allows, mostly one. A step is an attempt: `Plant.predict`, an operating point at its end, `Plant.correct`. Its error
ratio, 1 is too much, says whether it is rejected and how long the next may be (E. Hairer and others, Solving
Ordinary Differential Equations I, 1993, section II.4). An event in a step (another limit, a rule that begins to
count, a cut-out, a stop) is located by straight lines; a step in which they may miss it by too much is rejected.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from physics.build.batch import Batch
from physics.limits import CUT_OUT, RULES, THROTTLE
from physics.simulation.per_build import PerBuild
from physics.simulation.plant import POWERS, WORK, Plant, Prediction, Snapshot
from physics.simulation.settling import settle

SPEED_TOLERANCE = 4e-3
"""Step times unforeseen change of acceleration, over 1 m/s plus the speed."""

ENERGY_TOLERANCE = 1.2e-4
"""Energy that a step makes or loses by its own inexactness, as a fraction of what was moved so far."""

VOLTAGE_TOLERANCE = 0.02
"""Fraction of its voltage by which the pack may stray from its trend in a step."""

COASTING = 10.0
"""How much more inexact speed and energy may be once the protection has opened, and voltage as much as it likes."""

CORNER_SHARPER = 8.0
"""So much less is allowed of that where the limit changes in the step."""

HEAT_TOLERANCE = 3.0
"""Correction of the winding's temperature in a step, K, where it is hot enough to fold back."""

SAFETY, LEAST_FACTOR, REJECTED_FACTOR, MOST_FACTOR = 0.7, 0.1, 0.5, 4.0
"""The next step's length over this one's: below what the error allows; at the least, and at the most behind a
rejected and behind an accepted step."""

LONGEST_MEMORY = 20.0
"""A step more than this many times as long as the one before says nothing about it any more."""

EVENT_TOLERANCE = 5e-3
"""By so much, s, straight lines may miss an event in a step."""

BEHIND_CROSSING, FIRST_PART, LAST_PART = 0.5, 0.2, 0.7
"""A step that is rejected for a change of limit ends behind the crossing by so much of what is allowed, and between
these fractions of its length."""

SHORTEST_STEP = 1e-3
"""A step this short, s, is not rejected."""

MOST_ATTEMPTS, HURRIED_STEPS = 80, 8
"""A build that makes so many attempts towards one instant chatters: none is rejected any more, and the rest of the
way is made in about so many steps. It will do so again: towards the next instants it has half as many each time, at
the least as many as those steps."""

LONGEST_STEP = 10.0
"""No step is longer, s."""

FIRST_STEP = 1.0
"""Longest first step, s, and first one behind a cut-out."""

INSTANT = 1e-9
"""Length, s, of the step that finds where a build stands once its protection has opened."""


AT_CUT_OUT = ("line_current", "pack_voltage", "weakest_cell_voltage", "speed", "acceleration")
"""What is kept of the snapshot at which the protection opens."""


@dataclass
class Totals(PerBuild):
    """What a run comes to over all its steps; the last axis is the builds."""

    energies: np.ndarray  # (len(POWERS), n), J: integrals of the powers
    top_speed: np.ndarray  # m/s, under power
    holding_limit: np.ndarray  # index in LIMITS of what holds there
    maximum_line_current: np.ndarray  # A
    lowest: np.ndarray  # (2, n), V: voltages of pack and weakest cell
    allowance_used: np.ndarray  # (len(RULES), n): how far each trip timer came
    cut_out_rule: np.ndarray  # index in RULES of the rule that opened, or -1
    cut_out: np.ndarray  # (1 + len(AT_CUT_OUT), n): time, s, and what is known just before; NaN where none

    @classmethod
    def at_start(cls, now: Snapshot, timers: np.ndarray) -> "Totals":
        """Nothing but where builds start."""
        count = len(now.limit)
        return cls(
            energies=np.zeros((len(POWERS), count)),
            top_speed=now.speed.copy(),
            holding_limit=now.limit.copy(),
            maximum_line_current=now.line_current.copy(),
            lowest=now.voltages.copy(),
            allowance_used=timers.copy(),
            cut_out_rule=np.full(count, -1),
            cut_out=np.full((1 + len(AT_CUT_OUT), count), np.nan),
        )


@dataclass
class Attempt:
    """One step of each build, made and not yet accepted; arrays of shape (n,) unless noted."""

    end: np.ndarray  # s
    duration: np.ndarray  # s
    then: Snapshot  # at the end
    prediction: Prediction
    ratio: np.ndarray  # over the step before; 0 where that says nothing of the whole step
    integral: np.ndarray  # (k, n), of the integrands
    trend: np.ndarray  # (2, n), V: how the voltages of pack and weakest cell would change as they did before
    shift: np.ndarray  # (2, n), V: how far they move on the old line, up to a crossing
    bend: np.ndarray  # (2, n), V/s2: of a parabola through them now, before and then; 0 where the limit changed
    new_limit: np.ndarray  # whether another limit holds at the end
    changed: np.ndarray  # whether that bent the path within the step
    crossing: np.ndarray  # fraction of the step at which it did; 1 where it did not
    timers: np.ndarray  # (len(RULES), n), at the end
    trip: np.ndarray  # fraction of the step at which a rule opens, infinite where none does
    rule: np.ndarray  # its index in RULES


class Integrator(PerBuild):
    """Builds under way; all arrays have the builds as last axis.

    Parameters
    ----------
    plant : Plant
        The builds.
    state : array, shape (len(STATE), n)
        Where they start.
    timers : array, shape (len(RULES), n), optional
        The trip timers they start with.

    Attributes
    ----------
    builds : array of int, shape (n,)
        Which builds of the batch these are.
    time : array, shape (n,), s
    now, past : Snapshot
        At that time, and a step before.
    opened : array of bool, shape (n,)
        Whether the protection has.
    limit_since : array, shape (n,), s
        Since when the limit of `now` has held.
    totals : Totals
    """

    def __init__(self, plant: Plant, state: np.ndarray, timers: np.ndarray | None = None) -> None:
        count = state.shape[1]
        self.plant = plant
        self.builds, self.time, self.attempts = np.arange(count), np.zeros(count), np.zeros(count, dtype=int)
        self.step_size, self.patience = np.full(count, FIRST_STEP), np.full(count, MOST_ATTEMPTS)
        self.past_frequency = np.zeros(count)  # of steps, 1/s; zero where there is none to remember
        self.timers = np.zeros((len(RULES), count)) if timers is None else timers.copy()
        self.opened, self.limit_since = np.zeros(count, dtype=bool), np.zeros(count)
        self.now = self.past = plant.evaluate(state, self.time)
        self.bend = np.zeros((2, count))  # of the voltages in the last step, see `Attempt`
        self.totals = Totals.at_start(self.now, self.timers)

    @classmethod
    def of(cls, batch: Batch, speed: Any) -> "Integrator":
        """The builds of a batch at the start of their conditions, at some speeds."""
        plant = Plant(batch)
        return cls(plant, plant.start(speed))

    def step(self, until: np.ndarray) -> np.ndarray:
        """Attempt one step of each build, to a next instant at the most.

        Parameters
        ----------
        until : array, shape (n,), s
            The instant no step may pass; later than the builds' own time.

        Returns
        -------
        array of bool, shape (n,)
            Which builds have made a step.
        """
        attempt = self._attempt(until)
        event, error_ratio = self._event(attempt), self._error_ratio(attempt)
        settled = self._settle(attempt, error_ratio)
        error_ratio[settled] = SAFETY
        patient = self.attempts < self.patience
        rejected = ((error_ratio > 1.0) | (event < 1.0)) & (attempt.duration > SHORTEST_STEP) & patient
        tripped = (attempt.trip <= 1.0) & ~self.opened & ~rejected
        self.step_size = self._next_step_size(attempt, rejected, error_ratio, event)
        if np.count_nonzero(patient) < patient.size:
            ran_out = self.attempts == self.patience
            self.patience = np.where(ran_out, np.maximum(self.patience // 2, HURRIED_STEPS), self.patience)
            hurried = np.minimum((until - self.time) / HURRIED_STEPS, LONGEST_STEP)  # some wait past their end
            hurried = np.maximum(self.step_size, hurried)
            self.step_size = np.where(patient, self.step_size, hurried)
        self._accept(attempt, rejected, tripped)
        self.past_frequency[settled] = 0.0
        self.attempts = (self.attempts + 1) * (self.time < until)
        return ~rejected

    def _next_step_size(
        self, attempt: Attempt, rejected: np.ndarray, error_ratio: np.ndarray, event: np.ndarray
    ) -> np.ndarray:
        """How long the next step may be, s: the error goes with its square where all is smooth."""
        duration, allowed = attempt.duration, SAFETY / np.sqrt(np.maximum(error_ratio, 1e-3))
        longer = np.maximum(self.step_size, duration * np.minimum(allowed, MOST_FACTOR))
        step_size = np.minimum(np.where(allowed > 1, longer, duration), LONGEST_STEP)
        if np.count_nonzero(rejected):
            shorter = np.minimum(np.maximum(allowed, LEAST_FACTOR), REJECTED_FACTOR)
            left = 1.0 - attempt.crossing
            behind = attempt.crossing + left * BEHIND_CROSSING / np.maximum(error_ratio, 1.0)
            behind = np.minimum(np.maximum(behind, FIRST_PART), LAST_PART)
            shorter = np.where(attempt.changed, behind, shorter)
            shorter = np.minimum(np.where(error_ratio > 1.0, shorter, 1.0), event)
            step_size = np.where(rejected, duration * shorter, step_size)
        if np.count_nonzero(self.opened):
            step_size[duration < 2 * INSTANT] = FIRST_STEP
        return step_size

    def _attempt(self, until: np.ndarray) -> Attempt:
        """Predict, look, correct.

        The integral is that of the parabola through three snapshots (Adams and Moulton), and where the one before
        says nothing of the whole step that of the trapezoid.
        """
        now, past, plant = self.now, self.past, self.plant
        ramp_end = plant.machine.ramp_end
        stop = np.where(self.time < ramp_end, np.minimum(until, ramp_end), until)
        end = np.minimum(self.time + self.step_size, stop)
        duration = end - self.time
        ratio = duration * self.past_frequency
        ratio *= (ratio < LONGEST_MEMORY) & (now.speed > 0.0)
        opened = self.opened.nonzero()[0] if np.count_nonzero(self.opened) else None
        guess = now.currents + ratio * (now.currents - past.currents)
        prediction = plant.predict(now, past, ratio, duration)
        then = plant.evaluate(prediction.state, end, opened, guess)
        new_limit = then.limit != now.limit
        changed = new_limit | (then.held_by_line != now.held_by_line)
        if np.count_nonzero(changed):  # what takes over from the throttle at its ramp's end bends nothing before
            changed &= (then.limit != CUT_OUT) & ((end != ramp_end) | (now.limit != THROTTLE))
        calm = ratio * (past.limit == now.limit)
        whole = calm * ~changed
        sixth, less = duration / 6.0, 1.0 / (1.0 + whole)
        integral = sixth * (3.0 + whole) * now.integrands + sixth * (2.0 + less) * then.integrands
        integral -= sixth * whole * whole * less * past.integrands
        plant.correct(now, then, integral, duration, prediction)
        signals = now.signals, then.signals
        timers, trip, rule = plant.rules.advance(self.timers, *signals, duration, integral[-1])
        trend = calm * (now.voltages - past.voltages)
        bend = (then.voltages - now.voltages - trend) * (whole * less / (duration * duration))
        crossing = self._crossing(then, prediction, duration, changed)
        shift = self._shift(trend, changed * crossing * duration, crossing)
        return Attempt(
            end, duration, then, prediction, whole, integral, trend, shift, bend, new_limit, changed, crossing,
            timers, trip, rule,
        )  # fmt: skip

    def _crossing(
        self, then: Snapshot, prediction: Prediction, duration: np.ndarray, changed: np.ndarray
    ) -> np.ndarray:
        """Fraction of the step at which another limit took over; 1 where none did.

        Where two lines of acceleration cross: the one the step was on and the one it ends on, at its start where
        they cross before; else the middle.
        """
        if not np.count_nonzero(changed):
            return np.ones(duration.size)
        before = (prediction.acceleration - self.now.acceleration) / duration
        bend = then.slope * then.acceleration - before
        apart = then.acceleration - prediction.acceleration
        fraction = 1.0 - apart / np.where(bend == 0.0, 1.0, bend) / duration
        fraction = np.where((fraction < 1.0) & (bend != 0.0), np.maximum(fraction, 0.0), 0.5)
        return np.where(changed, fraction, 1.0)

    def _shift(self, trend: np.ndarray, step: np.ndarray, crossing: np.ndarray) -> np.ndarray:
        """How far the voltages of pack and weakest cell move on the old line, up to a crossing; shape (2, n), V.

        Along their trend, and where another limit took over, `step` s later, along the parabola through the last
        three snapshots.
        """
        if not np.count_nonzero(step):
            return trend * crossing
        return trend * crossing + self.bend * (step * (step + 1.0 / np.maximum(self.past_frequency, 1e-9)))

    def _error_ratio(self, attempt: Attempt) -> np.ndarray:
        """How far the end of a step is from what the step took it to be, over what is allowed."""
        now, then, duration, predicted = self.now, attempt.then, attempt.duration, attempt.prediction
        speed = then.speed
        error = duration * np.abs(then.acceleration - predicted.acceleration) / (SPEED_TOLERANCE * (1.0 + speed))
        inertia, squared = self.plant.machine.inertia, speed * speed
        made = np.abs(attempt.integral[0] - (squared - now.speed * now.speed) / 2.0)
        moved = np.maximum(np.abs(self.totals.energies[-1]), inertia * (1.0 + squared / 2.0))
        error = np.maximum(error, inertia * made / (ENERGY_TOLERANCE * moved))
        error *= (predicted.state[0] > 0.0) | (then.acceleration > 0.0)  # else it stands, and goes on standing
        strays = np.abs(then.pack_voltage - now.pack_voltage - attempt.shift[0])
        if np.count_nonzero(attempt.changed):  # on another line it may have moved as on the old one
            dips = (1.0 - attempt.crossing) * np.abs(attempt.trend[0])
            strays = np.where(attempt.changed, CORNER_SHARPER * np.maximum(strays, dips), strays)
        strays /= VOLTAGE_TOLERANCE * then.pack_voltage
        if np.count_nonzero(self.opened):
            error, strays = np.where(self.opened, error / COASTING, error), strays * ~self.opened
        error = np.maximum(error, strays)
        hot = then.temperatures[1] > self.plant.machine.winding_foldback[0]
        if np.count_nonzero(hot):
            correction = np.abs(then.temperatures[1] - predicted.state[6])
            error = np.where(hot, np.maximum(error, correction / HEAT_TOLERANCE), error)
        return error

    def _settle(self, attempt: Attempt, error_ratio: np.ndarray) -> np.ndarray:
        """Bring builds to the speed they settle at that went past it in the shortest of steps; which they are."""
        now, then = self.now, attempt.then
        steep = (attempt.duration <= SHORTEST_STEP) & (error_ratio > 1.0)
        if np.count_nonzero(steep):
            steep &= (now.acceleration * then.acceleration < 0.0) & ~self.opened
            steep &= (attempt.prediction.state[0] > 0.0) & (then.speed > 0.0) & (attempt.trip > 1.0)
        rows = steep.nonzero()[0]
        if not rows.size:
            return rows
        ends = now.take(rows), then.take(rows)
        speeds = now.speed[rows], attempt.prediction.state[0, rows]
        found, there = settle(self.plant.take(rows), attempt.end[rows], ends, speeds)
        rows = rows[there]
        then.put(rows, found)
        attempt.integral[:, rows] = attempt.duration[rows] / 2.0 * (now.integrands[:, rows] + found.integrands)
        attempt.integral[0, rows] = (found.speed**2 - now.speed[rows] ** 2) / 2.0
        return rows

    def _event(self, attempt: Attempt) -> np.ndarray:
        """Fraction of the step just behind the first event in it that straight lines may miss; else infinite.

        The protection opening, the bike coming to a stop, and a rule whose condition begins or ends. What a line
        from end to end may miss it by is largest in the middle of the step; for a signal the parabola through its
        last three values says how much of that it is.
        """
        before, after, duration = self.now.signals[1:], attempt.then.signals[1:], attempt.duration
        first = np.where(self.opened, np.inf, attempt.trip)
        stops = (attempt.then.speed <= 0.0) & (self.now.speed > 0.0)
        if np.count_nonzero(stops):
            braking = np.maximum(-self.now.acceleration * duration, 1e-9)
            first = np.where(stops, np.minimum(first, self.now.speed / braking), first)
        first = np.where(first * (1.0 - first) * duration > EVENT_TOLERANCE, first, np.inf)
        turns = ((before > 0.0) != (after > 0.0)) & ~self.opened
        if np.count_nonzero(turns):
            rise = np.where(turns, after - before, 1.0)
            turn = np.where(turns, -before / rise, np.inf)
            bent = np.abs(1.0 - attempt.ratio * (before - self.past.signals[1:]) / rise)
            bent = np.where(attempt.ratio > 0.0, np.minimum(bent * attempt.ratio / (1.0 + attempt.ratio), 1.0), 1.0)
            off = turns & (bent * turn * (1.0 - turn) * duration > EVENT_TOLERANCE)
            first = np.minimum(first, np.where(off, turn, np.inf).min(axis=0))
        return first + EVENT_TOLERANCE / 4.0 / duration

    def _accept(self, attempt: Attempt, rejected: np.ndarray, tripped: np.ndarray) -> None:
        """Move the builds on whose step is not rejected; a step in which the protection opens ends there."""
        now, then, end, work = self.now, attempt.then, attempt.end, attempt.integral[WORK]
        limit_since = self.limit_since
        if np.count_nonzero(attempt.new_limit):
            begins = self.time + attempt.crossing * attempt.duration
            limit_since = np.where(attempt.new_limit & ~rejected, begins, limit_since)
        frequency = (end != self.plant.machine.ramp_end) / attempt.duration
        if np.count_nonzero(tripped):
            trips = tripped.nonzero()[0]
            fraction = attempt.trip[trips]
            rest = (1.0 - fraction) / 2.0 * attempt.duration[trips]  # of a power that grows along a straight line
            work[:, trips] -= rest * (then.integrands - now.integrands)[WORK, trips]
            then.put(trips, now.between(then, trips, fraction))
            attempt.timers[attempt.rule[trips], trips] = 1.0
            end[trips] = self.time[trips] + fraction * attempt.duration[trips]
            work[:, trips] *= fraction
            self.opened = self.opened | tripped
            self.totals.cut_out_rule[trips] = attempt.rule[trips]
            self.totals.cut_out[:, trips] = end[trips], *(getattr(then, name)[trips] for name in AT_CUT_OUT)
            self.step_size[trips] = INSTANT
        if np.count_nonzero(rejected):
            failed = rejected.nonzero()[0]
            then.put(failed, now.take(failed))
            now.put(failed, self.past.take(failed))
            work[:, failed], end[failed], frequency[failed] = 0.0, self.time[failed], self.past_frequency[failed]
            attempt.timers[:, failed], attempt.bend[:, failed] = self.timers[:, failed], self.bend[:, failed]
        self.past, self.now, self.time, self.past_frequency = now, then, end, frequency
        self.bend = attempt.bend * (frequency > 0.0)
        self.timers, self.limit_since = attempt.timers, limit_since
        self._add_up(work, attempt.changed & ~rejected, attempt.shift)

    def _add_up(self, work: np.ndarray, corner: np.ndarray, shift: np.ndarray) -> None:
        """Bring the totals up to date; at a corner both lines still hold, and the voltage may be lowest."""
        totals, now = self.totals, self.now
        totals.energies += work
        faster = (now.speed > totals.top_speed) & (now.limit != CUT_OUT)  # coasting down a hill is no drive
        np.copyto(totals.top_speed, now.speed, where=faster)
        np.copyto(totals.holding_limit, now.limit, where=faster)
        totals.maximum_line_current = np.maximum(totals.maximum_line_current, now.line_current)
        totals.lowest = np.minimum(totals.lowest, now.voltages)
        if np.count_nonzero(corner):
            lowest = np.minimum(totals.lowest, self.past.voltages + shift)
            totals.lowest = np.where(corner, lowest, totals.lowest)
        totals.allowance_used = np.maximum(totals.allowance_used, self.timers)
