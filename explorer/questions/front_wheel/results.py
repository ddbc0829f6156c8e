"""Cached calls into physics for the front wheel and the power levels. Numbers only."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import streamlit as st
from numpy.typing import NDArray

from explorer.inputs.to_build import make_build
from explorer.page.page import Page
from explorer.page.results import BY_BUILD
from physics.build import Build, Controller, PowerLevel
from physics.build.fields import BuildError
from physics.components.road_load import POSTURES
from physics.studies.force import FrontWheel, force_against_throttle, front_wheel, levels_of, phase_limit_that_holds
from physics.studies.force.front_wheel import LIFTED, LIGHT, throttle_for_acceleration
from physics.studies.power_levels import LevelRuns, level_runs
from physics.units import to_si

FEEL_SPEED = {"metric": 20 / 3.6, "US": float(to_si(15.0, "mph"))}
"""Speed at which pull is drawn against throttle, by units: slow enough that the phase limit decides."""

LOW_SPEED = {"metric": 50 / 3.6, "US": float(to_si(30.0, "mph"))}
"""The lower of the speeds whose times are compared, by units."""

_POINTS = 61


@dataclass(frozen=True)
class FrontAnswer:
    """What the section shows.

    Attributes
    ----------
    marks : FrontWheel
        Marks against speed.
    at : int
        Which of its speeds pull is drawn at.
    throttle : array, shape (t,)
    force : array, shape (levels, t), N
        At that speed.
    holds, light_holds : array, shape (levels,), A peak
        Phase limits at which full throttle just fails to lift the front, and just makes it light; infinite where
        none is needed.
    runs : LevelRuns
        One run in each level.
    """

    marks: FrontWheel
    at: int
    throttle: NDArray[np.float64]
    force: NDArray[np.float64]
    holds: NDArray[np.float64]
    light_holds: NDArray[np.float64]
    runs: LevelRuns

    @property
    def gain_per_tenth(self) -> NDArray[np.float64]:
        """Acceleration that a tenth of the throttle adds there, m/s2, shape (levels,)."""
        return 0.1 * self.marks.force_per_throttle[:, self.at] / self.marks.mass

    @property
    def room_to_lift(self) -> NDArray[np.float64]:
        """Throttle between light and lifted there, shape (levels,); NaN where it does not lift."""
        return self.marks.lift_throttle[:, self.at] - self.marks.light_throttle[:, self.at]

    def load_left(self, level: int) -> float:
        """Least fraction of the standing load at full throttle: load falls with force, all but straight."""
        marks = self.marks
        half = marks.lift_force - marks.light_force  # force that takes away half the standing load
        left = 0.5 * (marks.lift_force - marks.full_force[level]) / np.maximum(half, 1e-9)
        return float(left.min())

    def level_in_use(self, inputs: dict[str, Any], controller: Controller) -> int:
        """Index of the level that is ridden."""
        now, chosen = (controller.phase_current_limit, controller.line_current_limit), str(inputs.get("level", ""))
        for index, level in enumerate(self.marks.levels):
            if level.name.endswith(chosen) and (level.phase_current_limit, level.line_current_limit) == now:
                return index
        return len(self.marks.levels) - 1


def front_answer_of(page: Page) -> FrontAnswer:
    """What the section shows of a page."""
    low_speed, feel_speed = LOW_SPEED[page.fmt.system], FEEL_SPEED[page.fmt.system]
    return front_answer(page.build, low_speed, page.target_speed, page.duration, feel_speed)


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=BY_BUILD)
def front_answer(
    build: Build, low_speed: float, target_speed: float, duration: float, feel_speed: float = FEEL_SPEED["metric"]
) -> FrontAnswer:
    """Marks, limits and runs of every power level.

    Parameters
    ----------
    build : Build
        With its power levels.
    low_speed, target_speed : float, m/s
        The speeds whose times are compared; marks are worked out to a little above the target.
    duration : float, s
        Length of the runs.
    feel_speed : float, m/s
        At which pull is drawn against throttle.

    Returns
    -------
    FrontAnswer
    """
    fastest = max(1.15 * target_speed, 2 * feel_speed)
    speed = np.union1d(np.linspace(0.0, fastest, _POINTS), [feel_speed])
    throttle = np.linspace(0.0, 1.0, 101)
    levels = levels_of(build)
    fractions = np.repeat([LIFTED, LIGHT], len(levels))
    holds, light_holds = np.split(phase_limit_that_holds(build, levels * 2, fractions, fastest), 2)
    return FrontAnswer(
        front_wheel(build, speed),
        int(np.searchsorted(speed, feel_speed)),
        throttle,
        force_against_throttle(build, feel_speed, throttle),
        holds,
        light_holds,
        level_runs(build, low_speed, target_speed, duration),
    )


def posture_limits(inputs: dict[str, Any], level: PowerLevel, fastest: float) -> dict[str, float]:
    """The phase limit at which the front just stays down, for each riding position.

    Parameters
    ----------
    inputs : dict
        Every input by key, in home units.
    level : PowerLevel
        Whose line limit counts.
    fastest : float, m/s
        Speeds to this are looked at.

    Returns
    -------
    dict of str to float, A peak
        Riding position to limit; infinite where none is needed. One that no build can have, as the centre
        of gravity would lie ahead of the front axle, is left out.
    """
    builds: dict[str, Build] = {}
    for seat in POSTURES:
        try:
            builds[seat] = make_build(inputs | {"posture": seat})
        except BuildError:
            continue
    return dict(zip(builds, _limits(tuple(builds.values()), level, fastest), strict=True))


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=BY_BUILD)
def _limits(builds: tuple[Build, ...], level: PowerLevel, fastest: float) -> list[float]:
    return phase_limit_that_holds(builds, [level] * len(builds), fastest=fastest).tolist() if builds else []


@st.cache_data(max_entries=60, show_spinner=False, hash_funcs=BY_BUILD)
def throttle_for(
    build: Build, acceleration: float, feel_speed: float = FEEL_SPEED["metric"]
) -> NDArray[np.float64]:
    """The throttle that gives an acceleration at a speed, m/s, in each level; NaN where none does."""
    return throttle_for_acceleration(build, acceleration, feel_speed)
