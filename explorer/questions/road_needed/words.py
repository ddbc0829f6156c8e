"""The road a test needs in words: verdict, what the brakes do, its derivation, the numbers, the caution."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

from explorer.derivations.derivation import Step, put
from explorer.derivations.sources import FORCE_BALANCE, LOAD_TRANSFER, STOPPING
from explorer.page.page import Page
from explorer.page.tolerances import with_case
from explorer.questions.road_needed.results import plan_of
from physics.components.air import STANDARD_GRAVITY
from physics.components.braking import BRAKES, ENDS, braking_limit
from physics.studies.day.road_needed import RoadNeeded, RoadPlan

CAUTION = (
    "This is arithmetic, not a safe distance. Brakes fade, tyres are cold, riders brake late. Test only on a "
    "closed, empty, straight road with run-off at the end and help at hand, in full riding gear, after trying "
    "the brakes at half the speed, and leave much more than the number above. The makers' instructions, whoever "
    "owns the road and local law decide whether you ride there at all."
)
NOTE = "Dashed: the run-up as entered. Hold and stop are drawn where they end at the latest."
_STEP = 10.0


def rounded(page: Page, length: float) -> str:
    """A length of road, rounded up to tens.

    Parameters
    ----------
    page : Page
        For the rider's units.
    length : float, m
        Of road.
    """
    number = math.ceil(float(page.fmt.number("distance", length)) / _STEP - 1e-9) * _STEP
    return page.fmt("distance", page.fmt.si("distance", number))


def verdict(page: Page, road: RoadNeeded) -> str:
    """The road that is needed, and its parts."""
    fmt = page.fmt
    if not np.isfinite(road.total):
        return "**No road is long enough:** on a downhill this steep these brakes cannot stop the bike."
    target, speed = fmt.entered("speed", page.target_speed), fmt("speed", road.speed)
    run_up = f"{fmt('distance', road.run_up)} to reach {target}"
    if not road.reached:
        run_up = (
            f"{fmt('distance', road.run_up)} for a run of {fmt('time', page.duration, 0)}, which misses {target}"
        )
    parts = [run_up]
    if road.hold:
        parts.append(f"{fmt('distance', road.hold)} to hold it")
    if road.reaction:
        parts.append(f"{fmt('distance', road.reaction)} before the brakes bite")
    parts.append(f"{fmt('distance', road.braking)} to stop from {speed}")
    return f"**You need at least {rounded(page, road.total)} of road:** {', '.join(parts)}."


def braking(page: Page, road: RoadNeeded) -> str:
    """What ends braking first, what the rider is taken to use of it, and how far it holds."""
    fmt, plan = page.fmt, plan_of(page)
    most, used = fmt("acceleration", road.limit_deceleration, 1), fmt("acceleration", road.deceleration, 1)
    which = {"both": "With both brakes", "front": "With the front brake alone", "rear": "With the rear brake alone"}
    text = f"{which[plan.brakes]}, {ENDS[road.end]} at {most} of braking from {fmt('speed', road.speed)}"
    if road.by_rider:
        text += f"; {used} is assumed, as few riders use all of it"
    case = with_case(road.case, fmt) or "with everything as entered"
    text += (
        f". The run-up is the longest plausible one, {case}; the stop assumes the least drag and the most weight."
    )
    if page.build.controller.regen_current:
        text += " Regen is not counted: with a full or cold pack, or after a cut-out, there is none."
    return text


def derivation(page: Page, road: RoadNeeded) -> list[Step]:
    """Reaction, the largest braking, and the stop."""
    if not np.isfinite(road.total):
        return []
    plan, bike, day = plan_of(page), page.build.bike, page.build.conditions
    mean = road.speed**2 / (2 * road.braking) if road.braking else 0.0
    steps = [
        Step(
            "Before the brakes bite",
            r"s_r = v\,t_r",
            f"{put(road.speed)} × {put(plan.reaction)}",
            road.reaction,
            "m",
            "v speed, m/s; t_r reaction, s",
            STOPPING,
        ),
        Step(
            "The stop",
            r"s_b = \frac{v^2}{2\,a}",
            f"{put(road.speed)}² / (2 × {put(mean)})",
            road.braking,
            "m",
            "a average deceleration over the stop, m/s²: the smaller of what the rider manages and what tyres "
            "and balance allow, slope included. Left out: brake fade, cold tyres, bumps, bends, fork dive, regen",
            f"{STOPPING}. {FORCE_BALANCE}",
        ),
    ]
    if plan.brakes == "both":
        ahead = bike.wheelbase - bike.centre_of_gravity_to_rear_axle
        lifts = STANDARD_GRAVITY * math.cos(day.slope) * ahead / bike.centre_of_gravity_height
        steps.append(
            Step(
                "Braking that lifts the rear wheel, without drag",
                r"a_l = \frac{g\cos\alpha\,(w - b)}{h}",
                f"{put(STANDARD_GRAVITY)} × {put(math.cos(day.slope), 5)} × ({put(bike.wheelbase)} − "
                f"{put(bike.centre_of_gravity_to_rear_axle)}) / {put(bike.centre_of_gravity_height)}",
                lifts,
                "m/s²",
                "w wheelbase, b centre of gravity ahead of the rear axle, h its height, m; of the brakes alone, "
                "before slope and drag help or hinder",
                LOAD_TRANSFER,
            )
        )
    return steps


def alt(page: Page, road: RoadNeeded) -> str:
    """What the chart shows."""
    return f"Speed against distance: run-up, hold, reaction, stop. {verdict(page, road)}"


def table(page: Page, plan: RoadPlan) -> pd.DataFrame:
    """Slowing that each choice of brakes allows when standing on its wheels, and what ends it."""
    fmt, stance = page.fmt, page.batch.stance()
    rows = []
    for brakes in BRAKES:
        limit = braking_limit(stance, plan.grip, brakes)
        force = float(limit.force[0])
        rows.append(
            {
                "brakes": brakes,
                "max. deceleration": fmt("acceleration", force / float(np.ravel(stance.mass)[0]), 1),
                "at the road": fmt("force", force),
                "ended by": ENDS[int(limit.end[0])],
            }
        )
    return pd.DataFrame(rows)


def on_the_sheet(page: Page, road: RoadNeeded) -> str:
    """The answer in a few words."""
    if not np.isfinite(road.total):
        return "no road is long enough"
    return f"{rounded(page, road.total)} at least, {page.inputs['road_surface']}, closed and empty"
