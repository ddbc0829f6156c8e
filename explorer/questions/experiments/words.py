"""What two runs of an experiment show, in sentences built from their numbers. No Streamlit, nothing canned.

Each function says one thing about the two runs and picks its words by what actually holds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pandas as pd

from explorer.derivations.derivation import Step
from explorer.format import UnitFormatter, plain_number
from explorer.questions.experiments.two_runs import ALIKE_TIME, FloatArray, TwoRuns, change
from physics.limits import RULES

INTRO = (
    "For newcomers and for teaching. Each changes **one thing** on the build on this page, so the "
    "answers are for your own bike: change the build and an answer may flip. The first five make a short course."
)
LINK, UNKNOWN = "Link to this experiment", "The link asks for an experiment this page does not have."
LINK_HELP = "Opens the page on this build, with this experiment ready to guess. Hand it out to a class."
PROJECTOR = "Projector: this experiment alone, large"
PROJECTOR_HELP = "For a class, at 1024 × 768 and up. Printed from here, an experiment takes one page."
CHOICE, RUN, RUN_HELP, AGAIN = "Experiment", "Run both", "Guess first.", "Guess again"
STANDS_STILL = "With this build on this day the bike does not move in either run. Change one of them first."
WHY, IN_NUMBERS = "Show me why: equations and sources", "Both runs in numbers"

FORCE = "force"
VIEWS = {"time": "Over time", FORCE: "Force, with your guess"}
"""Charts of an experiment whose answers stand on force against speed."""
BEFORE_AND_AFTER = ("Before the change", "After the change")
AFTER_A_CUT_OUT = (
    "From there the bike only coasts, so comparing top speeds and times means nothing here. Less line current, "
    "more charge or a warmer pack keeps the BMS from cutting out; set one of them first to see what the change "
    "itself does."
)
VOLTAGE_HOLDS = ("voltage", "field weakening")


class Explanation(NamedTuple):
    """What happened in an experiment, and why."""

    happened: str
    because: str


def ask(question: str) -> str:
    """The question before the answers to choose from."""
    return f"**Your guess:** {question}"


def judged(guess: str, right: str) -> str:
    """How a guess did; both are labels of answers."""
    if guess == right:
        return f":primary[:material/check_circle:] **You guessed right: {_lower(right)}.**"
    return (
        f":primary[:material/lightbulb:] **Not what you guessed.** You said: {_lower(guess)}. On this build the "
        f"answer is: **{_lower(right)}.**"
    )


def same_lesson(earlier: str, build: str) -> str:
    """That an experiment came out as the one it is meant to turn round, and on what build it does not."""
    return (
        f"**That is the same answer as “{earlier}”:** on this build one limit rules both. To see it flip, start "
        f"from “{build}”."
    )


def hidden(build: str) -> str:
    """That a cut-out hides what the change does, and on what build neither run has one."""
    return f"**The cut-out hides the lesson.** To see it, start from “{build}”, which stays connected in both runs."


def course(came: list[tuple[str, str, str, str]]) -> str:
    """What was guessed and what came out, experiment by experiment.

    Parameters
    ----------
    came : list of (title, guess, answer, key)
        In the order in which they were done.
    """
    right = sum(guess == answer for _, guess, answer, _ in came)
    lines = [
        f"- {title}: **{_lower(answer)}**"
        + (", as you guessed" if guess == answer else f"; you said: {_lower(guess)}")
        for title, guess, answer, _ in came
    ]
    return f"**Your guesses so far: {right} of {len(came)} right.**\n\n" + "\n".join(lines)


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def because(explanation: Explanation) -> str:
    """Why it came so."""
    return f"**Why:** {explanation.because}"


def alt(names: tuple[str, str], explanation: Explanation) -> str:
    """The chart of both runs in words."""
    return f"Both runs, {names[0]} and {names[1]}. {explanation.happened}".replace("*", "")


def go_on(title: str) -> str:
    """Of the button that leads to the next experiment."""
    return f"Next: {title}"


def progress(done: int, count: int) -> str:
    """How many experiments were looked at."""
    return f"{done} of {count} done"


def table(rows: list[tuple[str, ...]], names: tuple[str, str]) -> pd.DataFrame:
    """Both runs in numbers."""
    before, after = names if names[0] != names[1] else (f"{names[0]}, before", f"{names[1]}, after")
    return pd.DataFrame(rows, columns=["number", before, after])


def either(fmt: UnitFormatter, quantity: str, values: Iterable[float], digits: int | None = None) -> str:
    """ "from a to b", or "a before and after" where both print alike."""
    texts = [fmt(quantity, value, digits) for value in values]
    return f"{texts[0]} before and after" if texts[0] == texts[1] else f"from {texts[0]} to {texts[1]}"


def tops(two: TwoRuns) -> str:
    """What the change does to the highest speed."""
    fmt, (before, after) = two.fmt, two.top
    what = "Top speed" if two.settled else "The highest speed in the run"
    texts = [fmt("speed", value, 1) for value in (before, after)]
    if texts[0] == texts[1]:
        return f"{what} is {texts[0]} either way."
    if two.top_change == 0:
        return f"{what} hardly changes: {texts[0]} before, {texts[1]} after."
    much = plain_number(abs(fmt.difference("speed", after, before, 1)), 1)
    way = "faster" if two.top_change > 0 else "slower"
    return f"{what} goes from {texts[0]} to {texts[1]}: {much} {fmt.unit('speed')} {way}."


def launch(two: TwoRuns) -> str:
    """What the change does to the time to a low speed."""
    fmt = two.fmt
    if two.low_speed <= 0:
        return "It hardly moves in either run." if two.top.max() < 2 else ""
    return sooner(fmt, two.low_speed, two.low_time)


def sooner(fmt: UnitFormatter, speed: float, times: FloatArray) -> str:
    """How much sooner or later the second run is at a speed that both reach."""
    at = fmt("speed", speed)
    texts = [fmt("time", value, 2) for value in times]
    if texts[0] == texts[1]:
        return f"It gets to {at} in {texts[0]} either way."
    way = change(times, ALIKE_TIME)
    if way == 0:
        return f"It gets to {at} about as soon: {texts[0]} before, {texts[1]} after."
    return f"It reaches {at} {'later' if way > 0 else 'sooner'}: after {texts[1]} instead of {texts[0]}."


def cut_out(two: TwoRuns, ends: tuple[str, str] = BEFORE_AND_AFTER) -> Explanation:
    """Which of the runs ends in a cut-out, when and how fast it then was, and what opened the pack.

    Parameters
    ----------
    two : TwoRuns
        At least one of which cuts out.
    ends : tuple of two str
        How a sentence about each run begins.
    """
    fmt, runs, happened, why = two.fmt, two.runs, [], []
    for row, start in enumerate(ends):
        if not two.cut(row):
            happened.append(f"{start} it does not: the most is {fmt('speed', two.top[row], 1)}.")
            continue
        when, run = float(runs.cut_out_time[row]), runs.one(row)
        speed = fmt("speed", np.interp(when, run.time, run.speed[0]), 1)
        happened.append(f"{start} the pack **cuts out** after {fmt('time', when)}, at {speed}.")
        why.append(
            f"{start} the {RULES[runs.cut_out_rule[row]]} rule trips, at "
            f"{fmt('current', runs.cut_out_current[row])} line current with the weakest cell at "
            f"{fmt('cell voltage', runs.cut_out_cell_voltage[row])}."
        )
    return Explanation(paragraph(*happened), paragraph(*why, AFTER_A_CUT_OUT))


def limits_at_the_top(two: TwoRuns) -> str:
    """What holds where each of the runs is fastest; nothing where one does not move."""
    if two.top.min() < 0.1:
        return ""
    before, after = (two.held_by(two.top_limit(row), row) for row in (0, 1))
    if two.top_limit(0) == two.top_limit(1):
        same = before if before == after else before.split(" (")[0]
        return f"At its fastest, {same} holds it back in both runs."
    return f"At its fastest, {before} holds it back before the change, {after} after it."


def limits_on_the_way(two: TwoRuns) -> str:
    """What holds longest up to the low speed."""
    if two.low_speed <= 0:
        return ""
    at = two.fmt("speed", two.low_speed)
    before, after = (two.held_by(two.low_limit(row), row) for row in (0, 1))
    if two.low_limit(0) == two.low_limit(1):
        same = before if before == after else before.split(" (")[0]
        return f"Up to {at}, {same} holds it back longest in both runs."
    return f"Up to {at}, {before} holds it back longest before the change, {after} after it."


def strongest_drive(two: TwoRuns) -> str:
    """The strongest drive of both runs."""
    return f"The strongest drive at the wheel: {either(two.fmt, 'force', two.runs.drive_force.max(axis=1))}."


def sags(two: TwoRuns) -> str:
    """The deepest sag and the lowest voltage of both runs."""
    fmt = two.fmt
    lowest = either(fmt, "voltage", two.runs.minimum_voltage)
    return f"The deepest sag: {either(fmt, 'voltage', two.deepest_sag)}; the lowest pack voltage: {lowest}."


def numbers(two: TwoRuns) -> list[tuple[str, ...]]:
    """Rows of the table: what, before, after."""
    fmt, runs = two.fmt, two.runs

    def row(name: str, quantity: str, values: Iterable[float], digits: int | None = None) -> tuple[str, ...]:
        return (name, *(fmt(quantity, value, digits) if np.isfinite(value) else "–" for value in values))

    rows = [row("highest speed", "speed", two.top, 1)]
    if two.low_speed > 0:
        rows.append(row(f"time to {fmt('speed', two.low_speed)}", "time", two.low_time, 2))
    rows += [
        row("strongest drive at the wheel", "force", runs.drive_force.max(axis=1)),
        row("highest line current", "current", runs.line_current.max(axis=1)),
        row("highest phase current, peak", "current", runs.phase_current.max(axis=1)),
        row("deepest sag", "voltage", two.deepest_sag),
        row("lowest pack voltage", "voltage", runs.minimum_voltage),
        row("weakest cell", "cell voltage", runs.minimum_cell_voltage),
        row("energy from the cells", "energy", runs.energy_used),
        row("cut-out after", "time", runs.cut_out_time),
    ]
    rows.append(("limit at its fastest", two.top_limit(0), two.top_limit(1)))
    return rows


def paragraph(*parts: str) -> str:
    """Sentences, one after the other, without the empty ones."""
    return " ".join(part for part in parts if part)


def each(two: TwoRuns, make: Callable[[int], list[Step]]) -> list[Step]:
    """The steps of a derivation for both runs: named, those of one equation beside each other."""
    steps = [replace(step, name=two.names[row]) for row in (0, 1) for step in make(row)]
    order = list(dict.fromkeys(step.equation for step in steps))
    return sorted(steps, key=lambda step: order.index(step.equation))
