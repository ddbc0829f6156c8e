"""What would have saved a pull: each change holds in every worse case, a step less does not, slack reported."""

import numpy as np
import pytest

from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from physics.build import example_build
from physics.build.batch import Batch
from physics.simulation.ratings import rating_use
from physics.simulation.run import run
from physics.studies.target import saving_levers, what_saves
from physics.studies.target.survival import IN_HAND
from physics.studies.uncertainty.worse import AS_ENTERED

PULLS = [
    ("supermoto", {"charge": 15.0}, 30.0, 0.0),
    ("trail", {"line_3": 200.0, "phase_3": 500.0, "overcurrent_law": "definite time"}, 25.0, 0.0),
    ("road", {"charge": 12.0, "air_temperature": 0.0}, 20.0, 15.0),
]
STEPS_OFF = 3
"""By how many steps of a lever a change may be larger than needed: thresholds are taken 0.2 % stricter."""


@pytest.mark.parametrize(("preset", "changes", "duration", "start"), PULLS, ids=lambda value: str(value)[:20])
def test_every_change_survives_and_a_little_less_does_not(preset, changes, duration, start):
    """property: replayed, no change opens the pack in any case, nor does the shorter pull; a few steps less do."""
    build = make_build(PRESETS[preset].values() | changes)
    answer = what_saves(build, duration, start)
    assert not answer.survives
    assert sum(one.found for one in answer.savings) >= 2

    def opens(batch, time=duration):
        every = Batch.join([case.applied(batch) for case in answer.cases])
        made = run(every, time, start, 200)
        return np.isfinite(made.cut_out_time).any(), rating_use(every, made)

    for one in answer.savings:
        if not one.found:
            continue
        assert not opens(Batch.vary(build, one.lever.changes(build, [one.value])))[0], one.lever.key
        back = np.sign(one.present - one.value) * STEPS_OFF * one.lever.step
        less = one.value + back
        if one.lever.key == "line_limit":
            rated = opens(Batch.vary(build, one.lever.changes(build, [one.value])))[1]
            assert not (rated.passes_peak | rated.passes_continuous).any()
        elif (less - one.present) * (one.value - one.present) > 0:
            assert opens(Batch.vary(build, one.lever.changes(build, [less])))[0], one.lever.key
    assert not opens(Batch.of(build), max(answer.roll_off, 0.1))[0]
    assert opens(Batch.of(build), answer.roll_off + IN_HAND + 0.4)[0]


def test_a_fast_rule_hand_worked():
    """hand-worked: a rule of 150 A, 0.1 % kept back, and 3 % of overshoot leave 145 whole amperes."""
    weak = example_build().change({"pack.protection.fast_current": 150.0, "controller.overshoot": 0.03})
    answer = what_saves(weak, 5.0, margin=0.0)
    (line,) = (one for one in answer.savings if one.lever.key == "line_limit")
    assert line.value == np.floor(150.0 * 0.999 / 1.03)
    assert answer.case == AS_ENTERED


def test_a_pull_that_survives_needs_nothing():
    """property: no change, and the whole pull."""
    answer = what_saves(example_build(), 5.0, margin=0.0)
    assert (answer.survives, answer.roll_off, answer.savings, answer.rule) == (True, 5.0, (), -1)
    keys = {lever.key for lever in saving_levers(example_build())}
    assert keys == {"line_limit", "pack_temperature", "charge", "throttle_ramp", "bike_mass"}
