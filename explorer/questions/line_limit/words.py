"""Today's line limit in words: verdict, its derivation, how to read the map, the table to print, the caution."""

from __future__ import annotations

import numpy as np
import pandas as pd

from explorer.derivations import pack
from explorer.derivations.derivation import Step
from explorer.format import UnitFormatter
from explorer.page.page import Page
from explorer.page.tolerances import with_case
from explorer.page.words import UNTOUCHED, margin, volts_left
from explorer.questions.line_limit.results import LimitAnswer
from explorer.state.names import as_markdown
from physics.limits import RULES
from physics.studies.limit_use import CONTINUOUS_RATING, PEAK_RATING, binding
from physics.studies.line_limit import NO_LIMIT_NEEDED, NONE_SURVIVES
from physics.studies.uncertainty.worse import WorseCase

WORKING = "Trying line limits ..."
ALT_MAP = "Highest line limit by pack temperature and charge; today is framed."
NOTE = (
    "Highest line limit, A, that holds with your margin; today is framed. “free”: the pull never draws "
    "enough to need one. “none”: even the lowest limit would cut out. A limit that holds here also holds "
    "with a warmer or fuller pack."
)
TABLE = "Table to print"
CAUTION = (
    "The pack maker's current rating comes before any limit shown here. Hard pulls age cold cells long before "
    "the BMS trips. Where the BMS cuts out, the answer is less current, never looser BMS settings."
)


def verdict(page: Page, answer: LimitAnswer) -> str:
    """The limit for today, for what pull, what comes above it, and what the build's own does."""
    limits, fmt, index = answer.limits, page.fmt, (answer.row, answer.column)
    status, limit = limits.status[index], limits.limit[index]
    warmth, charge = limits.temperature[answer.row], limits.charge[answer.column]
    where = f"with the pack at {fmt('temperature', warmth)} and {fmt('charge', charge)} charge"
    mine = at_mine(page, answer)
    if status == NO_LIMIT_NEEDED:
        return (
            f"**No line limit is needed today** for {described(page)} {where}: with no limit the bike "
            f"would draw at most {fmt('current', limits.largest_current[index])}, inside every BMS limit "
            f"and pack rating, {margin(page)}. {mine}"
        )
    case = limits.cases[limits.case[index]]
    binds = what_happens(limits.rule[index], case, fmt)
    if status == NONE_SURVIVES:
        return (
            f"**No line limit is low enough today** for {described(page)} {where}: whatever the limit, "
            f"{binds}. {mine}"
        )
    elsewhere = "" if _here(answer) else " with a warmer or fuller pack"
    return (
        f"**Today, {fmt('current', limit)} or less.** {where[:1].upper()}{where[1:]}, {described(page)} "
        f"then stays inside every BMS limit and pack rating, {margin(page)}. Above that{elsewhere}, "
        f"{binds}. {mine}"
    )


def what_happens(binds: int, case: WorseCase, fmt: UnitFormatter) -> str:
    """What a rule or a rating does, and in which case."""
    does = "trips" if binds < len(RULES) else "is passed" if binds == PEAK_RATING else ("is exceeded for too long")
    clause = with_case(case, fmt)
    return f"{clause and clause + ', '}{binding(binds)} {does}"


def described(page: Page) -> str:
    """The pull in words."""
    fmt, pull = page.fmt, page.pull
    if pull.target_speed is None:
        return f"{fmt('time', pull.duration, 0)} flat out"
    return f"a pull to {fmt.entered('speed', pull.target_speed)}, held for {fmt('time', pull.hold, 0)}"


def at_mine(page: Page, answer: LimitAnswer) -> str:
    """What the build's own limit does today, as entered and where things are worse."""
    fmt, limits, used = page.fmt, answer.limits, answer.mine.used[0, 0]
    worst, entered = int(np.argmax(used)), int(answer.mine.binds[0, 0])
    mine = fmt("current", page.build.controller.line_current_limit)
    if used[worst] >= 1:
        return f"Your {mine} **would cut out** in that pull, on the {RULES[worst]} rule."
    if entered >= 0:
        return f"Your {mine} **is too much** in that pull: {what_happens(entered, limits.cases[0], fmt)}."
    some = f"{fmt('share', used[worst])} of the {RULES[worst]} limit used"
    if used[worst] < UNTOUCHED:
        some = "every BMS timer at zero"
    if page.build.pack.protection.cell_undervoltage > 0:
        some += f" and {volts_left(answer.mine.volts_left[0, 0], fmt)}"
    failing = np.flatnonzero(answer.mine.binds[:, 0] >= 0)
    if len(failing):
        case = next((one for one in failing if limits.cases[one].alone), failing[0])
        happens = what_happens(answer.mine.binds[case, 0], limits.cases[case], fmt)
        return f"Your {mine} is **marginal**: as entered it holds, with {some}, but {happens}."
    index = answer.row, answer.column
    if page.build.controller.line_current_limit > limits.limit[index]:
        but = "with nothing to spare"
        if not _here(answer):
            but = "not with every warmer or fuller pack"
        elif limits.rule[index] == CONTINUOUS_RATING:
            but = "some lower limits would not: the bike draws them for longer"
        return f"Your {mine} holds at exactly this temperature and charge, with {some}, but {but}."
    return f"Your {mine} **holds**, with {some}."


def _here(answer: LimitAnswer) -> bool:
    """Whether today's limit binds at today's temperature and charge, not in a warmer or fuller pack."""
    today = answer.limits.temperature[answer.row], answer.limits.charge[answer.column]
    return bool(np.allclose(answer.limits.place[answer.row, answer.column], today))


def alt_ladder(page: Page, answer: LimitAnswer) -> str:
    """What the chart of allowances shows."""
    return f"BMS limit used today, against the line limit. {at_mine(page, answer)}"


def derivation(page: Page, limit: float) -> list[Step]:
    """What a line limit, A, asks of the protection: time allowed, and sag of the weakest cell."""
    build = page.build
    return [
        *pack.resistance(build, limit),
        pack.weakest_after_ten_seconds(build, limit),
        *pack.overcurrent(build, limit * (1 + build.controller.overshoot)),
    ]


def table(page: Page, answer: LimitAnswer) -> pd.DataFrame:
    """Line limits by pack temperature and charge, as texts."""
    limits, fmt = answer.limits, page.fmt
    columns = {}
    for column, charge in enumerate(limits.charge):
        mark = " (today)" if column == answer.column else ""
        columns[fmt("charge", charge) + mark] = [cell_text(value) for value in limits.limit[:, column]]
    index = [
        fmt("temperature", value) + (" (today)" if row == answer.row else "")
        for row, value in enumerate(limits.temperature)
    ]
    return pd.DataFrame(columns, index=pd.Index(index, name="pack"))


def cell_text(limit: float) -> str:
    """What stands in a cell of the map.

    Examples
    --------
    >>> cell_text(205.0), cell_text(0.0), cell_text(float("inf"))
    ('205', 'none', 'free')
    """
    if np.isinf(limit):
        return "free"
    return f"{limit:.0f}" if limit > 0 else "none"


def about(page: Page) -> str:
    """What the table is for, in a line."""
    return (
        f"{as_markdown(page.build.name)}. Highest line limit, A, for {described(page)}, {margin(page)}; columns: "
        "charge at the start."
    )
