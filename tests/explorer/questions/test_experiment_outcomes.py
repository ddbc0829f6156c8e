"""Every experiment on 200 random builds: the answer that is called right follows from the two runs.

The rules here are written from what the answers say, not from the code: from speeds and voltages against time, and
the moment of a cut-out. Where a number lies within a thousandth of a border, either side of it is right.
"""

import numpy as np

from explorer.format import UnitFormatter
from explorer.page.words import STANDS
from explorer.questions.experiments.catalogue import CELL, EXPERIMENTS
from explorer.questions.experiments.two_runs import TwoRuns
from physics.build.fields import BuildError
from physics.simulation.run import run
from tests.explorer.random_builds import sound_inputs

BUILDS, DURATION, STEPS = 200, 15.0, 150
NEAR = 1e-3
RIDDEN = [experiment for experiment in EXPERIMENTS if experiment.chart != CELL]


def all_runs():
    """(experiment, two runs) for every build, each build of all experiments run once, in one batch."""
    rows, builds, pairs = {}, [], []
    for inputs in sound_inputs(BUILDS):
        for experiment in RIDDEN:
            try:
                both = experiment.builds(inputs)
            except BuildError:
                continue
            for build in both:
                if repr(build) not in rows:
                    rows[repr(build)] = len(builds)
                    builds.append(build)
            pairs.append((experiment, inputs, both))
    runs, fmt = run(builds, DURATION, steps=STEPS), UnitFormatter("metric")
    for experiment, inputs, both in pairs:
        two = runs.take([rows[repr(build)] for build in both])
        yield experiment, TwoRuns(both, two, experiment.names(inputs, fmt), fmt)


def sides(value: float, *borders: float) -> set[int]:
    """Between which borders a value lies, counted from 0; both sides where it is near one."""
    found = {int(sum(value + off > border for border in borders)) for off in (-NEAR, NEAR)}
    return found


def passed(time, speed, wanted: float) -> float:
    """When a speed is first passed, s; infinite where it is not."""
    above = np.flatnonzero(speed >= wanted)
    if not above.size:
        return np.inf
    last = max(above[0], 1)
    return float(np.interp(wanted, speed[last - 1 : last + 1], time[last - 1 : last + 1]))


def right(key: str, two: TwoRuns) -> set[str]:
    """The answers that may be called right."""
    runs = two.runs
    if np.isfinite(runs.cut_out_time).any():
        return {"cut"}
    top, sag = runs.speed.max(axis=1), (runs.rest_voltage - runs.pack_voltage).max(axis=1)
    gain = (top[1] - top[0]) / max(top.max(), 1e-9)
    lost = (top[0] - top[1]) / top[0] if top[0] > 0.1 else 0.0
    faster = sides(gain, -0.005, 0.005)  # 0 slower, 1 alike, 2 faster
    low = 5.0 * np.floor(3.6 * top.min() / 2 / 5.0) / 3.6
    times = [passed(runs.time, runs.speed[row], low) for row in (0, 1)]
    sooner = sides((times[0] - times[1]) / max(times), 0.01) if low > 0 else {0}
    late = [passed(runs.time, runs.speed[row], 0.9 * top.min()) for row in (0, 1)]
    if key in ("sprocket", "sprocket_power", "field_weakening"):
        return {("slower", "same", "faster")[side] for side in faster}
    if key == "phase_current":
        named = {(1, False): "launch", (0, True): "top", (1, True): "both", (0, False): "neither"}
        return {named[quick, side == 2] for quick in sooner for side in faster}
    if key == "line_current":
        earlier = sides((late[0] - late[1]) / max(*late, 1e-9), 0.01) if top.min() > 0 else {0}
        return {
            "faster" if side == 2 else "sooner" if side == 1 and quick else "nothing"
            for side in faster for quick in earlier
        }  # fmt: skip
    if key == "cold_pack":
        return {
            ("less", "same", "more", "much")[side] for side in sides(sag[1] / max(sag[0], 1e-9), 0.95, 1.05, 1.5)
        }
    if key == "half_empty":
        return {("none", "some", "much")[side] for side in sides(lost, 0.01, 0.1)}
    if key == "tuck":
        return {("little", "some", "much")[side] for side in sides(-lost, 0.03, 0.1)}
    if key == "headwind":
        return {("little", "middle", "much")[side] for side in sides((top[0] - top[1]) * 3.6 / 20, 1 / 3, 2 / 3)}
    if key == "half_throttle":
        return {("half", "between", "same")[side] for side in sides(1 - lost, 0.6, 0.95)}
    if key == "pack_or_resistance":
        more = (sag[1] - sag[0]) / max(sag.max(), 1e-9)
        return {("better", "same", "bigger")[side] for side in sides(more, -0.03, 0.03)}
    if key == "heavier_rider":
        later = times[1] / times[0] - 1 if low > 0 else 0.0
        if max(later, lost) <= 0.005 - NEAR or abs(later - lost) <= 0.005 - NEAR:
            return {"neither"}
        clear = abs(later - lost) > 0.005 + NEAR and max(later, lost) > 0.005 + NEAR
        return {"time" if later > lost else "top"} | (set() if clear else {"neither"})
    if key == "hill_start":
        if low <= 0 or not np.isfinite(times[1]):
            return {"never"}
        return {("little", "much")[side] for side in sides(times[1] / times[0], 1.5)}
    if key == "saturation":
        pull = runs.drive_force.max(axis=1)
        return {("none", "less", "all")[side] for side in sides(pull[1] / max(pull[0], 1e-9), 1.03, 1.45)}
    if key == "tyre":
        return {"much"} if top[1] > 1e-6 else {"right"}
    raise LookupError(f"The experiment {key} has no rule here.")


def test_the_judged_outcome_follows_from_the_runs():
    """property: 200 random builds, every experiment that rides; where answers have a place on force against speed,
    the second run ends in that of the right one."""
    wrong, judged, misread = [], {}, []
    for experiment, two in all_runs():
        answer, accepted = experiment.judge(two), right(experiment.key, two)
        stands = 3.6 * two.top.max() < STANDS  # the page says so, and shows no chart
        if experiment.guessed is not None and answer != "cut" and not stands:
            scale = experiment.guessed
            assert set(scale.answers) == {key for key, _ in experiment.options}
            low, high = scale.span(two, answer)
            came = (two.runs.drive_force if scale.of_force else two.runs.speed)[1].max()
            if not low - NEAR * (1 + low) <= came <= high + NEAR * (1 + high):
                misread.append((experiment.key, answer, low, came, high))
        judged.setdefault(experiment.key, set()).add(answer)
        if answer not in accepted:
            wrong.append((experiment.key, answer, accepted, two.top, two.low_time, two.deepest_sag))
    assert not misread, misread[:20]
    assert not wrong, f"{len(wrong)}: " + "\n".join(map(str, wrong[:20]))
    assert set(judged) == {experiment.key for experiment in RIDDEN}
    assert all("cut" in answers and len(answers) >= 2 for answers in judged.values())
