"""A change in words with a button that makes it, and all that would have saved a pull, for any question."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import streamlit as st

from explorer.derivations.derivation import Step
from explorer.frame.layout import say, show_derivation, warn
from explorer.frame.prose import prose
from explorer.page import saved_words
from explorer.page.page import Page
from explorer.state.state import current
from physics.studies.target import Saving, Survival

TRY, TRY_HELP = "Try it", "Makes the change and keeps the old build as the baseline. Undo reverses it."


def offer(
    name: str,
    key: str,
    text: str,
    changes: dict[str, Any],
    before: Mapping[str, Any],
    *,
    fresh: bool = True,
    tip: str = TRY_HELP,
) -> None:
    """Something to try in words, and a button that makes it.

    Parameters
    ----------
    name, key : str
        The question's name, and what tells this offer from its others.
    text : str
        What is changed, and what that brings.
    changes : dict
        Inputs to set, in home units.
    before : mapping
        Every input of what becomes the baseline.
    fresh : bool
        Whether the offer belongs to what the page shows; else its button is off.
    tip : str
        What the button does.
    """
    with st.container(horizontal=True, vertical_alignment="center", key=f"offer_{name}_{key}"):
        st.markdown(prose(text), width="stretch")
        st.button(
            TRY,
            key=f"{name}_try_{key}",
            on_click=current().try_out,
            args=(changes, before),
            disabled=not fresh,
            help=tip,
        )


def show_saved(
    name: str,
    saved: Survival,
    page: Page,
    *,
    verdict: str,
    derivation: Callable[[], list[Step]],
    changes: Callable[[Saving], dict[str, Any]],
    before: Mapping[str, Any],
    fresh: bool = True,
    tip: str = TRY_HELP,
) -> None:
    """What keeps the pack on for a whole pull: words, a button for each change, and why.

    Parameters
    ----------
    name : str
        The question's name.
    saved : Survival
        What was found.
    page : Page
        What the section is given.
    verdict : str
        The answer in a few sentences.
    derivation : callable
        Makes the steps behind it.
    changes : callable
        Gives the inputs that make a change.
    before, fresh, tip
        As for `offer`.
    """
    say(f"{name}_saved", verdict)
    show_derivation(f"{name}_saved", derivation)
    for one in saved.savings:
        if one.found:
            text = saved_words.offer(saved, one, page)
            offer(name, f"saved_{one.lever.key}", text, changes(one), before, fresh=fresh, tip=tip)
    if nothing := saved_words.not_alone(saved):
        st.caption(prose(nothing))
    warn(*saved_words.cautions(saved))
