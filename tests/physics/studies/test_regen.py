"""Regen as advice: what the table lets in is never more than headroom allows, nor a step less than it could be."""

import random
from dataclasses import replace

import numpy as np
import pytest

from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from physics.scenarios.charging import fullest_cell_voltages
from physics.scenarios.regen_braking import SLOWEST_STOP, regen_braking
from physics.studies.day.regen import regen_answer
from physics.studies.headroom_curves import RegenPlan, charge_event, headroom_answer
from tests.physics.studies.test_headroom_advice import HALF, SAME, limit_of, random_cases, stepped

ZERO = 273.15


@pytest.mark.parametrize("celsius", [6.0, 20.0])
@pytest.mark.parametrize("preset", PRESETS)
def test_no_row_of_the_table_lifts_a_cell_too_high(preset, celsius):
    """property: at each rest voltage, the events at the current that may be set, replayed with everything as much
    worse as it may be, leave the fullest cell at or below 4.2 V; the next step up would not, from there or a tenth
    of charge below, or the cells take no more."""
    build = make_build(PRESETS[preset].values()).change({"conditions.pack_temperature": ZERO + celsius})
    plan = RegenPlan(duration=6.0, events=4, pause=20.0)
    answer = regen_answer(build, 25.0, plan)
    assert np.all(np.diff(answer.current) >= 0)  # the fullest first
    some = answer.current > 0
    assert some.any()
    most = answer.current.max()
    for charge, current in zip(answer.charge[some], answer.current[some], strict=True):
        event = charge_event(build, current, ZERO + celsius, plan)
        assert fullest_cell_voltages(event, charge).max() <= 4.2 + 1e-6
        if current < most:
            step = 1.0 if most >= 20 else 0.5
            more = charge_event(build, current + step, ZERO + celsius, plan)
            lower = charge - np.linspace(0.0, 0.1, 21)
            assert fullest_cell_voltages(more, lower).max() > 4.2 - 1e-4
    taken = build.pack.capacity_ah * (0.2 if celsius < 13 else 1.0)
    assert most * (1 + build.controller.overshoot) <= taken + 1e-9


def test_stops_in_a_row_stay_below_the_limit():
    """property: 60 random packs and bikes from the charge that is advised, each stop simulated with more weight and
    less drag, rolling resistance and wind, its fading current stepped into the worse cell with all that an earlier
    stop left behind: none over its limit. Not timid: more than half of them pass it from 0.02 of charge more."""
    chance, asked = random.Random(4), []
    for build, plan in random_cases(60, seed=7):
        stops = replace(plan, stop_speed=chance.uniform(8.0, 35.0), off_below=2.0, descent_height=0.0)
        answer = headroom_answer(build, stops)
        if answer.today.allowed and answer.today.highest_charge < 0.98:
            asked.append((build, stops, answer.today))
    assert len(asked) > 25
    lively = [
        build.change({
            "bike.bike_mass": build.bike.bike_mass + HALF["bike.bike_mass"],
            "bike.drag_area": build.bike.drag_area * (1 - HALF["bike.drag_area"]),
            "bike.rolling_coefficient": build.bike.rolling_coefficient * (1 - HALF["bike.rolling_coefficient"]),
            "conditions.headwind": build.conditions.headwind - HALF["conditions.headwind"],
            "conditions.charge": float(today.highest_charge), "controller.regen_current": float(today.current),
        }) for build, _, today in asked
    ]  # fmt: skip
    slowed = regen_braking(lively, [stops.stop_speed for _, stops, _ in asked], 0.0, 2.0)
    over = []
    for row, (build, stops, today) in enumerate(asked):
        pace = 1 / np.maximum(slowed.deceleration[row], SLOWEST_STOP)  # brakes help where regen hardly slows
        passed = -np.diff(slowed.speed[row]) * (pace[1:] + pace[:-1]) / 2
        profile = slowed.line_current[row], 120, np.append(0.0, np.cumsum(passed))
        assert stepped(build, stops, today.highest_charge, *profile) <= limit_of(build) + SAME, (build, stops)
        over.append(stepped(build, stops, today.highest_charge + 0.02, *profile) > limit_of(build))
    assert np.mean(over) > 0.5


def test_none_in_the_cold_and_what_a_stop_does():
    """property: below the charging window nothing may be set and the stop only coasts; in the warm it returns some,
    and the harder the stop, the more the brakes must do."""
    build = make_build(PRESETS["supermoto"].values())
    cold = regen_answer(build.change({"conditions.pack_temperature": ZERO - 2.0}), 25.0)
    assert (cold.too_cold, cold.current_now, cold.current.max()) == (True, 0.0, 0.0)
    assert cold.stop.phase_current.max() == 0.0
    warm = build.change({"conditions.pack_temperature": ZERO + 22.0, "conditions.charge": 0.5})
    soft, hard = (regen_answer(warm, 25.0, hard=slowing) for slowing in (3.0, 8.0))
    assert 0.0 < soft.brakes_share < hard.brakes_share < 1.0
    assert soft.current_now > 0
    assert soft.set_current <= min(build.controller.regen_current, soft.current.max() + 1.0)
    assert 0.2 < float(soft.stop.returned_share[0]) < 0.9
