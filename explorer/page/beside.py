"""Several sessions at once, which share one process: what keeps them out of each other's way.

Threads of one process slow each other down. Work therefore waits its turn. A rider who is alone has it done in the
serving process, as ever. As soon as work of another has to wait, helpers are started in the background, and once
they are there all work goes to them. Where none can be started, or all broke, it is done in the serving process
again. Pages are drawn one after the other too, as far as that takes nobody long.

A helper is this file, run as a program: it reads calls from its standard input and ends with it, however the server
ended. What it is given to call must be importable without Streamlit.
"""

from __future__ import annotations

import gc
import os
import pickle
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path
from queue import Empty, LifoQueue
from typing import Any


class Broken(Exception):
    """A helper that answers no more."""


class Unanswered(Exception):
    """Work that met an exception; the helper goes on."""


class Helper:
    """A process that does one piece of work after the other.

    Raises
    ------
    Broken
        Where it cannot be started.
    """

    def __init__(self):
        try:
            self._process = subprocess.Popen(
                [sys.executable, "-m", "explorer.page.beside"], cwd=Path(__file__).resolve().parents[2],
                stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
            )  # fmt: skip
        except OSError as error:
            raise Broken from error

    def ask(self, work: Callable, arguments: tuple) -> Any:
        """The answer of ``work(*arguments)``.

        Raises
        ------
        Unanswered
            Where the work met an exception.
        Broken
            Where the helper ended.
        """
        try:
            pickle.dump((work, arguments), self._process.stdin, pickle.HIGHEST_PROTOCOL)
            self._process.stdin.flush()
            found, answer = pickle.load(self._process.stdout)
        except Exception as error:
            self.end()
            raise Broken from error
        if not found:
            raise Unanswered
        return answer

    def end(self) -> None:
        """End the process."""
        self._process.kill()
        self._process.communicate()


class InTurn:
    """Where work of all sessions is done.

    Parameters
    ----------
    most : int
        How many helpers, at most.
    """

    def __init__(self, most: int):
        self._most = most
        self._free: LifoQueue[Helper | None] = LifoQueue()
        self._free.put(None)  # the serving process
        self._helpers: list[Helper] = []
        self._starting = threading.Lock()

    def __call__(self, work: Callable, *arguments: Any) -> Any:
        """The answer of ``work(*arguments)``, wherever it is done."""
        try:
            helper = self._free.get_nowait()
        except Empty:
            if self._starting.acquire(blocking=False):  # never given back: helpers are started once
                threading.Thread(target=self._start, args=(work, arguments), daemon=True).start()
            helper = self._free.get()
        try:
            return helper.ask(work, arguments) if helper else work(*arguments)
        except Unanswered:  # here its exception is met by who asked
            return work(*arguments)
        except Broken:
            self._helpers.remove(helper)
            helper = None
            return work(*arguments)
        finally:
            if helper or not self._helpers:
                self._free.put(helper)

    def _start(self, work: Callable, arguments: tuple) -> None:
        """Start the helpers. Each first does the work that had to wait, and so imports what it needs."""
        while len(self._helpers) < self._most:
            try:
                helper = Helper()
                with suppress(Unanswered):
                    helper.ask(work, arguments)
            except Broken:
                return
            self._helpers.append(helper)
            self._free.put(helper)


in_turn = InTurn(max((os.cpu_count() or 2) - 1, 1))

PATIENCE = 0.15
"""Seconds for which a page waits for another that is drawn; a section that computes for long holds up nobody."""

_drawing = threading.Lock()


@contextmanager
def undisturbed() -> Iterator[None]:
    """Draw while no other session does: two that take turns are both done sooner than two that share."""
    held = _drawing.acquire(timeout=PATIENCE)
    try:
        yield
    finally:
        if held:
            _drawing.release()


@cache
def keep_for_good() -> None:
    """Once, when a page has been drawn: what is there by now stays out of the collector's sight.

    Going through all of it takes the collector a tenth of a second, in which every session stands still.
    """
    gc.collect()
    gc.freeze()


def serve() -> None:
    """Do what is asked until nobody can ask any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    asked, answered = sys.stdin.buffer, sys.stdout.buffer
    sys.stdout = sys.stderr
    while True:
        try:
            work, arguments = pickle.load(asked)
        except EOFError:
            return
        try:
            answer = pickle.dumps((True, work(*arguments)), pickle.HIGHEST_PROTOCOL)
        except Exception:
            answer = pickle.dumps((False, None))
        answered.write(answer)
        answered.flush()


if __name__ == "__main__":
    serve()
