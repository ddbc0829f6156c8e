"""Work that takes a second or more, done beside the page: it shows how far it is, and most of it can be stopped.

A job runs in a thread and knows nothing of Streamlit. A section asks `latest` for the job that belongs to what it
shows; a job for something older is stopped. While a job is under way the section may go on showing the last result.
"""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from typing import Any

import streamlit as st

BEFORE_START = 0.25
"""Seconds a job waits before it begins, so that a slider that is being dragged starts none."""

SHOWN_AFTER = 1.0
"""Seconds after which a job shows how far it is and can be stopped; a quicker one ends before a hand is there."""

MOST_KEPT = 8
LOOK = 0.25


class Job:
    """One piece of work in a thread.

    Parameters
    ----------
    work : callable
        Called with (progress, cancelled), as `physics.studies.sweep.sweep` takes them; what it returns is the
        result, also when it was stopped.
    wait : float, s
        How long to wait before it begins.
    """

    def __init__(self, work: Callable[[Callable[[int, int], None], Callable[[], bool]], Any], wait: float = 0.0):
        self.fraction = 0.0
        self.result: Any = None
        self.error: Exception | None = None
        self.made = time.monotonic()
        self._work, self._wait = work, wait
        self._stopped, self._dropped, self._ended = threading.Event(), threading.Event(), threading.Event()
        threading.Thread(target=self._run, daemon=True).start()

    def _run(self) -> None:
        try:
            if not self._dropped.wait(self._wait):
                self.result = self._work(self._progress, self._stopped.is_set)
        except Exception as error:
            self.error = error
        finally:
            self._ended.set()

    def _progress(self, done: int, total: int) -> None:
        self.fraction = min(done / max(total, 1), 1.0)

    def stop(self) -> None:
        """End it as soon as may be, keeping what it has."""
        self._stopped.set()

    def drop(self) -> None:
        """End it; its result is wanted no more."""
        self._dropped.set()
        self._stopped.set()

    def join(self, timeout: float | None = None) -> bool:
        """Wait for its end; whether it has ended."""
        return self._ended.wait(timeout)

    @property
    def ended(self) -> bool:
        """Whether it has ended, by itself or stopped."""
        return self._ended.is_set()

    @property
    def stopping(self) -> bool:
        """Whether it was told to stop."""
        return self._stopped.is_set()


@dataclass
class _Bench:
    """The jobs of one section in one session."""

    jobs: OrderedDict[Hashable, Job] = field(default_factory=OrderedDict)
    last: Hashable = None


def latest(name: str, key: Hashable, work: Callable, wait: float = BEFORE_START) -> tuple[Job, Job | None]:
    """The job for what is asked now, and the last one that ended with a result.

    Parameters
    ----------
    name : str
        The section's name.
    key : hashable
        What the work depends on. The same key gives the same job; another key stops the job before.
    work : callable
        As `Job` takes it.
    wait : float, s
        As `Job` takes it.

    Returns
    -------
    tuple of (Job, Job or None)
    """
    bench = st.session_state.setdefault(f"background:{name}", _Bench())
    for other, job in list(bench.jobs.items()):
        if other != key and not job.ended:
            job.drop()
            del bench.jobs[other]
    if key not in bench.jobs:
        bench.jobs[key] = Job(work, wait)
        while len(bench.jobs) > MOST_KEPT:
            bench.jobs.popitem(last=False)
    job = bench.jobs[key]
    if job.ended and job.result is not None:
        bench.last = key
    return job, bench.jobs.get(bench.last)


def let_go(name: str) -> None:
    """Stop the jobs of a section and forget what they found.

    Parameters
    ----------
    name : str
        The section's name.
    """
    for job in st.session_state.pop(f"background:{name}", _Bench()).jobs.values():
        job.drop()


def watch(job: Job, name: str, text: str, *, stops: bool = True) -> None:
    """Show how far a job is, with a way to stop it; the page is drawn again once it ends.

    Parameters
    ----------
    job : Job
        The job.
    name : str
        The section's name.
    text : str
        What is being done.
    stops : bool
        Whether the work heeds that it is stopped; there is no way to stop it where it does not.
    """

    @st.fragment(run_every=LOOK)
    def look() -> None:
        if job.ended:
            st.rerun()
        if time.monotonic() - job.made < SHOWN_AFTER or not (stops or job.fraction):
            st.caption(text)
            return
        with st.container(horizontal=True, vertical_alignment="center", key=f"{name}_working"):
            st.progress(job.fraction, text=text)
            if stops:
                st.button(
                    "Stop", key=f"{name}_stop", on_click=job.stop, disabled=job.stopping, icon=":material/stop:"
                )

    look()
