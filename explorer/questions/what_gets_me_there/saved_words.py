"""What would have saved the pull, in words: the verdict, each change, the derivation, cautions."""

from __future__ import annotations

import math

from explorer.derivations import pack
from explorer.derivations.derivation import Step, put
from explorer.derivations.sources import PRACTICE
from explorer.format import joined, tied
from explorer.page.page import Page
from explorer.page.tolerances import with_case
from explorer.page.words import margin
from explorer.questions.what_gets_me_there import lever_words
from explorer.questions.what_gets_me_there.words import CAUTIONS
from physics.limits import RULES
from physics.studies.target import Saving, Survival

SHORTEST = 1.0
"""Seconds below which rolling off sooner is no pull any more."""


def verdict(saved: Survival, page: Page) -> str:
    """What cut out, and what would have saved the pull."""
    fmt = page.fmt
    rule, time = RULES[saved.rule], fmt("time", saved.time)
    found = [one for one in saved.savings if one.found]
    cut = f"The {rule} rule trips after {time}, at {fmt('speed', saved.speed)}."
    roll = ""
    if saved.roll_off >= SHORTEST:
        roll = f"Rolling off after {fmt.at_most('time', saved.roll_off)} would have saved it too."
    if not found:
        least = roll.replace(" too.", ".") or "Even one second flat out is too long."
        return f"**No single change would have saved this pull.** {cut} {least}"
    first = found[0]
    text = lever_words.change_text(first.lever, first.present, first.value, fmt)
    start = f"**What would have saved this pull: {text[:1].lower()}{text[1:]}**"
    more = ["", ", or the other change below"][min(len(found) - 1, 1)]
    if len(found) > 2:
        more = f", or any one of the {len(found) - 1} other changes below"
    held = f"The pack then stays on for all {fmt('time', saved.duration, 0)} flat out, {margin(page)}."
    return " ".join(part for part in (f"{start}{more}.", held, cut, _worst(saved, page), roll) if part)


def _worst(saved: Survival, page: Page) -> str:
    """In which case it opens soonest, where that is not as entered."""
    clause = with_case(saved.case, page.fmt)
    return f"The cut-out would come soonest {clause}." if clause else ""


def offer(saved: Survival, one: Saving, page: Page) -> str:
    """One change, and the speed that is left with it."""
    fmt = page.fmt
    text = lever_words.change_text(one.lever, one.present, one.value, fmt)
    instead = f"Gets to {fmt('speed', one.top_speed)}; the cut-out came at {fmt('speed', saved.speed)}."
    if one.lever.key == "line_limit":
        instead += (
            " Set no more than “What line limit is safe from a cut-out today?” says: it covers warmer packs too."
        )
    if one.lever.key == "charge" and one.value > one.present:
        instead += " A fuller pack leaves less room for regen."
    return f"{text}  \n:small[{instead}]"


def not_alone(saved: Survival) -> str:
    """Which levers cannot do it alone."""
    names = [lever_words.name(one.lever).lower() for one in saved.savings if not one.found]
    return f"Not enough on their own, however far they go: {joined(names)}." if names else ""


def cautions(saved: Survival) -> list[str]:
    """What the changes ask for."""
    return [tied(CAUTIONS[one.lever.key]) for one in saved.savings if one.found and one.lever.key in CAUTIONS]


def derivation(saved: Survival, page: Page) -> list[Step]:
    """What the line limit that saves the pull asks of the weakest cell and of the timed rules; what is left out."""
    build = page.build
    line = next((one for one in saved.savings if one.lever.key == "line_limit" and one.found), None)
    current = line.value if line is not None else build.controller.line_current_limit
    steps = [pack.weakest_after_ten_seconds(build, current)]
    steps += pack.overcurrent(build, current * (1 + build.controller.overshoot))
    if math.isfinite(saved.time):
        steps.append(
            Step(
                "How much earlier to roll off",
                r"\Delta t = t_c - t_r",
                f"{put(saved.time, 5)} − {put(saved.roll_off, 5)}",
                saved.time - saved.roll_off,
                "s",
                "t_c the cut-out as entered; t_r when to roll off, half a second before the cut-out in the "
                f"worst of {len(saved.cases)} cases: common practice, no source. Left out: a rider who rides "
                "differently because of the change, a pack that is not evenly warm, and what is still settling "
                "from before the pull",
                PRACTICE,
                digits=1,
            )
        )
    return steps
