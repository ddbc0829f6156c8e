"""The shape all sections share: verdict in words, chart, numbers as a table on request, caution."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from itertools import groupby
from types import ModuleType
from typing import TYPE_CHECKING, Any

import streamlit as st

from explorer.components.live_chart import live_chart
from explorer.derivations.derivation import Step
from explorer.format import UnitFormatter
from explorer.frame.prose import figure_spelled, prose, table_spelled
from explorer.page import words
from explorer.page.page import Page
from explorer.state.state import current
from physics.build.fields import BuildError

if TYPE_CHECKING:
    import pandas as pd

_CAUTIONS, _SEEN = "cautions", "sections_seen"


def show(
    key: str,
    *,
    verdict: str = "",
    figure: dict[str, Any] | None = None,
    height: int = 360,
    alt: str = "",
    note: str = "",
    table: Callable[[], pd.DataFrame] | None = None,
    caution: str = "",
    derivation: Callable[[], list[Step]] | None = None,
) -> None:
    """Draw one section's content.

    Parameters
    ----------
    key : str
        The section's name; the keys of its chart and of its table begin with it.
    verdict : str
        The answer in one to three plain sentences, with numbers. Markdown. None where the section said it.
    figure : dict, optional
        The chart, as `explorer.components.live_chart` takes it.
    height : int
        Of the chart, in pixels.
    alt : str
        What the chart shows, in words.
    note : str, optional
        What the chart says, once more in words, or how to read it; small, under the chart.
    table : callable, optional
        Makes the DataFrame of the section's numbers; called only when the rider asks for it.
    caution : str, optional
        What can hurt someone here, and whose word counts; see `warn`.
    derivation : callable, optional
        Makes the steps behind the verdict; called only when the rider asks for it.
    """
    if verdict:
        say(key, verdict)
    if derivation is not None:
        show_derivation(key, derivation)
    if figure is not None:
        live_chart(figure_spelled(figure), key=f"chart_{key}", height=height, alt=figure_spelled(alt))
    if note:
        st.caption(prose(note))
    if table is not None:
        numbers(key, table)
    if caution:
        warn(caution)


def warn(*cautions: str) -> None:
    """What can hurt someone, and whose word counts: said once for all questions that are unfolded, under them."""
    held = st.session_state.setdefault(_CAUTIONS, [])
    held += [caution for caution in cautions if caution and caution not in held]


def say(key: str, verdict: str) -> None:
    """A verdict, in the type size of verdicts."""
    with st.container(key=f"verdict_{key}"):
        st.markdown(prose(verdict))


def numbers(key: str, table: Callable[[], pd.DataFrame], label: str = "The numbers") -> None:
    """A folded table; it is made only while it is unfolded."""
    expander = st.expander(prose(label), key=f"table_{key}", on_change="rerun")
    if expander.open:
        with expander:
            st.dataframe(table_spelled(table()), hide_index=True, placeholder="–")


def show_derivation(key: str, make: Callable[[], list[Step]], label: str = "Show me why") -> None:
    """The folded derivation of a verdict: equations, the numbers put in, sources. Made only while unfolded.

    Parameters
    ----------
    key : str
        The section's name.
    make : callable
        Makes the steps.
    label : str
        What the rider clicks on.
    """
    expander = st.expander(label, key=f"why_{key}", type="compact", icon=":material/calculate:", on_change="rerun")
    if expander.open:
        with expander:
            draw_steps(make(), UnitFormatter(current().units))


def chart_head(key: str, views: dict[str, str]) -> tuple[str, Any]:
    """What stands over a chart of the first screen: the choice among its views, and its details one tap away.

    Parameters
    ----------
    key : str
        The question's name.
    views : dict of str to str
        Name and title of each view; the first is shown at first. One alone is a title.

    Returns
    -------
    tuple of (str, container)
        The view that is chosen, and where words, derivation and numbers go; `.open` says whether they are wanted.
    """
    first, *others = views
    with st.container(horizontal=True, vertical_alignment="center", gap="small", key=f"head_{key}"):
        if others:
            place = f"view_{key}"
            st.session_state.setdefault(place, first)
            view = st.segmented_control(
                "View",
                list(views),
                format_func=views.__getitem__,
                key=place,
                required=True,
                label_visibility="collapsed",
            )
        else:
            view = first
            st.markdown(f"**{views[first]}**")
        details = st.popover("Details", key=f"details_{key}", type="tertiary", on_change="rerun")
    return view or first, details


def draw_steps(steps: list[Step], fmt: UnitFormatter) -> None:
    """Steps of a derivation, one under the other; steps that share an equation show it once."""
    for equation, group in groupby(steps, key=lambda step: step.equation):
        same = list(group)
        first = same[0]
        lines = [f"**{first.title(len(same) > 1)}**", f"$\\displaystyle {equation}$"]
        for step in same:
            start = f"{step.name}: " if step.name else "= "
            lines.append(f"{start}{step.numbers} = **{step.result(fmt)}**")
        with st.container(gap="xsmall"):
            st.markdown(prose("  \n".join(lines)))
            st.caption(prose(f"{first.symbols}.  \n*Source:* {first.source}."))


def draw_folded(page: Page, questions: Sequence[ModuleType]) -> None:
    """Draw every section that may be folded, each under its question; a folded one computes nothing.

    In two goes: a browser that gets a page bit by bit goes through all of it at each bit. Sections that were seen
    before are worked out before any is drawn, and those that have asked for work `ahead` come last.
    """
    st.session_state[_CAUTIONS] = []
    folds = {
        question: st.expander(prose(question.TITLE), key=_fold(question), on_change="rerun")
        for question in questions
    }
    opened = [question for question in questions if folds[question].open]
    seen, st.session_state[_SEEN] = st.session_state.get(_SEEN, ()), opened
    for waits in (False, True):
        some = [question for question in opened if hasattr(question, "ahead") == waits]
        for question in some:
            if question in seen and hasattr(question, "work_out"):
                with suppress(BuildError):  # it says so where it is drawn
                    question.work_out(page)
        for question in some:
            with folds[question]:
                draw_one(question, page)
    if cautions := st.session_state[_CAUTIONS]:
        cautions = [prose(caution) for caution in cautions]
        text = cautions[0] if len(cautions) == 1 else "\n".join(f"- {caution}" for caution in cautions)
        st.warning(text, icon=":material/warning:")


def unfolded(question: ModuleType) -> bool:
    """Whether the rider has unfolded a section."""
    return bool(st.session_state.get(_fold(question)))


def _fold(question: ModuleType) -> str:
    return f"section_{question.__name__.rpartition('.')[2]}"


def draw_one(question: ModuleType, page: Page) -> None:
    """Draw one section; a build it cannot take is explained in its place and the rest of the page stays."""
    try:
        question.draw(page)
    except BuildError as error:
        st.error(prose(" ".join(words.faults(error))))
