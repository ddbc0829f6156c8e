"""The pack's protection: rules with thresholds and delays, and the timers that count towards a cut-out.

A timer stands at 0 when none of its allowance is used and opens the pack at 1. Signals are taken to change
linearly within a step, so that the moment of the cut-out is found inside it. Above the continuous current I_c one
of two laws counts, or, where the law is unknown, both, and the first to be full opens:

*definite time*: full after t_p at any current above I_c, and it starts again when the current falls below. That is
how protection circuits work, a threshold and a delay: Seiko Instruments, S-8211C data sheet, Rev. 5.0, table 4
(discharge over-current detection delay); Texas Instruments, BQ27Z746 technical reference manual, SLUUCA6, 2021
(over-current in discharge trips when beyond the threshold for the delay). Both seen.

*square of current*, the inverse time that lets the peak current I_p flow for t_p from rest and I_c for ever:

(1) dc/dt = (I^2 - I_c^2) / ((I_p^2 - I_c^2) t_p),  c >= 0.

At a steady current it opens after T k / ((I / I_c)^2 - 1), curve C, "extremely inverse", of IEC 60255-151:2009
(k = 80 s and the exponent 2, second-hand from relay makers' manuals), with T k = ((I_p / I_c)^2 - 1) t_p. Where
I_p is I_c, or one of the two is switched off, (1) has no range, and definite time above the current that is left
takes its place. The other rules are a threshold with a delay as well. The pack maker's own figures go first.
"""

from typing import Any

import numpy as np

from physics.build.batch import Batch
from physics.build.protection import DEFINITE_TIME, OVERCURRENT_LAWS, SQUARE_OF_CURRENT
from physics.limits import RULES
from physics.simulation.per_build import PerBuild

_NEVER = 1e9
"""Stands for a threshold that is switched off, so that differences of excesses stay finite."""


class TripTimers(PerBuild):
    """The rules of a batch as arrays of shape (n,).

    Parameters
    ----------
    batch : Batch
        The builds.

    Attributes
    ----------
    watched : array of bool, shape (len(RULES), n)
        Which rules are switched on.
    """

    def __init__(self, batch: Batch) -> None:
        def rule(name: str) -> np.ndarray:
            return batch["pack.protection." + name]

        law = np.array(OVERCURRENT_LAWS)[rule("overcurrent_law")]
        continuous, peak = rule("continuous_current"), rule("peak_current")
        ranged = np.isfinite(continuous) & np.isfinite(peak) & (peak > continuous)
        threshold = np.minimum(continuous, peak)  # where one is off, the other stands with its time alone
        by_square = ranged & (law != DEFINITE_TIME)
        by_time = np.isfinite(threshold) & ~(ranged & (law == SQUARE_OF_CURRENT))
        self.continuous_squared = np.where(by_square, threshold, 0.0) ** 2
        width = np.where(by_square, peak**2 - self.continuous_squared, 1.0)
        self.rate = np.where(by_square, 1.0, 0.0) / (width * rule("peak_time"))
        self.timed_current = np.where(by_time, threshold, _NEVER)
        self.overshoot = 1 + batch["controller.overshoot"]
        self.fast_current = np.minimum(rule("fast_current"), _NEVER)
        self.cell_undervoltage = rule("cell_undervoltage")
        self.temperatures = np.array([rule("discharge_temperature_minimum"), rule("discharge_temperature_maximum")])
        names = ("peak_time", "fast_delay", "undervoltage_delay", "temperature_delay")
        self.delays = np.stack([rule(name) for name in names])
        on = by_square, by_time, self.fast_current < _NEVER, self.cell_undervoltage > 0, np.full(len(batch), True)
        self.watched = np.stack(on)

    def signals(
        self, line_current: np.ndarray, cell_voltage: np.ndarray, pack_temperature: np.ndarray
    ) -> np.ndarray:
        """What the rules look at: the rate of timer (1), 1/s, then excesses over four thresholds.

        Parameters
        ----------
        line_current : array, shape (n,), A
            Discharge positive; the controller's overshoot is added here.
        cell_voltage : array, shape (n,), V
            Loaded voltage of the weakest cell.
        pack_temperature : array, shape (n,), K

        Returns
        -------
        array, shape (len(RULES), n)
            Above zero while a rule's condition holds.
        """
        current = line_current * self.overshoot
        squared = current * current - self.continuous_squared
        low, high = self.temperatures
        signals = np.empty((len(RULES), len(squared)))
        signals[0] = squared * self.rate
        signals[1] = current - self.timed_current
        signals[2] = current - self.fast_current
        signals[3] = self.cell_undervoltage - cell_voltage
        signals[4] = np.maximum(low - pack_temperature, pack_temperature - high)
        return signals

    def advance(
        self,
        timers: np.ndarray,
        before: np.ndarray,
        after: np.ndarray,
        duration: Any,
        rise: np.ndarray | None = None,
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Move the timers over one step.

        Parameters
        ----------
        timers, before, after : array, shape (len(RULES), n)
            The timers at its start; `signals` at its start and its end.
        duration : float or array, shape (n,), s
            Its length.
        rise : array, shape (n,), optional
            Integral of the rate of timer (1) where that is known better than by a straight line.

        Returns
        -------
        tuple of arrays
            Timers at its end, 1 at the most, shape (len(RULES), n); the fraction of it at which a rule opens,
            infinite where none does, and that rule's index in RULES, shape (n,).
        """
        on = (before > 0.0) | (after > 0.0)
        on[0] |= timers[0] > 0.0
        count = timers.shape[1]
        ended, fraction, rule = np.zeros(timers.shape), np.full(count, np.inf), np.zeros(count, dtype=int)
        if np.count_nonzero(on[0]):  # a timer that rests stays at 0 and opens nothing
            ended[0], fraction[:] = inverse_time_step(timers[0], before[0], after[0], duration, rise)
        if np.count_nonzero(on[1:]):
            ended[1:], opens = timer_step(timers[1:], before[1:], after[1:], self.delays, duration)
            if np.count_nonzero(opens <= 1.0):
                first = opens.min(axis=0)
                rule = np.where(first < fraction, 1 + opens.argmin(axis=0), 0)
                fraction = np.minimum(fraction, first)
        return np.minimum(ended, 1.0), fraction, rule  # an empty cell keeps its timer running after the cut-out


def inverse_time_step(
    timer: np.ndarray,
    rate_before: np.ndarray,
    rate_after: np.ndarray,
    duration: Any,
    rise: np.ndarray | None = None,
) -> tuple[np.ndarray, Any]:
    """One step of timer (1).

    Parameters
    ----------
    timer : array
        At the start of the step, 0 to 1.
    rate_before, rate_after : array
        Of the timer, 1/s, at both ends; linear in between.
    duration : float or array, s
        Of the step.
    rise : array, optional
        Integral of the rate where that is known better.

    Returns
    -------
    tuple of arrays
        Timer at its end, and the fraction of it at which the timer reaches 1; infinite where it does not.

    Examples
    --------
    >>> timer, opens = inverse_time_step(np.array([0.5]), np.array([1.0]), np.array([1.0]), 1.0)
    >>> float(opens[0])
    0.5
    """
    # a timer at rest starts only once its rate has turned positive
    resting = (timer <= 0.0) & (rate_before < 0.0)
    turns = resting & (rate_after > 0.0)
    start = np.where(turns, rate_before / np.where(turns, rate_before - rate_after, 1.0), 0.0)
    rise = duration * (rate_before + rate_after) / 2.0 if rise is None else rise
    rise_from_rest = duration * np.maximum(rate_after, 0.0) * (1.0 - start) / 2.0
    ended = np.maximum(timer + np.where(resting, np.where(turns, rise_from_rest, 0.0), rise), 0.0)
    if not np.count_nonzero(ended >= 1.0):
        return ended, np.inf
    grown = ended - timer
    crossed = (ended >= 1.0) & (grown > 0.0)
    # linear rate: timer(u) = timer + a u + b u^2 over the growing part u in 0..1
    length = duration * (1.0 - start)
    linear = np.where(resting, 0.0, rate_before) * length
    square = grown - linear
    missing = 1.0 - timer
    root = np.sqrt(np.maximum(linear * linear + 4.0 * square * missing, 0.0))
    fraction = 2.0 * missing / np.where(linear + root > 0.0, linear + root, 1.0)
    fraction = start + np.minimum(np.maximum(fraction, 0.0), 1.0) * (1.0 - start)
    return ended, np.where(crossed, fraction, np.inf)


def timer_step(
    timer: np.ndarray, excess_before: np.ndarray, excess_after: np.ndarray, delay: np.ndarray, duration: Any
) -> tuple[np.ndarray, np.ndarray]:
    """One step of a timer that runs while a condition holds and starts again when it ends.

    Parameters
    ----------
    timer : array
        At the start of the step, 0 to 1.
    excess_before, excess_after : array
        Above zero while the condition holds, at both ends; linear in between.
    delay : array, s
        How long the condition must hold.
    duration : float or array, s
        Of the step.

    Returns
    -------
    tuple of arrays
        Timer at its end, and the fraction of it at which the timer reaches 1; infinite where it does not.

    Examples
    --------
    >>> timer, opens = timer_step(np.array([0.0]), np.array([-1.0]), np.array([1.0]), 0.25, 1.0)
    >>> float(opens[0])
    0.75
    """
    on_before, on_after = excess_before > 0.0, excess_after > 0.0
    change = excess_before - excess_after
    crossing = np.where(on_before == on_after, 0.0, excess_before / np.where(change == 0, 1.0, change))
    start = np.where(on_before, 0.0, crossing)
    end = np.where(on_after, 1.0, crossing)
    running = on_before | on_after
    begun = np.where(on_before, timer, 0.0)
    reached = np.where(running, begun + (end - start) * duration / delay, 0.0)
    full, opens = running & (reached >= 1.0), np.full(reached.shape, np.inf)
    if np.count_nonzero(full):
        opens = np.where(full, start + (1.0 - begun) * delay / duration, opens)
    return np.where(on_after, reached, 0.0), opens
