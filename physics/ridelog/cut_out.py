"""Cut-outs in a log: the moment the line current falls to nothing under throttle, and the rule behind it.

A cut-out is the pack saying where its limit is: the remedy is a lower line limit or a better pack, never a
protection taken out of the way.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from physics.limits import CONTINUOUS_CURRENT, FAST_OVER_CURRENT, PACK_TEMPERATURE, RULES, UNDER_VOLTAGE
from physics.ridelog.cleaning import stretches
from physics.ridelog.report import RideLog

# Choices of this package.
SMALLEST_CURRENT = 10.0  # A before
NOTHING = 2.0  # A after, at the least: what a sensor's offset and noise leave of no current
FALL_TIME = 0.5  # s
FALL_FRACTION = (
    0.6  # of the highest current in the second and a half before must still flow in the last half second
)
OFF_TIME = 1.0  # s
THROTTLE_HELD = 0.10
NEAR = 0.03  # a threshold counts as reached from 3 % away: the log may miss the extreme


@dataclass(frozen=True)
class CutOutLimits:
    """The pack protection's thresholds as far as they are known.

    Parameters
    ----------
    under_voltage : float, V, optional
        Pack voltage below which it opens (cells in series x the cell threshold).
    fast_current : float, A, optional
        Line current above which it opens at once.
    continuous_current : float, A, optional
        Line current it carries for ever.
    continuous_time : float, s
        How long it may be passed; the mean over this long is compared.
    highest_temperature, lowest_temperature : float, K, optional
        Pack temperatures at which discharge stops.
    """

    under_voltage: float | None = None
    fast_current: float | None = None
    continuous_current: float | None = None
    continuous_time: float = 10.0
    highest_temperature: float | None = None
    lowest_temperature: float | None = None

    @property
    def known(self) -> bool:
        """Whether there is any threshold to compare with."""
        return any(
            threshold is not None
            for threshold in (
                self.under_voltage,
                self.fast_current,
                self.continuous_current,
                self.highest_temperature,
                self.lowest_temperature,
            )
        )


@dataclass(frozen=True)
class CutOut:
    """One cut-out.

    Parameters
    ----------
    time : float, s
        When the current was gone.
    row : int
        That row of the frame.
    voltage_before, current_before : float, V and A
        Lowest voltage and highest current in the half second before; voltage nan if the log has none.
    voltage_after : float, V
        Half a second later.
    voltage_course : str
        "recovers" (logged at the pack), "collapses" (logged behind the protection) or "unknown".
    certain : bool
        True when the throttle is in the log and stayed open.
    near : tuple of str
        Those of `physics.limits.RULES` whose thresholds were near, the one passed furthest first.
    reason : str
        Why, in a sentence.
    """

    time: float
    row: int
    voltage_before: float
    current_before: float
    voltage_after: float
    voltage_course: str
    certain: bool
    near: tuple[str, ...]
    reason: str

    @property
    def likely_rule(self) -> str | None:
        """The rule whose threshold was passed furthest."""
        return self.near[0] if self.near else None


def _near(
    limits: CutOutLimits, voltage: float, current: float, mean_current: float, temperature: float
) -> tuple[tuple[str, ...], str]:
    """Return (rules, reason) from how far each known threshold was passed, the furthest first."""
    reached = []

    def compare(rule: int, measured: float, threshold: float | None, unit: str, below: bool, of: str = "") -> None:
        if not threshold or not np.isfinite(measured):  # a threshold of nothing is off
            return
        past = (threshold - measured) / abs(threshold) if below else (measured - threshold) / abs(threshold)
        if past >= -NEAR:
            zero = 273.15 if unit == "°C" else 0.0
            reason = f"{measured - zero:.1f} {unit}{of} against a threshold of {threshold - zero:.1f} {unit}"
            reached.append((past, RULES[rule], reason))

    compare(UNDER_VOLTAGE, voltage, limits.under_voltage, "V", True)
    compare(FAST_OVER_CURRENT, current, limits.fast_current, "A", False)
    compare(CONTINUOUS_CURRENT, mean_current, limits.continuous_current, "A", False, " on average")
    # Temperatures are compared in kelvin, where 3 % is 9 K: only a passed threshold counts.
    if limits.highest_temperature is not None and temperature >= limits.highest_temperature:
        compare(PACK_TEMPERATURE, temperature, limits.highest_temperature, "°C", False)
    if limits.lowest_temperature is not None and temperature <= limits.lowest_temperature:
        compare(PACK_TEMPERATURE, temperature, limits.lowest_temperature, "°C", True)
    if not reached:
        return (), "No threshold given was near." if limits.known else "No threshold was given to compare with."
    reached.sort(reverse=True)
    rules = tuple(rule for _, rule, _ in reached)
    also = f"; also near: {', '.join(rules[1:])}" if rules[1:] else ""
    return rules, f"{reached[0][2]}{also}."


def find_cut_out(
    log: RideLog, limits: CutOutLimits | None = None, *, standing_speed: float = 1.0
) -> tuple[CutOut, ...]:
    """Find where the line current falls from drive to nothing within half a second and stays there a second.

    With the throttle in the log it must stay open by a tenth. Without it a throttle shut quickly looks just the
    same: where thresholds are given one of them must have been near, and the result says it is not certain. A stop
    at the lights is not a cut-out: the bike must be moving. Of readings further apart than half a second the last
    one before counts, up to a second and a half.

    Parameters
    ----------
    log : RideLog
        With line current; voltage, throttle, speed and pack temperature sharpen the answer.
    limits : CutOutLimits, optional
        Thresholds for the likely rule.
    standing_speed : float, m/s
        Below it nothing counts, where the log has speed.

    Returns
    -------
    tuple of CutOut
        In the order of time; empty when there is none or the log has no line current.

    Examples
    --------
    >>> from physics.ridelog.writer import synthetic_log
    >>> t = np.arange(0.0, 10.0, 0.1)
    >>> on = t < 5.0
    >>> log = synthetic_log(t, np.full(100, 20.0), np.where(on, 68.0, 80.0), np.where(on, 150.0, 0.0),
    ...                     others={"throttle": np.ones(100)}, noise=0)
    >>> [(round(c.time, 1), c.likely_rule) for c in find_cut_out(log, CutOutLimits(under_voltage=68.0))]
    [(5.0, 'under-voltage')]
    """
    limits = limits or CutOutLimits()
    if not log.holds("line_current"):
        return ()
    t, i = log.column("time"), log.column("line_current")
    u, throttle, v = (log.column(name) for name in ("pack_voltage", "throttle", "speed"))
    hot = log.column("pack_temperature")
    if not np.isfinite(i).any():
        return ()
    floor = max(SMALLEST_CURRENT, 0.1 * float(np.nanpercentile(i, 99)))
    zero = max(NOTHING, 0.1 * floor)
    cut_outs = []
    for first, last in stretches(np.abs(i) <= zero):
        if first == 0:
            continue
        end = last if last < t.size else t.size - 1
        if t[end] - t[first] < OFF_TIME:
            continue

        def back(seconds: float, first: int = first) -> slice:
            return slice(min(int(np.searchsorted(t, t[first] - seconds)), first - 1), first)

        # A throttle let go takes its time: a cut-out is from drive to nothing in half a second.
        before = back(FALL_TIME)
        if t[first] - t[first - 1] > 3.0 * FALL_TIME:
            continue  # what was in the gap is not known
        top = np.nanmax(i[before], initial=-np.inf)
        if not top > max(floor, FALL_FRACTION * np.nanmax(i[back(3.0 * FALL_TIME)], initial=-np.inf)):
            continue
        after = slice(first, int(np.searchsorted(t, t[first] + FALL_TIME, side="right")))
        if np.isfinite(v[after]).any() and not np.nanmedian(v[after]) > standing_speed:
            continue
        known = np.isfinite(throttle[after]).any()
        if known and not np.nanmin(throttle[after]) > THROTTLE_HELD:
            continue
        lowest = float(np.nanmin(u[before])) if np.isfinite(u[before]).any() else np.nan
        highest = float(top)
        later = float(u[after][np.isfinite(u[after])][-1]) if np.isfinite(u[after]).any() else np.nan
        course = "unknown"
        if np.isfinite(lowest) and np.isfinite(later):
            course = "collapses" if later < 0.7 * lowest else "recovers" if later > lowest else "unknown"
        mean = float(np.nanmean(i[back(limits.continuous_time)]))
        warm = hot[before][np.isfinite(hot[before])]
        near, reason = _near(limits, lowest, highest, mean, float(warm[-1]) if warm.size else np.nan)
        if not known and limits.known and not near:
            continue
        if not known:
            reason += " The throttle is not in the log: a throttle shut quickly looks the same."
        cut_outs.append(CutOut(float(t[first]), first, lowest, highest, later, course, bool(known), near, reason))
    return tuple(cut_outs)
