"""Drag area and rolling resistance from coast-downs.

Coast-down: m_eq du/dt = -(A + C u^2), u the air speed (speed plus headwind), A = m g (c_rr cos + sin of the
slope), C = 1/2 rho CdA. Integrated once, u(t) = sqrt(A/C) tan(atan(u0 sqrt(C/A)) - sqrt(A C) t / m_eq), which is
fitted to speed against time, so that nothing is differentiated.

Sources
-------
SAE J1263, Road Load Measurement and Dynamometer Simulation Using Coastdown Techniques (two-term road load;
wind at most 16 km/h, grade below 0.5 %). The fit to the integrated equation: G. D. Thompson, The Vehicle Road
Load Problem: An Approach by Non-Linear Modeling, US Environmental Protection Agency. Equivalent mass and slope
by height over distance: 40 CFR 1066.310.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import least_squares

from physics.arrays import Floats, Numbers
from physics.build import Build
from physics.build.batch import Batch
from physics.components import motor, road_load
from physics.components.air import STANDARD_GRAVITY
from physics.fitting.regression import summarise
from physics.fitting.result import CANNOT_TELL, TOO_FEW, FitResult, failed
from physics.ridelog.report import RideLog
from physics.ridelog.segments import Segment, samples_of, widest
from physics.simulation.machine import Machine

SHORTEST = 12  # samples in a coast-down
MOST_ROWS = 1000  # of one coast-down; of more, every second, third, ... is fitted
SLOPE_WINDOW = 60.0  # metres over which height is turned into slope; common practice, no source


def coast_down_speed(
    time: ArrayLike,
    start_speed: ArrayLike,
    constant_force: ArrayLike,
    drag_factor: ArrayLike,
    equivalent_mass: ArrayLike,
) -> Numbers:
    """Return the speed of a freely slowing bike under A + C u^2.

    u = sqrt(A/C) tan(atan(u0 sqrt(C/A)) - sqrt(A C) t / m) for A > 0, written out by the addition theorem so that
    it passes without loss into u0 / (1 + C u0 t / m) at A = 0 and into the hyperbolic form for A < 0 (a downhill
    steeper than the rolling resistance). With A > 0 the bike stops at t = m atan(u0 sqrt(C/A)) / sqrt(A C) and
    stays at 0.

    Parameters
    ----------
    time : float or array, s
        Since the start, zero or more.
    start_speed : float or array, m/s
        u0 at time 0, zero or more.
    constant_force : float or array, N
        A, positive when it slows the bike.
    drag_factor : float or array, kg/m
        C = 1/2 rho CdA, above zero.
    equivalent_mass : float or array, kg
        Mass plus what the turning parts add, above zero.

    Returns
    -------
    float or array, m/s
        Speed over the ground, zero or more when A is.

    Examples
    --------
    >>> round(coast_down_speed(10.0, 20.0, 0.0, 0.3, 150.0), 6)
    14.285714
    """
    t, u0, a, c, m = np.broadcast_arrays(
        *(np.asarray(x, float) for x in (time, start_speed, constant_force, drag_factor, equivalent_mass))
    )
    size = np.sqrt(np.abs(a) / c)
    rate = size * c * t / m
    stopped = (a > 0.0) & (rate >= np.arctan2(u0, size))
    bent = np.where(a > 0.0, np.tan(np.where(stopped, 0.0, rate)), np.tanh(np.minimum(rate, 350.0)))
    over_rate = np.where(rate > 1e-12, bent / np.where(rate > 1e-12, rate, 1.0), 1.0)
    u = (u0 - np.sign(a) * size * bent) / (1.0 + u0 * (c * t / m) * over_rate)
    u = np.where(stopped, 0.0, u)
    return u if u.ndim else float(u)


def slope_from_altitude(
    time: ArrayLike, speed: ArrayLike, altitude: ArrayLike, window: float = SLOPE_WINDOW
) -> Floats:
    """Return the sine of the slope along the road, smoothed over a stated distance.

    A straight line is fitted to height against distance travelled within half a window to either side.

    Parameters
    ----------
    time : array, shape (n,), s
        Increasing.
    speed : array, shape (n,), m/s
        Speed over the ground.
    altitude : array, shape (n,), m
        Height; gaps (nan) are bridged in a straight line.
    window : float, m
        Distance over which height is turned into slope, above zero.

    Returns
    -------
    array, shape (n,)
        Sine of the slope, uphill positive, within -0.5..0.5; zero where the bike hardly moves.

    Examples
    --------
    >>> t = np.arange(0.0, 20.0)
    >>> slope_from_altitude(t, np.full(20, 10.0), 0.03 * 10.0 * t).round(9)[:3].tolist()
    [0.03, 0.03, 0.03]
    """
    t, v, h = (np.asarray(x, float) for x in (time, speed, altitude))
    known = np.isfinite(h)
    if known.sum() < 2:
        return np.zeros(t.size)
    h = np.interp(t, t[known], h[known])
    s = np.concatenate([[0.0], np.cumsum(np.diff(t) * 0.5 * (v[1:] + v[:-1]))])
    first = np.searchsorted(s, s - window / 2, side="left")
    last = np.searchsorted(s, s + window / 2, side="right")
    # Running sums give every window's line at once; centred on the middle to keep the digits.
    s0, h0 = s - s.mean(), h - h.mean()
    sums = [np.concatenate([[0.0], np.cumsum(x)]) for x in (s0, h0, s0 * s0, s0 * h0)]
    count = (last - first).astype(float)
    ms, mh, mss, msh = (total[last] - total[first] for total in sums)
    spread = mss - ms**2 / count
    enough = spread > count * (window / 35.0) ** 2
    grade = np.where(enough, (msh - ms * mh / count) / np.where(enough, spread, 1.0), 0.0)
    return np.clip(grade, -0.5, 0.5)


def _stepped_speed(
    time: Floats, start_speed: float, forces: Floats, edges: list[int], drag_factor: Numbers, equivalent_mass: float
) -> Floats:
    """Return the speed when the constant force changes along the road: exact pieces, one after another."""
    u = np.empty(time.size)
    u[0] = start_speed
    for a, b in pairwise(edges):
        piece = slice(a, b + 1)
        u[piece] = coast_down_speed(
            time[piece] - time[a], u[a], float(np.mean(forces[piece])), drag_factor, equivalent_mass
        )
    return u


def _pieces(time: Floats, speed: Floats) -> list[int]:
    """Return the rows between which the slope is held: a sixth of the smoothing window apart."""
    way = np.concatenate([[0.0], np.cumsum(np.diff(time) * 0.5 * (speed[1:] + speed[:-1]))])
    turn = np.flatnonzero(np.diff(np.floor(way / (SLOPE_WINDOW / 6.0)))) + 1
    return sorted({0, *turn.tolist(), time.size - 1})


def fit_coast_down(
    time: ArrayLike,
    speed: ArrayLike,
    mass: float,
    *,
    air_density: float,
    equivalent_mass: float | None = None,
    run: ArrayLike | None = None,
    headwind: ArrayLike = 0.0,
    slope: ArrayLike = 0.0,
    altitude: ArrayLike | None = None,
) -> FitResult:
    """Fit drag area and rolling resistance to one or more coast-downs.

    Several runs (both directions of one road above all) share the two values, and each has its own start speed.
    Drag area and rolling resistance trade against one another over a narrow speed range; the result names that.

    Parameters
    ----------
    time : array, shape (n,), s
        Increasing within a run.
    speed : array, shape (n,), m/s
        Speed over the ground, zero or more.
    mass : float, kg
        Bike and rider, above zero.
    air_density : float, kg/m3
        Above zero.
    equivalent_mass : float, kg, optional
        Mass plus what wheels, rotor and driveline add; `mass` if not given (rolling in neutral, 2 to 4 % more is
        common practice, no source).
    run : array of int, shape (n,), optional
        Which run a sample belongs to; all one run if not given.
    headwind : float or array, shape (n,), m/s
        Wind against the bike, constant within a run (its mean is used); a tailwind slower than the bike.
    slope : float or array, shape (n,)
        Sine of the slope, uphill positive. Ignored when `altitude` is given.
    altitude : array, shape (n,), m, optional
        Height, turned into slope over 60 m.

    Returns
    -------
    FitResult
        Values drag_area (m2), rolling_resistance (dimensionless), then start_speed_1, ... (m/s).
        Status -2 when either of the first two cannot be told.

    Raises
    ------
    ValueError
        When time and speed differ in length, time falls back, or a mass or density is not above zero.

    Examples
    --------
    >>> t = np.arange(0.0, 40.0, 0.2)
    >>> v = coast_down_speed(t, 27.0, 190 * 9.80665 * 0.014, 0.5 * 1.2 * 0.5, 195.0)
    >>> fit = fit_coast_down(t, v, 190.0, air_density=1.2, equivalent_mass=195.0)
    >>> round(fit.value("drag_area"), 6), round(fit.value("rolling_resistance"), 6)
    (0.5, 0.014)
    """
    t, v = np.asarray(time, float), np.asarray(speed, float)
    if t.ndim != 1 or t.shape != v.shape:
        raise ValueError(f"Time ({t.size}) and speed ({v.size}) do not pair up.")
    m = float(mass if equivalent_mass is None else equivalent_mass)
    for name, value in (("mass", float(mass)), ("air density", float(air_density)), ("equivalent mass", m)):
        if not 0.0 < value < np.inf:
            raise ValueError(f"The {name} must be above zero; it was {value!r}.")
    labels = np.zeros(t.size, int) if run is None else np.asarray(run)
    wind = np.broadcast_to(np.asarray(headwind, float), t.shape)
    sine = np.broadcast_to(np.asarray(slope, float), t.shape)
    height = None if altitude is None else np.asarray(altitude, float)
    parts = []
    for label in np.unique(labels):
        rows = np.flatnonzero((labels == label) & np.isfinite(t) & np.isfinite(v) & (v > 0.0))
        if rows.size < SHORTEST:
            continue
        if (np.diff(t[rows]) <= 0.0).any():
            raise ValueError(f"Time must increase within a run; in run {label} it does not.")
        grade = sine[rows] if height is None else slope_from_altitude(t[rows], v[rows], height[rows])
        edges = None if np.ptp(grade) == 0.0 else _pieces(t[rows], v[rows])
        parts.append((t[rows] - t[rows[0]], v[rows], float(np.mean(wind[rows])), grade, edges))
    names = ("drag_area", "rolling_resistance", *(f"start_speed_{i + 1}" for i in range(len(parts))))
    n = sum(part[0].size for part in parts)
    if not parts:
        return failed(names, n, TOO_FEW, f"A coast-down needs at least {SHORTEST} samples above standstill.")
    if all(part[1][0] - part[1][-1] < 1.0 and np.ptp(part[1]) < 2.0 for part in parts):
        return failed(names, n, CANNOT_TELL, "This log cannot tell: the bike hardly slows down.")

    weight = float(mass) * STANDARD_GRAVITY

    def model(p: Floats) -> Floats:
        factor = road_load.drag_factor(air_density, p[0])
        speeds = []
        for (t_run, _, w, grade, edges), start in zip(parts, p[2:], strict=True):
            force = weight * (p[1] * np.sqrt(1.0 - grade**2) + grade)
            u0 = max(start + w, 0.0)
            if edges is None:
                u = coast_down_speed(t_run, u0, force[0], factor, m)
            else:
                u = _stepped_speed(t_run, u0, force, edges, factor, m)
            speeds.append(u - w)
        return np.concatenate(speeds)

    observed = np.concatenate([part[1] for part in parts])
    start = np.array([0.45, 0.015, *(part[1][0] for part in parts)])
    low = np.array([1e-4, 0.0, *([0.0] * len(parts))])
    high = np.array([5.0, 0.5, *([150.0] * len(parts))])
    solution = least_squares(
        lambda p: observed - model(p),
        np.clip(start, low, high),
        bounds=(low, high),
        x_scale=np.array([0.1, 0.005, *([1.0] * len(parts))]),
        jac="3-point",
    )
    residuals = observed - model(solution.x)
    scaled = solution.jac / np.sqrt(np.sum(solution.jac**2, axis=0)).clip(1e-300)
    condition = float(np.linalg.cond(scaled))
    if not condition < 1e8 or n <= len(names):
        return failed(
            names, n, CANNOT_TELL, "This log cannot tell drag area and rolling resistance apart from one another."
        )
    variance = float(residuals @ residuals) / (n - len(names))
    return summarise(
        names,
        solution.x,
        np.linalg.inv(solution.jac.T @ solution.jac),
        variance,
        residuals,
        in_time_order=True,
        converged=solution.status > 0,
        judged=("drag_area", "rolling_resistance"),
    )


def fit_coast_down_of_build(
    log: RideLog, build: Build, segments: Sequence[Segment]
) -> tuple[FitResult, np.ndarray]:
    """Fit drag area and rolling resistance of a build to the coast-downs of a log.

    What the motor drags (iron loss through the chain) and the part of rolling resistance that grows with speed are
    the build's; they are put as a + b v^2 over the speeds at hand and taken off. Slope by altitude where the log
    has it, else the build's; wind as the build has it.

    Parameters
    ----------
    log : RideLog
        With speed.
    build : Build
        Its mass, turning parts and air.
    segments : sequence of Segment
        The coast-downs among them are used.

    Returns
    -------
    (fit, time) : FitResult, array
        drag_area (m2), rolling_resistance, then start speeds; and the time of each residual.
    """
    rows = samples_of(log, "coast-down", widest(segments, "coast-down"))
    longest = rows.groupby("part").size().max() if len(rows) else 0
    rows = rows.iloc[:: max(1, -(-int(longest) // MOST_ROWS))]
    m = Machine(Batch.of(build))
    mass, inertia = float(m.mass[0]), float(m.inertia[0])
    density = float(2.0 * m.drag_factor[0] / build.bike.drag_area) if build.bike.drag_area > 0 else 1.2
    rows = rows[rows["speed"] > 0.0] if "speed" in rows else rows.iloc[:0]
    altitude = rows["altitude"].to_numpy() if "altitude" in rows and rows["altitude"].notna().sum() > 1 else None
    fit = fit_coast_down(
        rows["time"].to_numpy(float),
        rows["speed"].to_numpy(float) if len(rows) else np.empty(0),
        mass,
        air_density=density,
        equivalent_mass=inertia,
        run=rows["part"].to_numpy(),
        altitude=altitude,
        headwind=build.conditions.headwind,
        slope=np.sin(build.conditions.slope),
    )
    if not np.isfinite(fit.values).any():
        return fit, np.empty(0)
    v = rows["speed"].to_numpy(float)
    turns = float(m.speed_ratio[0])
    dragged = motor.iron_loss_drag_torque(m.iron_torque[0] + m.chain_torque[0], m.iron_damping[0], v * turns)
    extra = dragged * turns / float(m.efficiency[0]) + m.rolling_squared[0] * v**2
    b, a = np.polyfit(v**2, extra, 1)
    off = np.zeros(fit.values.size)
    off[0], off[1] = 2.0 * b / density, a / road_load.normal_load(mass, build.conditions.slope)
    # fit_coast_down leaves out parts that are too short; the times then no longer pair with its residuals
    time = rows["time"].to_numpy(float) if len(rows) == fit.residuals.size else np.empty(0)
    return replace(fit, values=fit.values - off, interval=fit.interval - off[:, None]), time
