"""The packs of a batch as charging sees them: rest voltage, resistance at a current, and what builds up on the
pairs.

Equation (1) of `physics.components.cell_resistance` with the factor of charging, at the pack's temperature held.
Its charge transfer bends with current: at a current it is taken as the resistance that makes the same voltage.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from physics.arrays import Floats
from physics.build.batch import Batch
from physics.components import cell, pack
from physics.components.cell_resistance import (
    HIGHEST_TEMPERATURE,
    LOWEST_TEMPERATURE,
    PULL_RATE,
    TRANSFER_VOLTAGE,
    resistance_charge_factor,
    resistance_temperature_factor,
)
from physics.scenarios.charging import rest_beyond_full
from physics.simulation.charge_transfer import Transfer

_LEAST = 1e-3  # A, below which a current makes the voltage of no current


class ChargingPack:
    """The packs of a batch as charging sees them; charges are arrays of shape (n,), or (n, t) where it says so.

    Parameters
    ----------
    batch : Batch
        The builds; temperatures are those of the conditions.
    """

    def __init__(self, batch: Batch) -> None:
        self.chemistry, self.series = batch.chemistry, batch["pack.cells_in_series"]
        temperature = batch["conditions.pack_temperature"]
        growth = resistance_temperature_factor(temperature, batch.conduction_growth())
        parts = pack.resistance_parts(batch.small_current_resistance(), self.chemistry)
        self.conduction, self.transfer = parts[0] * growth, parts[1] * np.square(growth)
        self.pairs = np.array(parts[2:]) * growth
        self.times = np.reshape(cell.PAIR_TIMES, (-1, 1)) + np.zeros(len(batch))
        self.bend = TRANSFER_VOLTAGE * np.clip(temperature, LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE) * self.series
        self.straight = PULL_RATE * batch["pack.capacity_ah"]
        self.coulombs = batch["pack.capacity_ah"] * pack.SECONDS_PER_HOUR
        self.ahead = batch["pack.charge_spread"]
        self.worst = (1.0 + batch["pack.resistance_spread"]) / self.series

    def rest(self, charge: Floats) -> Floats:
        """Rest voltage, V; of charges (n,) or (n, t)."""
        series = self._beside(self.series, charge)
        return pack.rest_voltage(self._beside(self.chemistry, charge), series, charge)

    def factor(self, charge: Floats) -> Floats:
        """Resistance over that of a discharge at half charge; of charges (n,) or (n, t)."""
        return resistance_charge_factor(self._beside(self.chemistry, charge), charge, "charge")

    def at_once(self, factor: Floats, current: Floats) -> Floats:
        """Resistance that a current meets at once, ohm: conduction, and charge transfer at that current."""
        size = np.maximum(np.abs(current), _LEAST)
        over = Transfer(self.transfer * factor, self.bend * factor, self.straight).voltage(size)
        return self.conduction * factor + over / size

    def fullest(self, charge: Floats, rise: Floats) -> Floats:
        """Voltage of the fullest, most resistive cell, V, from the pack's rise over rest; (n,) or (n, t)."""
        own = charge + self._beside(self.ahead, charge)
        share = self._beside(self.worst, charge) * self.factor(own) / self.factor(charge)
        return rest_beyond_full(self._beside(self.chemistry, charge), own) + rise * share

    @staticmethod
    def _beside(values: NDArray[Any], charge: Floats) -> NDArray[Any]:
        return values[:, None] if charge.ndim > 1 else values
