"""Where inside a step something changed, so that the next try of the step ends there.

A step over the moment at which another limit takes over, a rule's condition begins or the pack opens goes on from a
wrong path. What its end shows tells about where that moment was, and a shorter try lands just behind it.
"""

import numpy as np

OVERSHOOT = 0.5
"""How much of what is allowed as surprise a try may take up that lands behind a change of limit."""

LEAST_SHARE, MOST_SHARE = 0.2, 0.7
"""Of a step that went too far over a change of limit: between these the next try ends."""


def share_at_kink(duration, apart, bend, strays, tried):
    """Share of a step at which the acceleration left the path it was on.

    The first time it follows from how far the two paths are apart at the end of the step and how fast they part
    there; later from how that changed since the try before, as the secant method does, or where that leads nowhere
    as if voltage strayed with the root of time.

    Parameters
    ----------
    duration : array, shape (n,), s
        Of the step.
    apart : array, shape (n,), m/s2
        Acceleration at its end less what the path led to.
    bend : array, shape (n,), m/s3
        How fast acceleration changes at its end less how fast it did on the path.
    strays : array, shape (n,)
        How far the pack's voltage is at its end from where its path led to.
    tried : array, shape (2, n)
        Duration and straying of a longer try of the same step before; zero where there was none.

    Returns
    -------
    array, shape (n,)
        Between 0 and 1; the middle where nothing tells.

    Examples
    --------
    >>> one = np.ones(1)
    >>> share_at_kink(one, -1.0 * one, -4.0 * one, 9.0 * one, np.zeros((2, 1)))
    array([0.75])
    """
    longer, before = tried
    again = before > 0
    with np.errstate(divide="ignore", invalid="ignore"):
        after = apart / bend
        if np.count_nonzero(again):
            by_line = strays * (longer - duration) / (before - strays)
            by_root = strays * strays * (longer - duration) / (before * before - strays * strays)
            after = np.where(again, np.where(by_line > duration, by_root, by_line), after)
    share = 1 - after / duration
    return np.where((share > 0) & (share < 1), share, 0.5)


def share_to_land(share, surprise):
    """Share of a step that went too far at which its next try ends: a little behind a change of limit.

    Parameters
    ----------
    share, surprise : array, shape (n,)
        Where the limit changed; how far the end of the step was from what the step took it to be.

    Returns
    -------
    array, shape (n,)
        Between LEAST_SHARE and MOST_SHARE.

    Examples
    --------
    >>> share_to_land(np.array([0.5, 0.9]), np.array([5.0, 5.0]))
    array([0.55, 0.7 ])
    """
    behind = (1 - share) * OVERSHOOT / np.maximum(surprise, 1.0)
    return np.minimum(np.maximum(share + behind, LEAST_SHARE), MOST_SHARE)


def share_at_turn(before, after):
    """Share of a step at which the first of some signals changes its sign, each linear within the step.

    Parameters
    ----------
    before, after : array, shape (k, n)
        At both ends of the step.

    Returns
    -------
    array, shape (n,)
        Infinite where none changes its sign.

    Examples
    --------
    >>> share_at_turn(np.array([[-1.0, -1.0]]), np.array([[3.0, -0.5]]))
    array([0.25,  inf])
    """
    turns = (before > 0) != (after > 0)
    return np.where(turns, before / np.where(turns, before - after, 1.0), np.inf).min(axis=0)
