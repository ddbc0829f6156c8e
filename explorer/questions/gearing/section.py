"""Gearing: what every sprocket pair would do, the best compromise, and whether the chain still fits."""

from __future__ import annotations

import numpy as np
import pandas as pd
import streamlit as st

from explorer.components.live_chart import live_chart
from explorer.derivations import parts as why_parts
from explorer.format import plain_number, tied
from explorer.frame.background_job import latest, watch
from explorer.frame.layout import numbers, show_derivation
from explorer.page.page import Page
from explorer.questions.gearing import chain as chain_fields
from explorer.questions.gearing import chart
from explorer.questions.gearing.results import every, near, near_map, suggested, without_sprockets
from explorer.questions.gearing.words import Seen, cautions, chain_words, legend, verdict
from explorer.state.state import current
from physics.limits import LIMITS
from physics.studies.gearing import GearingMap, gearing_map
from physics.units import from_si, to_si

TITLE = "Which sprockets?"
NEAR, ALL = "Near this pair", "All pairs"
VIEWS = ("Top speed", "Time", "Pull", "Motor speed", "Chain fit")
SPEEDS = {"metric": (30, 50, 80), "US": (20, 30, 50)}


def draw(page: Page) -> None:
    """Verdict, map beside compromise, chain, table, cautions."""
    verdict_place = st.container(key="verdict_gearing")
    with st.container(horizontal=True, vertical_alignment="bottom", key="gearing_controls"):
        view = _choose("gearing_view", "The map shows", VIEWS, widget=st.pills)
        speeds = [f"{number} {page.fmt.unit('speed')}" for number in SPEEDS[page.fmt.system]]
        text = _choose(f"gearing_speed_{page.fmt.system}", "Time to", speeds, 1)
        spread = _choose("gearing_spread", "Pairs", (NEAR, ALL))
    speed = float(to_si(float(text.split()[0]), page.fmt.label("speed")))
    table = _table(page, speed, spread)
    if table is None:
        return
    line = page.build.driveline
    here = table.index(line.front_teeth, line.rear_teeth)
    chain = chain_fields.chain(page)
    fit = chain.fit(table.front_teeth, table.rear_teeth)
    seen = Seen(table, here, suggested(table, page.target_speed, here), fit, chain)
    with verdict_place:
        st.markdown(tied(verdict(seen, page)))
        _offer(seen, page)
        show_derivation("gearing", lambda: why_parts.gearing(page))
    values, texts, title, low_is_good = shown(seen, page, view)
    with st.grid(min_column_width=320, gap="medium"):
        live_chart(
            chart.gearing_map(
                table, values, texts, title, (line.front_teeth, line.rear_teeth), _pair(table, seen.best),
                low_is_good=low_is_good,
            ),
            key="chart_gearing_map", height=chart.map_height(table),
            alt=f"{title} for each pair of front and rear sprocket. {verdict(seen, page)}",
        )  # fmt: skip
        if np.isfinite(table.time_to_speed).any():
            live_chart(
                chart.compromise(table, page.fmt, page.target_speed, here, seen.best),
                key="chart_gearing_compromise", height=chart.COMPROMISE_HEIGHT,
                alt="Top speed against time to the chosen speed, one mark for each pair of sprockets.",
            )  # fmt: skip
        else:
            st.caption(f"No pair here reaches {page.fmt('speed', speed)}, so there is no time to compare.")
    st.caption(legend(seen))
    with st.container(key="verdict_gearing_chain"):
        st.markdown(tied(chain_words(seen, page)))
    chain_fields.edit(page)
    numbers("gearing", lambda: frame(seen, page))
    st.warning("\n".join(f"- {tied(text)}" for text in cautions(seen, page)), icon=":material/warning:")


def _choose(key: str, label: str, options, first: int = 0, widget=st.segmented_control):
    """One of a few, kept while the section is folded."""
    kept = st.session_state.setdefault("gearing:kept", {})
    if key not in st.session_state:
        st.session_state[key] = kept.get(key, options[first])
    kept[key] = widget(label, list(options), key=key, required=True)
    return kept[key]


def _table(page: Page, speed: float, spread: str) -> GearingMap | None:
    """The map; all pairs are run beside the page."""
    build = without_sprockets(page.build)
    if spread == NEAR:
        return near_map(build, *near(page.build), speed, page.duration)

    def work(progress, cancelled):
        return gearing_map(build, *every(), speed, page.duration, progress=progress, cancelled=cancelled)

    job, last = latest("gearing", (repr(build), speed, page.duration), work)
    if job.error is not None:
        raise job.error
    if not job.ended:
        watch(job, "gearing", f"Running {len(every()[0]) * len(every()[1])} pairs")
    shown_job = job if job.result is not None else last
    return shown_job.result if shown_job is not None else None


def _offer(seen: Seen, page: Page) -> None:
    """A button that fits the suggested pair."""
    if seen.best is None or seen.table.ratio[seen.best] == seen.table.ratio[seen.here]:
        return
    front, rear = _pair(seen.table, seen.best)
    st.button(
        f"Try {front}/{rear}", key="gearing_try", on_click=current().try_out,
        args=({"front_teeth": float(front), "rear_teeth": float(rear)}, page.inputs),
        help="Fits this pair, with the build as it was as the baseline. Undo takes it back.",
    )  # fmt: skip


def shown(seen: Seen, page: Page, view: str):
    """Values, texts, title of the map, and whether low is good."""
    table, fmt, fit = seen.table, page.fmt, seen.fit
    if view == "Chain fit":
        move = from_si(fit.axle_move, fmt.label("length"))
        digits = 0 if fmt.system == "metric" else 2
        texts = [
            f"{round(value, digits) + 0.0:+.{digits}f}" if fits else f"{links:.0f}"
            for value, fits, links in zip(move, fit.fits, fit.links, strict=True)
        ]
        texts = ["0" if float(text) == 0 else text for text in texts]
        return np.where(fit.fits, 1.0, 0.0), texts, f"Axle moves by, {fmt.unit('length')}, or links needed", False
    at = fmt("speed", table.low_speed)
    quantity, values, digits, title = {
        "Top speed": ("speed", table.top_speed, 0, f"Top speed, {fmt.unit('speed')}"),
        "Time": ("time", table.time_to_speed, 1, f"Time to {fmt('speed', table.speed)}, s"),
        "Pull": ("force", table.low_speed_force, 0, f"Pull at {at}, {fmt.unit('force')}"),
        "Motor speed": ("motor speed", table.motor_speed, 0, "Motor at top speed, rpm"),
    }[view]
    numbers_shown = fmt.number(quantity, values)
    marks = np.where(np.isnan(table.cut_out_time), "", " ×")
    if view == "Pull":
        marks = np.where(table.front_lift_ratio < 1, " ↑", "")
    texts = [
        "–" if np.isnan(value) else plain_number(value, digits) + mark
        for value, mark in zip(numbers_shown, marks, strict=True)
    ]
    return numbers_shown, texts, title, view == "Time"


def frame(seen: Seen, page: Page) -> pd.DataFrame:
    """Every pair of the map in numbers."""
    table, fmt, fit = seen.table, page.fmt, seen.fit
    length = fmt.unit("length")
    return pd.DataFrame(
        {
            "front": table.front_teeth.astype(int),
            "rear": table.rear_teeth.astype(int),
            "ratio": table.ratio.round(3),
            f"top speed, {fmt.unit('speed')}": fmt.number("speed", table.top_speed).round(1),
            f"to {fmt('speed', table.speed)}, s": table.time_to_speed.round(2),
            "no pair beats it": table.best,
            f"pull, {fmt.unit('force')}": fmt.number("force", table.low_speed_force).round(0),
            "front lifts at, % of that pull": (100 * table.front_lift_ratio).round(0),
            "motor, rpm": fmt.number("motor speed", table.motor_speed).round(0),
            "holds at the top": [LIMITS[limit] for limit in table.holding_limit],
            "cuts out after, s": table.cut_out_time.round(1),
            f"chain, {fmt.unit('speed')}": fmt.number("speed", table.chain_speed(seen.chain.pitch)).round(0),
            f"axle moves, {length}": fmt.number("length", fit.axle_move).round(1),
            "chain fits": fit.fits,
            "links": fit.links.astype(int),
        }
    )


def _pair(table: GearingMap, place: int | None) -> tuple[int, int] | None:
    return None if place is None else (int(table.front_teeth[place]), int(table.rear_teeth[place]))
