"""A permanent-magnet machine under field-oriented control: constants, the current plane, losses.

Amplitude-invariant dq frame, non-salient (one inductance). Sources: R. Krishnan, Permanent Magnet Synchronous
and Brushless DC Motor Drives, CRC Press, 2010, chapters 3 and 5 (machine equations, voltage and current
limits, field weakening); written out again in each function. Equation numbers below are this module's own:

(1) v_d = R i_d - w L i_q                      (2) v_q = R i_q + w (L i_d + flux)
(3) torque = (3/2) p flux i_q                   (4) P = (3/2) (v_d i_d + v_q i_q)
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from physics.arrays import Floats, Numbers

COPPER_CONSTANT = 235.0
"""Degrees C below zero at which copper's resistance extrapolates to nought; IEC 60034-1 method, from memory."""


def flux_linkage_per_pole_pair(kv_rpm_per_volt: ArrayLike) -> Floats:
    """Phase peak back-EMF per mechanical rad/s, p x flux, from the speed constant.

    Kv is rpm per volt of line-to-line peak back-EMF, so that p flux = 60 / (2 pi Kv) / sqrt(3).

    Parameters
    ----------
    kv_rpm_per_volt : float or array, rpm/V
        Speed constant, above zero.

    Returns
    -------
    float or array, V s/rad
        Peak phase volts per mechanical rad/s.

    Examples
    --------
    >>> round(float(flux_linkage_per_pole_pair(100.0)), 5)
    0.05513
    """
    return 60 / (2 * np.pi * np.asarray(kv_rpm_per_volt, dtype=float)) / np.sqrt(3)


def torque_constant(kv_rpm_per_volt: ArrayLike) -> Floats:
    """Torque per peak phase ampere, (sqrt(3)/2) 60 / (2 pi Kv), equation (3).

    Parameters
    ----------
    kv_rpm_per_volt : float or array, rpm/V
        Speed constant, line-to-line peak.

    Returns
    -------
    float or array, N m/A
        For peak amperes; multiply by sqrt(2) for RMS amperes.

    Examples
    --------
    >>> round(float(torque_constant(100.0)), 4)
    0.0827
    """
    return 1.5 * flux_linkage_per_pole_pair(kv_rpm_per_volt)


def magnet_share(weakening: Numbers, temperature: Numbers) -> Floats:
    """Flux of the magnets over that at 20 degrees C: 1 - a (T - 20), T in degrees C.

    Parameters
    ----------
    weakening : float or array, 1/K
        Flux lost per kelvin, as a fraction: a.
    temperature : float or array, K
        Of the magnets.

    Returns
    -------
    float or array
        Above 1 where it is colder. It comes back with the cold; what a magnet loses for good when it gets too hot
        is left out.

    Notes
    -----
    The temperature coefficient of remanence as IEC 60404-8-1 and makers' data sheets define it, a straight line.
    Sintered neodymium magnets have 0.09 to 0.12 % per kelvin, most often about 0.11, samarium-cobalt 0.03 to 0.05
    (magnet makers' published tables).

    Examples
    --------
    >>> round(float(magnet_share(0.0011, 273.15 + 100)), 3)
    0.912
    """
    return 1.0 - np.multiply(weakening, np.subtract(temperature, 293.15))


def saturation_share(current: Numbers, tenth: Numbers) -> Floats:
    """What saturated iron leaves of a flux or an inductance, over that at little current.

    Parameters
    ----------
    current : float or array, A
        Torque current (peak).
    tenth : float or array, A
        The current at which a tenth is lost; infinite where nothing is.

    Returns
    -------
    float or array
        1 / sqrt(1 + (0.9^-2 - 1) (i / i_10)^2), so that current times share never falls.

    Notes
    -----
    A smooth form of the magnetisation curve that bends from a straight line to a ceiling; the form is common
    practice, no source. Makers' curves of torque against current show the current at which torque is a tenth below
    the line through its beginning.

    Examples
    --------
    >>> saturation_share(np.array([0.0, 300.0, 600.0]), 300.0).round(3).tolist()
    [1.0, 0.9, 0.718]
    """
    return 1.0 / np.sqrt(1.0 + (1 / 0.81 - 1) * np.square(np.divide(current, tenth)))


def winding_resistance(resistance_20: Numbers, temperature: Numbers) -> Floats:
    """Copper resistance at a temperature: R20 (235 + T) / (235 + 20), T in degrees C (IEC 60034-1 method).

    Parameters
    ----------
    resistance_20 : float or array, ohm
        Resistance at 20 degrees C.
    temperature : float or array, K
        Winding temperature.

    Returns
    -------
    float or array, ohm
        Resistance at that temperature.

    Examples
    --------
    >>> round(float(winding_resistance(1.0, 273.15 + 100)), 4)
    1.3137
    """
    return np.multiply(resistance_20, (COPPER_CONSTANT - 273.15) + temperature) / (COPPER_CONSTANT + 20.0)


def eddy_factor(frequency: Numbers, doubled: Numbers) -> Floats:
    """Resistance of a winding to alternating current over that to direct current: 1 + (f / f_2)^2.

    Parameters
    ----------
    frequency : float or array, Hz
        Electrical: pole pairs times turns a second.
    doubled : float or array, Hz
        The frequency at which the resistance has doubled; infinite where it stays.

    Returns
    -------
    float or array
        1 or more.

    Notes
    -----
    The beginning of the series for skin and proximity effect, both of which go with f^2 while a conductor is thin
    against the skin depth: P. L. Dowell, Effects of eddy currents in transformer windings, Proceedings of the IEE
    113 (1966) 1387-1394. It says too much far beyond f_2, where the loss grows more slowly.

    Examples
    --------
    >>> float(eddy_factor(500.0, 1000.0))
    1.25
    """
    return 1.0 + np.square(np.divide(frequency, doubled))


def iron_loss_drag_torque(constant_torque: Numbers, damping: Numbers, speed: Numbers) -> Floats:
    """Drag torque of iron loss: a constant part and one with speed, so that the loss grows as w and w^2.

    Below 1 rad/s the constant part fades to zero at rest, so that a standing motor pulls nothing back.

    Parameters
    ----------
    constant_torque : float or array, N m
        Hysteresis part.
    damping : float or array, N m s
        Eddy-current part.
    speed : float or array, rad/s
        Mechanical speed, zero or above.

    Returns
    -------
    float or array, N m
        Torque against the motion.

    Examples
    --------
    >>> float(iron_loss_drag_torque(0.3, 0.001, 100.0))
    0.4
    """
    return constant_torque * np.minimum(speed, 1.0) + damping * speed


def voltage_circle_centre(
    electrical_speed: Numbers, flux: Numbers, resistance: Numbers, inductance: Numbers
) -> tuple[Floats, Floats, Floats]:
    """Centre of the voltage limit in the (i_d, i_q) plane: -j w flux / Z, Z = R + j w L, from (1) and (2).

    Parameters
    ----------
    electrical_speed : float or array, rad/s
        Pole pairs times mechanical speed.
    flux : float or array, Wb
        Magnet flux linkage, peak phase value.
    resistance, inductance : float or array, ohm and H
        Line to neutral.

    Returns
    -------
    tuple of arrays
        Centre on the d axis and on the q axis, A (both zero or negative), and |Z|, ohm.

    Examples
    --------
    >>> d, q, impedance = voltage_circle_centre(1000.0, 0.0125, 0.0, 80e-6)
    >>> round(float(d), 2), abs(float(q)), round(float(impedance), 2)
    (-156.25, 0.0, 0.08)
    """
    reactance = electrical_speed * inductance
    squared = resistance * resistance + reactance * reactance
    scale = -electrical_speed * flux / squared
    return np.multiply(scale, reactance), np.multiply(scale, resistance), np.sqrt(squared)


def largest_quadrature_current(
    centre_d: Numbers, centre_q: Numbers, radius: Numbers, phase_limit: Numbers, field_weakening: Numbers
) -> Floats:
    """The largest i_q inside voltage circle, current circle and the strip -field_weakening <= i_d <= 0.

    On the strip the top of the voltage circle falls and the top of the current circle rises towards i_d = 0, so the
    answer is a corner: i_d = 0 on the current circle, the left edge on the voltage circle, or where they cross.

    Parameters
    ----------
    centre_d, centre_q : float or array, A
        Centre of the voltage circle.
    radius : float or array, A
        Radius of the voltage circle: bus voltage x modulation / sqrt(3) / |Z|.
    phase_limit : float or array, A
        Radius of the current circle (peak).
    field_weakening : float or array, A
        Largest -i_d (peak).

    Returns
    -------
    float or array, A
        i_q, zero where the plane is empty.

    Examples
    --------
    A machine without resistance whose voltage circle of 200 A has its centre at -100 A, phase limit 300 A:

    >>> largest_quadrature_current(-100.0, 0.0, 200.0, 300.0, np.array([0.0, 100.0])).round(1).tolist()
    [173.2, 200.0]
    """
    squared = radius * radius
    at_zero = np.sqrt(np.maximum(squared - centre_d * centre_d, 0.0)) + centre_q
    edge = np.maximum(centre_d, -np.minimum(field_weakening, phase_limit))
    at_edge = np.sqrt(np.maximum(squared - (edge - centre_d) ** 2, 0.0)) + centre_q
    phase_alone = (at_zero >= phase_limit) & (radius > -centre_d)
    edge_binds = ~phase_alone & (at_edge * np.abs(at_edge) + edge * edge <= phase_limit * phase_limit)
    distance_squared = centre_d * centre_d + centre_q * centre_q
    along = (phase_limit * phase_limit - squared + distance_squared) / 2
    across = np.sqrt(np.maximum(phase_limit * phase_limit * distance_squared - along * along, 1e-30))
    crossing = (along * centre_q - across * centre_d) / distance_squared
    return np.maximum(np.where(phase_alone, phase_limit, np.where(edge_binds, at_edge, crossing)), 0.0)


def smallest_direct_current(centre_d: Numbers, centre_q: Numbers, radius: Numbers, quadrature: Numbers) -> Floats:
    """The field-weakening current a wanted i_q needs: the right-hand edge of the voltage circle, or zero.

    Parameters
    ----------
    centre_d, centre_q, radius : float or array, A
        The voltage circle.
    quadrature : float or array, A
        The wanted i_q.

    Returns
    -------
    float or array, A
        i_d, zero or negative.

    Examples
    --------
    >>> smallest_direct_current(-100.0, 0.0, 200.0, np.array([160.0, 200.0])).round(1).tolist()
    [0.0, -100.0]
    """
    offset = quadrature - centre_q
    return np.minimum(0.0, centre_d + np.sqrt(np.maximum(radius * radius - offset * offset, 0.0)))


def no_load_speed(kv_rpm_per_volt: Numbers, bus_voltage: Numbers, modulation: Numbers = 1.0) -> Numbers:
    """Speed at which back-EMF alone meets the voltage limit, without field weakening.

    Parameters
    ----------
    kv_rpm_per_volt : float or array, rpm/V
        Speed constant.
    bus_voltage : float or array, V
        Voltage at the controller.
    modulation : float or array
        Phase voltage peak over bus voltage / sqrt(3).

    Returns
    -------
    float or array, rad/s
        Mechanical speed.

    Examples
    --------
    >>> round(float(no_load_speed(50.0, 72.0) * 60 / (2 * np.pi)))
    3600
    """
    return kv_rpm_per_volt * bus_voltage * modulation * 2 * np.pi / 60
