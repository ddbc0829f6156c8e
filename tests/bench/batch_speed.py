"""How fast a batch of runs is against a loop of scipy's solve_ivp calls of the same accuracy, on one core.

`python -m tests.bench.batch_speed` prints, from one process with one thread:
- the time of each build in a batch of 1,000 runs of 20 s against three loops (wanted: 200 times),
- one build alone against one solve_ivp call (wanted: no slower),
- the peak memory of a batch of 10,000 in a process of its own (wanted: below 1 GiB).

The first loop gives what `run` gives: the protection's events, and every channel at as many instants. The
second gets an easier task: speed and eight other states alone, no protection. A third integrates the package's
own array equations and looks up every channel, no protection, as somebody would who has the package but not
`run`. The first two use scalar right-hand sides in plain floats, far faster for one build than array functions
are. Of several methods and tolerances each takes the fastest that is as accurate as `run` has to be (0.5 % of
the time to nine tenths of top speed, 0.1 % of top speed) on as many builds of a sample as `run` is. The loops'
time is the mean over that sample.
"""

# ruff: noqa: E402 (the number of threads is read when numpy is imported)

import argparse
import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[_name] = "1"

import math
import resource
import subprocess
import sys
import time

import numpy as np
from scipy.integrate import solve_ivp

from physics.batch import Batch
from physics.build import Protection
from physics.run import run, time_grid
from physics.stepping import Plant
from tests.reference.bike import Bike
from tests.reference.builds import random_build
from tests.reference.simulate import simulate

DURATION = 20.0
INSTANTS = np.linspace(0.0, DURATION, 201)
METHODS = tuple((method, tolerance) for method in ("RK23", "RK45", "LSODA") for tolerance in (1e-3, 3e-4, 1e-4))
SAMPLE = 40
GIBIBYTE = 2**30


def sample_builds(count, protected=True):
    """Random builds, with their protection or without any."""
    off = {} if protected else {"pack.protection": Protection()}
    return [random_build(seed).change(off) for seed in range(count)]


def lean(bike):
    """Right-hand side in plain floats; states: speed, distance, charge, two pairs, four temperatures."""
    m, c, b, tables = bike.motor, bike.controller, bike.bike, bike.chemistry
    gear, air, flux, cells = bike.gear, bike.air_temperature, 1.5 * bike.flux, bike.cells
    drag_factor, capped = 0.5 * bike.density * b.drag_area, math.isfinite(c.speed_cap)
    hot_span = m.winding_temperature_maximum - m.winding_foldback_start
    box_span = c.temperature_maximum - c.foldback_start_temperature
    held = b.hold_front_down or math.isfinite(b.grip)

    def rate(t, y):
        speed, _, charge, one, two, pack, winding, case, box = y.tolist()
        speed = max(speed, 0.0)
        shaft, wind = speed * gear, speed + bike.wind
        ohmic, pair_1, pair_2 = bike.resistances(charge, pack)
        rest = cells * bike.rest_voltage(charge) - one - two
        drag = drag_factor * wind * abs(wind)
        rolling = bike.weight_down * (b.rolling_coefficient + b.rolling_coefficient_speed_squared * speed * speed)
        iron = m.iron_loss_torque * min(1.0, shaft) + m.iron_loss_damping * shaft
        share = min((m.winding_temperature_maximum - winding) / hot_span, (c.temperature_maximum - box) / box_span)
        share = min(max(share, 0.0), 1.0)
        constant = flux
        full = c.phase_current_limit
        if bike.table:
            iron, constant, full = 0.0, 1.0, bike.table_torque(shaft)
        phase_limit = full * share
        wanted = phase_limit * bike.throttle(t)
        if capped:
            wanted *= min(max((c.speed_cap - speed) / (0.02 * c.speed_cap), 0.0), 1.0)
        if held:
            force = min(bike.force_limits(drag, rolling))
            wanted = min(wanted, max((force / (gear * bike.efficiency) + iron) / constant, 0.0))
        if bike.table:
            i_q, _, line, _ = bike.electric_table(shaft, rest, ohmic, wanted)
            square, heat = 0.0, i_q * shaft * (1.0 / m.table_efficiency - 1.0)
        else:
            copper = m.phase_resistance * (winding - 38.15) / 255.0
            i_q, i_d, _, line, _ = bike.electric(shaft, rest, ohmic, wanted, phase_limit, copper)
            square = i_q * i_q + i_d * i_d
            heat = 1.5 * copper * square
        torque = constant * i_q - iron
        force = torque * gear * (bike.efficiency if torque >= 0.0 else 1.0 / bike.efficiency)
        acceleration = (force - drag - rolling - bike.weight_back) / bike.inertia
        if speed <= 0.0 > acceleration:
            acceleration = 0.0
        through = m.winding_to_case * (winding - case)
        loss = c.fixed_loss + c.loss_per_ampere * math.sqrt(square) + c.loss_resistance * square
        joule = ohmic * line * line + one * one / pair_1 + two * two / pair_2
        return (
            acceleration,
            speed,
            -line / bike.coulombs,
            (pair_1 * line - one) / tables.pair_1_time,
            (pair_2 * line - two) / tables.pair_2_time,
            (joule - bike.pack_to_air * (pack - air)) / bike.pack_heat_capacity,
            (heat - through) / m.winding_heat_capacity,
            (iron * shaft + through - m.case_to_air * (case - air)) / m.case_heat_capacity,
            (loss - c.thermal_conductance * (box - air)) / c.heat_capacity,
        )

    return rate


def one_call(build, method, tolerance):
    """One solve_ivp call for one build."""
    bike = Bike(build, {"xtol": 1e-4, "rtol": 1e-6})
    start = np.array([0.0, 0.0, bike.start_charge, 0.0, 0.0, *bike.start_temperatures])
    scale = np.array([1.0, 10.0, 0.1, 1.0, 1.0, 10.0, 10.0, 10.0, 10.0])
    return solve_ivp(
        lean(bike), (0.0, DURATION), start, method, INSTANTS, rtol=tolerance, atol=0.1 * tolerance * scale
    )


def same_answer(build, method, tolerance):
    """What `run` gives, from solve_ivp: the protection's events and every channel at 161 instants."""
    found = simulate(build, DURATION, method=method, tolerance=tolerance, tables=False)
    return found.sample(np.linspace(0.0, DURATION, 161))


def package_call(build, method, tolerance):
    """One solve_ivp call over this package's own equations, as `run` uses them, for one build, then every channel
    at as many instants as `run` keeps; no protection."""
    plant = Plant(Batch.of(build))
    state = plant.start(0.0)
    last = [plant.look(state, 0.0, None)]

    def look(t, y):
        state[:, 0] = y
        state[:2, 0] = np.maximum(state[:2, 0], 0.0)
        last[0] = plant.look(state, t, None, last[0]["currents"])
        return last[0]

    def rate(t, y):
        now = look(t, y)
        settled = plant.pack.pairs * now["pair_drive"]
        warming = (now["sources"] - plant.heat.conductance * now["temperatures"]) / plant.heat.capacity
        pairs = (now["pair_voltage"] - settled) * plant.pack.pair_rates
        discharge = -now["line_current"] * plant.pack.charge_per_ampere
        return np.concatenate([now["acceleration"], discharge, pairs[:, 0], warming[:, 0]])

    instants = time_grid(DURATION)
    answer = solve_ivp(
        rate, (0.0, DURATION), state[:, 0].copy(), method, instants, rtol=tolerance, atol=1e-3 * tolerance + 1e-6
    )
    return answer, [look(t, y) for t, y in zip(answer.t, answer.y.T, strict=True)]


def clock(action, repeats=1):
    """Shortest time of some repeats, and the last answer."""
    best = math.inf
    for _ in range(repeats):
        begun = time.perf_counter()
        answer = action()
        best = min(best, time.perf_counter() - begun)
    return best, answer


def errors(found, exact):
    """Relative errors of top speed and of the time to nine tenths of it; both given as speeds and instants."""
    top, level = exact[0].max(), 0.9 * exact[0].max()
    times = [np.interp(level, *_rising(*each)) for each in (found, exact)]
    return abs(found[0].max() / top - 1.0), abs(times[0] - times[1]) / max(times[1], 2.0)


def accurate(found, exact):
    """The share of a sample that is as accurate as `run` has to be."""
    misses = np.array([errors(a, b) for a, b in zip(found, exact, strict=True)])
    return ((misses[:, 0] <= 1e-3) & (misses[:, 1] <= 5e-3)).mean()


def _rising(speed, instants):
    last = int(speed.argmax()) + 1
    return np.maximum.accumulate(speed[:last]), instants[:last]


def choose_method(builds):
    """The fastest method and tolerance that is accurate enough on as many builds of the sample as `run` is, and the
    fastest of those whose dense output ends exactly at its steps, as events on a change of name need."""
    exact = [_fine(build) for build in builds]
    ours = run(builds, duration=DURATION)
    needed = accurate(zip(ours.speed, ours.time, strict=True), exact)
    print(f"  run: {needed:4.0%} accurate enough")
    found = []
    for method, tolerance in METHODS:
        seconds, answers = clock(lambda m=method, t=tolerance: [one_call(build, m, t) for build in builds])
        good = accurate([(answer.y[0], answer.t) for answer in answers], exact)
        each = 1e3 * seconds / len(builds)
        print(f"  {method:6s} {tolerance:g}: {each:6.2f} ms a call, {good:4.0%} accurate enough")
        found.append((good < needed, seconds / len(builds), method, tolerance))
    return min(found)[2:], min(each for each in found if each[2] != "LSODA")[2:]


def _fine(build):
    """The accurate answer on a fine grid of instants, for interpolation."""
    bike = Bike(build)
    start = np.array([0.0, 0.0, bike.start_charge, 0.0, 0.0, *bike.start_temperatures])
    answer = solve_ivp(
        lean(bike), (0.0, DURATION), start, "RK45", np.linspace(0.0, DURATION, 2001), rtol=1e-7, atol=1e-8
    )
    return answer.y[0], answer.t


def main(count):
    """Measure and print."""
    builds, bare = sample_builds(count), sample_builds(SAMPLE, protected=False)
    print(f"solve_ivp, {SAMPLE} builds:")
    plain, with_events = choose_method(bare)
    call, _ = clock(lambda: [one_call(build, *plain) for build in bare], 3)
    answer, _ = clock(lambda: [same_answer(build, *with_events) for build in builds[:SAMPLE]], 3)
    call, answer = 1e3 * call / SAMPLE, 1e3 * answer / SAMPLE
    batch = Batch.of(builds)
    run(batch, duration=DURATION)
    together, _ = clock(lambda: run(batch, duration=DURATION), 3)
    stacking, _ = clock(lambda: Batch.of(builds), 3)
    alone, _ = clock(lambda: [run(build, duration=DURATION) for build in builds[:SAMPLE]], 3)
    together, stacking, alone = 1e3 * together / count, 1e3 * stacking / count, 1e3 * alone / SAMPLE
    print(f"one batch of {count}: {together:.3f} ms a build, {stacking:.3f} to stack; one alone: {alone:.1f} ms")
    own, _ = clock(lambda: [package_call(build, *with_events) for build in bare], 1)
    own = 1e3 * own / SAMPLE
    teeth, area = np.arange(25, 81)[:, None], np.linspace(0.3, 0.7, count // 56 + 1)
    near = Batch.vary(builds[0], {"driveline.rear_teeth": teeth, "bike.drag_area": area})
    around, _ = clock(lambda: run(near, duration=DURATION), 3)
    around = 1e3 * around / len(near)
    print(f"one batch of {len(near)} variations of one build: {around:.3f} ms a build")
    loops = ("protection and every channel", with_events, answer), ("nine states alone", plain, call), (
        "this package's own equations and every channel, no protection", with_events, own
    )  # fmt: skip
    for name, (method, tolerance), each in loops:
        print(f"a loop of solve_ivp calls ({method}, {tolerance:g}), {name}: {each:.2f} ms a build")
        print(f"  ratio per build {each / together:.0f}, of variations {each / around:.0f} (wanted: 200)", end="; ")
        print(f"one build over one call {alone / each:.2f} (wanted: 1.0 or less)")
    command = [sys.executable, "-m", __spec__.name, "--memory"]
    print("peak memory:", subprocess.check_output(command, text=True).strip())


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
        main(chosen.count)
