"""Fits to a ride log: exact recovery, recovery from noise, coverage of the intervals, honest refusals."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from physics.fitting.coast_down import coast_down_speed, fit_coast_down, slope_from_altitude
from physics.fitting.efficiency import fit_driveline_efficiency
from physics.fitting.gearing import fit_gear_ratio
from physics.fitting.line_limit import effective_line_limit
from physics.fitting.pack import fit_pack
from physics.fitting.result import CANNOT_TELL, TOO_FEW

G = 9.80665
LOGS = 150


def _coloured(rng, n, spread, memory):
    """First-order noise: the way the readings of a receiver hang together."""
    x = np.empty(n)
    x[0] = rng.normal(0.0, spread)
    for i in range(1, n):
        x[i] = memory * x[i - 1] + rng.normal(0.0, spread * np.sqrt(1 - memory**2))
    return x


@given(st.floats(5.0, 40.0), st.floats(-60.0, 120.0), st.floats(0.1, 0.6), st.floats(80.0, 300.0))
@settings(max_examples=40, deadline=None)
def test_coast_down_against_the_differential_equation(start, force, drag_factor, mass):
    """exact solution: m du/dt = -(A + C u^2) by DOP853, uphill, level and steep downhill, until it stops."""

    def stop(t, u):
        return u[0]

    stop.terminal = True
    found = solve_ivp(
        lambda t, u: -(force + drag_factor * u**2) / mass,
        (0.0, 40.0),
        [start],
        method="DOP853",
        rtol=1e-10,
        atol=1e-10,
        events=stop,
        dense_output=True,
    )
    t = np.linspace(0.0, found.t[-1] * 0.999, 30)
    ours = coast_down_speed(t, start, force, drag_factor, mass)
    assert ours == pytest.approx(found.sol(t)[0], abs=2e-6)  # dense output of DOP853 is good to about 1e-7


def test_coast_down_stops_where_the_tangent_says():
    """hand-worked: A = C = m = 1 from 1 m/s stops at atan(1) = 0.785398 s; at A = 0 it is 1/3 m/s after 2 s."""
    assert coast_down_speed(0.785397, 1.0, 1.0, 1.0, 1.0) > 0.0
    assert coast_down_speed(0.785399, 1.0, 1.0, 1.0, 1.0) == 0.0
    assert coast_down_speed(2.0, 1.0, 0.0, 1.0, 1.0) == pytest.approx(1 / 3, rel=1e-15)
    assert coast_down_speed(2.0, 1.0, 1e-18, 1.0, 1.0) == pytest.approx(1 / 3, rel=1e-12)
    assert coast_down_speed(2.0, 1.0, -1.0, 1.0, 1.0) == pytest.approx(1.0)  # pushed just as hard as held


def test_regulation_coast_down_is_recovered():
    """published: 40 CFR 86.529-98, Fig. F98-9, motorcycle of 150 kg: A = 4.32 N, C = 0.0238 N/(km/h)^2, coast
    from 70 to 60 km/h in 3.99 s (0.6 %: A and C are printed to three digits); and the same A and C back."""
    a, c = 4.32, 0.0238 * 3.6**2
    t = np.linspace(0.0, 30.0, 301)
    v = coast_down_speed(t, 100 / 3.6, a, c, 150.0)
    crossing = np.interp([-70.0, -60.0], -v * 3.6, t)
    assert crossing[1] - crossing[0] == pytest.approx(3.99, rel=0.006)
    found = fit_coast_down(t, v, 150.0, air_density=1.2)
    assert found.value("drag_area") * 0.6 == pytest.approx(c, rel=1e-6)
    assert found.value("rolling_resistance") * 150 * G == pytest.approx(a, rel=1e-6)


def test_two_directions_wind_and_slope():
    """exact solution: a headwind one way and a tailwind the other, with a constant slope turned round."""
    t = np.arange(0.0, 25.0, 0.2)
    m, rolling, c = 180.0, 0.016, 0.5 * 1.22 * 0.48
    runs, labels, winds, slopes = [], [], [], []
    for label, (wind, grade) in enumerate([(2.0, 0.003), (-2.0, -0.003)]):
        force = m * G * (rolling * np.sqrt(1 - grade**2) + grade)
        runs.append(coast_down_speed(t, 28.0 + wind, force, c, 187.0) - wind)
        labels.append(np.full(t.size, label))
        winds.append(np.full(t.size, wind))
        slopes.append(np.full(t.size, grade))
    found = fit_coast_down(
        np.tile(t, 2),
        np.concatenate(runs),
        m,
        air_density=1.22,
        equivalent_mass=187.0,
        run=np.concatenate(labels),
        headwind=np.concatenate(winds),
        slope=np.concatenate(slopes),
    )
    assert found.value("drag_area") == pytest.approx(0.48, rel=1e-6)
    assert found.value("rolling_resistance") == pytest.approx(rolling, rel=1e-6)


def test_altitude_corrects_a_hill():
    """exact solution: a hill integrated with DOP853 gives its drag area back through the altitude, 1 %.

    The slope is smoothed over 60 m, which flattens a hill of 400 m wave length by about 4 % of its grade.
    """
    m, rolling, c = 180.0, 0.015, 0.5 * 1.2 * 0.5

    def height(s):
        return 1.5 * np.sin(2 * np.pi * s / 400.0)

    def right(t, y):
        slope = 1.5 * 2 * np.pi / 400.0 * np.cos(2 * np.pi * y[0] / 400.0)
        sine = slope / np.hypot(1.0, slope)
        return [y[1], -(m * G * (rolling * np.sqrt(1 - sine**2) + sine) + c * y[1] ** 2) / m]

    t = np.arange(0.0, 30.0, 0.25)
    path = solve_ivp(right, (0, 30), [0.0, 30.0], method="DOP853", rtol=1e-10, t_eval=t).y
    level = fit_coast_down(t, path[1], m, air_density=1.2)
    found = fit_coast_down(t, path[1], m, air_density=1.2, altitude=height(path[0]))
    assert found.value("drag_area") == pytest.approx(0.5, rel=0.01)
    assert abs(found.value("drag_area") - 0.5) < abs(level.value("drag_area") - 0.5)


def test_slope_from_altitude_on_a_straight_grade():
    """exact solution: 2 % everywhere, whatever the speed; no slope where the bike stands."""
    t = np.linspace(0.0, 60.0, 601)
    v = 15.0 + 5.0 * np.sin(t / 5)
    s = np.concatenate([[0.0], np.cumsum(0.05 * (v[1:] + v[:-1]))])
    assert slope_from_altitude(t, v, 100.0 + 0.02 * s) == pytest.approx(np.full(t.size, 0.02), abs=1e-9)
    assert (slope_from_altitude(t, np.zeros(t.size), 100.0 + np.sin(t)) == 0.0).all()


def _coverage(pairs):
    return np.mean([low <= truth <= high for (low, high), truth in pairs])


@pytest.mark.parametrize("memory", [0.0, 0.7, 0.9])
def test_drag_area_from_50_noisy_logs(memory):
    """property: 0.1 m/s of noise, white or hanging together: every one of 50 drag areas within 5 %, and the 95 %
    intervals of 150 logs hold the truth 90..99 % of times (their binomial spread is 2 points)."""
    rng = np.random.default_rng(20)
    t = np.arange(0.0, 35.0, 0.1)
    pairs, misses = [], []
    for _ in range(LOGS):
        area, rolling = rng.uniform(0.35, 0.6), rng.uniform(0.010, 0.022)
        m = rng.uniform(150.0, 230.0)
        v = coast_down_speed(t, rng.uniform(26.0, 33.0), m * G * rolling, 0.6 * area, m)
        keep = v > 0.5
        noisy = v + _coloured(rng, t.size, 0.1, memory)
        found = fit_coast_down(t[keep], noisy[keep], m, air_density=1.2)
        assert found.success
        assert found.correlation[0, 1] < -0.8  # they trade against one another
        pairs.append((found.bounds("drag_area"), area))
        misses.append(abs(found.value("drag_area") / area - 1))
    assert np.max(misses[:50]) < 0.05
    assert 0.90 <= _coverage(pairs) <= 0.99


@pytest.mark.parametrize("memory", [0.0, 0.9])
def test_resistance_from_50_noisy_logs(memory):
    """property: rides of pulls and pauses with a falling rest voltage: 50 resistances within 5 %; coverage."""
    rng = np.random.default_rng(21)
    t = np.arange(0.0, 120.0, 0.2)
    pairs, misses = [], []
    for _ in range(LOGS):
        rest, resistance, fall = rng.uniform(60, 110), rng.uniform(0.03, 0.15), rng.uniform(5e-5, 3e-4)
        current = np.clip(150 * np.sin(t / rng.uniform(3, 8)) + rng.normal(0, 10, t.size), 0, 120)
        charge = np.concatenate([[0.0], np.cumsum(0.1 * (current[1:] + current[:-1]))])
        voltage = rest - resistance * current - fall * charge + _coloured(rng, t.size, 0.15, memory)
        found = fit_pack(voltage, current + rng.normal(0, 0.5, t.size), charge)
        assert found.success
        pairs.append((found.bounds("resistance"), resistance))
        misses.append(abs(found.value("resistance") / resistance - 1))
    assert np.max(misses[:50]) < 0.05
    assert 0.90 <= _coverage(pairs) <= 0.99


def test_ratio_from_50_noisy_logs():
    """property: receiver noise of 0.3 m/s, lost and wild samples: 50 ratios within 0.5 %; coverage of 150 rides."""
    rng = np.random.default_rng(22)
    t = np.arange(0.0, 120.0, 0.2)
    pairs, misses = [], []
    for _ in range(LOGS):
        ratio, radius = rng.uniform(3.0, 6.0), rng.uniform(0.25, 0.32)
        v = 15 + 12 * np.sin(t / rng.uniform(4, 9))
        read = v + _coloured(rng, t.size, 0.3, 0.6)
        read[rng.random(t.size) < 0.05] = np.nan
        read[rng.integers(0, t.size, 6)] += 15.0
        found = fit_gear_ratio(v * ratio / radius + rng.normal(0, 1, t.size), read)
        assert found.success
        pairs.append((found.bounds("metres_per_radian"), radius / ratio))
        misses.append(abs(radius / found.value("metres_per_radian") / ratio - 1))
    assert np.max(misses[:50]) < 0.005
    assert 0.90 <= _coverage(pairs) <= 0.99


def test_efficiency_of_exact_pulls():
    """exact solution: v = a t under a constant force; energy at the road over 0.85 is drawn."""
    t = np.arange(0.0, 8.0, 0.05)
    m, rolling, c = 190.0, 0.015, 0.5 * 1.2 * 0.5
    times, speeds, powers, labels = [], [], [], []
    for label, a in enumerate([2.0, 3.0]):
        v = 3.0 + a * t
        times.append(t)
        speeds.append(v)
        powers.append((m * a + m * G * rolling + c * v**2) * v / 0.85)
        labels.append(np.full(t.size, label))
    voltage = np.full(2 * t.size, 90.0)
    known = {"mass": m, "drag_area": 0.5, "rolling_resistance": rolling, "air_density": 1.2}
    v, current, labels = np.concatenate(speeds), np.concatenate(powers) / 90.0, np.concatenate(labels)
    times = np.concatenate(times)
    found = fit_driveline_efficiency(times, v, voltage, current, pull=labels, **known)
    assert found.value("driveline_efficiency") == pytest.approx(0.85, rel=1e-4)  # trapezoids at 20 Hz
    noisy = v + np.random.default_rng(3).normal(0, 0.1, v.size)
    found = fit_driveline_efficiency(times, noisy, voltage, current, pull=labels, **known)
    assert found.value("driveline_efficiency") == pytest.approx(0.85, rel=0.02)
    wrong = fit_driveline_efficiency(times, v, voltage, current / 2, pull=labels, **known)
    assert wrong.status == CANNOT_TELL
    assert "1.70" in wrong.message


def test_line_limit_from_a_plateau():
    """property: a limit of 180 A with 1 A of noise is found to 1 A, in a ride that is mostly below it."""
    rng = np.random.default_rng(4)
    demand = np.abs(np.cumsum(rng.normal(0, 12, 4000))) % 320
    found = effective_line_limit(np.minimum(demand, 180.0) + rng.normal(0, 1, 4000))
    assert found.success
    assert found.value("line_limit") == pytest.approx(180.0, abs=1.0)


def test_line_limit_under_heavy_noise():
    """property: 5 A of noise on a limit of 180 A still leaves the limit to be found, to its own 95 % interval."""
    rng = np.random.default_rng(7)
    demand = np.abs(np.cumsum(rng.normal(0, 12, 4000))) % 320
    found = effective_line_limit(np.minimum(demand, 180.0) + rng.normal(0, 5, 4000))
    assert found.value("line_limit") == pytest.approx(180.0, abs=2.5)


@pytest.mark.parametrize(
    "demand",
    [
        np.linspace(0, 200, 400),
        200 * np.abs(np.sin(np.linspace(0, 40, 2000))),
        200 * np.random.default_rng(1).random(999),
    ],
)
def test_no_plateau_no_limit(demand):
    """property: an even ramp, a ride that rises and falls, and an even scatter lean on nothing."""
    found = effective_line_limit(demand)
    assert found.status == CANNOT_TELL
    assert "never stays" in found.message


def test_a_late_receiver_does_not_bend_the_ratio():
    """property: speed reported 0.4 s late over pulls: with time the ratio is right to 0.5 %, without it is not."""
    t = np.arange(0.0, 200.0, 0.1)
    v = np.interp(t % 50.0, [0, 2, 12, 30, 50], [3, 3, 28, 28, 25])
    late = np.interp(t - 0.4, t, v)
    w = v * 4.5 / 0.29
    assert 0.29 / fit_gear_ratio(w, late, t).value("metres_per_radian") == pytest.approx(4.5, rel=0.005)
    pulls = (t % 50 > 2) & (t % 50 < 12)
    assert abs(0.29 / fit_gear_ratio(w[pulls], late[pulls]).value("metres_per_radian") / 4.5 - 1) > 0.01


def test_one_value_may_be_told_without_the_other():
    """property: a fast, short coast-down holds the drag area but not the rolling resistance."""
    rng = np.random.default_rng(12)
    t = np.arange(0.0, 10.0, 0.05)
    v = coast_down_speed(t, 35.0, 180 * G * 0.006, 0.3, 180.0) + rng.normal(0, 0.1, t.size)
    found = fit_coast_down(t, v, 180.0, air_density=1.2)
    assert found.status == CANNOT_TELL
    assert found.identifies("drag_area")
    assert not found.identifies("rolling_resistance")
    assert found.unidentified == ("rolling_resistance",)


def test_refusals():
    """hand-worked: what the data do not hold is not made up."""
    t = np.arange(0.0, 20.0, 0.1)
    rng = np.random.default_rng(6)
    steady = fit_pack(90 + rng.normal(0, 0.1, 200), 40 + rng.normal(0, 0.5, 200))
    assert steady.status == CANNOT_TELL
    assert "swings" in steady.message
    current = np.abs(100 * np.sin(t))
    reversed_sign = fit_pack(90 - 0.08 * current, -current)
    assert reversed_sign.status == CANNOT_TELL
    assert "sign" in reversed_sign.message
    assert fit_pack([90.0] * 3, [1.0, 2.0, 3.0]).status == TOO_FEW
    hardly = fit_coast_down(t, np.full(200, 20.0), 180.0, air_density=1.2)
    assert hardly.status == CANNOT_TELL
    short = coast_down_speed(t[:40], 25.0, 26.0, 0.3, 180.0) + rng.normal(0, 0.2, 40)
    assert fit_coast_down(t[:40], short, 180.0, air_density=1.2).status == CANNOT_TELL
    assert fit_coast_down([0.0, 1.0], [9.0, 8.0], 180.0, air_density=1.2).status == TOO_FEW
    assert fit_gear_ratio(t, np.zeros(200)).status == TOO_FEW
    assert effective_line_limit(np.zeros(100)).status == CANNOT_TELL
    with pytest.raises(ValueError, match="increase"):
        fit_coast_down(t[::-1], 25 - t, 180.0, air_density=1.2)
    with pytest.raises(ValueError, match="mass"):
        fit_coast_down(t, 25 - t, 0.0, air_density=1.2)


def test_gear_ratio_gives_the_radius():
    """hand-worked: 100 rad/s through 4:1 on 0.3 m is 7.5 m/s."""
    w = np.arange(40.0, 300.0)
    assert 4.0 * fit_gear_ratio(w, w * 0.3 / 4.0).value("metres_per_radian") == pytest.approx(0.3, rel=1e-9)
