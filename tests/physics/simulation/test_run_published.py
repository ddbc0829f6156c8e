"""A published electric scooter, run by `physics.simulation.run.run` with its motor as a torque-speed line.

published: J. Larminie and J. Lowry, Electric Vehicle Technology Explained, second edition (2012, year from memory),
section 8.3.2: mass 185 kg, taken as 194 kg where it is accelerated; drag coefficient 0.75 and 0.6 m2; rolling
0.007; 2:1 belt on a wheel of 0.21 m; 34 N m up to about 103 rad/s, then T = 153 - 1.16 w (equation 8.14). With air
of 1.25 kg/m3 the book's equations of motion, coefficients as printed, are
    dv/dt = 1.57 - 0.00145 v^2 below 10.8 m/s, then dv/dt = 7.30 - 0.53 v - 0.00145 v^2.
1.57 and 7.30 belong to a belt efficiency of 0.98: (34 x 2 x 0.98 / 0.21 - 185 x 9.81 x 0.007) / 194 = 1.57; 0.97
would give 1.553. The book's speed curve is drawn by its own program, whose lines were seen in a student's copy:
both equations in steps of 0.1 s, axes to 30 s and 50 km/h. It settles at 13.29 m/s (47.8 km/h). Results in words
were not seen.
The expected times are those two equations solved exactly, by atanh and by partial fractions, and the program's
steps. Tolerance 1 %: the coefficients are printed with three digits, the last of which is up to 0.6 % of the whole.
"""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from physics.build import Bike, Build, Conditions, Controller, Driveline, Motor, Pack
from physics.components.air import air_density
from physics.limits import PHASE_CURRENT
from physics.simulation.run import run

AIR_DENSITY = 1.25  # kg/m3, the book's
CORNER = (153.0 - 34.0) / 1.16  # rad/s, where 153 - 1.16 w is 34 N m
NO_LOAD = 153.0 / 1.16


@pytest.fixture(scope="module")
def result():
    pressure = 101325.0 * AIR_DENSITY / float(air_density(288.15, 101325.0, 0.0))
    build = Build(
        Pack(20, 2000.0, resistance=1e-5),
        Motor(60.0, rotor_inertia=0.0, torque_table=((0.0, 34.0), (CORNER, 34.0), (NO_LOAD, 0.0))),
        Controller(5000.0, 5000.0, throttle_ramp_time=0.0, fixed_loss=0.0),
        Driveline(10, 20, efficiency=0.98),
        Bike(
            115.0, 70.0, drag_area=0.75 * 0.6, rolling_coefficient=0.007, rolling_coefficient_speed_squared=0.0,
            rolling_radius=0.21, wheel_inertia=9.0 * 0.21**2,
        ),
        Conditions(288.15, air_pressure=pressure, humidity=0.0),
    )  # fmt: skip
    return run(build, duration=60.0)


def first_part(speed):
    """Time from rest under dv/dt = a - c v^2: atanh(v sqrt(c / a)) / sqrt(a c)."""
    return math.atanh(speed * math.sqrt(0.00145 / 1.57)) / math.sqrt(1.57 * 0.00145)


def second_part(speed):
    """Time from 10.8 m/s under dv/dt = 7.30 - 0.53 v - 0.00145 v^2, by partial fractions of its two roots."""
    above, below = np.roots([-0.00145, -0.53, 7.30]).max(), np.roots([-0.00145, -0.53, 7.30]).min()

    def primitive(v):
        return math.log((v - below) / (above - v)) / (0.00145 * (above - below))

    return primitive(speed) - primitive(10.8)


def program():
    """The book's program: Euler steps of 0.1 s over 50 s; time, s, and speed, m/s."""
    speed = [0.0]
    for _ in range(500):
        v = speed[-1]
        speed.append(v + 0.1 * ((1.57 if v < 10.8 else 7.30 - 0.53 * v) - 0.00145 * v**2))
    return 0.1 * np.arange(501), np.array(speed)


def test_the_speed_curve_of_the_books_program(result):
    # 0.5 % of top speed: Euler's steps run ahead by about half a step's change, 0.05 s x 1.57 m/s2
    time, speed = program()
    assert speed[-1] == pytest.approx(13.290, abs=5e-4)
    ours = np.interp(time, result.time, result.speed[0])
    assert np.abs(ours - speed).max() < 0.05 * 1.57 + 0.005 * 13.29


def test_top_speed_of_the_scooter(result):
    # 7.30 - 0.53 v - 0.00145 v^2 = 0 at 13.290 m/s
    assert result.top_speed[0] == pytest.approx(13.290, rel=0.01)
    assert result.settled[0]


@pytest.mark.parametrize("speed", [2.0, 5.0, 8.0, 10.8])
def test_times_on_the_constant_torque(result, speed):
    assert result.time_to(speed)[0] == pytest.approx(first_part(speed), rel=0.01)


@pytest.mark.parametrize("speed", [40.0 / 3.6, 11.5, 12.0, 12.5])
def test_times_on_the_falling_torque(result, speed):
    assert result.time_to(speed)[0] == pytest.approx(first_part(10.8) + second_part(speed), rel=0.01)


def test_standing_start_over_a_hundred_metres(result):
    # both equations by scipy's solve_ivp, to 1e-10
    def rates(_, y):
        return y[1], (1.57 if y[1] < 10.8 else 7.30 - 0.53 * y[1]) - 0.00145 * y[1] ** 2

    exact = solve_ivp(rates, (0.0, 20.0), (0.0, 0.0), rtol=1e-10, atol=1e-10, events=lambda _, y: y[0] - 100.0)
    arrival = exact.t_events[0][0]
    assert arrival == pytest.approx(12.02, abs=5e-3)
    assert np.interp(100.0, result.distance[0], result.time) == pytest.approx(arrival, rel=0.01)


def test_the_torque_line_is_what_holds(result):
    assert (result.limit[0] == PHASE_CURRENT).all()
