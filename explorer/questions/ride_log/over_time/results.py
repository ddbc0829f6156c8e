"""The rides of a session and what is worked out of them: a fit for each, a trend, a cold day ahead."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import streamlit as st

from explorer.frame.background_job import Job, latest, let_go
from explorer.page.page import Page
from explorer.questions.ride_log import rides, source
from explorer.questions.ride_log.over_time import ride_file, words
from explorer.questions.ride_log.over_time.demo_rides import demo_rides
from explorer.questions.ride_log.over_time.ride_file import LONGEST_LABEL, RideEntry
from explorer.questions.ride_log.rides import HeldRide
from explorer.state.names import clean_name
from physics.build import Build
from physics.fitting.ride_values import RideValues, ride_values
from physics.fitting.trend import Trend
from physics.ridelog import LogError, RideLog
from physics.studies.target.ageing import AgedWindow, aged_window

KEY = f"{source.KEY}_over_time"
FIT_JOB, AHEAD_JOB = KEY, f"{KEY}_ahead"
_KEPT = f"{KEY}:kept"
COLD = 279.15
"""K, 6 °C: the day for which the voltage is asked at first."""
YEAR = 365


@dataclass
class Wish:
    """What is known of a ride before it is fitted.

    Attributes
    ----------
    date : datetime.date or None
        As the rider has it.
    temperature : float, K
        Of the air, and of the pack at the start where the log has none.
    """

    date: datetime.date | None
    temperature: float


@dataclass
class Kept:
    """What the session holds.

    Attributes
    ----------
    entries : tuple of RideEntry
        By date.
    unused : set of RideEntry
        Those of them that the rider leaves out.
    wishes : dict of str to Wish
        By the token of each file that waits to be fitted.
    dropped : set of str
        Tokens of files that are not to be fitted.
    asked : tuple
        What was asked to be fitted: (file, wish) each; empty while nothing is.
    fitted : dict
        What was worked out of a file's content.
    demo : bool
        Whether the invented rides are among the entries.
    sentences : list of str
        What is to be said of the last fits.
    until : datetime.date or None
        Day asked for.
    cold : float, K
        Its temperature.
    """

    entries: tuple[RideEntry, ...] = ()
    unused: set[RideEntry] = field(default_factory=set)
    wishes: dict[str, Wish] = field(default_factory=dict)
    dropped: set[str] = field(default_factory=set)
    asked: tuple[tuple[HeldRide, Wish], ...] = ()
    fitted: dict[Any, RideValues] = field(default_factory=dict)
    demo: bool = False
    sentences: list[str] = field(default_factory=list)
    until: datetime.date | None = None
    cold: float = COLD

    def put(self, new: Sequence[RideEntry], *, newer: bool) -> list[str]:
        """Take in rides; what is to be said about it. Invented ones give way, so that no trend mixes them in."""
        if self.demo and new:
            self.entries, self.demo = (), False
        self.entries, sentences = ride_file.merged(self.entries, new, newer=newer)
        self.unused &= set(self.entries)
        return sentences

    def change(self, ride: RideEntry, **changes: Any) -> None:
        """Give a ride another date or label."""
        changed = replace(ride, **changes)
        if ride in self.unused:
            self.unused = self.unused - {ride} | {changed}
        self.entries = ride_file.merged([one for one in self.entries if one != ride], [changed], newer=True)[0]

    def remove_unused(self) -> None:
        """Take away the rides that are not used."""
        self.entries = tuple(ride for ride in self.entries if ride not in self.unused)
        self.unused, self.demo = set(), self.demo and bool(self.entries)

    def forget(self) -> None:
        """Let go of all rides that were fitted."""
        self.entries, self.unused, self.demo, self.sentences = (), set(), False, []
        let_go(AHEAD_JOB)


def kept() -> Kept:
    """The session's own."""
    return st.session_state.setdefault(_KEPT, Kept())


def opened(data: bytes) -> list[str] | None:
    """Take in a file of rides, and what is to be said of it; None for a file that is none."""
    if data[:64].lstrip(b"\xef\xbb\xbf \t\r\n")[:1] != b"{":
        kept().dropped.discard(source.token_of(data))  # whoever opens a file again wants it
        return None
    found = ride_file.from_bytes(data)
    return found.sentences + kept().put(found.rides, newer=False)


def take_demo(build: Build) -> None:
    """Put the invented rides in."""
    held = kept()
    held.put(demo_rides(build), newer=True)
    held.demo = True


def label_of(text: Any) -> str:
    """A rider's name for a ride as it is kept; empty where nothing of it can be."""
    return clean_name(text, "", LONGEST_LABEL)


def waiting(page: Page) -> tuple[list[tuple[HeldRide, RideLog, Wish]], list[tuple[HeldRide, LogError]]]:
    """The files of the session that were not fitted yet: with what is known of each, or why it cannot be read."""
    held, found, unread = kept(), [], []
    done = {entry.log for entry in held.entries}
    for ride in rides.held():
        if ride.token in done | held.dropped:
            continue
        log = rides.log_of(ride, page.build.motor.pole_pairs)
        if isinstance(log, LogError):
            if ride.token != source.source().token:  # what is wrong with that one is said above
                unread.append((ride, log))
            continue
        if ride.token not in held.wishes:
            air = float(page.batch["conditions.air_temperature"][0])
            held.wishes[ride.token] = Wish(log.report.date, air)
        found.append((ride, log, held.wishes[ride.token]))
    return found, unread


def drop(token: str) -> None:
    """Leave a file out; it can still be compared with another."""
    held = kept()
    held.wishes.pop(token, None)
    held.dropped.add(token)


def fit_all(given: Sequence[tuple[HeldRide, Wish]]) -> None:
    """Ask for fits."""
    held = kept()
    held.asked, held.sentences = tuple((ride, replace(wish)) for ride, wish in given), []


def fitting(page: Page) -> Job | None:
    """The job that fits what was asked for, while it is under way; what it found goes to the rides at its end."""
    held = kept()
    if not held.asked:
        return None
    build, choices = page.build, source.source().choices
    keys = [(ride.token, wish.temperature, choices, repr(_as_ridden(build))) for ride, wish in held.asked]
    logs = [rides.log_of(ride, build.motor.pole_pairs) for ride, _ in held.asked]
    days, known = [wish.temperature for _, wish in held.asked], dict(held.fitted)

    def work(progress: Callable[[int, int], None], stopped: Callable[[], bool]) -> dict[Any, RideValues]:
        found: dict[Any, RideValues] = {}
        for place, (key, log, kelvin) in enumerate(zip(keys, logs, days, strict=True)):
            if stopped():
                break
            if key in known:
                found[key] = known[key]
            elif isinstance(log, RideLog):
                found[key] = ride_values(log, _on(build, kelvin))
            progress(place + 1, len(keys))
        return found

    job, _ = latest(FIT_JOB, (tuple(keys), tuple(wish.date for _, wish in held.asked)), work, wait=0.0)
    if not job.ended:
        return job
    if job.error is not None:
        held.asked = ()
        raise job.error
    _take(held, build, keys, job.result)
    return None


def _take(held: Kept, build: Build, keys: Sequence[Any], found: dict[Any, RideValues]) -> None:
    """Put what was fitted beside the other rides."""
    held.fitted |= found
    entries, empty = [], []
    for key, (ride, wish) in zip(keys, held.asked, strict=True):
        if key not in found or wish.date is None:
            continue
        values = found[key]
        if values.resistance or values.capacity_ah or values.drag_area:
            label = label_of(ride.name.rpartition(".")[0]) or "A ride"
            pack = build.pack
            entries.append(
                RideEntry(wish.date, label, ride.token, str(pack.chemistry), pack.cells_in_series, values)
            )
        else:
            empty.append(ride.name)
            held.dropped.add(ride.token)
    held.asked = ()
    held.sentences = held.put(entries, newer=True) + ([words.nothing_found(empty)] if empty else [])


def _as_ridden(build: Build) -> Build:
    """The build without its day."""
    return _on(build, 298.15)


def _on(build: Build, temperature: float) -> Build:
    """The build on a day of that temperature, on the level in still air."""
    day = {"conditions.air_temperature": temperature, "conditions.pack_temperature": temperature}
    day |= {"conditions.headwind": 0.0, "conditions.slope": 0.0}
    return build.change(day)


def cold_day(page: Page, used: Sequence[RideEntry], found: Trend, when: datetime.date, kelvin: float) -> Job:
    """The job that finds from what voltage the target is reached on a cold day ahead."""
    build, target, duration = page.build, page.target_speed, page.duration

    def work(*_: Any) -> AgedWindow:
        return aged_window(build, found, float(when.toordinal()), target, kelvin, duration)

    key = (tuple(used), when, kelvin, target, duration, repr(build))
    return latest(AHEAD_JOB, key, work)[0]
