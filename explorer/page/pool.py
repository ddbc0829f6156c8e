"""Processes that compute for the page: its runs, and what open questions ask for while the page is being drawn.

They import no Streamlit, and neither does this file.
"""

from __future__ import annotations

import importlib
import os
import threading
from collections.abc import Callable
from concurrent.futures import CancelledError, Future, ProcessPoolExecutor, wait
from functools import cache, lru_cache
from multiprocessing import get_context, parent_process
from typing import Any

POOL_AFTER = 4.0
"""Seconds from the first run to the start of the processes that take over from then on."""
LONGEST_WAIT = 20.0
"""Seconds for a process of the pool to answer; a run takes a fraction of one."""
PROCESSES = min(os.cpu_count() or 2, 4)
"""As many as may compute at once; two start at first, the others as they are wanted."""
MOST_BEGUN = max(PROCESSES - 1, 1)
"""So much work of questions may be under way; more is done by this process, once it is wanted."""
_asked: set[Future] = set()


class Task:
    """Work that the page asks for: done by a process of the pool where that has begun, else by this one.

    Attributes
    ----------
    dropped : bool
        Whether nobody begins it any more, as nobody wanted it any more.
    """

    def __init__(self, work: Callable[..., Any], args: tuple[Any, ...]) -> None:
        self._work, self._args, self._lock = work, args, threading.Lock()
        self._executor: ProcessPoolExecutor | None = None
        self._future: Future | None = None
        self._known: tuple[Any, ...] = ()
        self._wanted: set[Any] = set()

    def begin(self, who: Any, first: bool = False) -> None:
        """Let a process begin it, where one is there and has not too much to do.

        Parameters
        ----------
        who
            Who wants it.
        first : bool
            Whether it is what the page waits for: it never waits behind what questions ask for.
        """
        self._wanted.add(who)
        if (self._future is None or self.dropped) and not self._known:
            self._executor = _ready() if len(_asked) < (PROCESSES if first else MOST_BEGUN) else None
            self._future = _submitted(self._executor, self._work, self._args)
            if self._future is not None and not first:
                _asked.add(self._future)
                self._future.add_done_callback(_asked.discard)

    def drop(self, who: Any) -> None:
        """It is wanted no more by somebody; where that was the last, and it has not begun, nobody begins it."""
        self._wanted.discard(who)
        if not self._wanted and self._future is not None:
            self._future.cancel()

    @property
    def under_way(self) -> bool:
        """Whether a process has it to do."""
        return self._future is not None and not self._future.done()

    @property
    def dropped(self) -> bool:
        return self._future is not None and self._future.cancelled()

    def wait(self, timeout: float) -> bool:
        """Wait for a process that has begun; whether there is nothing to wait for any more."""
        one = self._future
        return one is None or one.done() or not wait([one], timeout).not_done

    def result(self) -> Any:
        """What comes of it, waited for."""
        with self._lock:
            if not self._known:
                self._known = (_result(self._executor, self._future, self._work, self._args),)
        return self._known[0]


@lru_cache(maxsize=60)
def ask(work: Callable[..., Any], *args: Any) -> Task:
    """Work that takes a while, to be begun or wanted at once; the same again is the same.

    Parameters
    ----------
    work : callable
        A function of a module that other processes can import.
    *args
        What it is called with; each can be hashed, and sent to another process.
    """
    return Task(work, args)


def _submitted(executor: ProcessPoolExecutor | None, work: Callable, args: tuple) -> Future | None:
    if executor is not None:
        try:
            return executor.submit(work, *args)
        except RuntimeError:  # one of its processes died
            _replace(executor)
    return None


def _result(executor: ProcessPoolExecutor | None, future: Future | None, work: Callable, args: tuple) -> Any:
    """What a process of the pool finds, or this one where it was dropped, or where that died or hangs."""
    if executor is not None and future is not None:
        try:
            return future.result(LONGEST_WAIT)
        except CancelledError:
            pass
        except (RuntimeError, TimeoutError):  # a fault of the work comes again
            _replace(executor)
    return work(*args)


def _ready() -> ProcessPoolExecutor | None:
    """The processes, where they have been started and are there."""
    if not pool.cache_info().currsize:
        return None
    executor, started = pool()
    return executor if started.done() else None


@cache
def soon() -> threading.Timer:
    """Begins `pool` a little later: its start takes what the first visit's first charts need."""
    timer = threading.Timer(POOL_AFTER, pool)
    timer.daemon = True
    timer.start()
    return timer


@cache
def pool() -> tuple[ProcessPoolExecutor, Future]:
    """Processes that compute while this one draws for several sessions, and what is done once they are there.

    Threads of one process compute in turn, and the one that draws for ten sessions has no time to compute for them.
    """
    executor = ProcessPoolExecutor(PROCESSES, get_context("spawn"), _begin)
    return executor, [executor.submit(os.getpid) for _ in range(min(PROCESSES, 2))][-1]


def _replace(executor: ProcessPoolExecutor) -> None:
    """Put new processes in place of those of an executor of which one died or hangs."""
    if pool()[0] is executor:  # another session may have done so
        pool.cache_clear()
    for process in list((getattr(executor, "_processes", None) or {}).values()):
        process.kill()  # one that hangs would keep the server from ending
    executor.shutdown(wait=False, cancel_futures=True)


def _begin() -> None:
    """In a process of the pool: end with the server, even a killed one, and load what the page asks for first."""

    def watch() -> None:
        if server := parent_process():
            server.join()
            os._exit(0)

    threading.Thread(target=watch, daemon=True).start()
    importlib.import_module("explorer.page.likely")
