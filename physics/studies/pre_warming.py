"""Pre-warming: what the same pack does when it is warmer than the day.

A warm pack sags less. Warm it slowly and evenly, with what its maker allows for it, and never beyond the cells'
limits: an unattended or uneven heater can set a lithium pack on fire.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from physics.build import Build
from physics.build.batch import Batch
from physics.scenarios.burst import largest_power
from physics.scenarios.pull import Pull, make_pull
from physics.simulation.plant import PackModel
from physics.studies.line_limit import line_limit
from physics.studies.uncertainty.tolerance import Tolerance


@dataclass(frozen=True, eq=False)
class PreWarming:
    """The same bike and day with the pack at several temperatures; arrays of shape (k,), coldest first.

    Attributes
    ----------
    temperature : array, K
        Of the pack at the start.
    today : int
        Place of the pack as it is.
    resistance : array, ohm
        Ten-second resistance at the start, at the current the build's own was measured with.
    top_speed : array, m/s
        Within the pull.
    time_to_target : array, s
        Infinite where there is no target or it is not reached.
    minimum_cell_voltage : array, V
        Of the weakest cell within the pull.
    used : array, shape (k, len(RULES))
        Share of each rule's allowance that the pull uses.
    line_limit : array, A
        See `LineLimits`: infinite where none is needed, 0 where none survives.
    burst : array, W
        Largest power for `seconds`.
    seconds : float, s
        Of the burst.
    energy : array, J
        To warm the cells from the pack as it is; 0 where that is warmer. Losses of the heater come on top.
    """

    temperature: np.ndarray
    today: int
    resistance: np.ndarray
    top_speed: np.ndarray
    time_to_target: np.ndarray
    minimum_cell_voltage: np.ndarray
    used: np.ndarray
    line_limit: np.ndarray
    burst: np.ndarray
    seconds: float
    energy: np.ndarray

    @property
    def message(self) -> tuple[str, ...]:
        """One sentence for each temperature."""
        return tuple(
            f"At {temperature - 273.15:.0f} degrees C the pack has {1000 * resistance:.0f} milliohm and gives "
            f"{burst / 1000:.1f} kW for {self.seconds:g} s."
            for temperature, resistance, burst in zip(self.temperature, self.resistance, self.burst, strict=True)
        )


def pre_warming(
    build: Build,
    pull: Pull,
    temperatures: ArrayLike = (283.15, 293.15, 303.15),
    seconds: float = 10.0,
    margin: float = 1.0,
    step: float = 5.0,
    steps: int | None = None,
    tolerances: Sequence[Tolerance] | None = None,
) -> PreWarming:
    """What the same pack does at several temperatures, beside the one it has.

    Parameters
    ----------
    build : Build
        The bike in its conditions; air and road stay as they are.
    pull : Pull
        What is ridden.
    temperatures : sequence of float, K
        Of the pack; by default 10, 20 and 30 degrees C.
    seconds : float, s
        Of the burst.
    margin, step : float, and A
        Of the line limit; see `line_limit`.
    steps : int, optional
        Time steps of each run.
    tolerances : sequence of Tolerance, optional
        Of the line limit; see `line_limit`.

    Returns
    -------
    PreWarming
        One row for each temperature and one for the pack as it is.

    Raises
    ------
    BuildError
        When a temperature is not accepted.

    Examples
    --------
    >>> from physics.build import example_build
    >>> build = example_build().change({"conditions.air_temperature": 275.15})
    >>> warmed = pre_warming(build, Pull(10.0))
    >>> bool((np.diff(warmed.resistance) < 0).all())
    True
    """
    own = Batch.of(build)
    now = float(own["conditions.pack_temperature"][0])
    axis = np.union1d(np.asarray(temperatures, dtype=float), [now])
    batch = Batch.vary(build, {"conditions.pack_temperature": axis})
    result = make_pull(batch, pull, None, steps)
    limits = line_limit(build, pull, margin, axis, None, step, steps, tolerances)
    return PreWarming(
        temperature=axis,
        today=int(np.searchsorted(axis, now)),
        resistance=PackModel(batch).pulse_resistance(
            batch["conditions.charge"], axis, batch["pack.resistance_current"]
        ),
        top_speed=result.top_speed,
        time_to_target=result.time_to_target,
        minimum_cell_voltage=result.minimum_cell_voltage,
        used=result.used,
        line_limit=limits.limit[:, 0],
        burst=largest_power(build, seconds, axis),
        seconds=float(seconds),
        energy=own["pack.heat_capacity"][0] * np.maximum(axis - now, 0.0),
    )
