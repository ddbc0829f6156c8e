"""The line limit that really acts, from the current of a ride log."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from physics.fitting.regression import autocorrelation_time
from physics.fitting.result import CANNOT_TELL, TOO_FEW, FitResult, failed

# Choices of this package, stated so that a reader can disagree.
SMALLEST_PEAK = 5.0  # A: below it hardly any current is drawn
TOP_FRACTION = 0.8  # of the 99th percentile: where a plateau is looked for
PLATEAU_WIDTH = (0.02, 0.05)  # of the level, the narrowest and the widest
PLATEAU_FRACTION = 0.4  # of the samples above; the crest of a sine puts 0.31 there
NORMAL_95 = 1.959964  # standard deviations to either side of a mean that hold 95 % of normal readings


def effective_line_limit(current: ArrayLike, *, at_least: int = 10) -> FitResult:
    """Find the line-current limit that really acts: the plateau against which the current leans.

    Among the samples above 0.8 of the 99th percentile the densest band is sought, 2 % of the level wide or three
    times the noise from sample to sample, at most 5 %. It counts as a plateau when it holds 40 % of those samples
    and twice what an even spread would put there, and at least `at_least`; the limit is their median.

    Parameters
    ----------
    current : array, shape (n,), A
        Line current, discharge positive, in the order of time.
    at_least : int
        Samples a plateau must hold.

    Returns
    -------
    FitResult
        line_limit (A). Status -2 when the current never leans on a limit.

    Examples
    --------
    >>> ramp = np.minimum(np.linspace(0.0, 300.0, 301), 200.0)
    >>> round(effective_line_limit(ramp).value("line_limit"), 6)
    200.0
    """
    names = ("line_limit",)
    i = np.asarray(current, float).ravel()
    i = i[np.isfinite(i)]
    if i.size < 2 * at_least:
        return failed(names, int(i.size), TOO_FEW, f"{i.size} samples of line current are too few.")
    peak = float(np.percentile(i, 99))
    if not peak > SMALLEST_PEAK:
        return failed(names, int(i.size), CANNOT_TELL, "This log cannot tell: hardly any current is drawn.")
    high = i > TOP_FRACTION * peak
    top = i[high]
    steps = np.diff(i)[high[1:] & high[:-1]]
    noise = 1.4826 * float(np.median(np.abs(steps))) / np.sqrt(2.0) if steps.size else 0.0
    width = float(np.clip(3.0 * noise / peak, *PLATEAU_WIDTH))
    ordered = np.sort(top)
    inside = np.searchsorted(ordered, ordered * (1.0 + width), side="right") - np.arange(ordered.size)
    first = int(np.argmax(inside))
    count = int(inside[first])
    if count < max(at_least, max(PLATEAU_FRACTION, 2.0 * width / (1.0 - TOP_FRACTION)) * top.size):
        return failed(
            names,
            int(i.size),
            CANNOT_TELL,
            "This log cannot tell: the line current never stays against one value. Something else "
            "held the bike back, or the pulls were short.",
        )
    plateau = top[(top >= ordered[first]) & (top <= ordered[first + count - 1])]
    level = float(np.median(plateau))
    # The spread of a median is sqrt(pi / 2) times that of a mean for normal readings; the band cuts the tails, so
    # the noise from sample to sample is its floor.
    spread = max(float(np.std(plateau)), noise)
    tau = autocorrelation_time(plateau)
    error = np.array([spread * np.sqrt(np.pi / 2 * tau / count)])
    value = np.array([level])
    reach = NORMAL_95 * error
    return FitResult(
        names,
        value,
        error,
        np.column_stack([value - reach, value + reach]),
        np.eye(1),
        (),
        plateau - level,
        count,
        count / tau,
        1,
        f"The line current leans on {level:.0f} A in {count} samples.",
    )
