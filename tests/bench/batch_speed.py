"""How fast a batch of runs is against a loop of scipy's solve_ivp calls of the same accuracy, on one core.

`python -m tests.bench.batch_speed` (some minutes) prints, from one process with one thread:
- the time of each build in a batch of 1,000 runs of 20 s against three loops (wanted: 200 times),
- one build alone against one solve_ivp call (wanted: no slower),
- the peak memory of a batch of 10,000 in a process of its own (wanted: below 1 GiB).

The same accuracy is that of the 200 reference runs (tests/reference): of several methods, tolerances and places to
begin afresh each loop takes the fastest that holds what it is asked to hold on as many of them as `run` does.
- "the second simulation": the physics of tests/reference, scalar, in plain floats, far faster for one build than
  array functions are; with the protection and every channel at 161 instants. Asked for all that `run` promises.
- "this package's own equations": the array functions that `run` calls, with every channel at as many instants as
  `run` keeps, as somebody would who has the package but not `run`. Builds without protection; asked for speeds
  alone. The lowest voltage, which it misses where it does not stop at changes of limit, is not asked.
- "nine states alone": plain floats written for speed, builds without protection, no channels; asked for the same.
A loop is compared with a batch of the same kind of builds, with protection or without.
"""

# ruff: noqa: E402 (the number of threads is read when numpy is imported)

import argparse
import gc
import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[_name] = "1"

import itertools
import math
import resource
import subprocess
import sys
import time

import numpy as np
from scipy.integrate import solve_ivp

from physics.build import Protection
from physics.build.batch import Batch
from physics.simulation.plant import RATES, Plant
from physics.simulation.run import run, time_grid
from tests.bench.figures import Figure
from tests.reference.bike import Bike
from tests.reference.builds import ANY_LAW, random_build
from tests.reference.simulate import AFRESH, simulate
from tests.reference.table import DURATION, SHARES, allowed, outcome, read

INSTANTS = np.linspace(0.0, DURATION, 201)
TOLERANCES = (1e-3, 3e-4, 1e-4, 3e-5, 1e-5, 3e-6, 1e-6)
PLAIN_SETTINGS = tuple(itertools.product(("RK23", "RK45", "LSODA"), TOLERANCES))
WHOLE_SETTINGS = tuple(itertools.product(("RK23", "RK45"), TOLERANCES[2:], AFRESH))
PACKAGE_SETTINGS = tuple(itertools.product(("RK23", "RK45"), TOLERANCES))
SAMPLE = 20
"""Builds by which the settings are put in order of speed."""

ROUNDS = 3
"""Everything is timed in turns; of each the shortest time counts."""
GIBIBYTE = 2**30


def sample_builds(count, protected=True):
    """Random builds, with their protection or without any."""
    off = {} if protected else {"pack.protection": Protection()}
    return [random_build(seed).change(off) for seed in range(count)]


def lean(bike):
    """Right-hand side in plain floats; states: speed, distance, charge, three pairs, four temperatures."""
    m, c, b = bike.motor, bike.controller, bike.bike
    gear, air, cells = bike.gear, bike.air_temperature, bike.cells
    drag_factor, capped = 0.5 * bike.density * b.drag_area, math.isfinite(c.speed_cap)
    hot_span = m.winding_temperature_maximum - m.winding_foldback_start
    box_span = c.temperature_maximum - c.foldback_start_temperature
    held = b.hold_front_down or math.isfinite(b.grip)

    def rate(t, y):
        speed, _, charge, one, two, three, pack, winding, case, box = y.tolist()
        speed = max(speed, 0.0)
        shaft, wind = speed * gear, speed + bike.wind
        ohmic, pairs, transfer = bike.resistances(charge, pack)
        rest = cells * bike.rest_voltage(charge) - one - two - three
        drag = drag_factor * wind * abs(wind)
        rolling = bike.weight_down * (b.rolling_coefficient + b.rolling_coefficient_speed_squared * speed * speed)
        iron = m.iron_loss_torque * min(1.0, shaft) + m.iron_loss_damping * shaft
        chain = bike.chain_torque * min(1.0, shaft)
        share = min((m.winding_temperature_maximum - winding) / hot_span, (c.temperature_maximum - box) / box_span)
        share = min(max(share, 0.0), 1.0)
        bike.flux = bike.cold_flux * (1.0 - m.magnet_weakening * (case - 293.15))
        constant = 1.5 * bike.flux
        full = c.phase_current_limit
        if bike.table:
            iron, constant, full = 0.0, 1.0, bike.table_torque(shaft)
        phase_limit = full * share
        wanted = phase_limit * bike.throttle(t)
        if capped:
            force = drag + rolling + bike.weight_back + bike.inertia * (c.speed_cap - speed) / 0.05
            share = bike.efficiency if force > 0.0 else 1.0 / bike.efficiency
            wanted = min(wanted, max((force / (gear * share) + iron + chain) / constant, 0.0))
        if held:
            force = min(bike.force_limits(drag, rolling))
            wanted = min(wanted, max((force / (gear * bike.efficiency) + iron + chain) / constant, 0.0))
        copper = m.phase_resistance * (winding - 38.15) / 255.0

        def electric(rest, ohmic):
            if bike.table:
                return bike.electric_table(shaft, rest, ohmic, wanted)
            return bike.electric(shaft, rest, ohmic, wanted, phase_limit, copper)

        found, over = bike.with_transfer(electric, rest, ohmic + bike.leads, transfer, close=1e-3)
        i_q, line = found[0], found[-2]
        if bike.table:
            square, heat = 0.0, i_q * shaft * (1.0 / m.table_efficiency - 1.0)
        else:
            i_d = found[1]
            square = i_q * i_q + i_d * i_d
            heat = 1.5 * copper * square
        torque = constant * i_q - iron - chain
        force = torque * gear * (bike.efficiency if torque >= 0.0 else 1.0 / bike.efficiency)
        acceleration = (force - drag - rolling - bike.weight_back) / bike.inertia
        if speed <= 0.0 > acceleration:
            acceleration = 0.0
        through = m.winding_to_case * (winding - case)
        loss = c.fixed_loss + c.loss_per_ampere * math.sqrt(square) + c.loss_resistance * square
        joule = (ohmic * line + over) * line
        joule += one * one / pairs[0] + two * two / pairs[1] + three * three / pairs[2]
        return (
            acceleration,
            speed,
            -line / bike.coulombs,
            (pairs[0] * line - one) / 3.0,
            (pairs[1] * line - two) / 25.0,
            (pairs[2] * line - three) / 180.0,
            (joule - bike.pack_to_air * (pack - air)) / bike.pack_heat_capacity,
            (heat - through) / m.winding_heat_capacity,
            (iron * shaft + through - m.case_to_air * (case - air)) / m.case_heat_capacity,
            (loss - c.thermal_conductance * (box - air)) / c.heat_capacity,
        )

    return rate


def one_call(build, method, tolerance):
    """One solve_ivp call for one build."""
    bike = Bike(build, {"xtol": 1e-4, "rtol": 1e-6})
    start = np.array([0.0, 0.0, bike.start_charge, 0.0, 0.0, 0.0, *bike.start_temperatures])
    scale = np.array([1.0, 10.0, 0.1, 1.0, 1.0, 1.0, 10.0, 10.0, 10.0, 10.0])
    return solve_ivp(
        lean(bike), (0.0, DURATION), start, method, INSTANTS, rtol=tolerance, atol=0.1 * tolerance * scale
    )


def same_answer(build, method, tolerance, afresh):
    """What `run` gives, from solve_ivp: the protection's events and every channel at 161 instants."""
    found = simulate(build, DURATION, method=method, tolerance=tolerance, afresh=afresh)
    found.sample(np.linspace(0.0, DURATION, 161))
    return found


def package_call(build, method, tolerance):
    """One solve_ivp call over this package's own equations, as `run` uses them, for one build, then every channel
    at as many instants as `run` keeps; no protection."""
    plant = Plant(Batch.of(build))
    state = plant.start(0.0)
    last = [plant.evaluate(state, np.zeros(1))]

    def evaluate(t, y):
        state[:, 0] = y
        state[:2, 0] = np.maximum(state[:2, 0], 0.0)
        last[0] = plant.evaluate(state, np.full(1, t), None, last[0].currents)
        return last[0]

    def rate(t, y):
        now = evaluate(t, y)
        current, *sources = now.integrands[RATES]
        discharge = -current * plant.pack.charge_per_ampere
        return np.concatenate([now.acceleration, discharge, *(sources + plant.decay * now.state[2:])])

    instants = time_grid(DURATION)
    answer = solve_ivp(
        rate, (0.0, DURATION), state[:, 0].copy(), method, instants, rtol=tolerance, atol=1e-3 * tolerance + 1e-6
    )
    answer.channels = [evaluate(t, y) for t, y in zip(answer.t, answer.y.T, strict=True)]
    return answer


def clock(action):
    """Time of an action, s, and its answer."""
    begun = time.perf_counter()
    answer = action()
    return time.perf_counter() - begun, answer


def holds_all(row, found):
    """Whether a reference run of some accuracy holds all that `run` promises."""
    got = outcome(found)
    got |= {f"time_to_{share:g}": found.time_to(share * row["top_speed"]) for share in SHARES}
    return got["rule"] == row["rule"] and all(
        math.isnan(row[name]) or abs(got[name] - row[name]) <= may[0] for name, may in allowed([row]).items()
    )


def holds_speeds(row, answer):
    """The same of top speed and speed at the end alone."""
    may, speed = 1e-3 * row["top_speed"], answer.y[0]
    return abs(speed.max() - row["top_speed"]) <= may and abs(speed[-1] - row["end_speed"]) <= may


def misses_of_run(rows, builds):
    """How many builds `run` does not hold all of it for."""
    found = run(builds, duration=DURATION)
    got = {
        "top_speed": found.top_speed, "end_speed": found.speed[:, -1], "distance": found.distance[:, -1],
        "minimum_voltage": found.minimum_voltage, "minimum_cell_voltage": found.minimum_cell_voltage,
        "energy_used": found.energy_used, "cut_out_time": found.cut_out_time,
    }  # fmt: skip
    top = np.array([row["top_speed"] for row in rows])
    got |= {f"time_to_{share:g}": found.time_to(share * top) for share in SHARES}
    bad = np.array([a != row["rule"] for a, row in zip(found.cut_out_rule_names(), rows, strict=True)])
    for name, may in allowed(rows).items():
        bad |= np.abs(got[name] - np.array([row[name] for row in rows])) > may
    return int(bad.sum())


def choose_setting(call, settings, holds, rows, builds, may_miss):
    """The fastest setting that holds what it is asked to hold on all builds but so many."""
    timed = []
    for setting in settings:
        try:
            seconds, _ = clock(lambda setting=setting: [call(build, *setting) for build in builds[:SAMPLE]])
            timed.append((seconds, setting))
        except ValueError:  # an event that scipy finds but cannot place
            continue
    for seconds, setting in sorted(timed):
        missed = []
        for row, build in zip(rows, builds, strict=True):
            try:
                good = holds(row, call(build, *setting))
            except ValueError:
                good = False
            if not good:
                missed.append(row["seed"])
            if len(missed) > may_miss:
                break
        else:
            print(f"  {setting}: {1e3 * seconds / SAMPLE:.1f} ms a call; holds it on {len(rows) - len(missed)}")
            return setting
        print(f"  {setting}: {1e3 * seconds / SAMPLE:.1f} ms a call; misses seed {missed[-1]}")
    raise RuntimeError("No setting is accurate enough.")


class Kind:
    """Builds of one kind: a batch of random ones, one of variations of the first, and some of each to run alone."""

    def __init__(self, count, alone, protected):
        self.builds = sample_builds(count, protected)
        self.random, self.alone = Batch.of(self.builds), self.builds[:alone]
        teeth, area = np.arange(25, 81), np.linspace(0.3, 0.7, count // 56 + 1)
        vary = {"driveline.rear_teeth": teeth[:, None], "bike.drag_area": area}
        self.varied = Batch.vary(self.builds[0], vary)
        self.some = [
            self.builds[0].change({"driveline.rear_teeth": int(teeth[place % 56]), "bike.drag_area": float(each)})
            for place, each in enumerate(np.repeat(area, 2), 1)
        ]

    def runs(self, kind):
        """What is timed of `run`: name to action and the number of builds in it."""
        return {
            (kind, "random"): (lambda: run(self.random, duration=DURATION), len(self.random)),
            (kind, "varied"): (lambda: run(self.varied, duration=DURATION), len(self.varied)),
            (kind, "alone"): (lambda: [run(each, duration=DURATION) for each in self.alone], len(self.alone)),
        }

    def calls(self, loop, call):
        """What is timed of a loop in which `call` runs one build in scipy."""
        return {
            (loop, "random"): (lambda: [call(each) for each in self.alone], len(self.alone)),
            (loop, "varied"): (lambda: [call(each) for each in self.some], len(self.some)),
        }


def measure(count=1000):
    """Measure and print; what has a bound."""
    rows = read()[:ANY_LAW]  # whose seeds count from 0, as those of the builds here
    kinds = {name: Kind(count, len(rows), name == "protected") for name in ("protected", "bare")}
    protected, bare = kinds.values()
    may_miss = misses_of_run(rows, protected.alone)
    print(f"run holds everything on {len(rows) - may_miss} of {len(rows)} builds")
    found = [Figure("reference runs not held to the accuracy wanted", 0, may_miss)]
    whole = [row["rule"] == "" for row in rows]
    unopened = list(itertools.compress(rows, whole)), list(itertools.compress(bare.alone, whole))
    loops = (
        ("the second simulation", same_answer, WHOLE_SETTINGS, holds_all, (rows, protected.alone), "protected"),
        ("this package's own equations", package_call, PACKAGE_SETTINGS, holds_speeds, unopened, "bare"),
        ("nine states alone", one_call, PLAIN_SETTINGS, holds_speeds, unopened, "bare"),
    )
    settings, work = {}, protected.runs("protected") | bare.runs("bare")
    for loop, call, possible, holds, judged, kind in loops:
        print(f"{loop}, {len(judged[0])} builds:")
        settings[loop] = setting = choose_setting(call, possible, holds, *judged, may_miss)
        work |= kinds[kind].calls(loop, lambda build, c=call, s=setting: c(build, *s))
    gc.collect()
    gc.freeze()  # what is kept for the whole run is not searched again, as on the page
    each = dict.fromkeys(work, math.inf)
    for _ in range(ROUNDS):
        for name, (action, builds_in_it) in work.items():
            each[name] = min(each[name], 1e3 * clock(action)[0] / builds_in_it)
    stacking = 1e3 * clock(lambda: Batch.of(protected.builds))[0] / count
    print(f"stacking {count} builds: {stacking:.3f} ms a build")
    for name in kinds:
        batch, varied, alone = (each[name, what] for what in ("random", "varied", "alone"))
        print(f"{name}: {batch:.3f} ms a build of {count} random ones, {alone:.1f} alone", end="; ")
        print(f"{varied:.3f} of {len(protected.varied)} variations of one")
    for loop, *_, kind in loops:
        call, call_varied = each[loop, "random"], each[loop, "varied"]
        print(f"{loop} {settings[loop]}, {kind}: {call:.1f} ms a call, {call_varied:.1f} of a variation")
        ratio, of_varied = call / each[kind, "random"], call_varied / each[kind, "varied"]
        print(f"  ratio per build {ratio:.0f}, of variations {of_varied:.0f} (wanted: 200)", end="; ")
        print(f"one build over one call {each[kind, 'alone'] / call:.2f} (wanted: 1.0 or less)")
        found += [
            Figure(f"{count} variations of one build against a loop of {loop}", 200, of_varied, True),
            Figure(f"one build over one call of {loop}", 1.0, each[kind, "alone"] / call),
        ]
    command = [sys.executable, "-m", "tests.bench.batch_speed", "--memory"]
    peak = subprocess.check_output(command, text=True).strip()
    print("peak memory:", peak)
    return [*found, Figure("10,000 builds in one batch", 1.0, float(peak.split()[2]), unit="GiB")]


def figures():
    """What has a bound."""
    return measure()


def memory():
    """Peak memory of a batch of 10,000 in this process."""
    few = Batch.of(sample_builds(100))
    batch = Batch.join([few] * 100)
    run(batch, duration=DURATION)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    print(f"{len(batch)} builds: {peak / GIBIBYTE:.2f} GiB (wanted: below 1)")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=1000, help="builds in the batch")
    parser.add_argument("--memory", action="store_true", help="the memory measurement alone")
    chosen = parser.parse_args()
    if chosen.memory:
        memory()
    else:
        measure(chosen.count)
