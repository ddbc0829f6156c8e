"""Least squares with honest spread: the one fitting path behind the speedometer and the ride-log fits.

Every fit of the package ends here: values, standard errors, 95 % intervals, correlations and a
plain sentence that says whether the readings determine the values at all.

Sources
-------
N. R. Draper, H. Smith, Applied Regression Analysis, 3rd ed., Wiley 1998, chapters 1, 5 and 8 (least
squares, covariance; from memory).
P. J. Huber, E. M. Ronchetti, Robust Statistics, 2nd ed., Wiley 2009, section 7.6 (covariance of a
robust estimate; from memory).
H. J. Thiebaux, F. W. Zwiers, "The interpretation and estimation of effective sample size", Journal
of Climate and Applied Meteorology 23 (1984) 800-811 (n / tau; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import least_squares
from scipy.special import stdtrit

from physics.arrays import Floats
from physics.fitting.result import (
    CANNOT_TELL,
    FITTED,
    FITTED_BUT_CORRELATED,
    NOT_CONVERGED,
    TOO_FEW,
    FitResult,
    failed,
)

STRONG_CORRELATION = 0.9
LARGEST_CONDITION = 1e8
# An interval of more than about plus or minus 60 % is no answer to a builder: a choice of this package.
LARGEST_RELATIVE_ERROR = 0.30
MOST_MEMORY = 0.99  # from one reading to the next; beyond it nothing could be told from any log


def autocorrelation_time(residuals: ArrayLike, fitted: int = 0) -> float:
    """Return how many successive readings carry the information of one independent reading, 1 or more.

    tau = 1 + 2 (r1 + r2 + ... + rM), r the sample autocorrelation and M the first lag with M >= 5 tau(M), the
    self-consistent window of A. D. Sokal, "Monte Carlo methods in statistical mechanics", in Functional
    Integration, Plenum 1997, section 3 (from memory). The effective number of readings is n / tau (Thiebaux and
    Zwiers 1984). A fit of k smooth terms takes the slowest part out of the residuals, about k tau / n of their
    variance at every lag, so each r is put back to r (1 - a) + a with a = k tau / n before summing (derived here).

    A sum cut off there still falls short where only a few independent readings are left. So the answer is never
    less than that of a memory that goes on fading as it began: with L the first lag with r below one half, each
    r put back by (1 + k) (1 + r) / n for what the fit took out (for a single mean F. H. C. Marriott and J. A.
    Pope, "Bias in the estimation of autocorrelations", Biometrika 41 (1954) 390-402, have (1 + 4 r) / n, from
    memory; for k smooth terms found here by trial), it is 1 + 2 (r1 + ... + r2L) and the geometric rest beyond,
    at rL^(1/L) a lag. With noise of memory 0 to 0.95 from sample to sample, 95 % intervals of a coast-down's
    drag area then held the truth in 92 to 97 % of 200 logs.

    Parameters
    ----------
    residuals : array, shape (n,)
        Residuals in the order of time, evenly spaced. Fewer than 20 return 1.
    fitted : int
        k, how many terms were fitted to get these residuals.

    Returns
    -------
    float
        Between 1 (independent) and n / 3.

    Examples
    --------
    >>> round(autocorrelation_time([1.0, -1.0] * 50), 3)
    1.0
    """
    x = np.asarray(residuals, float)
    n = x.size
    if n < 20:
        return 1.0
    x = x - x.mean()
    if not float(x @ x) > 0.0:
        return 1.0
    size = 1 << (2 * n - 1).bit_length()
    spectrum = np.fft.rfft(x, size)
    covariance = np.fft.irfft(spectrum * np.conj(spectrum), size)[:n]
    lag = np.arange(n)
    tau = 2.0 * np.cumsum(covariance / covariance[0]) - 1.0
    tau = tau / np.clip(1.0 - fitted * (2.0 * lag + 1.0 - tau) / n, 0.25, 1.0)
    inside = lag >= 5.0 * np.maximum(tau, 1.0)
    stop = int(np.argmax(inside)) if inside.any() else n // 10
    return float(np.clip(max(tau[stop], _fading_on(covariance / covariance[0], fitted)), 1.0, n / 3.0))


def _fading_on(correlation: Floats, fitted: int) -> float:
    """The autocorrelation time of a memory that goes on fading as it began."""
    n = correlation.size
    low = correlation < 0.5
    half = min(int(np.argmax(low)) if low.any() else n // 10, (n - 1) // 2)
    back = np.clip(correlation + (1 + fitted) * (1.0 + correlation) / n, None, MOST_MEMORY)
    time = 1.0 + 2.0 * float(back[1 : 2 * half + 1].sum())
    if back[2 * half] > 0.0 and back[half] > 0.0:
        fade = float(back[half]) ** (1.0 / half)
        time += 2.0 * float(back[2 * half]) * fade / (1.0 - fade)
    return time


def summarise(
    names: Sequence[str],
    values: ArrayLike,
    normal_inverse: Floats,
    residual_variance: float,
    residuals: ArrayLike,
    *,
    in_time_order: bool = False,
    influence: Floats | None = None,
    converged: bool = True,
    largest_relative_error: float = LARGEST_RELATIVE_ERROR,
    judged: Sequence[str] | None = None,
) -> FitResult:
    """Turn an estimate and its inverse normal matrix into a FitResult.

    Parameters
    ----------
    names : sequence of str
        Names of the values.
    values : array, shape (k,)
        Estimates.
    normal_inverse : array, shape (k, k)
        Inverse of J^T J at the solution.
    residual_variance : float
        Variance of one reading about the fit.
    residuals : array, shape (n,)
        Observed minus fitted.
    in_time_order : bool
        True inflates the covariance by the autocorrelation time of the residuals.
    influence : array, shape (n,), optional
        What each residual weighs in a robust fit; stands in for the residuals when they are compared in time.
    converged : bool
        What the solver said.
    largest_relative_error : float
        Standard error over value beyond which the verdict is "this log cannot tell".
    judged : sequence of str, optional
        Names held to that limit; all by default.

    Returns
    -------
    FitResult
        With the verdict in its status and message.
    """
    names = tuple(names)
    values = np.asarray(values, float)
    residuals = np.asarray(residuals, float)
    n, k = residuals.size, len(names)
    tau = autocorrelation_time(residuals if influence is None else influence, k) if in_time_order else 1.0
    effective = n / tau
    free = max(effective - k, 1.0)
    # The residual variance is over n - k; with fewer independent readings it is over effective - k.
    scale = tau * (n - k) / n * effective / free if n > k else tau
    covariance = np.asarray(normal_inverse, float) * residual_variance * scale
    error = np.sqrt(np.clip(np.diag(covariance), 0.0, None))
    reach = float(stdtrit(free, 0.975)) * error
    with np.errstate(invalid="ignore", divide="ignore"):
        correlation = np.clip(covariance / np.outer(error, error), -1.0, 1.0)
        relative = error / np.abs(values)
    correlation = np.where(np.isfinite(correlation), correlation, np.eye(k))
    pairs = tuple(
        (names[i], names[j], float(correlation[i, j]))
        for i in range(k)
        for j in range(i + 1, k)
        if abs(correlation[i, j]) > STRONG_CORRELATION
    )
    judged = names if judged is None else tuple(judged)
    vague = [
        name for name, r in zip(names, relative, strict=True) if name in judged and not r <= largest_relative_error
    ]
    if not converged:
        status, message = NOT_CONVERGED, "The fit did not settle; the values are where it stopped."
    elif vague:
        status = CANNOT_TELL
        message = (
            f"This log cannot tell {' and '.join(v.replace('_', ' ') for v in vague)}: the standard "
            f"error is more than {largest_relative_error:.0%} of the value."
        )
    elif pairs:
        status = FITTED_BUT_CORRELATED
        one, other, r = pairs[0]
        message = (
            f"Fitted, but {one.replace('_', ' ')} and {other.replace('_', ' ')} are strongly "
            f"correlated ({r:+.2f}): the log fixes the two together better than either alone."
        )
    else:
        status, message = FITTED, "Fitted."
    return FitResult(
        names,
        values,
        error,
        np.column_stack([values - reach, values + reach]),
        correlation,
        pairs,
        residuals,
        n,
        float(effective),
        status,
        message,
        tuple(vague),
    )


def _soft_l1(
    design: Floats, response: Floats, start: Floats, scale: float
) -> tuple[Floats, Floats, Floats, float, bool]:
    """Solve with the soft_l1 loss; return values, residuals, influence and Huber's variance."""
    solution = least_squares(
        lambda b: response - design @ b,
        start,
        jac=lambda b: -design,
        loss="soft_l1",
        f_scale=scale,
        x_scale="jac",
    )
    residuals = response - design @ solution.x
    stretch = 1.0 + (residuals / scale) ** 2
    influence = residuals / np.sqrt(stretch)
    slope = float(np.mean(stretch**-1.5))
    n, k = design.shape
    variance = float(influence @ influence) / (n - k) / slope**2
    return solution.x, residuals, influence, variance, solution.status > 0


def linear_fit(
    design: ArrayLike,
    response: ArrayLike,
    names: Sequence[str],
    *,
    loss: str = "linear",
    in_time_order: bool = False,
    largest_relative_error: float = LARGEST_RELATIVE_ERROR,
    judged: Sequence[str] | None = None,
) -> FitResult:
    """Fit response = design @ values by least squares.

    Columns are scaled to length one and solved by QR. With ``loss="soft_l1"`` the plain answer
    starts scipy.optimize.least_squares with that robust loss, its scale 1.345 times the
    residuals' median absolute deviation over 0.6745; the spread is then Huber's.

    Parameters
    ----------
    design : array, shape (n, k) or (n,)
        One column a value; a column of ones is the intercept, none means through the origin.
    response : array, shape (n,)
        What was read.
    names : sequence of str
        Names of the k values.
    loss : {"linear", "soft_l1"}
        Plain or robust.
    in_time_order : bool
        True when the rows follow one another in time: the spread then allows for autocorrelation.
    largest_relative_error : float
        See `summarise`.
    judged : sequence of str, optional
        See `summarise`.

    Returns
    -------
    FitResult
        Rows with a value that is not finite are left out and not counted in n.

    Raises
    ------
    ValueError
        When the loss is not known, or design, response and names do not fit together.

    Examples
    --------
    >>> fit = linear_fit([1.0, 2.0, 3.0], [2.0, 4.0, 6.0], ["slope"])
    >>> round(fit.value("slope"), 12), fit.status
    (2.0, 1)
    """
    if loss not in ("linear", "soft_l1"):
        raise ValueError(f"The loss is {loss!r}; accepted are 'linear' and 'soft_l1'.")
    names = tuple(names)
    x = np.asarray(design, float)
    x = x[:, None] if x.ndim == 1 else x
    y = np.asarray(response, float)
    if x.shape != (y.size, len(names)):
        raise ValueError(
            f"The design has shape {x.shape}; {y.size} readings and {len(names)} values need "
            f"({y.size}, {len(names)})."
        )
    whole = np.isfinite(x).all(axis=1) & np.isfinite(y)
    x, y = x[whole], y[whole]
    n, k = x.shape
    if n <= k:
        return failed(names, n, TOO_FEW, f"{n} readings are too few; at least {k + 1} are needed.")
    length = np.sqrt(np.sum(x**2, axis=0))
    if not (np.isfinite(length).all() and (length > 0.0).all()):
        return failed(names, n, CANNOT_TELL, "This log cannot tell: one of the inputs never differs from zero.")
    scaled = x / length
    q, r = np.linalg.qr(scaled)
    condition = float(np.linalg.cond(r))
    if not condition < LARGEST_CONDITION:
        return failed(
            names,
            n,
            CANNOT_TELL,
            "This log cannot tell: the readings do not vary enough to "
            f"separate {' and '.join(v.replace('_', ' ') for v in names)}.",
        )
    values = np.linalg.solve(r, q.T @ y)
    residuals = y - scaled @ values
    variance = float(residuals @ residuals) / (n - k)
    converged, influence = True, None
    if loss == "soft_l1":
        middle = float(np.median(np.abs(residuals - np.median(residuals))))
        scale = 1.345 * middle / 0.6745
        if scale > 1e-12 * float(np.max(np.abs(y))):
            values, residuals, influence, variance, converged = _soft_l1(scaled, y, values, scale)
    inverse = np.linalg.inv(r)
    normal_inverse = (inverse @ inverse.T) / np.outer(length, length)
    return summarise(
        names,
        values / length,
        normal_inverse,
        variance,
        residuals,
        in_time_order=in_time_order,
        influence=influence,
        converged=converged,
        largest_relative_error=largest_relative_error,
        judged=judged,
    )
