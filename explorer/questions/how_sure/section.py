"""How sure is this: chances, likely bands, which unknown matters most, and what to measure next."""

from __future__ import annotations

from collections.abc import Iterable

import streamlit as st

from explorer.components.live_chart import live_chart
from explorer.frame import sidebar as inputs
from explorer.frame.background_job import latest, watch
from explorer.frame.layout import numbers, show_derivation, warn
from explorer.frame.prose import prose
from explorer.frame.provenance import NEXT_FACT
from explorer.inputs.how_sure import SURE
from explorer.page import cautions
from explorer.page.page import Page
from explorer.page.tolerances import with_saturation
from explorer.questions.how_sure import chart, words
from explorer.questions.how_sure.results import BASE, SAMPLES, Sure, search
from physics.studies.uncertainty import Likely, Sensitivity

TITLE = "How sure is this, and what should I measure next?"
KEY = "how_sure"


def draw(page: Page) -> None:
    """Run the samples beside the page; show what was found, or meanwhile what was found before."""
    known = with_saturation(page.build, page.inputs)
    key = (repr(page.build), known, page.target_speed, page.duration)
    job, last = latest(KEY, key, search(page.build, known, page.target_speed, page.duration))
    if job.error is not None:
        raise job.error
    if not job.ended:
        watch(job, KEY, words.running(SAMPLES + BASE * (len(known) + 2)))
    shown = job if job.result is not None else last
    if shown is not None and shown.result is not None and shown.result.likely is not None:
        _answer(page, shown.result, shown.result.likely)
    elif job.ended:
        st.info(words.STOPPED)
    expander = st.expander(SURE, key=f"group_{SURE}", on_change="rerun")
    if expander.open:
        with expander:
            inputs.in_place(SURE)
            st.caption(prose(words.counted(page.inputs)))
    warn(words.CAUTION)


def _answer(page: Page, sure: Sure, likely: Likely) -> None:
    """Verdict, bands and doubt, what to measure next."""
    warn(cautions.speed_ratings(page.build, float(likely.top_speed[2]), page.fmt))
    with st.container(key=f"verdict_{KEY}"):
        st.markdown(prose(words.verdict(page, likely)))
        st.markdown(prose(words.next_measurement(page, likely, sure.sensitivity)))
    found = words.next_fact(page, sure.sensitivity)
    if st.session_state.get(NEXT_FACT, "") != found:
        st.session_state[NEXT_FACT] = found
        st.rerun()  # the bar above names it
    show_derivation(KEY, lambda: words.derivation(likely.reaches))
    with st.grid(min_column_width=320, gap="medium"):
        with st.container():
            _band(page, likely)
        if sure.sensitivity is not None:
            with st.container():
                _doubt(sure.sensitivity)
    st.caption(prose(words.note(likely, sure.sensitivity)))
    numbers(KEY, lambda: words.table(page, sure.sensitivity))


def _band(page: Page, likely: Likely) -> None:
    """One curve's band."""
    curve, quantity, title = words.CURVES[_choose(f"{KEY}_curve", words.BAND_OF, words.CURVES)]
    fmt, run = page.fmt, page.run
    low, middle, high = fmt.number(quantity, likely.bands[curve])
    now = fmt.number(quantity, getattr(run, curve)[0])
    live_chart(
        chart.band(likely.time, low, middle, high, run.time, now, title, fmt.unit(quantity)),
        key=f"chart_{KEY}_band",
        height=chart.HEIGHT,
        alt=words.band_alt(title),
    )


def _doubt(ranked: Sensitivity) -> None:
    """What brings the doubt."""
    outcome = words.OUTCOMES[_choose(f"{KEY}_outcome", words.DOUBT_IN, words.OUTCOMES)]
    names = [prose(words.name(item)) for item in ranked.tolerances]
    live_chart(
        chart.doubt(names, ranked.first[outcome], ranked.low[outcome], ranked.high[outcome], words.title(outcome)),
        key=f"chart_{KEY}_shares",
        height=chart.doubt_height(len(names)),
        alt=words.doubt_alt(outcome, ranked),
    )


def _choose(key: str, label: str, options: Iterable[str]) -> str:
    """One of a few, kept while the section is folded."""
    options, memory = list(options), st.session_state.setdefault(f"{KEY}:kept", {})
    if key not in st.session_state:
        st.session_state[key] = memory.get(key, options[0])
    memory[key] = st.pills(label, options, key=key, required=True)
    return memory[key]
