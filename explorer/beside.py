"""Work of several sessions at once: in turn, in the serving process and in helper processes beside it.

One process computes for all sessions, and threads that share it slow each other down. Work therefore waits its turn:
the first piece is done where it was asked for, as ever; as soon as one has to wait, helpers are started in the
background, and from then on the next free helper is asked first. Where none can be started, or one breaks, the
serving process does the work.

A helper is this file, run as a program: it reads calls from its standard input and ends with it, however the server
ended. What it is given to call must be importable without Streamlit.
"""

from __future__ import annotations

import os
import pickle
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from queue import Empty, PriorityQueue
from typing import Any

_HERE = 0


class Broken(Exception):
    """A helper that gave no answer."""


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
                [sys.executable, "-m", "explorer.beside"], cwd=Path(__file__).resolve().parents[1],
                stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
            )  # fmt: skip
        except OSError as error:
            raise Broken from error

    def ask(self, work: Callable, arguments: tuple) -> Any:
        """The answer of ``work(*arguments)``.

        Raises
        ------
        Broken
            Where there is none, be it the helper's fault or the work's.
        """
        try:
            pickle.dump((work, arguments), self._process.stdin, pickle.HIGHEST_PROTOCOL)
            self._process.stdin.flush()
            return pickle.load(self._process.stdout)
        except Exception as error:
            self.end()
            raise Broken from error

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
        self._places: PriorityQueue[int] = PriorityQueue()
        self._places.put(_HERE)
        self._helpers: dict[int, Helper] = {}
        self._starting = threading.Lock()

    @property
    def helpers(self) -> int:
        """How many helpers there are."""
        return len(self._helpers)

    def __call__(self, work: Callable, *arguments: Any) -> Any:
        """The answer of ``work(*arguments)``, wherever it is done."""
        try:
            place = self._places.get_nowait()
        except Empty:
            threading.Thread(target=self._start, args=(work, arguments), daemon=True).start()
            place = self._places.get()
        try:
            if place == _HERE:
                return work(*arguments)
            return self._helpers[place].ask(work, arguments)
        except Broken:
            del self._helpers[place]
            place = None
            return work(*arguments)
        finally:
            if place is not None:
                self._places.put(place)

    def _start(self, work: Callable, arguments: tuple) -> None:
        """Start the helpers, once; each is asked once before it is counted on, so that it has imported what it needs."""
        if not self._starting.acquire(blocking=False):
            return
        for place in range(-self._most, _HERE):
            try:
                helper = Helper()
                helper.ask(work, arguments)
            except Broken:
                return
            self._helpers[place] = helper
            self._places.put(place)


in_turn = InTurn(max((os.cpu_count() or 2) - 1, 1))


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
        pickle.dump(work(*arguments), answered, pickle.HIGHEST_PROTOCOL)
        answered.flush()


if __name__ == "__main__":
    serve()
