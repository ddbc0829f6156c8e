"""The smallest change against trying every value, on random builds; and the runs by which it is found.

tests/reference/target_scan.csv holds what trying gave; one test works some of its rows out again.
"""

from collections import defaultdict

import numpy as np
import pytest

from physics.build import NO_RULES
from physics.build.batch import Batch
from physics.simulation.run import run
from physics.studies.target import Goal, default_levers, reach_target
from physics.studies.target.outcome import trials
from physics.studies.target.single_change import REACHES, SAME_SPEED, SHORT
from tests.reference import target_scan
from tests.reference.builds import random_build
from tests.reference.target_scan import DURATION


@pytest.mark.parametrize("seed", range(0, 40, 2))
def test_runs_in_which_nothing_opens(seed):
    """property: they are as fast as without any rule, and an allowance is used up just where a run cuts out."""
    build, changes = random_build(seed), {"conditions.charge": np.linspace(0.1, 1.0, 10)}
    build = build.change({"pack.resistance": float(Batch.of(build)["pack.resistance"][0])})  # else by the rating
    tried = trials(build, [changes], Goal(20.0, DURATION))
    free = run(Batch.vary(build.change(NO_RULES), changes), DURATION).top_speed
    assert tried.free_speed == pytest.approx(free, rel=1e-3)
    closed = run(Batch.vary(build, changes), DURATION).status == 0
    assert (tried.intact == closed).all()
    # a tenth: a run promises the moment of a cut-out to 20 ms, and some delays are two tenths of a second
    assert (tried.used[closed] < 1).all()
    assert (tried.used[~closed] > 0.9).all()


SEARCHED = 30
SCANNED = defaultdict(list)
for _row in target_scan.read():
    SCANNED[_row["seed"]].append(_row)


@pytest.mark.parametrize("seed", list(SCANNED)[:3])
def test_the_scan_is_what_trying_every_value_gives(seed):
    """exact solution: two hundred runs on each side of the present value, for every lever."""
    fresh = target_scan.scan(seed)
    assert [row["lever"] for row in fresh] == [row["lever"] for row in SCANNED[seed]]
    for now, kept in zip(fresh, SCANNED[seed], strict=True):
        for name in ("target", "down", "up", "most"):
            # 1e-6: another processor's sine moves a run by some ulps, and nine digits are written
            assert now[name] == pytest.approx(kept[name], rel=1e-6, nan_ok=True), (now["lever"], name)


def test_no_change_is_stepped_over():
    """exact solution: two hundred values on each side, 30 random builds, a third of the levers of each.

    What is found is good, and not larger, within a step, than the first of those in a window of two or more: none
    wider than a hundredth of a side's range is stepped over. The most is told to twice SAME_SPEED.
    """
    wrong = []
    for index, (seed, rows) in enumerate(list(SCANNED.items())[:SEARCHED]):
        build, target = target_scan.case(seed)
        levers = {lever.key: lever for lever in default_levers(build)}
        some = rows[index % 3 :: 3]
        ways = reach_target(build, Goal(target, DURATION), [levers[row["lever"]] for row in some])
        for row in some:
            change = ways.change(row["lever"])
            first = np.fmin(row["down"], row["up"])
            used = float(levers[row["lever"]].fraction(change.present, change.exact))
            if change.status == REACHES:
                fine = change.outcome.good and not used > first + 1 / target_scan.VALUES
            else:
                fine = np.isnan(first)
            if change.status == SHORT and np.isfinite(row["most"]):
                fine &= change.outcome.top_speed > row["most"] - 2 * SAME_SPEED
            if not fine:
                wrong.append((seed, row, change.status, change.value, used))
    assert not wrong, "\n".join(map(str, wrong))
