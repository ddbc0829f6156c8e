"""The top of the page: what it is, the answer in one sentence, the key numbers, and what it is compared with."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import streamlit as st

from explorer.components.palette import LIGHT
from explorer.derivations.answer import answer
from explorer.format import tied
from explorer.frame import drag
from explorer.frame.layout import show_derivation
from explorer.inputs.presets import STARTS
from explorer.page import cautions, make_page, words
from explorer.page.page import Page
from explorer.page.tolerances import doubts
from explorer.state.state import State
from physics.build.fields import BuildError
from physics.simulation.result import RunResult
from physics.studies.uncertainty import Tolerance

_LAST_GOOD = "last_good_values"
_BAND = "run_band"
_ICONS = {
    "reaches": ":primary[:material/check_circle:]",
    "misses": ":primary[:material/do_not_disturb_on:]",
    "cuts out": ":primary[:material/power_off:]",
}
_STYLE = """
<style>
.block-container, [data-testid="stMainBlockContainer"] { max-width: 72rem; padding-top: 3.5rem; }
.st-key-moments { scroll-margin-top: 1rem; }
.st-key-answer p { font-size: clamp(1.35rem, 1.1rem + 1.1vw, 1.95rem); line-height: 1.3; font-weight: 600;
  text-wrap: balance; letter-spacing: -0.01em; }
.st-key-headroom_inputs { max-width: 30rem; }
.st-key-ratings p { font-size: 0.95rem; line-height: 1.5; max-width: 72ch; }
.st-key-because p { font-size: 1.05rem; line-height: 1.55; max-width: 62ch; }
[class*="st-key-verdict_"] p { font-size: 1.05rem; line-height: 1.55; max-width: 68ch; }
[class*="st-key-verdict_"] :is(summary, button) p { font-size: 0.875rem; }
[data-testid="stMetricLabel"] p { font-size: 0.9rem; }
[data-testid="stCaptionContainer"], [class*="st-key-why_"] summary { opacity: 0.8; }
[data-testid="stTable"] :is(th, td) { padding-inline: 0.3rem; }
[data-testid="stBaseButton-primary"] { background-color: ACCENT; border-color: ACCENT; }
[data-testid="stBaseButton-primary"]:hover { background-color: ACCENT; filter: brightness(1.15); }
[class*="st-key-why_"] p { line-height: 1.7; }
[class*="st-key-why_"] p .katex { display: inline-block; margin: 0.35rem 0; }
[class*="st-key-why_"] [data-testid="stCaptionContainer"] p { line-height: 1.45; max-width: 84ch; }
[data-testid="stExpandSidebarButton"] { width: auto; padding-inline: 0.5rem; }
[data-testid="stExpandSidebarButton"]::after { content: "Sliders"; font-size: 0.95rem; padding-left: 0.25rem; }
@media (max-width: 768px) {
  [data-testid="stSidebarCollapseButton"] button { width: auto; padding-inline: 0.5rem; visibility: visible; }
  [data-testid="stSidebarCollapseButton"] button::before { content: "Answer"; font-size: 0.95rem;
    padding-right: 0.25rem; }
}
</style>
""".replace("ACCENT", LIGHT["accent"])  # white words on it stand out enough in both themes
_NAMES = """<script>
(() => {
  const names = {
    "Expand sidebar": "Open the sliders",
    "Collapse sidebar": "Close the sliders, back to the answer",
  };
  const name = () => {
    for (const button of document.querySelectorAll("button[aria-controls=stSidebar]")) {
      const better = names[button.getAttribute("aria-label")];
      if (better) button.setAttribute("aria-label", better);
    }
  };
  name();
  for (const part of document.querySelectorAll("[data-testid=stHeader], [data-testid=stSidebarHeader]"))
    new MutationObserver(name).observe(part, { childList: true, subtree: true });
})();
</script>"""


def set_up() -> None:
    """The page's title and width, type sizes, and names for the buttons that fold the sliders away and back.

    Colours come from the theme.
    """
    st.set_page_config(page_title=words.TITLE, page_icon="⚡", layout="wide", initial_sidebar_state=370)
    st.html(_STYLE + _NAMES, unsafe_allow_javascript=True)


def masthead(state: State) -> None:
    """Title, one line about what it is, and what a link held that could not be used."""
    st.title(words.TITLE, anchor=False)
    st.caption(words.WHAT_IT_IS)
    for note in state.notes:
        st.info(note, icon=":material/link_off:")


def page(state: State) -> Page:
    """The page of the inputs as they stand; where they make no build, the faults, and the last that did."""
    values = state.values
    try:
        result = make_page.page_of(state, values, known(values))
        st.session_state[_LAST_GOOD] = values
        return result
    except BuildError as error:
        st.error(words.not_a_build(error), icon=":material/build:")
        values = st.session_state.get(_LAST_GOOD, STARTS[state.preset].values())
        return make_page.page_of(state, values, known(values))


def known(values: dict[str, Any]) -> tuple[Tolerance, ...]:
    """How well the unknowns are known, for the band beside the run; nothing where the rider switched it off."""
    return doubts(values) if st.session_state.setdefault(_BAND, True) else ()


def verdict(page: Page) -> None:
    """The answer, why, and the key numbers; words and numbers follow a slider."""
    drag.words("answer", sentences, page)
    show_derivation("answer", lambda: answer(page))
    drag.words("key_numbers", key_numbers, page)


def sentences(page: Page) -> None:
    """The answer in one sentence, why, and what its speed asks of the parts beyond their ratings."""
    kind, sentence = words.headline(page)
    with st.container(key="answer"):
        st.markdown(f"{_ICONS[kind]} {tied(sentence)}")
    with st.container(key="because"):
        also = "" if kind == "cuts out" else words.pack_stays_closed(page)
        st.markdown(tied(f"{words.what_holds(page)} {also} {words.past_rating(page)}".strip()))
    with st.container(key="ratings"):
        if passed := cautions.speed_ratings(page.build, float(page.run.top_speed[0]), page.fmt):
            st.markdown(f":orange[:material/warning:] {tied(passed)}")


def key_numbers(page: Page) -> None:
    """Six numbers, each with its change from the baseline where there is one."""
    run, old, fmt = page.run, page.baseline_run, page.fmt

    def change(quantity: str, value: Callable[[RunResult], float], digits: int = 1) -> str | None:
        """Now less then, as text; None without a baseline or where one of the two is not known."""
        if old is None:
            return None
        if not np.isfinite([value(run), value(old)]).all():
            return None
        difference = fmt.difference(quantity, value(run), value(old), digits)
        if not difference:
            return None
        return f"{difference:+.{digits}f} {fmt.unit(quantity)}"

    def reached(of: RunResult) -> float:
        return page.reached if of is run else of.time_to(page.target_speed)[0]

    def highest_current(of: RunResult) -> float:
        return of.line_current[0].max()

    rule, used = words.nearest_rule(run)
    cut = bool(np.isfinite(run.cut_out_time[0]))
    with st.grid(min_column_width=150, gap="small", key="key_numbers"):
        st.metric(
            "Top speed",
            words.top_speed(page),
            change("speed", lambda of: of.top_speed[0]),
        )
        st.metric(
            f"Time to {fmt.entered('speed', page.target_speed)}",
            words.time_to_target(page),
            change("time", reached),
            delta_color="inverse",
        )
        st.metric(
            "Lowest pack voltage",
            fmt("voltage", run.minimum_voltage[0]),
            change("voltage", lambda of: of.minimum_voltage[0]),
            help=f"The weakest cell drops to {fmt('cell voltage', run.minimum_cell_voltage[0])}.",
        )
        st.metric(
            "Highest line current",
            fmt("current", highest_current(run)),
            change("current", highest_current, 0),
            delta_color="off",
        )
        st.metric(
            "BMS limit used",
            "cuts out" if cut else fmt("share", used),
            help=f"Of the {rule} rule, the closest. At 100 % the pack cuts out."
            if used >= 0.005
            else "The run stays inside every BMS limit. At 100 % the pack would cut out.",
        )
        threshold = page.build.pack.protection.cell_undervoltage
        st.metric(
            "Left to under-voltage",
            fmt("cell voltage", run.minimum_cell_voltage[0] - threshold) if threshold > 0 else "rule is off",
            change("cell voltage", lambda of: of.minimum_cell_voltage[0], 2),
            help="Lowest voltage of the weakest cell, minus the voltage below which the pack cuts out.",
        )


def compare(state: State, page: Page) -> None:
    """Set the build as it is as the baseline, or drop the baseline."""
    with st.container(horizontal=True, vertical_alignment="center", key="compare"):
        st.button(
            "Set as baseline",
            icon=":material/bookmark_add:",
            key="set_baseline",
            on_click=state.set_baseline,
            args=(page.inputs,),
            help="Keeps the build as it is now. Later changes are compared with it.",
        )
        if state.baseline is not None:
            st.button(
                "Remove the baseline", icon=":material/close:", on_click=state.clear_baseline, key="clear_baseline"
            )
        st.toggle(
            "Show the likely band",
            key=_BAND,
            help="Nine in ten runs fall inside it. How well you know each value is set under “How sure is this?”.",
        )
    if state.baseline is not None:
        st.caption(words.changes(state.baseline, page.inputs, page.fmt.system, state.phase_as))


def section_heading(text: str) -> None:
    """The heading of a part of the page that is never folded."""
    st.subheader(text, anchor=False)


def foot() -> None:
    """What a prediction is worth, and what it is not."""
    st.divider()
    st.caption(cautions.RIDE)
