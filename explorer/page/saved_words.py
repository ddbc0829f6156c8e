"""What would have saved a pull, in words: the verdict, each change, cautions."""

from __future__ import annotations

from explorer.format import joined, tied
from explorer.page import lever_words
from explorer.page.lever_words import CAUTIONS
from explorer.page.page import Page
from explorer.page.tolerances import with_case
from explorer.page.words import margin
from physics.limits import RULES
from physics.studies.target import Saving, Survival

FLAT_OUT = 0.95
"""Throttle from which a pull is called flat out."""
SHORTEST = 1.0
"""Seconds below which rolling off sooner is no pull any more."""


def verdict(saved: Survival, page: Page, pull: str = "this pull", logged: str = "") -> str:
    """What cut out, and what would have saved the pull."""
    fmt, throttle = page.fmt, saved.build.controller.throttle
    rule, time = RULES[saved.rule], fmt("time", saved.time)
    found = [one for one in saved.savings if one.found]
    model = "In the model the" if logged else "The"
    cut = f"{model} {rule} rule trips after {time}, at {fmt('speed', saved.speed)}{logged}."
    roll = ""
    if saved.roll_off >= SHORTEST:
        roll = f"Rolling off after {fmt.at_most('time', saved.roll_off)} would have saved it too."
    if not found:
        least = roll.replace(" too.", ".") or "Even one second flat out is too long."
        return f"**No single change would have saved {pull}.** {cut} {least}"
    first = found[0]
    text = lever_words.change_text(first.lever, first.present, first.value, fmt)
    start = f"**What would have saved {pull}: {text[:1].lower()}{text[1:]}**"
    others = len(found) - 1
    few = ("", ", or the other change below", ", or either of the other two below")
    more = few[others] if others < len(few) else f", or any one of the other {others} below"
    how = "flat out" if throttle >= FLAT_OUT else f"at {fmt('share', throttle, 0)} throttle"
    held = f"The pack then stays on for all {fmt('time', saved.duration, 0)} {how}, {margin(page)}."
    return " ".join(part for part in (f"{start}{more}.", held, cut, _worst(saved, page), roll) if part)


def _worst(saved: Survival, page: Page) -> str:
    """In which case it opens soonest, where that is sooner than as entered."""
    clause = with_case(saved.case, page.fmt)
    return f"It would cut out even sooner {clause}." if clause else ""


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
