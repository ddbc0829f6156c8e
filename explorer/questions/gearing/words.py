"""Gearing in words: the verdict, how to read the map, whether the chain fits, cautions."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from explorer.page import words_of_changes as words_changes
from explorer.page.page import Page
from explorer.page.words import STANDS
from explorer.questions.gearing.chain_on_bike import Chain
from explorer.questions.gearing.results import fastest, one_tooth_less
from physics.components.chain_fit import ChainFit
from physics.components.motor import no_load_speed
from physics.limits import LIMITS
from physics.studies.gearing import HELD_BY_POWER, HELD_BY_VOLTAGE, GearingMap


@dataclass(frozen=True)
class Seen:
    """What the section shows: the map, the build's place in it, and the suggestion."""

    table: GearingMap
    here: int
    best: int | None
    fit: ChainFit
    chain: Chain


def verdict(seen: Seen, page: Page) -> str:
    """Which pair is the better compromise, what the present one does, and what one tooth does."""
    table, here, fmt = seen.table, seen.here, page.fmt
    pair = name(table, here)
    if not table.done[here]:
        return f"The search was stopped before {pair} was run."
    top = fmt.apart("speed", table.top_speed[here], page.target_speed)
    if np.isfinite(table.cut_out_time[here]):
        when = fmt("time", table.cut_out_time[here])
        return f"{_suggestion(seen, page)} With {pair} the pack cuts out after {when}, at {top}."
    text = f"{_suggestion(seen, page)} {pair} does {top}"
    if not table.settled[here]:
        text += f" after {fmt('time', page.duration, 0)}, still gaining,"
    if np.isfinite(table.time_to_speed[here]):
        text += f" and {fmt('speed', table.speed)} in {fmt('time', table.time_to_speed[here], 2)}"
    limit = LIMITS[table.holding_limit[here]]
    held = {HELD_BY_VOLTAGE: "voltage", HELD_BY_POWER: "power"}.get(int(table.held[here]), "")
    named = f"{held} ({limit})" if held and limit != held else held or limit
    return f"{text}. At its top speed {named} holds it back: {_tooth(seen, page)}"


def _tooth(seen: Seen, page: Page) -> str:
    """What one tooth less at the rear does, and why."""
    table, here = seen.table, seen.here
    gain = one_tooth_less(table, here)
    if not np.isfinite(gain):
        return "the map ends at this rear sprocket."
    change = float(page.fmt.number("speed", gain))
    amount = f"{abs(change):.1f} {page.fmt.unit('speed')}"
    if change >= 0.05:
        pull = 1 - (table.rear_teeth[here] - 1) / table.rear_teeth[here]
        return f"one tooth less at the rear makes it {amount} faster and takes {100 * pull:.0f} % of its pull."
    if change > -0.05:
        return "one tooth less at the rear would not make it faster, and would take pull."
    return f"one tooth less at the rear makes it {amount} slower, and takes pull as well."


def _suggestion(seen: Seen, page: Page) -> str:
    table, fmt, best = seen.table, page.fmt, seen.best
    target, speed = fmt.entered("speed", page.target_speed), fmt("speed", table.speed)
    if np.isfinite(table.cut_out_time[table.done]).all():
        return "**The pack cuts out with every pair here:** no sprocket cures that, less line current does."
    if best is None:
        top = fastest(table)
        if 3.6 * table.top_speed[top] < STANDS:
            return "**No pair here gets the bike moving.**"
        return (
            f"**No pair here reaches {target}**; {name(table, top)} comes nearest, with "
            f"{fmt.apart('speed', table.top_speed[top], page.target_speed)}."
        )
    if table.ratio[best] == table.ratio[seen.here]:
        return f"**Keep {name(table, seen.here)}:** of the pairs that reach {target}, none is at {speed} sooner."
    when = fmt("time", table.time_to_speed[best], 2)
    return (
        f"**Try {name(table, best)}:** of the pairs that reach {target} it is the soonest at {speed}, after "
        f"{when}, and it tops out at {fmt.apart('speed', table.top_speed[best], page.target_speed)}."
    )


def legend(seen: Seen) -> str:
    """How to read the map."""
    parts = ["Framed: your pair; dotted frame: the suggested one."]
    if not np.isnan(seen.table.cut_out_time).all():
        parts.append("×: the pack cuts out.")
    if (seen.table.front_lift_ratio < 1).any():
        parts.append("↑ (pull): enough to lift the front wheel.")
    parts.append("Fewer rear teeth make it faster only on the side where voltage holds.")
    return " ".join(parts)


def chain_words(seen: Seen, page: Page) -> str:
    """Whether the chain on the bike fits the build's pair, and the suggested one."""
    table, fit, chain, fmt = seen.table, seen.fit, seen.chain, page.fmt
    metric = fmt.system == "metric"
    places = [seen.here] + ([seen.best] if seen.best is not None and seen.best != seen.here else [])
    texts = []
    for place in places:
        move = fit.axle_move[place]
        if fit.fits[place]:
            how = "where the axle is"
            if abs(move) >= 0.0005:
                way = "back" if move > 0 else "forward"
                how = f"with the axle {fmt('length', abs(move), 1 if metric else 2)} {way}"
            texts.append(f"{name(table, place)} fits {how}")
        else:
            away = (
                "the chain cannot close"
                if np.isnan(move)
                else (
                    f"the axle would have to move {fmt('length', abs(move), 0 if metric else 2)} "
                    f"{'back' if move > 0 else 'forward'}"
                )
            )
            instead = f"{fit.links[place]:.0f} links do" if fit.links_fit[place] else "no even number of links does"
            texts.append(f"{name(table, place)} does not fit: {away}; {instead}")
    text = "; ".join(texts)
    speed = fmt("speed", table.chain_speed(chain.pitch)[seen.here], 0)
    return f"**The {chain.links}-link chain:** {text}. At top speed the chain runs at {speed}."


def cautions(seen: Seen, page: Page) -> list[str]:
    """Tyres, motor, chain."""
    table, fmt, build = seen.table, page.fmt, page.build
    fast = max((place for place in (seen.here, seen.best) if place is not None), key=lambda p: table.top_speed[p])
    texts = [words_changes.tyre_caution(build.bike.tyre, table.top_speed[fast], fmt)]
    free = no_load_speed(build.motor.kv_rpm_per_volt, page.run.rest_voltage[0, 0], build.controller.modulation)
    texts.append(
        f"The motor turns {fmt('motor speed', table.motor_speed[seen.here])} at top speed, and up to "
        f"{fmt('motor speed', free)} with the wheel off the ground or downhill, more with field weakening: both "
        "must stay below what the motor's maker allows."
    )
    texts.append(
        "Fit sprockets of the chain's pitch; check alignment, slack with the rider on, and that nothing rubs. "
        "Never touch a chain that can move."
    )
    if table.front_lift_ratio[seen.here] < 1:
        texts.append("With this pair the bike can pull hard enough to lift the front wheel.")
    return [text for text in texts if text]


def name(table: GearingMap, place: int) -> str:
    """A pair as riders write it: front/rear."""
    return f"{table.front_teeth[place]:.0f}/{table.rear_teeth[place]:.0f}"
