"""What would it take: the smallest single changes that reach the target, and the best pairs, one click each."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from explorer.components.live_chart import live_chart
from explorer.derivations import parts as why_parts
from explorer.format import tied
from explorer.frame.background_job import latest, watch
from explorer.frame.layout import numbers, show_derivation
from explorer.page import words_of_changes as words
from explorer.page.page import Page
from explorer.questions.what_gets_me_there import chart
from explorer.questions.what_gets_me_there.allowed import allowed, edit_allowed
from explorer.questions.what_gets_me_there.change import as_inputs, pair_as_inputs
from explorer.questions.what_gets_me_there.results import Ways, search
from explorer.state.state import current
from physics.limits import LIMITS
from physics.studies.target import Change, Goal
from physics.studies.target.single_change import REACHES

TITLE = "What would get me to my target?"
KEY = "what_gets_me_there"
YES = "reaches the target"
LOW_SPEED = {"metric": 50.0, "US": 30.0}
"""The speed whose time says what a change costs, in the rider's unit."""
_STYLE = f"""
<style>
[class*="st-key-{KEY}_row_"] {{ flex-wrap: nowrap; gap: 0.75rem; }}
[class*="st-key-{KEY}_row_"] > div:last-child {{ flex: none; }}
</style>
"""


def draw(page: Page) -> None:
    """Search beside the page; show what was found, or meanwhile what was found before."""
    levers, prices = allowed(page)
    goal = Goal(page.target_speed, page.duration, float(page.fmt.si("speed", LOW_SPEED[page.fmt.system])))
    job, last = latest(KEY, (repr(page.build), goal, levers, prices), search(page.build, goal, levers, prices))
    if job.error is not None:
        raise job.error
    if not job.ended:
        watch(job, KEY, "Searching single changes and pairs")
    shown = job if job.result is not None else last
    if shown is not None and shown.result is not None:
        found(page, shown.result, fresh=shown is job)
    edit_allowed(page)


def found(page: Page, ways: Ways, fresh: bool) -> None:
    """Verdict, chart, changes in words with a button each, table, cautions."""
    single, fmt = ways.single, page.fmt
    st.html(_STYLE)
    with st.container(key=f"verdict_{KEY}"):
        st.markdown(tied(verdict(ways, page)))
    show_derivation(KEY, lambda: why_parts.target(page))
    if single.reached:
        return
    drawn = [change for change in single.changes if not words.does_nothing(change)]
    idle = [words.name(change.lever).lower() for change in single.changes if words.does_nothing(change)]
    if drawn:
        live_chart(
            chart.figure(
                [words.name(change.lever) for change in drawn],
                [change.fraction for change in drawn],
                [change.status == REACHES for change in drawn],
                [_bar_text(change, page) for change in drawn],
            ),
            key=f"chart_{KEY}",
            height=chart.height(len(drawn)),
            alt="How much of its allowed range each change uses to reach the target alone. " + verdict(ways, page),
        )
    if idle:
        st.caption(f"No gain in top speed within what you allow: {', '.join(idle)}.")
    for kind, heading in words.KINDS.items():
        mine = [change for change in words.reaching(single.changes) if change.lever.kind == kind]
        if mine:
            st.markdown(f"**{heading}**")
        for change in mine:
            text = words.change_text(change.lever, change.present, change.value, fmt)
            inputs = as_inputs(page.build, page.inputs, change.lever, change.value)
            _offer(page, ways, change.lever.key, text, change, inputs, fresh)
    if ways.pairs:
        st.markdown("**Two together, each a smaller step than alone**")
    for pair in mixed(ways.pairs):
        inputs = pair_as_inputs(page.build, page.inputs, pair)
        key = "+".join(lever.key for lever in pair.levers)
        _offer(page, ways, key, words.pair_text(pair, fmt), pair, inputs, fresh)
    numbers(KEY, lambda: table(ways, page))
    texts = cautions(ways, page)
    if texts:
        st.warning("\n".join(f"- {text}" for text in texts), icon=":material/warning:")


def _offer(page: Page, ways: Ways, key: str, text: str, change, inputs: dict, fresh: bool) -> None:
    """One change in words, and a button that makes it."""
    single = ways.single
    more = words.brings(change.outcome, single.present, page.fmt, single.goal.low_speed)
    cost = words.cost_text(change.price_per_speed, page.fmt)
    with st.container(horizontal=True, vertical_alignment="center", key=f"{KEY}_row_{key}"):
        st.markdown(tied(f"{text}  \n:small[{more} {cost}]"), width="stretch")
        st.button(
            "Try it", key=f"{KEY}_try_{key}", on_click=current().try_out, args=(inputs, page.inputs),
            disabled=not fresh,
            help="Makes the change, with the build as it was as the baseline. Undo takes it back.",
        )  # fmt: skip


def mixed(pairs, most: int = 4, each: int = 2) -> list:
    """The best pairs, no lever in more than so many of them."""
    chosen, used = [], {}
    for pair in pairs:
        if len(chosen) < most and all(used.get(lever.key, 0) < each for lever in pair.levers):
            chosen.append(pair)
            for lever in pair.levers:
                used[lever.key] = used.get(lever.key, 0) + 1
    return chosen


def verdict(ways: Ways, page: Page) -> str:
    """The answer in words."""
    single, fmt = ways.single, page.fmt
    target = fmt.entered("speed", single.goal.speed)
    if single.reached:
        spare = single.present.top_speed - single.goal.speed
        return f"**Nothing is needed:** {target} is reached, with {fmt('speed', spare, 1)} to spare."
    reaching = words.reaching(single.changes)
    count = len(reaching)
    stopped = "" if ways.complete else " The search was stopped: more may be possible, and less may be enough."
    if count:
        first = reaching[0]
        text = words.change_text(first.lever, first.present, first.value, fmt)
        least = f"{text[:1].lower()}{text[1:]}"
        if count == 1:
            return f"**One change alone reaches {target}:** {least}.{stopped}"
        many = f"**Any one of {count} changes alone reaches {target}.**"
        return f"{many} The smallest step within what you allow: {least}.{stopped}"
    text = f"**No single change reaches {target}** within what you allow."
    tried = [change for change in single.changes if change.outcome]
    closest = max(tried, key=lambda change: change.speed_gained, default=None)
    if closest is not None and closest.speed_gained > 0:
        what = words.change_text(closest.lever, closest.present, closest.value, fmt)
        gets = words.cannot(closest, fmt, single.goal.speed)
        text += f" What brings most: {what[:1].lower()}{what[1:]}, which {gets}."
    if ways.pairs:
        pair = words.pair_text(ways.pairs[0], fmt)
        text += f" Two together do: {pair[:1].lower()}{pair[1:]}."
    elif ways.complete:
        text += " No two together do either. Lower the target, or allow more."
    return text + stopped


def _bar_text(change: Change, page: Page) -> str:
    if change.status == REACHES:
        return words.value_text(change.lever, change.value, page.fmt)
    return words.cannot(change, page.fmt, page.target_speed)


def table(ways: Ways, page: Page) -> pd.DataFrame:
    """Every lever's answer, and the pairs."""
    single, fmt = ways.single, page.fmt
    speed, energy = fmt.unit("speed"), fmt.unit("energy per distance")
    rows = []
    for change in single.changes:
        text = words.change_text(change.lever, change.present, change.value, fmt)
        why_not = words.cannot(change, fmt, single.goal.speed)
        answer = YES if change.status == REACHES else why_not
        rows.append((text, answer, change.fraction, change.outcome, change.price_per_speed))
    for pair in ways.pairs:
        rows.append((words.pair_text(pair, fmt), YES, pair.fraction, pair.outcome, pair.price_per_speed))

    def of(outcome, quantity, field, digits):
        return None if outcome is None else round(float(fmt.number(quantity, getattr(outcome, field))), digits)

    per = float(fmt.number("speed", 1.0))
    return pd.DataFrame(
        {
            "change": [text for text, *_ in rows],
            "what it does": [answer for _, answer, *_ in rows],
            "share of what is allowed, %": [round(100 * share) for _, _, share, *_ in rows],
            f"top speed, {speed}": [of(outcome, "speed", "top_speed", 1) for *_, outcome, _ in rows],
            "then held by": [LIMITS[outcome.holding_limit] if outcome else "" for *_, outcome, _ in rows],
            f"to {fmt('speed', single.goal.low_speed)}, s": [
                of(outcome, "time", "time_to_low_speed", 2) for *_, outcome, _ in rows
            ],
            "cut-out allowance left, %": [of(outcome, "share", "margin", 0) for *_, outcome, _ in rows],
            "weakest cell above its threshold by, V": [
                of(outcome, "cell voltage", "cell_margin", 2) for *_, outcome, _ in rows
            ],
            energy: [of(outcome, "energy per distance", "energy_per_distance", 1) for *_, outcome, _ in rows],
            f"price for each {speed}": [round(price / per, 2) if price == price else None for *_, price in rows],
        }
    )


def cautions(ways: Ways, page: Page) -> list[str]:
    """What the changes that are offered ask for."""
    single = ways.single
    offered = [change.lever.key for change in words.reaching(single.changes)]
    offered += [lever.key for pair in ways.pairs for lever in pair.levers]
    texts = [text for key, text in words.CAUTIONS.items() if key in offered]
    outcomes = [change.outcome for change in words.reaching(single.changes)] + [pair.outcome for pair in ways.pairs]
    if outcomes:
        fastest = max(outcome.top_speed for outcome in outcomes)
        texts.append(words.tyre_caution(page.build.bike.tyre, fastest, page.fmt))
    return [tied(text) for text in texts if text]
