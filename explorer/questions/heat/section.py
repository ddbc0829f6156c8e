"""Heat: which part gets hot first, how long full power lasts, and what cooling between pulls gives back."""

from __future__ import annotations

import numpy as np
import pandas as pd
import streamlit as st

from explorer.derivations import parts as why_parts
from explorer.format import tied
from explorer.frame import sidebar as inputs
from explorer.frame.layout import show, show_derivation
from explorer.inputs.catalogue import HEAT, HEAT_HELD, HEAT_PULLS
from explorer.page import words
from explorer.page.page import Page
from explorer.page.results_plan import heat_answer, pulls_answer
from explorer.questions.heat import chart
from physics.limits import RULES
from physics.scenarios.pull import Pull
from physics.scenarios.repeated_pulls import CUT_OUT_STOPS, RepeatedPulls
from physics.simulation.thermal import HEATED_PARTS
from physics.studies.full_power import CUT_OUT_FIRST, EMPTY_FIRST, HEAT_LIMITS, FullPower, thresholds

TITLE = "Which part gets hot first, and how long does full power last?"
_SAID = {"pack": "pack", "winding": "motor's winding", "case": "motor's case", "controller": "controller"}


def draw(page: Page) -> None:
    """The verdict and temperatures, held or pull by pull."""
    held = page.inputs["heat_view"] == "held"
    if held:
        found = heat_answer(page.build, 60.0 * page.inputs["heat_time"])
        said, figure = held_verdict(page, found), chart.held_figure(found, page.fmt)
    else:
        pull, count = Pull(float(page.inputs["heat_pull"])), int(page.inputs["heat_count"])
        with st.spinner("Riding the pulls one after another ..."):
            found = pulls_answer(page.build, pull, 60.0 * page.inputs["heat_rest"], count, 0.0)
        said = pulls_verdict(page, found)
        figure = chart.pulls_figure(found, thresholds(page.build)[:, 0], page.fmt)
    with st.container(key="verdict_heat_answer"):
        st.markdown(tied(said))
    show_derivation("heat", lambda: why_parts.heat(page))
    with st.container(key="heat_inputs"):
        inputs.in_place(HEAT)
        inputs.in_place(HEAT_HELD if held else HEAT_PULLS)
    show(
        "heat",
        verdict="",
        figure=figure,
        height=chart.HEIGHT,
        alt=f"Temperature of pack, winding, case and controller. {said.replace('*', '')}",
        note=note(held),
        table=lambda: held_table(page, found) if held else pulls_table(page, found),
        caution=words.CAUTION_HOT,
    )


def held_verdict(page: Page, found: FullPower) -> str:
    """How long full power lasts, and what ends it."""
    fmt = page.fmt
    status, part = int(found.status[0]), HEATED_PARTS[found.first_part[0]]
    at = fmt("temperature", found.thresholds[0, found.first_part[0]])
    if status == HEAT_LIMITS:
        does = "cuts out" if part == "pack" else "takes power away"
        text = f"**Full power lasts {long(found.time[0])}:** then the {_SAID[part]} reaches {at} and {does}."
        rest = [place for place in np.argsort(found.times[0]) if place != found.first_part[0]]
        following = [place for place in rest if np.isfinite(found.times[0, place])]
        if following:
            text += f" Next is the {_SAID[HEATED_PARTS[following[0]]]}, after {long(found.times[0, following[0]])}."
        return text
    if status == CUT_OUT_FIRST:
        start = (
            f"**Heat is not what ends it: the {RULES[found.cut_out_rule[0]]} rule cuts out after "
            f"{long(found.cut_out_time[0])}.** "
        )
    elif status == EMPTY_FIRST:
        start = f"**Heat is not what ends it: the pack is empty after {long(found.empty_time[0])}.** "
    else:
        start = f"**Full power lasts at least {long(found.run.time[0, -1])}.** "
    hottest = fmt("temperature", found.highest[0, found.first_part[0]])
    share = found.fraction[0, found.first_part[0]]
    if share >= 1:
        return f"{start}Past that, the {_SAID[part]} would reach {at} after {long(found.time[0])}."
    does = "it cuts out" if part == "pack" else "it takes power away"
    return f"{start}The {_SAID[part]} comes nearest to its limit: {hottest}; at {at} {does}."


def pulls_verdict(page: Page, found: RepeatedPulls) -> str:
    """How warm the parts are after the last pull, and whether they still climb."""
    fmt, count = page.fmt, int(found.pulls[0])
    if int(found.status[0]) == CUT_OUT_STOPS:
        rule = RULES[int(found.used[0, min(count, found.used.shape[1] - 1)].argmax())]
        start = f"**Pull {count + 1} ends in a cut-out by the {rule} rule.** "
    else:
        start = f"**All {count} pulls go through.** "
    after, limits = found.temperatures_after[0], thresholds(page.build)[:, 0]
    last = max(count - 1, 0)
    first = found.temperatures_before[0, 0]
    share = (after[last] - first) / np.maximum(limits - first, 1.0)
    place = int(np.argmax(share))
    text = f"{start}After the last, the {_SAID[HEATED_PARTS[place]]} is nearest to its limit: "
    text += f"{fmt('temperature', after[last, place])} of {fmt('temperature', limits[place])}."
    folded = [row for row in (1, 3) if after[last, row] >= limits[row]]
    if folded:
        text += f" The {' and the '.join(_SAID[HEATED_PARTS[row]] for row in folded)} already takes power away."
    if last > 0:
        climb = after[last, place] - after[last - 1, place]
        still = f"still climbs by {fmt('temperature difference', climb, 1)} a pull"
        text += f" It {still}." if climb > 0.5 else " It has stopped climbing: cooling keeps up."
    return text


def note(held: bool) -> str:
    """How to read the chart."""
    if held:
        return (
            "Worked out past the protection's rules, so that heat shows even where one of them cuts out first. How "
            "fast parts warm and cool is typical, not measured; wind over them may cool them twice as fast."
        )
    return "Each pull is flat out from a standstill; between pulls the throttle is closed and every part cools."


def held_table(page: Page, found: FullPower) -> pd.DataFrame:
    """Start, highest, threshold and time to it, part by part."""
    fmt = page.fmt
    start = [getattr(found.run, f"{part}_temperature")[0, 0] for part in HEATED_PARTS]
    return pd.DataFrame(
        [
            {
                "part": _SAID[part],
                "starts at": fmt("temperature", start[row]),
                "highest": fmt("temperature", found.highest[0, row]),
                "threshold": _limit(fmt, found.thresholds[0, row]),
                "reaches it after": long(found.times[0, row]) if np.isfinite(found.times[0, row]) else "does not",
            }
            for row, part in enumerate(HEATED_PARTS)
        ]
    )


def pulls_table(page: Page, found: RepeatedPulls) -> pd.DataFrame:
    """Temperatures before and after every pull."""
    fmt = page.fmt
    rows = []
    for place in range(found.charge.shape[1]):
        row = {"pull": place + 1, "charge": fmt("charge", found.charge[0, place])}
        for part, name in enumerate(HEATED_PARTS):
            before = fmt.digits("temperature", found.temperatures_before[0, place, part])
            row[_SAID[name]] = f"{before} to {fmt('temperature', found.temperatures_after[0, place, part])}"
        row["top speed"] = fmt("speed", found.top_speed[0, place])
        rows.append(row)
    return pd.DataFrame(rows)


def _limit(fmt, value: float) -> str:
    return fmt("temperature", value) if np.isfinite(value) else "none of its own"


def long(seconds: float) -> str:
    """A time in seconds, or in minutes where it is long.

    Examples
    --------
    >>> long(75.0), long(372.0)
    ('75 s', '6.2 min')
    """
    if seconds < 120:
        return f"{seconds:.0f} s"
    minutes = f"{seconds / 60:.1f}".removesuffix(".0")
    return f"{minutes} min"
