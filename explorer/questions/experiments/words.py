"""What two runs of an experiment show, in sentences built from their numbers. No Streamlit, nothing canned.

`Seen` holds both builds and both runs; each function here says one thing about them and picks its words by what
actually holds.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from explorer.derivations.derivation import Instant, Step, fastest
from explorer.format import UnitFormatter, plain_number
from explorer.page import words
from physics.build import Build
from physics.limits import LIMITS, RULES
from physics.simulation.result import RunResult

ALIKE_SPEED, ALIKE_TIME = 0.005, 0.01
"""Shares below which two speeds, or two times, count as the same."""
VOLTAGE_HOLDS = ("voltage", "field weakening")


@dataclass(frozen=True)
class Seen:
    """Two runs of an experiment: place 0 before the change, place 1 after it.

    Attributes
    ----------
    builds : tuple of two Build
        Before and after.
    runs : RunResult
        Two rows, in that order.
    names : tuple of two str
        What the two are called on the chart.
    fmt : UnitFormatter
        The rider's units.
    extra : dict
        What one experiment needs beside its runs.
    """

    builds: tuple[Build, Build]
    runs: RunResult
    names: tuple[str, str]
    fmt: UnitFormatter
    extra: dict = field(default_factory=dict)

    @cached_property
    def top(self) -> np.ndarray:
        """Highest speed of both runs, m/s."""
        return self.runs.top_speed

    @cached_property
    def settled(self) -> bool:
        """Whether both speeds are settled at the end."""
        return bool(self.runs.settled.all())

    @cached_property
    def low_speed(self) -> float:
        """A round speed that both runs pass on their way, m/s: about half the slower one's highest; or 0."""
        shown = float(self.fmt.number("speed", self.top.min())) / 2
        return float(self.fmt.si("speed", 5.0 * np.floor(shown / 5.0)))

    @cached_property
    def low_time(self) -> np.ndarray:
        """Time to that speed of both runs, s."""
        return self.runs.time_to(self.low_speed)

    @cached_property
    def deepest_sag(self) -> np.ndarray:
        """V, both runs."""
        return self.runs.sag.max(axis=1)

    def cut(self, row: int) -> bool:
        """Whether the pack cuts out in a run."""
        return bool(np.isfinite(self.runs.cut_out_time[row]))

    def fastest(self, row: int) -> Instant:
        """The instant just before a run is fastest."""
        return fastest(self.builds[row], self.runs, row)

    def top_limit(self, row: int) -> str:
        """The limit that holds where a run is fastest."""
        return words.limit_at_the_top(self.runs.take([row]))

    def low_limit(self, row: int) -> str:
        """The limit that holds longest up to the low speed."""
        return words.limit_on_the_way(self.runs.take([row]), self.low_time[row])

    def time_under(self, row: int, *limits: str) -> float:
        """How long any of these limits holds in a run, s."""
        places = [LIMITS.index(limit) for limit in limits]
        held = np.isin(self.runs.limit[row, :-1], places)
        return float(np.diff(self.runs.time[row])[held].sum())

    def held_by(self, limit: str, row: int) -> str:
        """A limit in words, with the setting of one of the builds."""
        return words.held_by(limit, self.builds[row].controller, self.fmt)

    @cached_property
    def top_change(self) -> int:
        """1 faster, -1 slower, 0 about as fast."""
        return change(*self.top, ALIKE_SPEED)

    @cached_property
    def launch_change(self) -> int:
        """1 sooner at the low speed, -1 later, 0 about as soon."""
        return -change(*self.low_time, ALIKE_TIME) if self.low_speed > 0 else 0


def change(before: float, after: float, alike: float) -> int:
    """1 more, -1 less, 0 alike within a share of the larger.

    Examples
    --------
    >>> change(100.0, 100.2, 0.005), change(100.0, 98.0, 0.005), change(1.0, 2.0, 0.1)
    (0, -1, 1)
    """
    difference = after - before
    if abs(difference) <= alike * max(abs(before), abs(after), 1e-9):
        return 0
    return 1 if difference > 0 else -1


def either(fmt: UnitFormatter, quantity: str, before: float, after: float, digits: int | None = None) -> str:
    """ "from a to b", or "a before and after" where both print alike."""
    texts = [fmt(quantity, value, digits) for value in (before, after)]
    return f"{texts[0]} before and after" if texts[0] == texts[1] else f"from {texts[0]} to {texts[1]}"


def tops(seen: Seen) -> str:
    """What the change does to the highest speed."""
    fmt, (before, after) = seen.fmt, seen.top
    what = "Top speed" if seen.settled else "The highest speed in the run"
    texts = [fmt("speed", value, 1) for value in (before, after)]
    if texts[0] == texts[1]:
        return f"{what} is {texts[0]} either way."
    if seen.top_change == 0:
        return f"{what} hardly changes: {texts[0]} before, {texts[1]} after."
    much = plain_number(fmt.number("speed", after) - fmt.number("speed", before), 1).lstrip("-")
    way = "faster" if seen.top_change > 0 else "slower"
    return f"{what} goes from {texts[0]} to {texts[1]}: {much} {fmt.unit('speed')} {way}."


def launch(seen: Seen) -> str:
    """What the change does to the time to a low speed."""
    fmt = seen.fmt
    if seen.low_speed <= 0:
        return "It hardly moves in either run." if seen.top.max() < 2 else ""
    return sooner(fmt, seen.low_speed, seen.low_time)


def sooner(fmt: UnitFormatter, speed: float, times: np.ndarray) -> str:
    """How much sooner or later the second run is at a speed that both reach."""
    at = fmt("speed", speed)
    texts = [fmt("time", value, 2) for value in times]
    if texts[0] == texts[1]:
        return f"It is at {at} after {texts[0]} either way."
    way = change(*times, ALIKE_TIME)
    if way == 0:
        return f"It is at {at} almost as soon: {texts[0]} before, {texts[1]} after."
    return f"It is at {at} {'later' if way > 0 else 'sooner'}: after {texts[1]} instead of {texts[0]}."


def cut_outs(seen: Seen) -> str:
    """Which of the runs end in a cut-out, by which rule; empty where none does."""
    fmt, texts = seen.fmt, []
    for row, which in enumerate(("Before the change", "After the change")):
        if seen.cut(row):
            rule = RULES[seen.runs.cut_out_rule[row]]
            when = fmt("time", seen.runs.cut_out_time[row])
            texts.append(f"{which} the pack **cuts out** after {when}, by the {rule} rule.")
    return " ".join(texts)


def limits_at_the_top(seen: Seen) -> str:
    """What holds where each of the runs is fastest."""
    before, after = (seen.held_by(seen.top_limit(row), row) for row in (0, 1))
    if seen.top_limit(0) == seen.top_limit(1):
        same = before if before == after else before.split(" (")[0]
        return f"Where it is fastest, {same} holds it back in both runs."
    return f"Where it is fastest, {before} holds it back before the change; after it, {after} does."


def limits_on_the_way(seen: Seen) -> str:
    """What holds longest up to the low speed."""
    if seen.low_speed <= 0:
        return ""
    at = seen.fmt("speed", seen.low_speed)
    before, after = (seen.held_by(seen.low_limit(row), row) for row in (0, 1))
    if seen.low_limit(0) == seen.low_limit(1):
        same = before if before == after else before.split(" (")[0]
        return f"Up to {at}, {same} holds it longest in both runs."
    return f"Up to {at}, {before} holds it longest before the change; after it, {after} does."


def strongest_drive(seen: Seen) -> str:
    """The strongest drive of both runs."""
    return f"The strongest drive at the wheel: {either(seen.fmt, 'force', *seen.runs.drive_force.max(axis=1))}."


def sags(seen: Seen) -> str:
    """The deepest sag and the lowest voltage of both runs."""
    fmt = seen.fmt
    lowest = either(fmt, "voltage", *seen.runs.minimum_voltage)
    return f"The deepest sag: {either(fmt, 'voltage', *seen.deepest_sag)}; the lowest pack voltage: {lowest}."


def numbers(seen: Seen) -> list[tuple[str, str, str]]:
    """Rows of the table: what, before, after."""
    fmt, runs = seen.fmt, seen.runs

    def row(name, quantity, values, digits=None):
        return (name, *(fmt(quantity, value, digits) if np.isfinite(value) else "–" for value in values))

    rows = [row("highest speed", "speed", seen.top, 1)]
    if seen.low_speed > 0:
        rows.append(row(f"time to {fmt('speed', seen.low_speed)}", "time", seen.low_time, 2))
    rows += [
        row("strongest drive at the wheel", "force", runs.drive_force.max(axis=1)),
        row("highest line current", "current", runs.line_current.max(axis=1)),
        row("highest phase current, peak", "current", runs.phase_current.max(axis=1)),
        row("deepest sag", "voltage", seen.deepest_sag),
        row("lowest pack voltage", "voltage", runs.minimum_voltage),
        row("weakest cell", "cell voltage", runs.minimum_cell_voltage),
        row("energy from the cells", "energy", runs.energy_used),
        row("cut-out after", "time", runs.cut_out_time),
    ]
    rows.append(("holds where it is fastest", seen.top_limit(0), seen.top_limit(1)))
    return rows


def told(*parts: str) -> str:
    """Sentences, one after the other, without the empty ones."""
    return " ".join(part for part in parts if part)


def answered(happened: str, because: str) -> str:
    """Two paragraphs: what happened, and why."""
    return f"{happened}\n\n{because}"


def lost(seen: Seen) -> float:
    """Share of the first run's highest speed that is gone in the second; below zero where it gains."""
    return float(1 - seen.top[1] / seen.top[0]) if seen.top[0] > 0.1 else 0.0


def each(seen: Seen, make: Callable[[int], list[Step]]) -> list[Step]:
    """The steps of a working for both runs: named, those of one equation beside each other."""
    steps = [replace(step, name=seen.names[row]) for row in (0, 1) for step in make(row)]
    order = list(dict.fromkeys(step.equation for step in steps))
    return sorted(steps, key=lambda step: order.index(step.equation))
