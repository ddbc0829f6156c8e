"""Work of several sessions at once: where it is done, and that it is done the same. All checks here: property."""

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import psutil
import pytest

from explorer.inputs.to_build import make_build
from explorer.page import beside
from explorer.page.beside import Broken, Helper, InTurn
from explorer.page.run_and_band import run_and_band
from explorer.page.tolerances import tolerances
from explorer.state.state import State

PATIENCE = 30.0


def until(true):
    """Wait until something is true."""
    end = time.monotonic() + PATIENCE
    while not true():
        assert time.monotonic() < end
        time.sleep(0.02)


@pytest.fixture
def helper():
    made = Helper()
    yield made
    made.end()


@pytest.fixture
def in_turn():
    made = InTurn(1)
    yield made
    for helper in made._helpers:
        helper.end()


def wait_for(in_turn, *asked):
    """The answer to work that is asked for while other work is under way."""
    begun, waits, answers = threading.Event(), threading.Event(), []
    first = threading.Thread(target=in_turn, args=(lambda: (begun.set(), waits.wait(PATIENCE)),))
    second = threading.Thread(target=lambda: answers.append(in_turn(*asked)))
    first.start()
    assert begun.wait(PATIENCE)
    second.start()
    until(in_turn._starting.locked)
    waits.set()
    for thread in (first, second):
        thread.join(PATIENCE)
    return answers[0]


def test_a_helper_finds_what_is_found_in_place(helper):
    """property: to the last bit, with a baseline and a band."""
    state = State()
    build = make_build(state.values, state.name)
    asked = (build, build, 10.0, tolerances(state.values))
    (here, band), (there, other) = run_and_band(*asked), helper.ask(run_and_band, asked)
    assert len(there) == len(here) == 2
    for name in ("time", "speed", "limit", "clocks", "cut_out_time", "energies"):
        np.testing.assert_array_equal(getattr(there, name), getattr(here, name))
    np.testing.assert_array_equal(there.top_speed, here.top_speed)
    for mine, its in zip(band, other, strict=True):
        np.testing.assert_array_equal(mine, its)


def test_who_is_alone_starts_nothing(in_turn, monkeypatch):
    """property: one piece of work after the other is done where it is asked for, in the same thread."""
    monkeypatch.setattr(beside, "Helper", lambda: pytest.fail("A helper was started."))
    assert [in_turn(os.getpid) for _ in range(5)] == [os.getpid()] * 5
    assert in_turn(threading.get_ident) == threading.get_ident()


def test_from_the_first_wait_on_a_helper_does_the_work(in_turn):
    """property: also for those who are alone later; an answer never goes to somebody else."""
    assert wait_for(in_turn, abs, -1) == 1
    until(lambda: in_turn._helpers)
    in_turn(abs, -1)  # the serving process, if it was free, is asked no more from here on
    assert in_turn(os.getpid) == in_turn._helpers[0]._process.pid
    answers = {}
    threads = [threading.Thread(target=lambda n=n: answers.update({n: in_turn(abs, -n)})) for n in range(20)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(PATIENCE)
    assert answers == {number: number for number in range(20)}


def test_a_broken_helper_is_replaced_by_the_serving_process(in_turn):
    """property: the work that met it is done, and all after it."""
    wait_for(in_turn, abs, -1)
    until(lambda: in_turn._helpers)
    in_turn(abs, -1)
    in_turn._helpers[0]._process.kill()
    assert [in_turn(os.getpid) for _ in range(3)] == [os.getpid()] * 3


def test_without_helpers_the_serving_process_does_all(in_turn, monkeypatch):
    """property: where there is no Python to start, work waits its turn and is done."""
    monkeypatch.setattr(sys, "executable", str(Path(__file__).parent / "no_such_python"))
    with pytest.raises(Broken):
        Helper()
    assert wait_for(in_turn, os.getpid) == os.getpid()
    assert in_turn(os.getpid) == os.getpid()


def test_an_error_in_the_work_is_told_as_ever(in_turn):
    """property: whether a helper met it or not, and the helper goes on."""
    with pytest.raises(ZeroDivisionError):
        in_turn(divmod, 1, 0)
    wait_for(in_turn, abs, -1)
    until(lambda: in_turn._helpers)
    in_turn(abs, -1)
    for _ in range(2):
        with pytest.raises(ZeroDivisionError):
            in_turn(divmod, 1, 0)
    assert in_turn(os.getpid) == in_turn._helpers[0]._process.pid


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no such signal here")
@pytest.mark.parametrize("name", ["SIGKILL", "SIGTERM"])
def test_no_helper_outlives_the_server(name):
    """property: however the server ends."""
    program = "import os;"
    program += "from explorer.page.beside import Helper; it = Helper(); print(it.ask(os.getpid, ())); input()"
    server = subprocess.Popen(
        [sys.executable, "-uc", program], cwd=Path(beside.__file__).parents[2],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE,
    )  # fmt: skip
    helper = psutil.Process(int(server.stdout.readline()))
    server.send_signal(getattr(signal, name))
    server.communicate(timeout=PATIENCE)
    until(lambda: not helper.is_running() or helper.status() == psutil.STATUS_ZOMBIE)


def test_pages_are_drawn_one_after_the_other(monkeypatch):
    monkeypatch.setattr(beside, "PATIENCE", PATIENCE)
    order, begun = [], threading.Event()

    def draw(name, wait):
        with beside.undisturbed():
            order.append(f"{name} begins")
            begun.set()
            time.sleep(wait)
            order.append(f"{name} ends")

    first = threading.Thread(target=draw, args=("first", 0.05))
    first.start()
    assert begun.wait(PATIENCE)
    draw("second", 0.0)
    first.join(PATIENCE)
    assert order == ["first begins", "first ends", "second begins", "second ends"]


def test_a_page_that_takes_long_holds_up_nobody_for_long():
    with beside.undisturbed():
        began = time.monotonic()
        other = threading.Thread(target=lambda: beside.undisturbed().__enter__())
        other.start()
        other.join(PATIENCE)
        assert beside.PATIENCE - 0.01 <= time.monotonic() - began < PATIENCE
    assert not beside._drawing.locked()


def test_a_page_that_breaks_off_makes_way():
    with pytest.raises(LookupError), beside.undisturbed():
        raise LookupError
    assert not beside._drawing.locked()
