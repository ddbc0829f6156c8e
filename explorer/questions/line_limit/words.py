"""Today's line limit in words: verdict, its derivation, how to read the map, the table to print, the caution."""

from __future__ import annotations

import numpy as np
import pandas as pd

from explorer.derivations import pack
from explorer.derivations.derivation import Step, put
from explorer.derivations.sources import SPREAD
from explorer.page.page import Page
from explorer.page.words import UNTOUCHED
from explorer.questions.line_limit.results import LimitAnswer
from explorer.state.names import as_markdown
from physics.components import cell
from physics.limits import RULES
from physics.studies.line_limit import NO_LIMIT_NEEDED, NONE_SURVIVES

WORKING = "Trying line limits ..."
ALT_MAP = "Highest line limit over pack temperature and charge; the frame is today."
NOTE = (
    "Highest line limit, A, that leaves your margin; framed: today. “free”: the pull never draws enough "
    "to need one. “none”: even the lowest limit would cut out. A limit that holds here also holds in a "
    "warmer or fuller pack."
)
TABLE = "Table to print"
CAUTION = (
    "The pack maker's current rating comes before any limit shown here. Hard pulls age cold cells long before the "
    "protection cuts out. Where it is in the way, the answer is less current, never a wider protection."
)


def verdict(page: Page, answer: LimitAnswer) -> str:
    """The limit for today, for what pull, what comes above it, and what the build's own does."""
    limits, fmt = answer.limits, page.fmt
    margin = page.pull_margin
    status, limit = limits.status[answer.row, answer.column], limits.limit[answer.row, answer.column]
    rule = limits.rule[answer.row, answer.column]
    where = f"with the pack at {fmt('temperature', limits.temperature[answer.row])} and " + (
        f"{fmt('charge', limits.charge[answer.column])} of charge"
    )
    mine = at_mine(page, answer)
    if status == NONE_SURVIVES:
        return (
            f"**No line limit is low enough today** for {described(page)} {where}: even at the lowest, the "
            f"{RULES[rule]} rule leaves less than your margin or cuts out. {mine}"
        )
    if status == NO_LIMIT_NEEDED:
        drawn = fmt("current", limits.largest_current[answer.row, answer.column])
        return (
            f"**No line limit is needed today** for {described(page)} {where}: with the limit off the bike "
            f"would draw {drawn} at most, which leaves {fmt('share', margin)} or more of every allowance. {mine}"
        )
    return (
        f"**Today, {fmt('current', limit)} or less.** {where[:1].upper()}{where[1:]}, that leaves "
        f"{fmt('share', margin)} or more of every allowance in {described(page)}; above it, the "
        f"{RULES[rule]} rule is the first to leave less. {mine}"
    )


def described(page: Page) -> str:
    """The pull in words."""
    fmt, pull = page.fmt, page.pull
    if pull.target_speed is None:
        return f"{fmt('time', pull.duration, 0)} flat out"
    return f"a pull to {fmt.entered('speed', pull.target_speed)}, held for {fmt('time', pull.hold, 0)}"


def at_mine(page: Page, answer: LimitAnswer) -> str:
    """What the build's own limit does today."""
    fmt, margin = page.fmt, page.pull_margin
    worst = int(np.argmax(answer.used_now))
    used = float(answer.used_now[worst])
    mine = fmt("current", page.build.controller.line_current_limit)
    if used >= 1:
        return f"Your {mine} **would cut out** in that pull, by the {RULES[worst]} rule."
    if used > 1 - margin:
        text = f"Your {mine} is **marginal**: it uses {fmt('share', used)} of the {RULES[worst]} allowance"
        return f"{text}, more than your margin leaves."
    limits = answer.limits
    if page.build.controller.line_current_limit > limits.limit[answer.row, answer.column]:
        return (
            f"Your {mine} would hold at just this temperature and charge, with {fmt('share', used)} of the "
            f"{RULES[worst]} allowance used, but not in every warmer or fuller pack."
        )
    if used < UNTOUCHED:
        return f"Your {mine} **holds**: it uses none of any allowance."
    return f"Your {mine} **holds**: it uses {fmt('share', used)} of the {RULES[worst]} allowance."


def alt_ladder(page: Page, answer: LimitAnswer) -> str:
    """What the chart of allowances shows."""
    return f"Allowance used today against the line limit. {at_mine(page, answer)}"


def derivation(page: Page, limit: float) -> list[Step]:
    """What a line limit, A, asks of the protection: time allowed, and sag of the weakest cell."""
    build, parts = page.build, page.build.pack
    spread = parts.resistance_spread
    resistance = pack.resistance_today(build, limit)
    alone = float(cell.open_circuit_voltage(parts.chemistry, build.conditions.charge - parts.charge_spread))
    return [
        *pack.resistance(build, limit),
        Step(
            f"Weakest cell after ten seconds of {put(limit, 3)} A",
            r"u = u_0 - \frac{I\,R}{n}\,(1 + s)",
            f"{put(alone, 5)} − {put(limit)} × {put(1000 * resistance)} / 1000 / {parts.cells_in_series} × "
            f"(1 + {put(spread)})",
            alone - limit * resistance * (1 + spread) / parts.cells_in_series,
            "V",
            "u₀ its rest voltage at the start, V; I line limit, A; R resistance today, mΩ; n cells in series; s "
            f"its extra resistance. The rule counts below {parts.protection.cell_undervoltage:g} V",
            SPREAD,
            digits=4,
        ),
        *pack.inverse_time(build, limit * (1 + build.controller.overshoot)),
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
        f"{as_markdown(page.build.name)}. Highest line limit, A, for {described(page)}, with "
        f"{page.fmt('share', page.pull_margin)} of every allowance left over; columns: charge at the start."
    )
