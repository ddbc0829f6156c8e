"""What a speed asks of tyre, motor and controller, against what they are rated for.

With n the motor's speed in rpm at a road speed v, ratio G from motor to wheel and rolling radius r,

(1) n = 60 v G / (2 pi r)      (2) E = n / Kv      (3) f = p n / 60      (4) U = cells x highest cell voltage

(R. Krishnan, Permanent Magnet Synchronous and Brushless DC Motor Drives, CRC Press, 2010, chapter 3). While the
field is weakened the controller holds the voltage at its terminals down; should it let go, the line-to-line peak of
the back-EMF (2) reaches its bus through its diodes: T. M. Jahns and V. Caliskan, Uncontrolled generator operation
of interior PM synchronous machines following high-speed inverter shutdown, IEEE Transactions on Industry
Applications 35 (1999) 1347-1357, from memory. A tyre's symbols are those of UN Regulation No. 75, definitions and
annex 4.
"""

import math
from typing import NamedTuple

from physics.build import Build
from physics.components.cell import chemistry
from physics.components.tyre import SPEED_SYMBOLS_KM_H, free_radius, load_capacity, parse_tyre, rolling_radius

TYRE_SPEED, TYRE_LOAD, PACK_VOLTAGE, BACK_EMF, ELECTRICAL_FREQUENCY = RATINGS = (
    "tyre speed",
    "tyre load",
    "pack voltage",
    "back-EMF",
    "electrical frequency",
)
"""Every rating; the first of these is in m/s, then kg, V, V and Hz."""


class Rating(NamedTuple):
    """One rating.

    Attributes
    ----------
    value : float
        What the speed asks for.
    limit : float
        What is allowed; infinite where that is not known.
    """

    value: float
    limit: float

    @property
    def passed(self) -> bool:
        """Whether it asks for more than is allowed."""
        return self.value > self.limit


def speed_ratings(build: Build, speed: float) -> dict[str, Rating]:
    """What a speed asks of the parts, and what they are rated for.

    Parameters
    ----------
    build : Build
        Its controller holds the ratings; those of the tyre stand in its code.
    speed : float, m/s
        The highest that is reached.

    Returns
    -------
    dict of str to Rating
        One for each of RATINGS.

    Notes
    -----
    Equations (1) to (4). The load is what the rear wheel carries standing, in kg: m (1 - b / w). Where no back-EMF
    is given that the controller withstands, its highest voltage stands for it.

    Examples
    --------
    >>> from physics.build import example_build
    >>> asked = speed_ratings(example_build().change({"controller.voltage_maximum": 90.0}), 30.0)
    >>> round(asked["pack voltage"].value, 1), [name for name in RATINGS if asked[name].passed]
    (100.8, ['pack voltage'])
    """
    controller, line, bike = build.controller, build.driveline, build.bike
    radius = float(rolling_radius(free_radius(bike.tyre))) if bike.rolling_radius is None else bike.rolling_radius
    ratio = line.primary_ratio * line.rear_teeth / line.front_teeth
    rpm = 60.0 * speed * ratio / (2.0 * math.pi * radius)
    try:
        tyre = parse_tyre(bike.tyre)
        speed_symbol, capacity = tyre.speed_symbol, load_capacity(tyre.load_index)
    except ValueError:  # a radius stands for it
        speed_symbol, capacity = "", math.inf
    withstands = controller.back_emf_maximum
    return {
        TYRE_SPEED: Rating(speed, SPEED_SYMBOLS_KM_H.get(speed_symbol, math.inf) / 3.6),
        TYRE_LOAD: Rating(
            (bike.bike_mass + bike.rider_mass) * (1.0 - bike.centre_of_gravity_to_rear_axle / bike.wheelbase),
            capacity,
        ),
        PACK_VOLTAGE: Rating(
            build.pack.cells_in_series * chemistry(build.pack.chemistry).voltage_maximum, controller.voltage_maximum
        ),
        BACK_EMF: Rating(
            rpm / build.motor.kv_rpm_per_volt,
            withstands if math.isfinite(withstands) else controller.voltage_maximum,
        ),
        ELECTRICAL_FREQUENCY: Rating(build.motor.pole_pairs * rpm / 60.0, controller.electrical_frequency_maximum),
    }
