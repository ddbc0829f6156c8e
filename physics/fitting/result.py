"""What a fit returns: values with their spread, and whether the readings hold them at all."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

FITTED = 1
FITTED_BUT_CORRELATED = 2
NOT_CONVERGED = 0
TOO_FEW = -1
CANNOT_TELL = -2


@dataclass(frozen=True)
class FitResult:
    """Outcome of a fit.

    Parameters
    ----------
    names : tuple of str
        What was fitted, in the order of the arrays.
    values : ndarray, shape (k,)
        Fitted values, SI; nan when the data do not hold them at all.
    standard_error : ndarray, shape (k,)
        One standard deviation of each value, inflated for autocorrelated residuals where asked.
    interval : ndarray, shape (k, 2)
        Two-sided 95 % interval, Student t with `effective_n` - k degrees of freedom.
    correlation : ndarray, shape (k, k)
        Correlation of the estimates with one another.
    correlated : tuple of (str, str, float)
        Pairs with an absolute correlation above 0.9: the log fixes them together, not one by one.
    residuals : ndarray, shape (n,)
        Observed minus fitted.
    n : int
        Readings used.
    effective_n : float
        Readings that would carry as much if they were independent.
    status : int
        1 fitted; 2 fitted, two values strongly correlated; 0 not converged; -1 too few readings;
        -2 this log cannot tell.
    message : str
        The same in a sentence.
    unidentified : tuple of str
        Names the data do not hold well enough; the others may still be used, see `identifies`.
    """

    names: tuple[str, ...]
    values: np.ndarray
    standard_error: np.ndarray
    interval: np.ndarray
    correlation: np.ndarray
    correlated: tuple[tuple[str, str, float], ...]
    residuals: np.ndarray
    n: int
    effective_n: float
    status: int
    message: str
    unidentified: tuple[str, ...] = ()

    @property
    def success(self) -> bool:
        """True when the values may be used."""
        return self.status > 0

    @property
    def residual_standard_deviation(self) -> float:
        """Root of the residual sum of squares over n - k."""
        free = self.n - len(self.names)
        return float(np.sqrt(np.sum(self.residuals**2) / free)) if free > 0 else float("nan")

    def _index(self, name: str) -> int:
        try:
            return self.names.index(name)
        except ValueError:
            held = ", ".join(self.names)
            raise KeyError(f"No fitted value is called {name!r}; this fit holds {held}.") from None

    def identifies(self, name: str) -> bool:
        """Return whether the value called `name` may be used, even where another of the same fit may not.

        Parameters
        ----------
        name : str
            One of `names`.
        """
        held = bool(np.isfinite(self.values[self._index(name)]))
        return held and self.status not in (NOT_CONVERGED, TOO_FEW) and name not in self.unidentified

    def value(self, name: str) -> float:
        """Return the fitted value called `name`.

        Parameters
        ----------
        name : str
            One of `names`.
        """
        return float(self.values[self._index(name)])

    def error(self, name: str) -> float:
        """Return the standard error of the value called `name`.

        Parameters
        ----------
        name : str
            One of `names`.
        """
        return float(self.standard_error[self._index(name)])

    def bounds(self, name: str) -> tuple[float, float]:
        """Return the 95 % interval of the value called `name`.

        Parameters
        ----------
        name : str
            One of `names`.
        """
        low, high = self.interval[self._index(name)]
        return float(low), float(high)


def failed(names: tuple[str, ...], n: int, status: int, message: str) -> FitResult:
    """Return a result without values.

    Parameters
    ----------
    names : tuple of str
        What would have been fitted.
    n : int
        Readings there were.
    status : int
        `TOO_FEW`, `CANNOT_TELL` or `NOT_CONVERGED`.
    message : str
        Why, in a sentence.

    Returns
    -------
    FitResult
        With that status; every value is NaN.
    """
    k = len(names)
    nothing = np.full(k, np.nan)
    return FitResult(
        names,
        nothing,
        nothing.copy(),
        np.full((k, 2), np.nan),
        np.full((k, k), np.nan),
        (),
        np.empty(0),
        n,
        float(n),
        status,
        message,
    )
