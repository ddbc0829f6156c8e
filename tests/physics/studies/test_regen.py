"""Regen as advice: what the table lets in is never more than headroom allows, nor a step less than it could be."""

import numpy as np
import pytest

from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from physics.scenarios.charging import fullest_cell_voltages
from physics.studies.day.regen import regen_answer
from physics.studies.headroom_curves import RegenPlan, charge_event

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
