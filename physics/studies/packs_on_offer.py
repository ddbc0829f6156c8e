"""A pack on offer, taken as one thing, in the place of the one a bike has: what the bike would do with it.

What an offer does not say is typical: its rating by its amp-hours, resistance by its rating, mass by its energy.
Each pack is judged with the line limit that it survives itself, margins and all, so that one made for more current
shows it. A higher limit needs a controller that may draw as much, and other cells another charger: the makers'
instructions go first.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from physics.build import Build
from physics.build.batch import Batch
from physics.components.pack import energy_content, rest_voltage
from physics.components.thresholds import typical_thresholds
from physics.scenarios.burst import burst_power
from physics.scenarios.cruise import cruise
from physics.scenarios.pull import Pull
from physics.simulation.run import run
from physics.studies.headroom_curves import RegenPlan, headroom_answer
from physics.studies.line_limit import NONE_SURVIVES, line_limit
from physics.studies.uncertainty.tolerance import Tolerance
from physics.typical.pack import current_rating, pack_mass

COLD, WARM = 273.15, 298.15
"""K, pack temperatures at which a power is held, 0 and 25 degrees C."""

LONGEST = 600.0
"""s, for which a power is held at most."""

KEPT_BACK = 0.1
"""Charge that a range leaves in the pack: common practice, no source."""


@dataclass(frozen=True)
class Offer:
    """A pack as it is offered.

    Attributes
    ----------
    name : str
        What to call it.
    cells_in_series : int
    capacity_ah : float, Ah
        Of the pack.
    resistance : float, ohm, optional
        Ten-second value at 25 degrees C; by default typical of the rating.
    continuous_current, peak_current, peak_time : float, A, A and s
        Its rating; infinite where it is not said: then typical of its capacity, or of the other one.
    mass : float, kg, optional
        Of the whole pack; by default typical of its energy.
    price : float, optional
        In any currency.
    chemistry : str
        Key of its chemistry; empty for that of the pack which the bike has.
    """

    name: str
    cells_in_series: int
    capacity_ah: float
    resistance: float | None = None
    continuous_current: float = math.inf
    peak_current: float = math.inf
    peak_time: float = 10.0
    mass: float | None = None
    price: float | None = None
    chemistry: str = ""

    def kind(self, build: Build) -> str:
        """Key of its chemistry, in the place of the pack of a build."""
        return self.chemistry or build.pack.chemistry


@dataclass(frozen=True)
class OfferPlan:
    """What the packs are judged by.

    Attributes
    ----------
    pull : Pull
        What a line limit must survive.
    margin, step : float, and A
        Of the line limit; see `physics.studies.line_limit.line_limit`.
    target_speed, duration : float, m/s and s
        To be reached within.
    power : float, W
        To be held, cold and warm.
    range_speed : float, m/s
        Steady speed of a range.
    regen : RegenPlan
        What pushes current back.
    """

    pull: Pull
    margin: float
    step: float
    target_speed: float
    duration: float
    power: float
    range_speed: float
    regen: RegenPlan


@dataclass(frozen=True)
class PackAnswer:
    """What a bike does with a pack.

    Attributes
    ----------
    resistance, mass : float, ohm and kg
        Of the pack; the mass is nought for the pack that the bike has.
    line_limit : float, A
        The highest that survives the pull; infinite where none is needed, 0 where none survives.
    top_speed, time_to_target : float, m/s and s
        With that limit, or with all it can use; infinite time where the target is not reached without a cut-out.
    cold_time, warm_time : float, s
        For how long the power is held from today's charge, `LONGEST` at most.
    headroom : float, V
        Below full, before regen; NaN where no regen is allowed.
    regen_current : float, A
        That it holds for.
    reach : float, m
        From full to `KEPT_BACK` at the steady speed; NaN where that speed is not held.
    """

    resistance: float
    mass: float
    line_limit: float
    top_speed: float
    time_to_target: float
    cold_time: float
    warm_time: float
    headroom: float
    regen_current: float
    reach: float

    @property
    def reaches(self) -> bool:
        """Whether the target is reached without a cut-out."""
        return math.isfinite(self.time_to_target)

    def price_per_speed(self, price: float | None, present: PackAnswer) -> float:
        """Price over the speed gained, 1/(m/s); NaN where there is no price or no gain."""
        gain = self.top_speed - present.top_speed
        return price / gain if price is not None and gain > 0.05 else math.nan


def fitted(build: Build, offer: Offer) -> Build:
    """The build with an offered pack in the place of its own.

    Parameters
    ----------
    build : Build
        The mass of the pack it has, typical of its energy, goes out with it.
    offer : Offer
        The pack that comes in.

    Returns
    -------
    Build
        Its pack is new; a fast over-current rule is not known of it and off. How its resistance grows in the cold
        is typical, and where the chemistry is another, so are its thresholds. The controller's foldback voltages
        go with the rest voltage at half charge.

    Raises
    ------
    BuildError
        When the offer cannot be built.

    Examples
    --------
    >>> from physics.build import example_build
    >>> rated = fitted(example_build(), Offer("rated", 20, 20.0, None, 200.0, 250.0))
    >>> round(1000 * float(Batch.of(rated)["pack.resistance"][0])), round(rated.bike.bike_mass, 1)
    (46, 114.7)
    """
    pack, control = build.pack, build.controller
    kind = offer.kind(build)
    new, old = (
        rest_voltage(kind, offer.cells_in_series, 0.5),
        rest_voltage(pack.chemistry, pack.cells_in_series, 0.5),
    )
    ratio = float(new / old)
    rules = pack.protection
    continuous, peak = current_rating(offer.capacity_ah, offer.continuous_current, offer.peak_current)
    low, high = rules.cell_undervoltage, rules.cell_overvoltage
    if kind != pack.chemistry:
        low, high = typical_thresholds(kind)
    out = float(pack_mass(pack.cells_in_series, pack.capacity_ah, pack.chemistry).middle)
    return build.change(
        {
            "pack.cells_in_series": offer.cells_in_series,
            "pack.capacity_ah": offer.capacity_ah,
            "pack.resistance": offer.resistance,
            "pack.chemistry": kind,
            "pack.cold_growth": None,
            "pack.protection.cell_undervoltage": low,
            "pack.protection.cell_overvoltage": high,
            "pack.resistance_growth": 1.0,
            "pack.charge_current": None,
            "pack.heat_capacity": None,
            "pack.thermal_conductance": None,
            "pack.protection.continuous_current": float(continuous),
            "pack.protection.peak_current": float(peak),
            "pack.protection.peak_time": offer.peak_time,
            "pack.protection.fast_current": math.inf,
            "controller.foldback_start_voltage": control.foldback_start_voltage * ratio,
            "controller.foldback_end_voltage": control.foldback_end_voltage * ratio,
            "bike.bike_mass": max(build.bike.bike_mass + mass_of(build, offer) - out, 5.0),
        }
    )


def mass_of(build: Build, offer: Offer) -> float:
    """Mass of an offered pack, kg: as given, or typical of its energy.

    Parameters
    ----------
    build : Build
        Whose chemistry it has where it says none.
    offer : Offer
        The pack.

    Examples
    --------
    >>> from physics.build import example_build
    >>> mass_of(example_build(), Offer("light", 20, 20.0, mass=8.5))
    8.5
    """
    if offer.mass is not None:
        return offer.mass
    return float(pack_mass(offer.cells_in_series, offer.capacity_ah, offer.kind(build)).middle)


def judged(build: Build, plan: OfferPlan, tolerances: Sequence[Tolerance], mass: float = 0.0) -> PackAnswer:
    """What a build does with the pack that is in it.

    Parameters
    ----------
    build : Build
        With its pack and today's conditions.
    plan : OfferPlan
        What it is judged by.
    tolerances : sequence of Tolerance
        How well each unknown is known; line limit and headroom hold for the worse ends.
    mass : float, kg
        Of the pack, to be told on.

    Returns
    -------
    PackAnswer

    Examples
    --------
    >>> from physics.build import example_build
    >>> from physics.studies.uncertainty.tolerance import default_tolerances
    >>> build = example_build()
    >>> plan = OfferPlan(Pull(10.0), 0.0, 20.0, 20.0, 15.0, 8000.0, 12.0, RegenPlan())
    >>> judged(build, plan, default_tolerances(build)).reaches
    True
    """
    limits = line_limit(build, plan.pull, plan.margin, None, None, plan.step, None, tolerances)
    limit = float(limits.limit[0, 0])
    none = limits.status[0, 0] == NONE_SURVIVES
    ridden = build
    if not none:
        drawn = plan.step * math.ceil(float(limits.largest_current[0, 0]) / plan.step)
        ridden = build.change({"controller.line_current_limit": limit if math.isfinite(limit) else max(drawn, 1.0)})
    result = run(ridden, plan.duration)
    reached = bool((result.reaches(plan.target_speed) & (result.status == 0))[0]) and not none
    held = burst_power(build, plan.power, LONGEST, [COLD, WARM])
    regen = headroom_answer(build, plan.regen, None, tolerances)
    batch = Batch.of(build)
    per_metre, speed = cruise(build.change({"conditions.charge": 0.5}), plan.range_speed)
    pack = build.pack
    energy = float(energy_content(pack.chemistry, pack.cells_in_series, pack.capacity_ah, 1.0, KEPT_BACK))
    rides = np.isfinite(per_metre[0]) and per_metre[0] > 0 and speed[0] > 0.99 * plan.range_speed
    return PackAnswer(
        resistance=float(batch["pack.resistance"][0] * batch["pack.resistance_growth"][0]),
        mass=mass,
        line_limit=limit,
        top_speed=float(result.top_speed[0]),
        time_to_target=float(result.time_to(plan.target_speed)[0]) if reached else math.inf,
        cold_time=float(held.time[0]),
        warm_time=float(held.time[1]),
        headroom=float(regen.today.volts_below_full) if regen.today.allowed else math.nan,
        regen_current=float(regen.today.current),
        reach=energy / float(per_metre[0]) if rides else math.nan,
    )
