"""The top of the page: what it is, the answer in one sentence, the key numbers, and what it is compared with."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import streamlit as st

from explorer.components.palette import LIGHT
from explorer.derivations.answer import answer
from explorer.format import with_sign
from explorer.frame import drag
from explorer.frame.layout import draw_steps
from explorer.frame.prose import prose
from explorer.inputs.presets import STARTS
from explorer.page import cautions, make_page, words
from explorer.page.page import Page
from explorer.page.pool import Task
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
    const folded = document.querySelector("[data-testid=stExpandSidebarButton]") !== null;
    document.body.classList.toggle("side-folded", folded);
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
    st.html(_style() + _NAMES + _heard(), unsafe_allow_javascript=True)


@cache
def _style() -> str:
    rules = Path(__file__).with_name("page.css").read_text(encoding="utf-8")
    return f"<style>{rules.replace('ACCENT', LIGHT['accent'])}</style>"  # white on it stands out in both themes


@cache
def _heard() -> str:
    return f"<script>{Path(__file__).with_name('page.js').read_text(encoding='utf-8')}</script>"


def begun(state: State) -> tuple[Task, Callable[[], Page], str]:
    """Ask for the runs of the page: of the inputs as they stand, or where they make no build, of the last that did.

    Returns
    -------
    tuple of (Task, callable, str)
        The runs, what waits for them and makes the page, and why the inputs make no build.
    """
    values = state.values
    try:
        page = make_page.begun(state, values, known(values))
        st.session_state[_LAST_GOOD] = values
        return *page, ""
    except BuildError as error:
        values = st.session_state.get(_LAST_GOOD, STARTS[state.preset].values())
        return *make_page.begun(state, values, known(values)), words.not_a_build(error)


def known(values: dict[str, Any]) -> tuple[Tolerance, ...]:
    """How well the unknowns are known, for the band beside the run; nothing where the rider switched it off."""
    return doubts(values) if st.session_state.setdefault(_BAND, True) else ()


def verdict(page: Page, fault: str = "") -> None:
    """The answer and why, which follow a slider, with the working one tap away; above them what makes no build."""
    if fault:
        st.error(prose(fault), icon=":material/build:")
    with st.container(horizontal=True, gap="small", key="answer_row"):
        drag.words("answer", sentences, page)
        why = st.popover(
            "Show me why", key="why_answer", icon=":material/calculate:", type="tertiary", on_change="rerun"
        )
        if why.open:
            with why:
                draw_steps(answer(page), page.fmt)


def sentences(page: Page) -> None:
    """The answer in one sentence, the reason in another, and one line of caution."""
    kind, sentence = words.headline(page)
    with st.container(key="answer"):
        st.markdown(f"{_ICONS[kind]} {prose(sentence)}")
    passed = cautions.speed_ratings(page.build, float(page.run.top_speed[0]), page.fmt)
    said = " ".join(filter(None, (words.past_rating(page), passed))) or cautions.FIRST
    st.markdown(prose(f"{words.what_holds(page)}\n\n:orange[:material/warning:] {said}"))


def key_numbers(page: Page) -> None:
    """Six numbers, each with its change from the baseline where there is one."""
    run, old, fmt = page.run, page.baseline_run, page.fmt

    def change(
        quantity: str, value: Callable[[RunResult], float], digits: int = 1, better: float = 1.0
    ) -> dict[str, Any]:
        """Now less then, as `st.metric` takes it, which tells up from down by a hyphen, not by a minus sign.

        Nothing without a baseline or where one of the two is not known. `better` is above zero where more is.
        """
        if old is None or not np.isfinite([value(run), value(old)]).all():
            return {}
        difference = fmt.difference(quantity, value(run), value(old), digits)
        if not difference:
            return {}
        color = "gray" if not better else "green" if difference * better > 0 else "red"
        return {
            "delta": f"{with_sign(difference, digits)} {fmt.unit(quantity)}",
            "delta_color": color,
            "delta_arrow": "up" if difference > 0 else "down",
        }

    def reached(of: RunResult) -> float:
        return page.reached if of is run else of.time_to(page.target_speed)[0]

    def highest_current(of: RunResult) -> float:
        return of.line_current[0].max()

    rule, used = words.nearest_rule(run)
    cut = bool(np.isfinite(run.cut_out_time[0]))
    with st.grid(min_column_width=130, gap="small", key="key_numbers"):
        st.metric(
            "Top speed",
            words.top_speed(page),
            **change("speed", lambda of: of.top_speed[0]),
        )
        st.metric(
            f"Time to {fmt.entered('speed', page.target_speed)}",
            words.time_to_target(page),
            **change("time", reached, better=-1.0),
        )
        st.metric(
            "Lowest pack voltage",
            fmt("voltage", run.minimum_voltage[0]),
            **change("voltage", lambda of: of.minimum_voltage[0]),
            help=f"The weakest cell drops to {fmt('cell voltage', run.minimum_cell_voltage[0])}.",
        )
        st.metric(
            "Highest line current",
            fmt("current", highest_current(run)),
            **change("current", highest_current, 0, better=0.0),
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
            **change("cell voltage", lambda of: of.minimum_cell_voltage[0], 2),
            help="Lowest voltage of the weakest cell, less the voltage below which the pack cuts out.",
        )


def compare(state: State, page: Page) -> None:
    """The key numbers, and with what they are compared: the build as it is as the baseline, or none."""
    drag.words("key_numbers", key_numbers, page)
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
            help="Nine runs in ten fall inside it. Set how well you know each value under “How sure is this?”.",
        )
    if state.baseline is not None:
        st.caption(
            prose(words.changes(state.baseline.in_units(state.units), page.inputs, page.fmt.system, state.phase_as))
        )


def foot() -> None:
    """What the page is, what a prediction is worth, and what it is not."""
    st.caption(prose(f"{words.WHAT_IT_IS} {cautions.RIDE}"))
