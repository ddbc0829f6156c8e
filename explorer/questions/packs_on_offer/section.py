"""Which pack, and how much power can it give: packs on offer side by side, and what the present one gives."""

from __future__ import annotations

import math

import streamlit as st

from explorer.frame import sidebar
from explorer.frame.background_job import latest, watch
from explorer.frame.layout import say, show, show_derivation, warn
from explorer.frame.prose import prose
from explorer.inputs.catalogue import BURST
from explorer.page.page import Page
from explorer.page.tolerances import rating, tolerances
from explorer.page.words import faults
from explorer.questions.packs_on_offer import chart, compared, offers, words
from explorer.questions.packs_on_offer.results import Judged, asked, burst_of, judging, plan_of
from explorer.state.names import as_markdown
from explorer.state.state import current
from physics.build.fields import BuildError
from physics.studies.packs_on_offer import Offer, fitted
from physics.studies.uncertainty import Tolerance
from physics.studies.uncertainty.tolerance import rating_left_out

TITLE = "Which pack, and how much power can it give?"
KEY = offers.KEY
POWER = f"{KEY}_power"


def draw(page: Page) -> None:
    """Packs on offer and their table, then the present pack: power against time."""
    found = _that_fit(page, offers.offers(page))
    if found:
        _compare(page, found)
    expander = st.expander(compared.OFFERS, key=f"{KEY}_enter", on_change="rerun")
    if expander.open:
        with expander:
            offers.edit(page)
    answer = burst_of(page)
    say("burst_answer", words.verdict(page, answer))
    show_derivation(POWER, lambda: words.derivation(page, *asked(page)))
    with st.container(key="burst_inputs"):
        sidebar.in_place(BURST)
    show(
        POWER,
        verdict=words.warmer(page, answer),
        figure=chart.figure(answer, page.fmt),
        height=chart.HEIGHT,
        alt=words.alt(page, answer),
        note=words.NOTE,
        table=lambda: words.table(page, answer),
    )
    warn(words.CAUTION)


def _that_fit(page: Page, found: tuple[Offer, ...]) -> tuple[Offer, ...]:
    """The offers of which a build can be made; a sentence for each of the others."""
    sound = []
    for offer in found:
        try:
            fitted(page.build, offer)
            sound.append(offer)
        except BuildError as error:
            st.error(f"{as_markdown(offer.name)}: {' '.join(faults(error))}")
    return tuple(sound)


def _compare(page: Page, found: tuple[Offer, ...]) -> None:
    """Judge the packs beside the page; show what was found, or meanwhile what was found before."""
    plan = plan_of(page)
    known = (tolerances(page.inputs), *(_known(page, offer) for offer in found))
    key = (repr(page.build), found, plan, known)
    job, last = latest(KEY, key, judging(page.build, found, plan, known))
    if job.error is not None:
        raise job.error
    if not job.ended:
        watch(job, KEY, compared.WORKING)
    shown = job if job.result is not None else last
    if shown is not None and shown.result is not None:
        _answers(page, shown.result, fresh=shown is job)


def _known(page: Page, offer: Offer) -> tuple[Tolerance, ...]:
    """How well each unknown is known with a pack on offer."""
    resistance = None if offer.resistance is None else 1.0  # whatever it is, it is given
    pack = {"chemistry": offer.kind(page.build), "pack_resistance": resistance, "cold_growth": None}
    said = {item.path for item in rating(page.inputs)}
    others = tuple(item for item in tolerances(page.inputs | pack) if item.path not in said)
    return others + rating_left_out(**not_said(offer))


def not_said(offer: Offer) -> dict[str, bool]:
    """Which of an offer's current ratings are typical, as its seller does not say them."""
    return {"continuous": math.isinf(offer.continuous_current), "peak": math.isinf(offer.peak_current)}


def _answers(page: Page, judged: Judged, fresh: bool) -> None:
    """Verdict, the packs side by side, a button for each."""
    say(KEY, compared.verdict(page, judged.offers, judged.present, judged.answers))
    table = compared.table(page, judged.offers, judged.present, judged.answers)
    st.table(table, border="horizontal", hide_index=True)
    st.caption(prose(compared.COMPARED))
    with st.container(horizontal=True, key=f"{KEY}_try"):
        for row, offer in enumerate(judged.offers):
            st.button(
                f"{compared.TRY}: {as_markdown(offer.name)}",
                key=f"{KEY}_try_{row}",
                on_click=current().try_out,
                args=(
                    compared.as_inputs(fitted(page.build, offer)),
                    page.inputs,
                    [f"{name}_current" for name, left_out in not_said(offer).items() if left_out],
                ),
                disabled=not fresh,
                help=compared.TRY_HELP,
            )
    warn(compared.CAUTION)
