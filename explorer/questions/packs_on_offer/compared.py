"""Packs side by side in words: the verdict, the table, what to enter, what a tried pack changes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import pandas as pd

from explorer.format import UnitFormatter
from explorer.inputs.catalogue import INPUTS
from explorer.page.page import Page
from explorer.state.names import as_markdown
from physics.build import Build
from physics.components.cell import chemistry
from physics.components.thresholds import typical_thresholds
from physics.studies.packs_on_offer import COLD, LONGEST, WARM, Offer, PackAnswer
from physics.units import from_si

NAME, MINE = "pack", "the pack now"
WORKING = "Comparing the packs"
OFFERS = "Packs on offer: enter two or three"
TRY, TRY_HELP = "Try", "Fits this pack and keeps the old build as the baseline. Undo reverses it."
ENTER = (
    "Enter what the seller says; amp-hours are enough to start with. Without a current rating the page takes what "
    "is typical for the amp-hours, and counts on half of that: ask for it. It fills in the rest: a resistance "
    "typical of the rating, a weight typical of the energy, and the chemistry of your present pack."
)
COMPARED = (
    "Each pack runs with the highest line limit it survives today, for the pull and margin set under “What line "
    "limit is safe from a cut-out today?”; the controller must be able to draw that much. Resistance: after 10 "
    "s at 25 °C and half charge. Power is held starting from today's charge."
)
CAUTION = (
    "Another pack may need another charger, fuse and wiring; controller, cables and connectors must be rated "
    "for its current and voltage too. What a seller states is not what a cell maker guarantees."
)


def verdict(page: Page, offers: Sequence[Offer], present: PackAnswer, answers: Sequence[PackAnswer]) -> str:
    """Which pack reaches the target, at what price, or which comes nearest."""
    fmt = page.fmt
    target = fmt.entered("speed", page.target_speed)
    pairs = list(zip(offers, answers, strict=True))
    reaching = [(offer, answer) for offer, answer in pairs if answer.reaches]
    if present.reaches:
        start = f"**The pack you have reaches {target}**, {_with_limit(present, fmt)}"
        best = max(pairs, key=lambda pair: pair[1].top_speed)
        gain = best[1].top_speed - present.top_speed
        if gain < 0.3:
            return f"{start}. None of the offers is faster."
        return f"{start}. {_name(best[0])} would add {fmt('speed', gain, 1)}{_cost(best, present, fmt)}."
    if not reaching:
        offer, answer = max(pairs, key=lambda pair: pair[1].top_speed)
        top = fmt.apart("speed", answer.top_speed, page.target_speed)
        return f"**None of these packs reaches {target}.** {_name(offer)} comes closest, with {top}."
    priced = [pair for pair in reaching if pair[0].price is not None]
    if priced and len(priced) == len(reaching):
        chosen, why = min(priced, key=lambda pair: pair[0].price or 0.0), "the cheapest that does"
    else:
        chosen, why = min(reaching, key=lambda pair: pair[1].time_to_target), "the quickest there"
    offer, answer = chosen
    why = f", {why}" if len(reaching) > 1 else ""
    after = fmt("time", answer.time_to_target)
    return (
        f"**{_name(offer)} reaches {target}**{why}: after {after}, {_with_limit(answer, fmt)}"
        f"{_cost(chosen, present, fmt)}. The pack you have gets to "
        f"{fmt.apart('speed', present.top_speed, page.target_speed)}."
    )


def table(page: Page, offers: Sequence[Offer], present: PackAnswer, answers: Sequence[PackAnswer]) -> pd.DataFrame:
    """One column for each pack, one row for each question."""
    fmt = page.fmt
    power = fmt("power", 1000.0 * page.inputs["burst_power"])
    columns = {"of each pack": _rows(fmt, power, page)}
    given = page.build.pack.resistance is not None
    columns[MINE] = [_kind(page.build.pack.chemistry), *_column(present, None, given, present, fmt)]
    for offer, answer in zip(offers, answers, strict=True):
        heading = offer.name
        while heading in columns:
            heading += "’"
        rows = _column(answer, offer, offer.resistance is not None, present, fmt)
        columns[heading] = [_kind(offer.kind(page.build)), *rows]
    return pd.DataFrame(columns)


def _kind(key: str) -> str:
    return chemistry(key).name


def _rows(fmt: UnitFormatter, power: str, page: Page) -> list[str]:
    speed = fmt.entered("speed", INPUTS["range_speed"].si(page.inputs["range_speed"]))
    return [
        "chemistry",
        "resistance",
        "mass",
        "line limit",
        "top speed",
        f"{fmt.entered('speed', page.target_speed)} after",
        f"{power} at {fmt('temperature', COLD)} for",
        f"{power} at {fmt('temperature', WARM)} for",
        "below full before regen",
        f"range at {speed}",
        f"price per {fmt.unit('speed')} gained",
    ]


def _column(
    answer: PackAnswer, offer: Offer | None, given: bool, present: PackAnswer, fmt: UnitFormatter
) -> list[str]:
    seconds = [
        f"over {fmt('minutes', LONGEST)}" if time >= LONGEST else fmt("time", time, 0)
        for time in (answer.cold_time, answer.warm_time)
    ]
    per_speed = math.nan if offer is None else answer.price_per_speed(offer.price, present)
    mass = "as it is"
    if offer is not None:
        mass = f"{fmt('mass', answer.mass, 1)}, {'given' if offer.mass is not None else 'typical'}"
    return [
        f"{fmt('resistance', answer.resistance)}, {'given' if given else 'typical'}",
        mass,
        _limit(answer, fmt),
        fmt("speed", answer.top_speed, 1),
        fmt("time", answer.time_to_target) if answer.reaches else "not reached",
        *seconds,
        f"{fmt.at_least('voltage', answer.headroom)} at {fmt('current', answer.regen_current)}"
        if math.isfinite(answer.headroom)
        else "no regen today",
        fmt("road distance", answer.reach, 0) if math.isfinite(answer.reach) else "not held",
        "" if math.isnan(per_speed) else f"{per_speed / float(fmt.number('speed', 1.0)):,.0f}",
    ]


def _limit(answer: PackAnswer, fmt: UnitFormatter) -> str:
    if math.isinf(answer.line_limit):
        return "none needed"
    return fmt("current", answer.line_limit) if answer.line_limit > 0 else "none survives"


def _with_limit(answer: PackAnswer, fmt: UnitFormatter) -> str:
    if math.isinf(answer.line_limit):
        return "with no line limit needed"
    return f"with a line limit of {fmt('current', answer.line_limit)}"


def _cost(pair: tuple[Offer, PackAnswer], present: PackAnswer, fmt: UnitFormatter) -> str:
    per_speed = pair[1].price_per_speed(pair[0].price, present)
    if math.isnan(per_speed):
        return ""
    return f", at {per_speed / float(fmt.number('speed', 1.0)):,.0f} per {fmt.unit('speed')} gained"


def _name(offer: Offer) -> str:
    return as_markdown(offer.name)


def as_inputs(build: Build) -> dict[str, Any]:
    """The inputs that put an offered pack in, in home units.

    Parameters
    ----------
    build : Build
        With that pack; see `physics.studies.packs_on_offer.fitted`.
    """
    pack, rules = build.pack, build.pack.protection

    def home(key: str, value: float | None) -> float | None:
        spec = INPUTS[key]
        if value is None or not math.isfinite(value):
            return None
        return spec.clamp(value if spec.path.endswith("_ah") else float(from_si(value, spec.unit)))

    typical = typical_thresholds(pack.chemistry)
    own = {"undervoltage": rules.cell_undervoltage, "overvoltage": rules.cell_overvoltage}
    thresholds = {
        key: None if math.isclose(value, usual) else home(key, value)
        for (key, value), usual in zip(own.items(), typical, strict=True)
    }
    return {
        "chemistry": pack.chemistry,
        "cold_growth": None,
        **thresholds,
        "cells": home("cells", pack.cells_in_series),
        "capacity": home("capacity", pack.capacity_ah),
        "pack_resistance": home("pack_resistance", pack.resistance),
        "charge_current": None,
        "ageing": 1.0,
        "continuous_current": home("continuous_current", rules.continuous_current),
        "peak_current": home("peak_current", rules.peak_current),
        "peak_time": home("peak_time", rules.peak_time),
        "fast_current": None,
        "foldback_start": home("foldback_start", build.controller.foldback_start_voltage),
        "foldback_end": home("foldback_end", build.controller.foldback_end_voltage),
        "bike_mass": home("bike_mass", build.bike.bike_mass),
    }
