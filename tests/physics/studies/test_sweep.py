"""Sweeps: chunks, executors and cancelling change nothing about what a run gives."""

import os
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from functools import partial

import numpy as np
import pytest

from physics.build import Bike, Build, Controller, Driveline, Motor, Pack, Protection
from physics.build.samples import grid, samples
from physics.simulation.run import run
from physics.studies.sweep import CANCELLED, COMPLETE, FAILED, chunk_size, end_values, sweep

RULES = Protection(continuous_current=180.0, peak_current=240.0, cell_undervoltage=2.8)
BUILD = Build(
    Pack(24, 26.0, protection=RULES), Motor(62.0), Controller(210.0, 480.0), Driveline(12, 56), Bike(118.0, 82.0)
)
AXES = {
    "driveline.front_teeth": [11, 12, 13],
    "driveline.rear_teeth": [48, 52, 56, 60],
    "conditions.charge": [0.3, 1],
}
DURATION, STEPS = 8.0, 60
SMALL = 5 * 2 * 8 * 27 * (STEPS + 1)  # memory for five builds a chunk


def speed_and_time(result, speed):
    return end_values(result) | {"time_to_speed": result.time_to(speed), "speed": result.speed[:, ::20]}


def failing_at_low_charge(result):
    if (result.charge[:, 0] < 0.5).any():
        raise ZeroDivisionError("a reducer of the test")
    return end_values(result)


def wrong_shape(result):
    return {"top_speed": result.top_speed[:1]}


REDUCER = partial(speed_and_time, speed=15.0)


def swept(**options):
    return sweep(grid(BUILD, AXES), DURATION, reducer=REDUCER, steps=STEPS, memory=SMALL, **options)


@pytest.fixture(scope="module")
def serial():
    return swept()


def same(result, other):
    assert result.values.keys() == other.values.keys()
    for name in result.values:
        np.testing.assert_array_equal(result[name], other[name], err_msg=name)


def test_chunks_hold_the_asked_memory():
    """hand-worked: 5 builds of 61 instants, each 21 channels, a limit and 5 trip timers of 8 bytes, twice over."""
    assert chunk_size(DURATION, STEPS, SMALL) == 5
    assert chunk_size(DURATION, STEPS, 1.0) == 1


def test_grid_order():
    """hand-worked: the last axis runs fastest."""
    made = grid(BUILD, AXES)
    assert made.shape == (3, 4, 2)
    assert len(made) == 24
    np.testing.assert_array_equal(made.changes["driveline.front_teeth"][:9], [11] * 8 + [12])
    np.testing.assert_array_equal(made.changes["conditions.charge"][:4], [0.3, 1.0, 0.3, 1.0])
    assert samples(BUILD, {"conditions.charge": 0.5}).shape == (1,)


def test_chunks_give_what_one_batch_gives(serial):
    """property: the same numbers from chunks of five as from one batch, and as from builds run one by one."""
    whole = REDUCER(run(grid(BUILD, AXES).batch(), DURATION, steps=STEPS))
    for name, values in whole.items():
        np.testing.assert_allclose(serial[name], values, rtol=1e-9, err_msg=name)
    assert serial.on_grid("top_speed").shape == (3, 4, 2)
    alone = BUILD.change({"driveline.front_teeth": 13, "driveline.rear_teeth": 52, "conditions.charge": 0.3})
    top = run(alone, DURATION, steps=STEPS).top_speed[0]
    assert serial.on_grid("top_speed")[2, 1, 0] == pytest.approx(top, rel=1e-9)


def test_a_batch_is_swept_like_samples(serial):
    """property: builds that exist as a batch give the same as samples that are made chunk by chunk."""
    batch = grid(BUILD, AXES).batch()
    same(sweep(batch, DURATION, reducer=REDUCER, steps=STEPS, memory=SMALL), serial)


def test_progress_counts_every_chunk():
    """hand-worked: 24 builds in chunks of five."""
    seen = []
    swept(progress=lambda done, total: seen.append((done, total)))
    assert seen == [(5, 24), (10, 24), (15, 24), (20, 24), (24, 24)]


@pytest.mark.parametrize("kind", [ThreadPoolExecutor, ProcessPoolExecutor])
def test_executors_give_identical_results(serial, kind):
    """exact solution: a pool of two gives to the last bit what this process gives."""
    with kind(max_workers=2) as executor:
        result = swept(executor=executor, in_flight=3)
    assert result.status == COMPLETE
    same(result, serial)


def test_a_cluster_engine_gives_identical_results(serial):
    """exact solution: a local cluster's executor gives to the last bit what this process gives."""
    if os.environ.get("CI") != "true":
        pytest.importorskip("distributed")
    from distributed import Client, LocalCluster

    options = {"n_workers": 2, "threads_per_worker": 1, "processes": False, "dashboard_address": None}
    with LocalCluster(**options) as cluster, Client(cluster) as client:
        result = swept(executor=client.get_executor(), in_flight=3)
    assert result.status == COMPLETE
    same(result, serial)


def cancel_after(count):
    """A progress callback and a question for `cancelled` that says yes once so many builds are done."""
    reached = []

    def progress(done, total):
        if done >= count:
            reached.append(done)

    return {"progress": progress, "cancelled": lambda: bool(reached)}


def test_cancelling_keeps_what_is_finished(serial):
    """property: what a cancelled sweep holds equals the whole sweep's, the rest is NaN, and it can go on."""
    part = swept(**cancel_after(10))
    assert part.status == CANCELLED
    assert part.message == "Stopped with 10 of 24 builds done; those are kept."
    assert part.done.tolist() == [True] * 10 + [False] * 14
    np.testing.assert_array_equal(part["top_speed"][part.done], serial["top_speed"][:10])
    assert np.isnan(part["top_speed"][~part.done]).all()
    seen = []
    whole = swept(resume=part, progress=lambda done, total: seen.append(done))
    assert whole.status == COMPLETE
    assert seen == [15, 20, 24]
    same(whole, serial)


def test_cancelling_keeps_what_an_executor_finished(serial):
    """property: the same through an executor; chunks that are under way are waited for and kept."""
    with ThreadPoolExecutor(2) as executor:
        part = swept(executor=executor, in_flight=3, **cancel_after(5))
    assert part.status == CANCELLED
    assert 5 <= part.done.sum() < 24
    for name in serial.values:
        np.testing.assert_array_equal(part[name][part.done], serial[name][part.done])
    same(swept(resume=part), serial)


def test_a_sweep_cancelled_at_once_holds_nothing():
    """property: no chunk is run, and the result says so."""
    part = swept(cancelled=lambda: True)
    assert part.status == CANCELLED
    assert not part.done.any()
    assert part.values == {}


@pytest.mark.parametrize("pool", [None, ThreadPoolExecutor])
def test_a_failing_chunk_is_told_and_the_rest_kept(pool):
    """property: the error stands in the result; what was finished before it is kept."""
    builds = samples(BUILD, {"conditions.charge": np.r_[np.ones(10), np.full(5, 0.3)]})
    options = {"reducer": failing_at_low_charge, "steps": STEPS, "memory": SMALL}
    if pool is None:
        result = sweep(builds, DURATION, **options)
    else:
        with pool(1) as executor:
            result = sweep(builds, DURATION, executor=executor, **options)
    assert result.status == FAILED
    assert result.done.sum() == 10
    assert "a reducer of the test" in result.message
    with pytest.raises(ZeroDivisionError):
        result.checked()


def test_a_reducer_of_the_wrong_shape_is_told():
    """property: the message names the array, its shape and what is needed."""
    result = sweep(samples(BUILD, {"conditions.charge": [0.9, 1.0]}), DURATION, reducer=wrong_shape, steps=STEPS)
    with pytest.raises(ValueError, match=r"top_speed has shape \(1,\); its first axis must be the 2 builds"):
        result.checked()


def test_resuming_another_sweep_is_refused(serial):
    """property: a result of another size cannot be gone on with."""
    with pytest.raises(ValueError, match="holds 24 builds; this sweep has 2"):
        sweep(samples(BUILD, {"conditions.charge": [0.9, 1.0]}), DURATION, resume=serial)


def test_memory_stays_bounded():
    """property: 2,000 builds in chunks of 8 MiB never take more than those 8 MiB."""
    import tracemalloc

    builds = samples(BUILD, {"bike.drag_area": np.linspace(0.3, 0.7, 2000)})
    tracemalloc.start()
    sweep(builds, 4.0, steps=60, memory=8 * 2**20)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 8 * 2**20
