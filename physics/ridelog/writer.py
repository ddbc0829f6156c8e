"""Logs out: a synthetic log from the arrays of a run, and a cleaned log as CSV."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from physics.arrays import Floats
from physics.ridelog.cleaning import find_dropouts
from physics.ridelog.quantities import QUANTITIES
from physics.ridelog.report import LogReport, RideLog

# Standard deviation of one reading: what plain loggers and GPS receivers show. Common practice, no source.
USUAL_NOISE = {
    "speed": 0.08,
    "pack_voltage": 0.1,
    "line_current": 0.5,
    "phase_current": 1.0,
    "motor_speed": 0.5,
    "throttle": 0.002,
    "altitude": 0.5,
    "motor_temperature": 0.3,
    "controller_temperature": 0.3,
    "pack_temperature": 0.3,
    "latitude_deg": 1e-5,
    "longitude_deg": 1e-5,
}


def synthetic_log(
    time: ArrayLike,
    speed: ArrayLike,
    voltage: ArrayLike | None = None,
    current: ArrayLike | None = None,
    *,
    others: dict[str, Floats] | None = None,
    noise: dict[str, float] | float | None = None,
    sample_rate: float = 10.0,
    dropouts: int = 0,
    dropout_length: float = 2.0,
    seed: int = 0,
) -> RideLog:
    """Make a ride log from the arrays of a run, as a logger would have written it.

    The arrays are read off in straight lines at the sample rate, each reading gets its own normal noise, and the
    speed is lost (nan) in `dropouts` stretches. The same seed gives the same log.

    Parameters
    ----------
    time : array, shape (n,), s
        Increasing.
    speed : array, shape (n,), m/s
        Speed over the ground.
    voltage : array, shape (n,), V, optional
        Pack voltage under load.
    current : array, shape (n,), A, optional
        Line current, discharge positive.
    others : dict of str to array, optional
        More quantities, in SI, by their names in `QUANTITIES`.
    noise : dict of str to float, or 0, optional
        Standard deviation by quantity; `USUAL_NOISE` where not given; 0 for none at all.
    sample_rate : float, 1/s
        Readings a second, above zero.
    dropouts : int
        Stretches without speed, zero or more.
    dropout_length : float, s
        Length of each.
    seed : int
        Of the noise and the places of the dropouts.

    Returns
    -------
    RideLog

    Raises
    ------
    ValueError
        When time does not increase, a rate is not above zero, or a quantity is not known.

    Examples
    --------
    >>> log = synthetic_log([0.0, 10.0], [0.0, 20.0], noise=0, sample_rate=1.0)
    >>> log.frame["speed"].tolist()[:3], len(log.frame)
    ([0.0, 2.0, 4.0], 11)
    """
    t = np.asarray(time, float)
    if t.ndim != 1 or t.size < 2 or not (np.diff(t) > 0.0).all():
        raise ValueError("Time must be one increasing array of at least two values.")
    if not 0.0 < sample_rate < np.inf:
        raise ValueError(f"The sample rate must be above zero; it was {sample_rate!r}.")
    given = {"speed": speed, "pack_voltage": voltage, "line_current": current, **(others or {})}
    rng = np.random.default_rng(seed)
    count = int(np.floor((t[-1] - t[0]) * sample_rate + 1e-9)) + 1
    when = np.arange(count) / sample_rate
    columns = {"time": when}
    usual = {} if noise == 0 else USUAL_NOISE | (noise if isinstance(noise, dict) else {})
    for name in QUANTITIES:
        values = given.pop(name, None)
        if values is None or name == "time":
            continue
        x = np.asarray(values, float)
        if x.shape != t.shape:
            raise ValueError(f"{name} has shape {x.shape}, time has {t.shape}; they must be alike.")
        spread = usual.get(name, 0.0)
        columns[name] = np.interp(when + t[0], t, x) + rng.normal(0.0, 1.0, count) * spread
    unknown = [name for name in given if name not in QUANTITIES]
    if unknown:
        raise ValueError(f"No quantity is called {unknown[0]!r}; accepted are {', '.join(QUANTITIES)}.")
    for _ in range(int(dropouts)):
        start = rng.uniform(0.0, max(when[-1] - dropout_length, 0.0))
        columns["speed"][(when >= start) & (when < start + dropout_length)] = np.nan
    frame = pd.DataFrame({name: columns[name] for name in ("time", *QUANTITIES) if name in columns})
    missing = tuple((str(name), int(n)) for name, n in frame.isna().sum().items() if n)
    report = LogReport(
        "synthetic",
        rows_read=count,
        rows_kept=count,
        missing=missing,
        dropouts=find_dropouts(frame),
        notes=("Made from a run, not measured.",),
    )
    return RideLog(frame, report)


def write_csv(log: RideLog, *, delimiter: str = ",", decimal: str = ".") -> str:
    """Return a cleaned log as CSV text, the unit in every column name.

    What it writes, `read_log` reads back as the same log, to ten digits.

    Parameters
    ----------
    log : RideLog
        Any.
    delimiter : str
        Between columns.
    decimal : str
        "." or ",".

    Returns
    -------
    str
        A header line and one line for each instant.

    Raises
    ------
    ValueError
        When delimiter and decimal mark are the same.

    Examples
    --------
    >>> log = synthetic_log([0.0, 1.0], [0.0, 20.0], noise=0, sample_rate=1.0)
    >>> write_csv(log, delimiter=";", decimal=",").splitlines()
    ['time (s);speed (m/s)', '0;0', '1;20']
    """
    if delimiter == decimal:
        raise ValueError("The delimiter and the decimal mark must differ.")
    header = [f"{name} ({QUANTITIES[name].unit})" for name in log.frame.columns]
    return log.frame.to_csv(
        index=False, sep=delimiter, decimal=decimal, header=header, float_format="%.10g", lineterminator="\n"
    )
