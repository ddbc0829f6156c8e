"""The pack in a ride log: rest voltage and the reference resistance that a build holds.

The logged current is let through the build's own pack model (ohmic part, resistor-capacitor pairs, temperature,
charge), so that what comes out is the number the build holds and not the resistance of that day.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from physics.arrays import Floats
from physics.build import Build
from physics.build.batch import Batch
from physics.components import cell
from physics.fitting.regression import linear_fit
from physics.fitting.result import CANNOT_TELL, TOO_FEW, FitResult, failed
from physics.ridelog.report import RideLog
from physics.ridelog.segments import running_mean
from physics.simulation.plant import SECONDS_PER_HOUR, PackModel

NAMES = ("rest_voltage", "resistance")
NOTHING_FLOWS = 2.0  # A, and no more than that counts as no load
SMALLEST_SWING = 5.0  # A
COLLAPSED = 0.6  # of the median voltage: below it the log looks behind an open protection
WARMS_OVER = 10.0  # s over which a logged pack temperature is averaged: a pack is slow, its reading is noisy
NOTICED_CHARGE = 0.03  # of capacity drawn: from here the fall of the rest voltage is fitted too
LEFT_OPEN = 0.001  # of the resistance: what ten readings a second leave open of a step of current; a choice
MOST_ROWS = 40_000  # of more, every second, third, ... is fitted
ROUNDS = 5
LEAST_CHANGE = 0.3  # of the resistance from one round to the next
RESISTANCE_STEP = 0.01  # of the resistance, for what a little more of it would change
CHARGE_STEP = 0.002


def _filled(time: Floats, values: Floats) -> Floats:
    known = np.isfinite(values)
    return np.interp(time, time[known], values[known]) if known.any() else np.zeros(time.size)


def pack_course(
    build: Build,
    time: ArrayLike,
    current: ArrayLike,
    voltage: ArrayLike,
    pack_temperature: ArrayLike | None = None,
    start_charge: float | None = None,
) -> tuple[Floats, Floats, Floats]:
    """Let a logged current run through a build's pack model.

    Rest voltage U(q) falls with the charge drawn; the sag is R x(t), R the reference resistance at the current the
    build says it was measured with, and x the current seen through the ohmic share, the resistor-capacitor pairs
    and charge transfer, each times its factor of temperature and charge. Charge transfer is not linear in current,
    so x is that of the build's own resistance.
    Where no pack temperature was logged, the heat (U - voltage) x current warms the pack from its start, and the
    air cools it.

    Parameters
    ----------
    build : Build
        Its chemistry, capacity, cells and heat capacity are taken as they are.
    time : array, shape (n,), s
        Increasing.
    current : array, shape (n,), A
        Line current, gaps (nan) bridged in a straight line.
    voltage : array, shape (n,), V
        Pack voltage; only for the heat.
    pack_temperature : array, shape (n,), K, optional
        As logged.
    start_charge : float, optional
        Charge at the first sample; the build's if not given.

    Returns
    -------
    (rest_voltage, sag_per_ohm, charge) : arrays, shape (n,)
        V, A and 0 to 1.

    Examples
    --------
    >>> from physics.build import example_build
    >>> t = np.arange(0.0, 10.01, 0.1)
    >>> current, voltage = np.full(t.size, 100.0), np.full(t.size, 95.0)
    >>> rest, x, charge = pack_course(example_build(), t, current, voltage, start_charge=0.5)
    >>> bool((np.diff(x) >= 0).all() and (np.diff(rest) <= 0).all()), round(float(charge[-1]), 4)
    (True, 0.4893)
    """
    batch = Batch.of(build)
    pack = PackModel(batch)
    t = np.asarray(time, float)
    i = _filled(t, np.asarray(current, float))
    q0 = float(batch["conditions.charge"][0] if start_charge is None else start_charge)
    step = np.diff(t)
    drawn = np.concatenate([[0.0], np.cumsum(step * 0.5 * (i[1:] + i[:-1]))])
    capacity = batch["pack.capacity_ah"][0] * SECONDS_PER_HOUR
    charge = np.clip(q0 - drawn / capacity, 0.0, 1.0)
    series, kind = build.pack.cells_in_series, build.pack.chemistry
    rested = series * cell.open_circuit_voltage(kind, charge)
    logged = None if pack_temperature is None else np.asarray(pack_temperature, float)
    if logged is not None and np.isfinite(logged).any():
        count = int(np.clip(np.round(WARMS_OVER / max(float(np.median(step)), 1e-3)), 1, t.size)) | 1
        warm = running_mean(_filled(t, logged), count)
    else:
        warm = warmed(batch, t, i, rested - _filled(t, np.asarray(voltage, float)))
    _, _, factor, transfer = pack.take(np.zeros(t.size, dtype=int)).evaluate(charge, warm)
    reference = batch["pack.resistance"][0] * batch["pack.resistance_growth"][0]
    driven = factor * i
    sag = pack.ohmic[0] * driven + transfer.voltage(i)
    for settled, constant in zip(pack.pairs[:, 0], pack.pair_times[:, 0], strict=True):
        sag = sag + settled * _lagged(driven, step, constant)
    return rested, sag / reference, charge


def warmed(batch: Batch, time: Floats, current: Floats, sag: Floats) -> Floats:
    """Pack temperature, K: C dT/dt = |I| sag - G (T - air), from its start.

    Parameters
    ----------
    batch : Batch
        Of one build.
    time, current, sag : array, shape (n,); s, A, V
        Without gaps; a sag below nothing counts as nothing.

    Returns
    -------
    array, shape (n,), K

    Examples
    --------
    >>> from physics.build import example_build
    >>> batch = Batch.of(example_build().change({"pack.heat_capacity": 12e3, "pack.thermal_conductance": 0.0}))
    >>> warm = warmed(batch, np.array([0.0, 30.0, 60.0]), np.full(3, 100.0), np.full(3, 4.0))
    >>> (warm - warm[0]).round(3)
    array([0., 1., 2.])
    """
    air, start = batch["conditions.air_temperature"][0], batch["conditions.pack_temperature"][0]
    capacity = float(batch["pack.heat_capacity"][0])
    path = max(float(batch["pack.thermal_conductance"][0]), 1e-8 * capacity)  # none: a tenth of a percent in a day
    constant = capacity / path
    heat = np.clip(sag, 0.0, None) * np.abs(current)
    return (
        air + (start - air) * np.exp(-(time - time[0]) / constant) + _lagged(heat / path, np.diff(time), constant)
    )


def _lagged(values: Floats, step: Floats, constant: float) -> Floats:
    """A first-order lag of values that go in straight lines between samples, from nothing; exact."""
    decay = np.exp(-step / constant)
    mean = -constant / np.where(step > 0, step, 1.0) * np.expm1(-step / constant)
    gain = values[:-1] * (mean - decay) + values[1:] * (1.0 - mean)
    # y[k] = decay[k] y[k-1] + gain[k], by doubling: after each pass a row holds twice as many steps before it.
    reach = 1
    while reach < gain.size and decay.any():
        gain[reach:] += decay[reach:] * gain[:-reach]
        decay[reach:] *= decay[:-reach].copy()
        decay[:reach] = 0.0
        reach *= 2
    return np.concatenate([[0.0], gain])


def start_charge(log: RideLog, build: Build) -> tuple[float, str]:
    """Charge at the start of a log: from its voltage before the first load, or else the build's own.

    Parameters
    ----------
    log : RideLog
        With voltage and current.
    build : Build
        Its chemistry and cells.

    Returns
    -------
    (charge, where) : float, str
        Where it comes from, in words.
    """
    if log.holds("pack_voltage", "line_current"):
        u, i = log.column("pack_voltage"), log.column("line_current")
        loaded = np.flatnonzero(np.abs(np.nan_to_num(i)) > NOTHING_FLOWS)
        before = u[: loaded[0]] if loaded.size else u
        before = before[np.isfinite(before)]
        if before.size >= 5:
            each = float(np.median(before)) / build.pack.cells_in_series
            kind = cell.chemistry(build.pack.chemistry)
            if kind.voltage_minimum <= each <= kind.voltage_maximum + 0.03:
                return charge_at(build, each * build.pack.cells_in_series), "from the voltage before the first load"
    return float(build.conditions.charge), "as the page has it: the log does not begin at rest"


def charge_at(build: Build, rest_voltage: float) -> float:
    """Return the charge, 0 to 1, of a build's pack at a rest voltage.

    Parameters
    ----------
    build : Build
        Its chemistry and cells.
    rest_voltage : float, V
        Of the whole pack; beyond the chemistry's range it counts as empty or full.
    """
    kind = cell.chemistry(build.pack.chemistry)
    each = np.clip(rest_voltage / build.pack.cells_in_series, kind.voltage_minimum, kind.voltage_maximum)
    return float(np.clip(cell.charge_from_open_circuit_voltage(build.pack.chemistry, each), 0.0, 1.0))


def _bend(
    build: Build,
    columns: tuple[Floats, Floats, Floats, Floats | None],
    begin: float,
    rested: Floats,
    x: Floats,
    resistance: float,
) -> Floats:
    """What one volt more at the start would change in the voltage of every row, beyond that volt."""
    t, i, u, hot = columns
    step = CHARGE_STEP if begin + CHARGE_STEP <= 1.0 else -CHARGE_STEP
    other, seen, _ = pack_course(build, t, i, u, hot, begin + step)
    risen = other[0] - rested[0]
    if abs(risen) < 1e-4:
        return np.zeros(t.size)
    return (other - other[0] - rested + rested[0] - resistance * (seen - x)) / risen


def _straightened(
    build: Build,
    columns: tuple[Floats, Floats, Floats, Floats | None],
    begin: float,
    x: Floats,
    resistance: float,
) -> tuple[Floats, Floats]:
    """What one ohm more changes in the sag of every row, A, and by how much the sag lies above that line, V."""
    t, i, u, hot = columns
    more = build.change({"pack.resistance": resistance / build.pack.resistance_growth * (1 + RESISTANCE_STEP)})
    other = pack_course(more, t, i, u, hot, begin)[1] * (1 + RESISTANCE_STEP)
    slope = (other - x) / RESISTANCE_STEP
    return slope, resistance * (x - slope)


def _refused(n: int, current: Floats) -> FitResult | None:
    """Why so many samples of a current cannot hold a resistance, if they cannot."""
    if n < 8:
        message = f"{n} samples with voltage and current are too few; at least 8 are needed."
        return failed(NAMES, n, TOO_FEW, message)
    swing = float(np.subtract(*np.percentile(current, [95, 5])))
    if swing < SMALLEST_SWING:
        message = f"This log cannot tell: the line current swings by only {swing:.1f} A."
        return failed(NAMES, n, CANNOT_TELL, message)
    return None


def fit_pack(
    voltage: ArrayLike, sag_per_ohm: ArrayLike, drawn: ArrayLike | None = None, *, start: ArrayLike = 1.0
) -> FitResult:
    """Fit rest voltage and resistance of a pack: V = V0 s - R x, and with charge drawn also - k Q.

    A pack that empties during the log would otherwise look like resistance. The loss is soft_l1, so that switching
    spikes weigh little.

    Parameters
    ----------
    voltage : array, shape (n,), V
        Pack voltage, in the order of time.
    sag_per_ohm : array, shape (n,), A
        x: the line current, discharge positive, or what a pack model makes of it, see `pack_course`.
    drawn : array, shape (n,), C, optional
        Q: charge drawn since the start of the log.
    start : float or array, shape (n,)
        s: how much one volt more at the start changes the voltage of each row.

    Returns
    -------
    FitResult
        rest_voltage (V, at the start of the log), resistance (ohm) and, with `drawn`, fall_per_charge (V/C).
        Status -2 when x swings by less than 5 A or the resistance comes out at or below zero.

    Examples
    --------
    >>> current = np.tile([0.0, 50.0, 120.0, 80.0], 10)
    >>> fit = fit_pack(96.0 - 0.08 * current, current)
    >>> round(fit.value("rest_voltage"), 6), round(fit.value("resistance"), 6)
    (96.0, 0.08)
    """
    u, x = np.asarray(voltage, float), np.asarray(sag_per_ohm, float)
    refused = _refused(u.size, x)
    if refused is not None:
        return refused
    columns, names = [np.broadcast_to(start, u.shape), -x], list(NAMES)
    if drawn is not None:
        columns.append(-np.asarray(drawn, float))
        names.append("fall_per_charge")
    fit = linear_fit(np.column_stack(columns), u, names, loss="soft_l1", in_time_order=True, judged=NAMES)
    if fit.success and not fit.value("resistance") > 0.0:
        message = (
            "This log cannot tell: voltage rises with current. Check the sign of the line current; discharge "
            "must be positive."
        )
        return failed(tuple(names), u.size, CANNOT_TELL, message)
    return fit


def fit_pack_of_build(log: RideLog, build: Build, use: NDArray[np.bool_] | None = None) -> tuple[FitResult, Floats]:
    """Fit rest voltage at the start of a log and the pack's reference resistance.

    V - (U(q) - U(q0)) = V0 - R x, with U and x from `pack_course`; where more than 3 % of the capacity is drawn
    also - k Q, which takes up a wrong capacity or a wrong voltage curve. Robust loss soft_l1. The charge q0 that
    the course starts from follows from V0, so the fit is made three times, each time with what a little more V0
    would change in U and x (Gauss-Newton), so that the spread holds that doubt as well. A thousandth of R is added
    to its standard error for what sampling leaves open of a step of current.

    Parameters
    ----------
    log : RideLog
        With pack voltage and line current.
    build : Build
        Whose pack it is.
    use : array of bool, shape (n,), optional
        Rows to compare; all if not given. The current of every row counts either way.

    Returns
    -------
    (fit, time) : FitResult, array
        rest_voltage (V), resistance (ohm, at 25 degrees C and half charge, growth included) and, it may be,
        fall_per_charge (V/C); and the time of each residual.
    """
    nothing = np.empty(0)
    if not log.holds("pack_voltage", "line_current"):
        return failed(NAMES, 0, TOO_FEW, "The log has no pack voltage, or no line current."), nothing
    t, u, i = (log.column(name) for name in ("time", "pack_voltage", "line_current"))
    whole = np.isfinite(u) & np.isfinite(i) & (True if use is None else use)
    whole &= u > COLLAPSED * (np.nanmedian(u) if np.isfinite(u).any() else 0.0)
    u = u + build.pack.lead_resistance * i  # a log's voltage is the controller's, behind the leads
    rows = np.flatnonzero(whole)
    rows = rows[:: max(1, -(-rows.size // MOST_ROWS))]
    refused = _refused(rows.size, i[rows])
    if refused is not None:
        return refused, nothing
    hot = log.column("pack_temperature") if log.holds("pack_temperature") else None
    begin = start_charge(log, build)[0]
    resistance = float(Batch.of(build)["pack.resistance"][0]) * build.pack.resistance_growth
    known = build
    for _ in range(ROUNDS):
        build = known.change({"pack.resistance": resistance / known.pack.resistance_growth})
        rested, x, charge = pack_course(build, t, i, u, hot, begin)
        start = 1.0 + _bend(build, (t, i, u, hot), begin, rested, x, resistance)
        x, curved = _straightened(build, (t, i, u, hot), begin, x, resistance)
        drawn = None
        if np.ptp(charge) > NOTICED_CHARGE:
            drawn = (charge[0] - charge[rows]) * build.pack.capacity_ah * SECONDS_PER_HOUR
        fit = fit_pack((u + curved - rested + rested[0] * start)[rows], x[rows], drawn, start=start[rows])
        if not fit.identifies("rest_voltage"):
            break
        begin = charge_at(build, fit.value("rest_voltage"))
        resistance = min(max(fit.value("resistance"), LEAST_CHANGE * resistance), resistance / LEAST_CHANGE)
    return (_widened(fit), t[rows]) if fit.residuals.size else (fit, nothing)


def _widened(fit: FitResult) -> FitResult:
    """The fit with the share of the resistance that sampling leaves open added to its spread, in quadrature."""
    if not fit.identifies("resistance"):
        return fit
    error, interval = fit.standard_error.copy(), fit.interval.copy()
    value, own = fit.value("resistance"), fit.error("resistance")
    error[1] = np.hypot(own, LEFT_OPEN * value)
    interval[1] = value + (interval[1] - value) * (error[1] / own if own > 0 else 1.0)
    return replace(fit, standard_error=error, interval=interval)
