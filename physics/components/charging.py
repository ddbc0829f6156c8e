"""What cells may be charged with, and their resistance on the safe side for charging.

Charging too fast, or in the cold, plates metal on the negative electrode: it harms a cell for good and can make it
unsafe. The cell maker's own figures go before everything here.
"""

from __future__ import annotations

import numpy as np

from physics.arrays import Floats, Numbers

TYPICAL_CHARGE_RATE = 1.0
"""Charging current over that which fills the cell in an hour, where the maker's figure is not known: common
practice (cell makers' public precautions: 1C or less), no source. Cells made for power take more, many made
for range less."""

COLD_CHARGE_RATE = 0.2
"""The same between the chemistry's charging floor and its full-current temperature (0 and 10 degrees C). The band:
JEITA, A guide to the safe use of secondary lithium ion batteries in notebook-type personal computers (2007),
second-hand. The rate: what charger circuits keep to there unless told otherwise, 20 % of a one-hour charge, data
sheets SLVSE40C (2019), register of charger control 4, and SLUSF18A (2023), table 7-3 (20 % at 1C, 10 % at 2C)."""

COLD_GROWTH, WARM_FALL = 3.47, 0.807
"""Resistance at 0 and at 45 degrees C over that at 25, as published sets show it at worst (pulses computed with
PyBaMM 26.10): the most growth of nine sets, 10 s of discharging at 1C, M. Ecker et al., J. Electrochem. Soc. 162
(2015) A1836; the least fall of a set with a measured temperature dependence, 60 s of charging at 1C, Chen et al.
(2020). Applied to the resistance at small current, which is above that at 1C."""

_COLDEST, _FREEZING, _REFERENCE, _WARM, _HOTTEST = 243.15, 273.15, 298.15, 318.15, 333.15


def typical_charge_current(capacity_ah: Numbers) -> Floats:
    """Charging current that cells of the kind mostly take, A: `TYPICAL_CHARGE_RATE` x capacity.

    Parameters
    ----------
    capacity_ah : float or array, Ah
        Of the pack.

    Examples
    --------
    >>> float(typical_charge_current(26.0))
    26.0
    """
    return TYPICAL_CHARGE_RATE * np.asarray(capacity_ah, dtype=float)


def allowed_current(
    rating: Numbers, capacity_ah: Numbers, temperature: Numbers, full_temperature: Numbers
) -> Floats:
    """Largest charging current, A: the rating, and no more than `COLD_CHARGE_RATE` x capacity in the cold.

    Parameters
    ----------
    rating : float or array, A
        Of the pack.
    capacity_ah : float or array, Ah
        Of the pack.
    temperature : float or array, K
        Of the pack.
    full_temperature : float or array, K
        Below which charging is reduced: the chemistry's `charge_temperature_full`.

    Examples
    --------
    >>> allowed_current(40.0, 26.0, np.array([279.15, 293.15]), 283.15)
    array([ 5.2, 40. ])
    """
    cold = np.minimum(rating, COLD_CHARGE_RATE * np.asarray(capacity_ah))
    return np.where(np.less(temperature, full_temperature), cold, rating)


def safe_temperature_factor(temperature: Numbers, cold_growth: Numbers = COLD_GROWTH) -> Floats:
    """Resistance over that at 25 degrees C, never less than a cell of the kind may have.

    In the cold it grows as in the published set where it grows most, in the warm it falls as in the one where it
    falls least: Arrhenius' law through 25 degrees C and one point on either side.

    Parameters
    ----------
    temperature : float or array, K
        Of the cells; held at -30 and 60 degrees C outside.
    cold_growth : float or array
        Resistance at 0 degrees C over that at 25, where more is known of it than the published sets say.

    Returns
    -------
    float or array

    Examples
    --------
    >>> safe_temperature_factor(np.array([273.15, 298.15, 318.15])).round(3)
    array([3.47 , 1.   , 0.807])
    """
    held = np.minimum(np.maximum(temperature, _COLDEST), _HOTTEST)
    away = 1.0 / held - 1.0 / _REFERENCE
    cold = np.power(cold_growth, away / (1.0 / _FREEZING - 1.0 / _REFERENCE))
    return np.where(away > 0, cold, np.power(WARM_FALL, away / (1.0 / _WARM - 1.0 / _REFERENCE)))
