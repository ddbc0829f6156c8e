"""What an ageing pack costs: the voltage from which a target is out of reach on a cold day some time ahead.

The resistance of several rides, each brought to 25 degrees C and half charge, goes on along its trend; the
voltage window then says what the bike does with it. Left out: loss of capacity, growth that speeds up with age, and
that the growth in the cold may change with age too.
"""

from __future__ import annotations

from dataclasses import dataclass

from physics.build import Build
from physics.fitting.trend import Trend
from physics.studies.voltage_window import VoltageWindow, voltage_window


@dataclass(frozen=True, eq=False)
class AgedWindow:
    """Voltage windows of one build with its pack as old as it was at the last ride, and older.

    Attributes
    ----------
    resistance_now, resistance, resistance_worse : float, ohm
        At 25 degrees C and half charge: on the trend at the last ride and at the time asked for; and the upper end
        of the 95 % interval in which a ride of that time is to be expected.
    now, then, worse : VoltageWindow
        With each of them.
    """

    resistance_now: float
    resistance: float
    resistance_worse: float
    now: VoltageWindow
    then: VoltageWindow
    worse: VoltageWindow


def aged_window(
    build: Build, resistance: Trend, time: float, target_speed: float, temperature: float, duration: float = 40.0
) -> AgedWindow:
    """From what resting voltage a target is reached with a pack that has aged on along its trend.

    Parameters
    ----------
    build : Build
        The bike.
    resistance : Trend
        Of the pack's resistance, ohm at 25 degrees C and half charge.
    time : float
        When; on the trend's own clock and in its unit. Not before its last value.
    target_speed : float, m/s
        To be reached within the duration.
    temperature : float, K
        Of the pack and of the air.
    duration : float, s
        Of each run.

    Returns
    -------
    AgedWindow

    Raises
    ------
    ValueError
        When the time lies before the last ride, or the trend leads to no resistance above zero.

    Examples
    --------
    >>> import numpy as np
    >>> from physics.build import example_build
    >>> from physics.fitting.trend import trend
    >>> years, ohms = np.arange(4.0), np.array([0.050, 0.052, 0.054, 0.056])
    >>> made = aged_window(example_build(), trend(years, ohms, ohms - 1e-3, ohms + 1e-3), 5.0, 20.0, 278.15, 10.0)
    >>> round(made.resistance, 6), made.now.lowest_rest_voltage < made.then.lowest_rest_voltage
    (0.06, True)
    """
    if time < resistance.last:
        raise ValueError(f"time: got {time!r}; accepts the time of the last ride, {resistance.last!r}, or later.")
    today = float(resistance.line(resistance.last)[0])
    value, _, worse = (float(each) for each in resistance.reading(time))
    if not min(today, value) > 0:
        raise ValueError("The trend leads to a resistance below zero; it cannot be carried on so far.")
    day = {"conditions.pack_temperature": temperature, "conditions.air_temperature": temperature}

    def window(ohms: float) -> VoltageWindow:
        aged = build.change({"pack.resistance": ohms / build.pack.resistance_growth} | day)
        return voltage_window(aged, target_speed, duration)

    return AgedWindow(today, value, worse, window(today), window(value), window(worse))
