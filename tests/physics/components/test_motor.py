"""The permanent-magnet machine: published constants, hand-worked corners of the current plane, properties."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from physics.components import motor

ROOT3 = math.sqrt(3.0)


# ----- constants


@pytest.mark.parametrize(("kv", "expected"), [(100.0, 0.0827), (50.0, 0.1654), (1.0, 8.2699)])
def test_torque_for_a_peak_ampere(kv, expected):
    """published: R. Krishnan, Permanent Magnet Synchronous and Brushless DC Motor Drives (2010), torque equation of
    the surface machine, (3/2) p flux; with Kv from line-to-line peak: (sqrt(3)/2) 60 / (2 pi Kv) = 8.2699 / Kv.
    """
    assert motor.torque_constant(kv) == pytest.approx(expected, abs=5e-5)


@pytest.mark.parametrize("kv", [20.0, 62.0, 100.0, 400.0])
def test_torque_for_an_rms_ampere(kv):
    """hand-worked: sqrt(2) x 8.2699 / Kv = 11.695 / Kv."""
    assert math.sqrt(2) * motor.torque_constant(kv) * kv == pytest.approx(11.695, abs=5e-4)


@pytest.mark.parametrize(("kv", "expected"), [(100.0, 0.09549), (50.0, 0.19099)])
def test_line_to_line_back_emf(kv, expected):
    """exact solution: a voltage constant in V s/rad is 60 / (2 pi Kv); the phase value is smaller by sqrt(3)."""
    assert ROOT3 * motor.flux_linkage_per_pole_pair(kv) == pytest.approx(expected, abs=5e-6)


@pytest.mark.parametrize(("no_load_rpm", "stall", "most"), [(600.0, 0.325, 5.1), (3750.0, 0.0722, 7.09)])
def test_straight_torque_speed_line(no_load_rpm, stall, most):
    """published: MIT Center for Innovation in Product Development, notes on D.C. motors (title from memory): from
    stall torque and no-load speed, largest power 5.1 and 7.09 W, at half of each. The same line comes out of the
    current plane when inductance vanishes; 12 V and the resistance that gives the stall torque.
    """
    kv = no_load_rpm / 12.0
    resistance = motor.torque_constant(kv) * 12.0 / ROOT3 / stall
    assert motor.no_load_speed(kv, 12.0) * 30 / math.pi == pytest.approx(no_load_rpm)
    speed = np.linspace(0.0, no_load_rpm * math.pi / 30, 1001)
    flux = motor.flux_linkage_per_pole_pair(kv)
    d, q, impedance = motor.voltage_circle_centre(np.maximum(speed, 1e-9), flux, resistance, 1e-12)
    current = motor.largest_quadrature_current(d, q, 12.0 / ROOT3 / impedance, 1e9, 0.0)
    power = motor.torque_constant(kv) * current * speed
    assert power[0] == 0.0
    assert motor.torque_constant(kv) * current[0] == pytest.approx(stall, rel=1e-6)
    assert power.max() == pytest.approx(most, rel=0.01)
    assert power.argmax() == 500
    assert current[-1] == pytest.approx(0.0, abs=1e-6 * current[0])


@pytest.mark.parametrize(("celsius", "ratio"), [(20, 1.0), (75, 1.2157), (100, 1.3137), (120, 1.3922)])
def test_copper_resistance(celsius, ratio):
    """published: IEC 60034-1, resistance method, (235 + T2) / (235 + T1), from 20 C; the constant from memory."""
    assert motor.winding_resistance(0.006, celsius + 273.15) == pytest.approx(0.006 * ratio, rel=5e-5)


def test_iron_loss():
    """hand-worked: 0.3 N m + 4e-4 x 500 = 0.5 N m, 250 W; nothing at rest; half the constant part at 0.5 rad/s."""
    assert motor.iron_loss_drag_torque(0.3, 4e-4, 500.0) == pytest.approx(0.5)
    assert motor.iron_loss_drag_torque(0.3, 4e-4, 0.0) == 0.0
    assert motor.iron_loss_drag_torque(0.3, 4e-4, 0.5) == pytest.approx(0.1502)


# ----- a surface machine with field weakening: 72 V, 80 uH, 5 pole pairs, 0.0125 Wb, 300 A peak, no resistance.
# Equations of R. Krishnan (2010), chapter 5; each number worked out beside its check.

FLUX, INDUCTANCE, PHASE = 0.0125, 80e-6, 300.0


def surface_machine(rpm, weakening):
    """Largest i_q at one speed."""
    electrical = 5 * rpm * math.pi / 30
    d, q, impedance = motor.voltage_circle_centre(electrical, FLUX, 0.0, INDUCTANCE)
    return motor.largest_quadrature_current(d, q, 72.0 / ROOT3 / impedance, PHASE, weakening)


def test_voltage_circle_of_a_machine_without_resistance():
    """hand-worked: the centre stands at -flux / L = -156.25 A at every speed, on the d axis."""
    for speed in (100.0, 1000.0, 5000.0):
        d, q, impedance = motor.voltage_circle_centre(speed, FLUX, 0.0, INDUCTANCE)
        assert d == pytest.approx(-156.25)
        assert q == 0.0
        assert impedance == pytest.approx(speed * INDUCTANCE)


@pytest.mark.parametrize(("rpm", "at_limit"), [(2930.0, True), (2938.0, False)])
def test_base_speed(rpm, at_limit):
    """hand-worked: 72 / sqrt(3) / sqrt(flux^2 + (L x 300 A)^2) / 5 = 307.2 rad/s = 2934 rpm."""
    assert (surface_machine(rpm, 0.0) == PHASE) == at_limit


@pytest.mark.parametrize(("rpm", "turns"), [(6345.0, True), (6357.0, False)])
def test_no_load_speed_without_field_weakening(rpm, turns):
    """hand-worked: 72 / sqrt(3) / 0.0125 / 5 = 665.1 rad/s = 6351 rpm."""
    assert (surface_machine(rpm, 0.0) > 0) == turns
    kv = 60 / (2 * math.pi) / (ROOT3 * 5 * FLUX)
    assert motor.no_load_speed(kv, 72.0) * 30 / math.pi == pytest.approx(6351.0, abs=0.5)


@pytest.mark.parametrize(("rpm", "turns"), [(17_625.0, True), (17_660.0, False)])
def test_no_load_speed_with_100_amperes_of_field_weakening(rpm, turns):
    """hand-worked: 72 / sqrt(3) / (flux - L x 100 A) / 5 = 1847.5 rad/s = 17 642 rpm."""
    assert (surface_machine(rpm, 100.0) > 0) == turns


@pytest.mark.parametrize("rpm", [8000.0, 20_000.0, 100_000.0])
def test_field_weakening_to_the_centre_knows_no_top_speed(rpm):
    """hand-worked: with flux / L = 156.25 A or more, i_q = U / (w L) at any speed: 51.962 kA rad/s over w."""
    expected = 72.0 / ROOT3 / INDUCTANCE / (5 * rpm * math.pi / 30)
    assert surface_machine(rpm, 200.0) == pytest.approx(expected, rel=1e-9)


def test_both_discs_bind_just_above_base_speed():
    """hand-worked: at 4000 rpm (2094.4 rad/s electrical, radius 248.10 A) the circles cross where
    i_d = (248.10^2 - 300^2 - 156.25^2) / (2 x 156.25) = -169.15 A, beyond the centre. At 3500 rpm the radius is
    283.55 A, i_d = (283.55^2 - 300^2 - 156.25^2) / 312.5 = -108.86 A and i_q = sqrt(300^2 - 108.86^2) = 279.55 A.
    """
    assert surface_machine(3500.0, 200.0) == pytest.approx(279.55, abs=0.02)
    assert surface_machine(4000.0, 200.0) == pytest.approx(248.10, abs=0.02)


def test_flux_of_warm_magnets_published():
    """published: the worked example of a magnet maker's public page on temperature coefficients, a sintered
    neodymium magnet of 13.82 kG at 20 and 11.69 kG at 150 degrees C, printed as -0.119 % for each degree.
    """
    half_digit = 0.0005e-2 * 130
    assert motor.magnet_share(0.00119, 273.15 + 150.0) == pytest.approx(11.69 / 13.82, abs=half_digit)
    assert motor.magnet_share(0.00119, 293.15) == 1.0


def test_eddies_begin_as_dowells_series_does():
    """exact solution: P. L. Dowell, Proceedings of the IEE 113 (1966) 1387-1394: x Re((1 + j) coth((1 + j) x)) +
    2 (m^2 - 1) / 3 x Re((1 + j) tanh((1 + j) x / 2)) for m layers of x skin depths; its series begins with
    1 + (5 m^2 - 1) / 45 x^4, and x^2 goes with frequency.
    """
    for layers, doubled in ((1, 1000.0), (4, 800.0)):
        twice = (45.0 / (5.0 * layers**2 - 1.0)) ** 0.25  # x where the series says 2
        for share in (0.05, 0.1, 0.2):
            x = twice * math.sqrt(share)
            z = (1 + 1j) * x
            exact = (z / np.tanh(z)).real + 2 * (layers**2 - 1) / 3 * (z * np.tanh(z / 2)).real
            # the next term of the series, of the order of x^8, is left out
            assert motor.eddy_factor(share * doubled, doubled) - 1 == pytest.approx(exact - 1, rel=0.03)


# ----- properties of the current plane

CASES = {
    "electrical": st.floats(1e-3, 2e4), "flux": st.floats(1e-4, 0.2), "resistance": st.floats(1e-5, 0.5),
    "inductance": st.floats(1e-7, 1e-2), "bus": st.floats(1.0, 1000.0), "phase": st.floats(1.0, 3000.0),
    "weakening": st.one_of(st.just(0.0), st.floats(0.0, 3000.0)),
}  # fmt: skip


@settings(deadline=None, max_examples=400)
@given(**CASES)
def test_no_feasible_point_has_more_torque(electrical, flux, resistance, inductance, bus, phase, weakening):
    """property: the point found lies in both discs and in the strip; no point of a fine grid has a larger i_q."""
    d, q, impedance = motor.voltage_circle_centre(electrical, flux, resistance, inductance)
    radius = bus / ROOT3 / impedance
    most = motor.largest_quadrature_current(d, q, radius, phase, weakening)
    scale = max(phase, radius, abs(d), abs(q))
    slack = 1e-9 * scale
    assert 0 <= most <= phase + slack
    # every point of the strip at which some i_q >= 0 is allowed, as the smaller of the tops of both discs
    i_d = np.linspace(max(-min(weakening, phase), d - radius), min(0.0, d + radius), 4001)
    inside = radius**2 - (i_d - d) ** 2
    top = np.where(inside >= 0, q + np.sqrt(np.maximum(inside, 0.0)), -np.inf)
    feasible = np.minimum(top, np.sqrt(np.maximum(phase**2 - i_d**2, 0.0)))
    best = feasible.max() if i_d[0] <= i_d[-1] else -np.inf
    assert best <= most + slack
    if most > slack:
        assert best >= most - 1e-3 * scale  # the grid's own coarseness
        i_d = motor.smallest_direct_current(d, q, radius, most)
        assert -min(weakening, phase) - 1e-6 * scale <= i_d <= 0
        assert (i_d - d) ** 2 + (most - q) ** 2 <= radius**2 + 1e-6 * scale**2
        assert i_d**2 + most**2 <= phase**2 + 1e-6 * scale**2


@settings(deadline=None, max_examples=200)
@given(**CASES, share=st.floats(0.0, 1.0))
def test_smallest_field_current(electrical, flux, resistance, inductance, bus, phase, weakening, share):
    """property: a smaller i_q needs no more field current than the largest, and none where i_d = 0 is inside."""
    d, q, impedance = motor.voltage_circle_centre(electrical, flux, resistance, inductance)
    radius = bus / ROOT3 / impedance
    most = motor.largest_quadrature_current(d, q, radius, phase, weakening)
    at_most, at_less = (motor.smallest_direct_current(d, q, radius, i_q) for i_q in (most, share * most))
    assert at_most <= at_less + 1e-6 * max(1.0, radius) <= 1e-6 * max(1.0, radius)
    if d**2 + (share * most - q) ** 2 < radius**2:
        assert at_less == pytest.approx(0.0, abs=1e-6 * max(1.0, radius))


@settings(deadline=None, max_examples=200)
@given(**CASES)
def test_more_voltage_never_means_less_torque(electrical, flux, resistance, inductance, bus, phase, weakening):
    """property: the largest i_q rises with the bus voltage."""
    d, q, impedance = motor.voltage_circle_centre(electrical, flux, resistance, inductance)
    radius = bus / ROOT3 / impedance * np.array([1.0, 1.0 + 1e-6])
    most = motor.largest_quadrature_current(d, q, radius, phase, weakening)
    assert most[1] >= most[0] - 1e-9 * max(1.0, most[0])


def test_floats_and_arrays():
    """property: every function broadcasts."""
    speeds = np.linspace(1.0, 3000.0, 7)
    d, q, impedance = motor.voltage_circle_centre(speeds[:, None], np.array([0.01, 0.02]), 0.01, 1e-4)
    assert d.shape == q.shape == (7, 2)
    found = motor.largest_quadrature_current(d, q, 40.0 / impedance, 300.0, 50.0)
    for place in np.ndindex(7, 2):
        alone = motor.largest_quadrature_current(d[place], q[place], 40.0 / impedance[place[0], 0], 300.0, 50.0)
        assert found[place] == alone
