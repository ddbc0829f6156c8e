"""What cells may be charged with, and their resistance on the safe side for charging.

Charging too fast, or in the cold, plates metal on the negative electrode: it harms a cell for good and can make it
unsafe. The cell maker's own figures go before everything here.
"""

from __future__ import annotations

import numpy as np

from physics.arrays import Floats, Numbers
from physics.components import cell

TYPICAL_CHARGE_RATE = 1.0
"""Charging current over that which fills the cell in an hour, where the maker's figure is not known: common
practice (cell makers' public precautions: 1C or less), no source. Cells made for power take more, many made
for range less."""

COLD_CHARGE_RATE = 0.2
"""The same between the chemistry's charging floor and its full-current temperature (0 and 10 degrees C). The band:
JEITA, A guide to the safe use of secondary lithium ion batteries in notebook-type personal computers (2007),
second-hand. The rate: what charger circuits keep to there unless told otherwise, 20 % of a one-hour charge, data
sheets SLVSE40C (2019), register of charger control 4, and SLUSF18A (2023), table 7-3 (20 % at 1C, 10 % at 2C)."""

# Arrhenius' law through published sets, pulses computed with PyBaMM 26.10. Colder than 25 C: R(0 C)/R(25 C) = 3.47,
# the most of nine sets (M. Ecker et al., J. Electrochem. Soc. 162 (2015) A1836). Warmer: R(45 C)/R(25 C) = 0.807
# after 60 s of charging at 1C, the least fall of a set with a measured temperature dependence (Chen et al. 2020).
COLD_ACTIVATION_ENERGY = 33_700.0  # J/mol
WARM_ACTIVATION_ENERGY = 8_400.0  # J/mol


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


def safe_temperature_factor(temperature: Numbers, activation_energy: Numbers = 0.0) -> Floats:
    """Resistance over that at 25 degrees C, never less than a cell of the kind may have.

    In the cold it grows as in the published set where it grows most, in the warm it falls as in the one where it
    falls least.

    Parameters
    ----------
    temperature : float or array, K
        Of the cells; held at -30 and 60 degrees C outside.
    activation_energy : float or array, J/mol
        The chemistry's own, where that is more than the published most.

    Returns
    -------
    float or array

    Examples
    --------
    >>> safe_temperature_factor(np.array([273.15, 298.15, 318.15])).round(2)
    array([3.47, 1.  , 0.81])
    """
    cold = np.maximum(activation_energy, COLD_ACTIVATION_ENERGY)
    energy = np.where(np.less(temperature, cell.REFERENCE_TEMPERATURE), cold, WARM_ACTIVATION_ENERGY)
    return cell.resistance_temperature_factor(temperature, energy)
