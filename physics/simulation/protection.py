"""The pack's protection: rules with thresholds and delays, and the clocks that count towards opening.

A clock stands at 0 when none of its allowance is used and opens the pack at 1. Signals are taken to change
linearly within a step, so that the moment of opening is found inside it. The inverse-time law between the
continuous and the peak current is the adiabatic one, heat growing with the square of current:

(1) dc/dt = (I^2 - I_c^2) / ((I_p^2 - I_c^2) t_p),  c >= 0,

which opens after t_p at I_p from rest and never at I_c. Where I_p is I_c, or one of the two is switched off, the
clock runs up above the current that is left and down below it, full after t_p. Thresholds with a delay that starts
again when the condition ends are common practice, no source; the pack maker's own figures go first.
"""

import numpy as np

from physics.build.batch import Batch
from physics.limits import RULES
from physics.simulation.rows import Constants

_NEVER = 1e9
"""Stands for a threshold that is switched off, so that differences of excesses stay finite."""


class Protection(Constants):
    """The rules of a batch as arrays of shape (n,).

    Parameters
    ----------
    batch : Batch
        The builds.
    """

    def __init__(self, batch: Batch):
        def rule(name):
            return batch["pack.protection." + name]

        continuous, peak = rule("continuous_current"), rule("peak_current")
        ranged = np.isfinite(continuous) & np.isfinite(peak) & (peak > continuous)
        watched = np.minimum(continuous, peak)  # where one of the two is off, the other stands with its time alone
        self.even = np.isfinite(watched) & ~ranged
        self.continuous_squared = np.where(np.isfinite(watched), watched, 0.0) ** 2
        width = np.where(ranged, np.where(ranged, peak, 1.0) ** 2 - self.continuous_squared, 1.0)
        self.rate = np.where(ranged, 1.0, 0.0) / (width * rule("peak_time"))
        self.any_even = bool(self.even.any())
        self.peak_time = rule("peak_time")
        self.overshoot = 1 + batch["controller.overshoot"]
        self.fast_current = np.minimum(rule("fast_current"), _NEVER)
        self.cell_undervoltage = rule("cell_undervoltage")
        self.temperatures = np.array([rule("discharge_temperature_minimum"), rule("discharge_temperature_maximum")])
        self.delays = np.stack([rule("fast_delay"), rule("undervoltage_delay"), rule("temperature_delay")])
        self._settle()

    def signals(self, line_current, cell_voltage, pack_temperature):
        """What the rules look at, as rates and excesses over their thresholds.

        Parameters
        ----------
        line_current : array, shape (n,), A
            Discharge positive; the controller's overshoot is added here.
        cell_voltage : array, shape (n,), V
            Loaded voltage of the weakest cell.
        pack_temperature : array, shape (n,), K
            Temperature of the cells.

        Returns
        -------
        array, shape (len(RULES), n)
            Row 0: rate of clock (1), 1/s (where peak and continuous current are the same: the excess of the square
            of current, A^2). Other rows: above zero while the condition holds.
        """
        current = line_current * self.overshoot
        squared = current * current - self.continuous_squared
        rate = squared * np.where(self.even, 1.0, self.rate) if self.any_even else squared * self.rate
        low, high = self.temperatures
        signals = np.empty((len(RULES), len(rate)))
        signals[0] = rate
        signals[1] = current - self.fast_current
        signals[2] = self.cell_undervoltage - cell_voltage
        signals[3] = np.maximum(low - pack_temperature, pack_temperature - high)
        return signals

    def advance(self, clocks, before, after, duration):
        """Move the clocks over one step.

        Parameters
        ----------
        clocks : array, shape (len(RULES), n)
            At the start of the step.
        before, after : array, shape (len(RULES), n)
            `signals` at the start and the end of the step.
        duration : float or array, shape (n,), s
            Length of the step.

        Returns
        -------
        tuple of arrays
            Clocks at the end, 1 at the most, shape (len(RULES), n); share of the step at which a rule opens, shape
            (n,), infinite where none does; and that rule's place in RULES, shape (n,).
        """
        on = (before > 0) | (after > 0)
        on[0] |= clocks[0] > 0
        count = clocks.shape[1]
        ended, share, rule = np.zeros(clocks.shape), np.full(count, np.inf), np.zeros(count, dtype=int)
        if not np.count_nonzero(on):
            return ended, share, rule
        if np.ndim(duration) == 0:
            duration = np.full(count, duration)
        if np.count_nonzero(on[0]):  # a clock that rests stays at 0 and opens nothing
            ended[0], share[:] = inverse_time_step(clocks[0], before[0], after[0], duration)
            if self.any_even:
                some = (on[0] & self.even).nonzero()[0]
                given = clocks[0, some], before[0, some], after[0, some]
                ended[0, some], share[some] = even_step(*given, self.peak_time[some], duration[some])
        some = (on[1] | on[2] | on[3]).nonzero()[0]
        if some.size:
            ended[1:, some], opens = timer_step(
                clocks[1:, some], before[1:, some], after[1:, some], self.delays[:, some], duration[some]
            )
            first = opens.min(axis=0)
            rule[some] = np.where(first < share[some], 1 + opens.argmin(axis=0), 0)
            share[some] = np.minimum(share[some], first)
        # an empty cell keeps its timer running after the opening
        return np.minimum(ended, 1.0), share, rule

    def curved(self, clock, ended, curve):
        """Clock (1) at the end of a step in which its rate follows a curve, not a line.

        Parameters
        ----------
        clock, ended : array, shape (n,)
            At both ends of the step, by `advance`.
        curve : array, shape (n,)
            Integral of the curve over the step less that of the line.

        Returns
        -------
        array, shape (n,)
            Between 0 and 1; as it was where the clock rests or stands full, or follows another law.
        """
        runs = (clock > 0) & (ended > 0) & (ended < 1) & ~self.even
        return np.where(runs, np.minimum(np.maximum(ended + curve, 0.0), 1.0), ended)


def inverse_time_step(clock, rate_before, rate_after, duration):
    """One step of clock (1), its rate linear in time.

    Parameters
    ----------
    clock : array
        At the start, 0 to 1.
    rate_before, rate_after : array, 1/s
        Rate at both ends.
    duration : float, s
        Length of the step.

    Returns
    -------
    tuple of arrays
        Clock at the end, and the share of the step at which it reaches 1 (infinite where it does not; one
        infinity where none does).

    Examples
    --------
    >>> clock, opens = inverse_time_step(np.array([0.5]), np.array([1.0]), np.array([1.0]), 1.0)
    >>> float(opens[0])
    0.5
    """
    # a clock at rest starts only once its rate has turned positive
    resting = (clock <= 0) & (rate_before < 0)
    turns = resting & (rate_after > 0)
    start = np.where(turns, rate_before / np.where(turns, rate_before - rate_after, 1.0), 0.0)
    rise = duration * (rate_before + rate_after) / 2
    rise_from_rest = duration * np.maximum(rate_after, 0.0) * (1 - start) / 2
    ended = np.maximum(clock + np.where(resting, np.where(turns, rise_from_rest, 0.0), rise), 0.0)
    if not (ended >= 1).any():
        return ended, np.inf
    grown = ended - clock
    crossed = (ended >= 1) & (grown > 0)
    # linear rate: clock(u) = clock + a u + b u^2 over the growing part u in 0..1
    length = duration * (1 - start)
    linear = np.where(resting, 0.0, rate_before) * length
    square = grown - linear
    missing = 1 - clock
    root = np.sqrt(np.maximum(linear * linear + 4 * square * missing, 0.0))
    share = 2 * missing / np.where(linear + root > 0, linear + root, 1.0)
    share = start + np.minimum(np.maximum(share, 0.0), 1.0) * (1 - start)
    return ended, np.where(crossed, share, np.inf)


def even_step(clock, excess_before, excess_after, delay, duration):
    """One step of a clock that runs up while a condition holds and down at the same pace while it does not.

    The limit of law (1) that a rider means by a peak current equal to the continuous one.

    Parameters
    ----------
    clock : array
        At the start, 0 to 1.
    excess_before, excess_after : array
        Above zero while the condition holds; linear within the step.
    delay : array, s
        How long the condition must hold, from rest.
    duration : float, s
        Length of the step.

    Returns
    -------
    tuple of arrays
        Clock at the end, and the share of the step at which it reaches 1 (infinite where it does not).

    Examples
    --------
    >>> clock, opens = even_step(np.array([0.0]), np.array([-1.0]), np.array([1.0]), 1.0, 1.0)
    >>> float(clock[0]), float(opens[0])
    (0.5, inf)
    """
    on_before, on_after = excess_before > 0, excess_after > 0
    change = excess_before - excess_after
    crossing = np.where(on_before == on_after, 1.0, excess_before / np.where(change == 0, 1.0, change))
    pace = duration / delay
    first = np.where(on_before, 1.0, -1.0) * crossing * pace
    second = np.where(on_after, 1.0, -1.0) * (1 - crossing) * pace
    middle = np.maximum(clock + first, 0.0)
    by_first, by_second = on_before & (middle >= 1), on_after & (middle + second >= 1)
    moving = np.where(pace > 0, pace, 1.0)
    opens = np.where(by_second, crossing + (1 - middle) / moving, np.inf)
    return np.maximum(middle + second, 0.0), np.where(by_first, (1 - clock) / moving, opens)


def timer_step(clock, excess_before, excess_after, delay, duration):
    """One step of a timer that runs while a condition holds and starts again when it ends.

    Parameters
    ----------
    clock : array
        At the start, 0 to 1.
    excess_before, excess_after : array
        Above zero while the condition holds; linear within the step.
    delay : array, s
        How long the condition must hold.
    duration : float, s
        Length of the step.

    Returns
    -------
    tuple of arrays
        Clock at the end, and the share of the step at which it reaches 1 (infinite where it does not).

    Examples
    --------
    >>> clock, opens = timer_step(np.array([0.0]), np.array([-1.0]), np.array([1.0]), 0.25, 1.0)
    >>> float(opens[0])
    0.75
    """
    on_before, on_after = excess_before > 0, excess_after > 0
    change = excess_before - excess_after
    crossing = np.where(on_before == on_after, 0.0, excess_before / np.where(change == 0, 1.0, change))
    start = np.where(on_before, 0.0, crossing)
    end = np.where(on_after, 1.0, crossing)
    running = on_before | on_after
    begun = np.where(on_before, clock, 0.0)
    reached = np.where(running, begun + (end - start) * duration / delay, 0.0)
    opens = np.where(running & (reached >= 1), start + (1 - begun) * delay / duration, np.inf)
    return np.where(on_after, reached, 0.0), opens


__all__ = ["RULES", "Protection", "even_step", "inverse_time_step", "timer_step"]
