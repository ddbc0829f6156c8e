"""Runs against the current ratings of their packs."""

import dataclasses

import numpy as np
import pytest

from physics.build import example_build
from physics.build.batch import Batch
from physics.simulation.ratings import rating_use
from physics.simulation.run import run


def rated(**rules):
    return example_build().change({f"pack.protection.{name}": value for name, value in rules.items()})


def triangle(batch):
    """Runs whose line current rises evenly to 200 A within 10 s and falls back to nothing within 10 more."""
    made = run(batch, 20.0, steps=2)
    count = len(made)
    currents = np.tile([0.0, 200.0, 0.0], (count, 1))
    none = tuple(rows[:0] for rows in made.between)
    return dataclasses.replace(made, time=np.array([0.0, 10.0, 20.0]), line_current=currents, between=none)


@pytest.mark.parametrize(
    ("overshoot", "until", "current", "above"),
    [
        (0.0, np.inf, 200.0, 10.0),  # above 100 A from 5 s to 15 s
        (0.25, np.inf, 250.0, 12.0),  # 25 A/s: from 4 s to 16 s
        (0.0, 12.0, 200.0, 7.0),  # from 5 s to 12 s
        (0.0, 3.0, 60.0, 0.0),
    ],
)
def test_time_above_hand_worked(overshoot, until, current, above):
    """hand-worked: a triangle of 200 A over 20 s, rated 100 A. The highest current up to a moment within a step is
    taken from that whole step, which is not less."""
    batch = Batch.of(rated(continuous_current=100.0)).change({"controller.overshoot": overshoot})
    use = rating_use(batch, triangle(batch), until)
    assert use.time_above[0] == pytest.approx(above, abs=1e-4)  # a millionth of the rating is rounding
    assert use.current[0] >= current


@pytest.mark.parametrize(
    ("rules", "message"),
    [
        ({"continuous_current": 100.0, "peak_time": 10.5}, "Inside the pack's current ratings."),
        (
            {"continuous_current": 100.0, "peak_time": 9.0},
            "206 A, overshoot counted, pass the continuous current of 100 A for 10.3 s; 9 s are allowed.",
        ),
        ({"peak_current": 206.0}, "Inside the pack's current ratings."),
        ({"peak_current": 205.0}, "206 A, overshoot counted, pass the peak current of 205 A."),
        ({}, "Inside the pack's current ratings."),
    ],
    ids=str,
)
def test_ratings_hand_worked(rules, message):
    """hand-worked: 3 % of overshoot make 206 A of 200 A and 20.6 A/s: above 100 A for 20 - 200 / 20.6 = 10.29 s. A
    rating that is off is not passed."""
    batch = Batch.of(rated(**rules))
    use = rating_use(batch, triangle(batch))
    assert use.message == (message,)
    passed = bool(use.passes_peak[0] or use.passes_continuous[0])
    assert passed == (message != "Inside the pack's current ratings.")


def test_a_later_part_adds_up():
    """property: where there is one, its time is added and the higher current counts."""
    batch = Batch.of([rated(continuous_current=100.0)] * 2).change({"controller.overshoot": 0.0})
    first, later = rating_use(batch, triangle(batch), 7.0), rating_use(batch, triangle(batch))
    both = first.then(later, np.array([True, False]))
    assert both.time_above == pytest.approx([2.0 + 10.0, 2.0], abs=1e-4)


def test_a_protection_that_is_set_wide_changes_nothing():
    """property: the ratings are the pack's; the run says so whether or not a rule opens."""
    build = rated(continuous_current=100.0, peak_current=150.0, peak_time=600.0, cell_undervoltage=0.0)
    made = run(build, 10.0)
    assert made.cut_out_rule[0] < 0 or made.cut_out_time[0] > 0
    assert rating_use(build, made).passes_peak[0]
