"""The top of the page: what it is, the answer in one sentence, the key numbers, and what it is compared with."""

from __future__ import annotations

import numpy as np
import streamlit as st

from explorer import results, words
from explorer.choices import CHOICES
from explorer.format import Writer
from explorer.page import Page
from explorer.presets import PRESETS
from explorer.rider_build import make_build
from explorer.state import State
from physics.fields import BuildError

_LAST_GOOD = "last_good_values"
_ICONS = {"reaches": ":material/check_circle:", "misses": ":material/trending_flat:", "cuts out": ":material/power_off:"}
_STYLE = """
<style>
.block-container, [data-testid="stMainBlockContainer"] { max-width: 72rem; }
.st-key-answer p { font-size: clamp(1.35rem, 1.1rem + 1.1vw, 1.95rem); line-height: 1.3; font-weight: 600;
  text-wrap: balance; letter-spacing: -0.01em; }
.st-key-because p { font-size: 1.05rem; line-height: 1.55; max-width: 62ch; }
[class*="st-key-verdict_"] p { font-size: 1.05rem; line-height: 1.55; max-width: 68ch; }
[data-testid="stMetricLabel"] p { font-size: 0.9rem; }
</style>
"""


def style() -> None:
    """Type sizes of the answer and the verdicts; colours come from the theme."""
    st.html(_STYLE)


def masthead(state: State) -> None:
    """Title, one line about what it is, and what a link held that could not be used."""
    st.title(words.TITLE, anchor=False)
    st.caption(words.WHAT_IT_IS)
    for note in state.notes:
        st.info(note, icon=":material/link_off:")


def page(state: State) -> Page | None:
    """The page of the inputs as they stand; where they make no build, the faults and the last page that did.

    Returns
    -------
    Page or None
        None only where there has been no good build yet.
    """
    values = state.values
    try:
        build = make_build(values, state.name)
        st.session_state[_LAST_GOOD] = dict(values)
    except BuildError as error:
        st.error(words.not_a_build(error), icon=":material/build:")
        values = st.session_state.get(_LAST_GOOD)
        if values is None:
            return None
        build = make_build(values, state.name)
    baseline = make_build(state.baseline, state.baseline_name) if state.baseline else None
    duration = float(values["duration"])
    return Page(
        build=build,
        baseline=baseline,
        runs=results.runs(build, baseline, duration),
        target_speed=CHOICES["target"].si(values["target"]),
        duration=duration,
        headroom_wanted=float(values["headroom_wanted"]),
        write=Writer(state.units),
        values=dict(values),
    )


def verdict(page: Page) -> None:
    """The answer, why, and the key numbers."""
    kind, sentence = words.headline(page)
    with st.container(key="answer"):
        st.markdown(f"{_ICONS[kind]} {sentence}")
    with st.container(key="because"):
        st.markdown(f"{words.what_holds(page)} {'' if kind == 'cuts out' else words.pack_stays_closed(page)}")
    key_numbers(page)


def key_numbers(page: Page) -> None:
    """Five numbers, with their change from the baseline."""
    run, write, old = page.run, page.write, page.baseline_run
    grid = st.grid(min_column_width=150, gap="small", key="key_numbers")

    def change(quantity, now, before, digits=None):
        if before is None or not np.isfinite(now) or not np.isfinite(before):
            return None
        return f"{write.number(quantity, now) - write.number(quantity, before):+.{digits or 0}f} {write.unit(quantity)}"

    reached, before = run.time_to(page.target_speed)[0], None if old is None else old.time_to(page.target_speed)[0]
    rule, used = words.nearest_rule(run)
    numbers = [
        ("Top speed", write("speed", run.top_speed[0]),
         change("speed", run.top_speed[0], None if old is None else old.top_speed[0], 1), "normal", None),
        (f"Time to {write('speed', page.target_speed)}",
         write("time", reached) if np.isfinite(reached) else "not reached",
         change("time", reached, before, 1), "inverse", None),
        ("Lowest pack voltage", write("voltage", run.minimum_voltage[0]),
         change("voltage", run.minimum_voltage[0], None if old is None else old.minimum_voltage[0], 1), "normal",
         f"The weakest cell goes down to {write('cell voltage', run.minimum_cell_voltage[0])}."),
        ("Highest line current", write("current", run.line_current[0].max()),
         change("current", run.line_current[0].max(), None if old is None else old.line_current[0].max()), "off", None),
        ("Nearest to a cut-out", "cut out" if np.isfinite(run.cut_out_time[0]) else write("share", used), None, "off",
         f"Of the {rule} rule's allowance. At 100 % it opens."),
    ]  # fmt: skip
    with grid:
        for label, value, delta, colours, hint in numbers:
            st.metric(label, value, delta, delta_color=colours, help=hint)


def compare(state: State, page: Page) -> None:
    """Hold the build as it is for comparison, or let go of what is held."""
    with st.container(horizontal=True, vertical_alignment="center", key="compare"):
        st.button(
            "Compare from here", icon=":material/bookmark_add:", on_click=state.set_baseline, key="set_baseline",
            help="Holds the build as it is now. Every later change is then drawn against it.",
        )  # fmt: skip
        if state.baseline is not None:
            st.button("Stop comparing", icon=":material/close:", on_click=state.clear_baseline, key="clear_baseline")
    if state.baseline is not None:
        st.caption(words.changes(state.baseline, page.values, page.write.system, state.phase_as))


def section_heading(text: str) -> None:
    """The heading of a part of the page that is never folded."""
    st.subheader(text, anchor=False)


def foot() -> None:
    """Who made the demo up, and how to ride it."""
    st.caption(f"{words.CAUTION_RIDE} {words.INVENTED}")


def story(state: State) -> str:
    """What the preset is about."""
    return PRESETS[state.preset].story
