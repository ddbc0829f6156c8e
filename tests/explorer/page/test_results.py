"""Runs that other processes compute for the page."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from explorer.page import pool, results
from explorer.page.likely import all_runs
from explorer.page.tolerances import tolerances
from physics.studies.headroom_curves import RegenPlan

WAIT = 60.0


def alive(process: int) -> bool:
    """Whether a process is there and is no empty shell of an ended one."""
    try:
        return Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rsplit(")", 1)[1].split()[0] != "Z"
    except FileNotFoundError:
        return False


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="looks for processes where Linux lists them")
@pytest.mark.parametrize("name", ["SIGTERM", "SIGKILL"])
def test_no_process_outlives_the_server(name):
    """property: however the server ends."""
    program = "from explorer.page.pool import pool; print(pool()[1].result(), flush=True); input()"
    server = subprocess.Popen(
        [sys.executable, "-c", program],
        cwd=Path(__file__).parents[3],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    worker = int(server.stdout.readline())
    assert alive(worker)
    os.kill(server.pid, getattr(signal, name))
    server.wait(WAIT)
    until = time.monotonic() + WAIT
    while alive(worker) and time.monotonic() < until:
        time.sleep(0.1)
    assert not alive(worker)


def test_a_run_from_another_process_is_the_same():
    """property: to the last digit, band and all."""
    values = PRESETS["supermoto"].values()
    known = tolerances(values)
    asked = make_build(values), None, 20.0, known, RegenPlan(), known
    here, band, tops, headroom = all_runs(*asked)
    executor, _ = pool.pool()
    there, other_band, other_tops, other_headroom = executor.submit(all_runs, *asked).result()
    assert headroom.today.highest_charge == other_headroom.today.highest_charge
    assert (here.speed == there.speed).all()
    assert (tops == other_tops).all()
    assert (here.minimum_voltage == there.minimum_voltage).all()
    assert all((one == other).all() for one, other in zip(band, other_band, strict=True))


def test_what_is_asked_for_is_begun_elsewhere_and_dropped_where_nobody_wants_it():
    """property: by another process once it has begun, here where it never did; two want it, and only when neither
    does it is dropped."""
    executor, started = pool.pool()
    assert started.result(WAIT) != os.getpid()
    begun = pool.Task(os.getpid, ())
    begun.begin("me")
    assert begun.wait(WAIT)
    assert begun.result() != os.getpid()
    assert pool.Task(os.getpid, ()).result() == os.getpid()
    busy = [executor.submit(time.sleep, 1.0) for _ in range(2 * pool.PROCESSES + 1)]  # one waits beside each
    queued = pool.Task(os.getpid, ())
    for who in ("me", "you"):
        queued.begin(who)
    assert not queued.wait(0.0)
    queued.drop("me")
    assert not queued.dropped
    queued.drop("you")
    assert queued.dropped
    assert queued.wait(0.0)
    assert queued.result() == os.getpid()
    assert not any(one.cancelled() for one in busy)


class _Runtime:
    """A server, for as much as `results.runs` asks of one."""

    Runtime = object

    @staticmethod
    def exists() -> bool:
        return True

    @staticmethod
    def get_instance() -> object:
        return object()


def test_a_process_that_dies_or_hangs_is_replaced(monkeypatch):
    """property: the run comes all the same, and the next one from another process."""
    asked = make_build(PRESETS["supermoto"].values()), None, 20.0, (), RegenPlan(), ()
    expected, *_ = all_runs(*asked)
    monkeypatch.setattr(results, "runtime", _Runtime)
    monkeypatch.setattr(pool, "LONGEST_WAIT", 1.0)
    monkeypatch.setattr(pool, "POOL_AFTER", 0.0)
    pool.soon.cache_clear()
    assert pool.soon().finished.wait(WAIT)
    for disturb, wait in ((os._exit, 0), (time.sleep, 600)):
        executor, started = pool.pool()
        assert started.result(WAIT) != os.getpid()
        for _ in range(executor._max_workers):
            executor.submit(disturb, wait)
        asleep = list(executor._processes.values())
        results._runs.cache_clear()
        found, *_ = results.runs(*asked).result()
        assert (found.speed == expected.speed).all()
        assert pool.pool()[0] is not executor
        for process in asleep:
            process.join(WAIT)
            assert not process.is_alive()
