"""How sure is this: chances, likely bands, which unknown matters most, and what to measure next."""

from __future__ import annotations

import numpy as np
import pandas as pd
import streamlit as st

from explorer.components.live_chart import live_chart
from explorer.derivations import parts as why_parts
from explorer.format import UnitFormatter, tied
from explorer.frame import sidebar as inputs
from explorer.frame.background_job import latest, watch
from explorer.frame.layout import numbers, show_derivation
from explorer.inputs.how_sure import SURE
from explorer.page.page import Page
from explorer.page.tolerances import tolerances
from explorer.questions.how_sure import chart, words
from explorer.questions.how_sure.results import BASE, SAMPLES, Sure, search

TITLE = "How sure is this, and what should I measure next?"
KEY = "how_sure"
CURVES = {
    "Speed": ("speed", "speed"),
    "Pack": ("pack_voltage", "voltage"),
    "Weakest cell": ("weakest_cell_voltage", "cell voltage"),
    "Line current": ("line_current", "current"),
    "Winding": ("winding_temperature", "temperature"),
}
_TITLES = {
    "Speed": "speed", "Pack": "pack voltage", "Weakest cell": "weakest cell", "Line current": "line current",
    "Winding": "winding",
}  # fmt: skip


def draw(page: Page) -> None:
    """Run the samples beside the page; show what was found, or meanwhile what was found before."""
    known = tolerances(page.inputs)
    key = (repr(page.build), known, page.target_speed, page.duration)
    job, last = latest(KEY, key, search(page.build, known, page.target_speed, page.duration))
    if job.error is not None:
        raise job.error
    if not job.ended:
        watch(job, KEY, f"Running {SAMPLES + BASE * (len(known) + 2):,} builds that differ a little from yours")
    shown = job if job.result is not None else last
    if shown is not None and shown.result is not None and shown.result.likely is not None:
        found(page, shown.result)
    elif job.ended:
        st.info("Stopped before anything was run. Any change starts it again.")
    fold = st.expander(SURE, key=f"group_{SURE}", on_change="rerun")
    if fold.open:
        with fold:
            inputs.in_place(SURE)
            st.caption(tied(words.counted(page.inputs)))
    st.warning(words.CAUTION, icon=":material/warning:")


def found(page: Page, sure: Sure) -> None:
    """Verdict, bands and shares, what to measure next."""
    with st.container(key=f"verdict_{KEY}"):
        st.markdown(tied(words.verdict(page, sure)))
        st.markdown(tied(words.next_measurement(page, sure)))
    chance = sure.likely.reaches
    show_derivation(KEY, lambda: why_parts.sure(chance.count, chance.of))
    with st.grid(min_column_width=320, gap="medium"):
        with st.container():
            _bands(page, sure)
        if sure.sensitivity is not None:
            with st.container():
                _shares(sure)
    st.caption(words.note(sure))
    numbers(KEY, lambda: table(page, sure))


def _bands(page: Page, sure: Sure) -> None:
    """One curve's band."""
    picked = _choose(f"{KEY}_curve", "Band of", list(CURVES))
    curve, quantity = CURVES[picked]
    fmt, run = page.fmt, page.run
    low, middle, high = fmt.number(quantity, sure.likely.bands[curve])
    live_chart(
        chart.band(
            sure.likely.time, low, middle, high, run.time[0], fmt.number(quantity, getattr(run, curve)[0]),
            _TITLES[picked], fmt.unit(quantity),
        ),
        key=f"chart_{KEY}_band", height=chart.HEIGHT,
        alt=f"Band of {_TITLES[picked]} against time: nine in ten runs lie inside.",
    )  # fmt: skip


def _shares(sure: Sure) -> None:
    """What brings the doubt."""
    picked = _choose(f"{KEY}_outcome", "Doubt in", list(words.OUTCOMES))
    outcome, ranked = words.OUTCOMES[picked], sure.sensitivity
    names = [words.name(place) for place in range(len(ranked.tolerances))]
    order = ", ".join(f"{names[at]} {100 * ranked.first[outcome][at]:.0f} %" for at in ranked.order(outcome)[:3])
    live_chart(
        chart.shares(
            names, ranked.first[outcome], ranked.low[outcome], ranked.high[outcome], words.title(outcome)
        ),
        key=f"chart_{KEY}_shares", height=chart.shares_height(len(names)),
        alt=f"{words.title(outcome)}: {order}.",
    )  # fmt: skip


def _choose(key: str, label: str, options: list[str]) -> str:
    """One of a few, kept while the section is folded."""
    kept = st.session_state.setdefault(f"{KEY}:kept", {})
    if key not in st.session_state:
        st.session_state[key] = kept.get(key, options[0])
    kept[key] = st.pills(label, options, key=key, required=True)
    return kept[key]


def table(page: Page, sure: Sure) -> pd.DataFrame:
    """Every unknown: how well it is known, and what it brings."""
    ranked = sure.sensitivity
    known = ranked.tolerances if ranked is not None else tolerances(page.inputs)
    columns = {
        "unknown": [words.name(place) for place in range(len(known))],
        "known to": [_half_width(item, page.fmt) for item in known],
        "shape": [item.shape for item in known],
    }
    if ranked is not None:
        for label, outcome in words.OUTCOMES.items():
            columns[f"doubt in {label.lower()}, %"] = _percent(ranked.first[outcome])
            columns[f"alone or with others, {label.lower()}, %"] = _percent(ranked.total[outcome])
    frame = pd.DataFrame(columns)
    if ranked is None:
        return frame
    return frame.iloc[np.array(ranked.order("top_speed"))]


def _percent(share) -> np.ndarray:
    return (100 * np.clip(share, 0, 1)).round(0)


_QUANTITIES = {
    "bike.bike_mass": "mass",
    "conditions.air_temperature": "temperature difference",
    "conditions.pack_temperature": "temperature difference",
    "conditions.headwind": "wind",
    "conditions.charge": "charge",
    "pack.charge_spread": "charge",
}


def _half_width(item, fmt: UnitFormatter) -> str:
    quantity = "share" if item.relative else _QUANTITIES[item.path]
    return f"±{fmt.number(quantity, item.half_width):.3g} {fmt.unit(quantity)}"
