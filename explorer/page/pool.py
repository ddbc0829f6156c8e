"""Processes that compute the page's runs. They import no Streamlit, and neither does this file."""

from __future__ import annotations

import os
import threading
from concurrent.futures import CancelledError, Future, ProcessPoolExecutor
from contextlib import suppress
from functools import cache
from multiprocessing import get_context, parent_process
from typing import Any

from explorer.page.likely import Runs, all_runs

POOL_AFTER = 4.0
"""Seconds from the first run to the start of the processes that take over from then on."""
LONGEST_WAIT = 20.0
"""Seconds for a process of the pool to answer; a run takes a fraction of one."""


class Asked:
    """Runs that were asked for: of a process of the pool, or of this one while there is none.

    Parameters
    ----------
    what : tuple
        Of `all_runs`.
    elsewhere : bool
        Whether a process of the pool may compute them.
    """

    def __init__(self, what: tuple[Any, ...], elsewhere: bool) -> None:
        self._what = what
        self._answer: tuple[ProcessPoolExecutor, Future[Runs]] | None = None
        self._found: Runs | None = None
        if elsewhere and soon().finished.is_set():
            executor, started = pool()
            if started.done():
                with suppress(RuntimeError):  # of an executor that another session is replacing
                    self._answer = executor, executor.submit(all_runs, *what)

    @property
    def under_way(self) -> bool:
        """Whether another process is at work on them now."""
        return self._answer is not None and not self._answer[1].done()

    def runs(self) -> Runs:
        """What `all_runs` makes of it, by this process where the other one died or hangs."""
        if self._answer is not None and self._found is None:
            executor, coming = self._answer
            try:
                self._found = coming.result(LONGEST_WAIT)
            except (RuntimeError, TimeoutError, CancelledError):  # a fault of the run comes again
                _replace(executor)
        self._found = self._found or all_runs(*self._what)
        return self._found


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
    executor = ProcessPoolExecutor(max((os.cpu_count() or 2) - 1, 1), get_context("spawn"), _end_with_the_server)
    return executor, executor.submit(os.getpid)


def _replace(executor: ProcessPoolExecutor) -> None:
    """Put new processes in place of those of an executor of which one died or hangs."""
    if pool()[0] is executor:  # another session may have done so
        pool.cache_clear()
    for process in list((getattr(executor, "_processes", None) or {}).values()):
        process.kill()  # one that hangs would keep the server from ending
    executor.shutdown(wait=False, cancel_futures=True)


def _end_with_the_server() -> None:
    """In a process of the pool: end when the server has gone, even where it was killed."""

    def watch() -> None:
        if server := parent_process():
            server.join()
            os._exit(0)

    threading.Thread(target=watch, daemon=True).start()
