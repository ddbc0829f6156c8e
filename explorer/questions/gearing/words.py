"""Gearing in words: the verdict, how to read the map, whether the chain fits, cautions."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from explorer.derivations.derivation import Step, fastest, put
from explorer.derivations.motor import back_emf, drive
from explorer.derivations.sources import GEARING, MACHINE
from explorer.format import plain_number, with_sign
from explorer.page import cautions as page_cautions
from explorer.page.page import Page
from explorer.page.words import STANDS, within
from explorer.questions.gearing.results import GearingAnswer, fastest_pair, one_tooth_less
from physics.components.motor import no_load_speed
from physics.limits import LIMITS
from physics.simulation.result import reaches
from physics.studies.gearing import HELD_BY_POWER, HELD_BY_VOLTAGE, GearingMap
from physics.units import from_si

# controls
MAP_SHOWS, TIME_TO, PAIRS = "The map shows", "Time to", "Pairs"
NEAR, ALL = "Near this pair", "All pairs"
VIEWS = ("Top speed", "Time", "Pull", "Motor speed", "Chain fit")
TRY_HELP = "Fits this pair and keeps the old build as the baseline. Undo reverses it."

# the chain on the bike
CHAIN = "The chain on the bike"
CHAIN_FIELDS = {
    "size": "Size", "links": "Links", "front": "Now on front", "rear": "Now on rear",
    "forward": "Axle can move forward", "back": "Axle can move back",
}  # fmt: skip
CHAIN_ASSUMED = "Not entered yet, so a usual length is assumed. Count the links of your chain."

COMPROMISE_ALT = "Top speed against time to the chosen speed, one mark for each pair of sprockets."


def verdict(answer: GearingAnswer, page: Page) -> str:
    """Which pair is the better compromise, what the present one does, and what one tooth does."""
    table, here, fmt = answer.table, answer.here, page.fmt
    pair = pair_name(table, here)
    if not table.done[here]:
        return f"The search was stopped before {pair} was run."
    top = fmt.apart("speed", table.top_speed[here], page.target_speed)
    if np.isfinite(table.cut_out_time[here]):
        when = fmt("time", table.cut_out_time[here])
        return f"{_suggestion(answer, page)} With {pair} the pack cuts out after {when}; until then it does {top}."
    text = f"{_suggestion(answer, page)} {pair} does {top}"
    if not table.settled[here]:
        text += f" after {fmt('time', page.duration, 0)}, still gaining"
    if np.isfinite(table.time_to_speed[here]):
        text += f"; it reaches {fmt('speed', table.speed)} in {fmt('time', table.time_to_speed[here], 2)}"
    limit = LIMITS[table.holding_limit[here]]
    held = {HELD_BY_VOLTAGE: "voltage", HELD_BY_POWER: "power"}.get(int(table.held[here]), "")
    named = f"{held} ({limit})" if held and limit != held else held or limit
    return f"{text}. At its top speed {named} holds it back: {_tooth(answer, page)}"


def _tooth(answer: GearingAnswer, page: Page) -> str:
    """What one tooth less at the rear does, and why."""
    table, here = answer.table, answer.here
    gain = one_tooth_less(table, here)
    if not np.isfinite(gain):
        return "this is the smallest rear sprocket on the map."
    change = float(page.fmt.number("speed", gain))
    amount = f"{abs(change):.1f} {page.fmt.unit('speed')}"
    if change >= 0.05:
        pull = 1 - (table.rear_teeth[here] - 1) / table.rear_teeth[here]
        return f"one tooth fewer at the rear makes it {amount} faster and costs {100 * pull:.0f} % of the pull."
    if change > -0.05:
        return "one tooth fewer at the rear would not make it faster, and would cost pull."
    return f"one tooth fewer at the rear makes it {amount} slower, and costs pull as well."


def _suggestion(answer: GearingAnswer, page: Page) -> str:
    table, fmt, best = answer.table, page.fmt, answer.best
    target, speed = fmt.entered("speed", page.target_speed), fmt("speed", table.speed)
    if np.isfinite(table.cut_out_time[table.done]).all():
        by_heat = page.run.cut_out_rule_names() == ["pack temperature"]
        instead = "a pack that is neither too cold nor too hot" if by_heat else "less line current"
        return f"**The pack cuts out with every pair here:** no sprocket fixes that; {instead} will."
    if best is None:
        top = fastest_pair(table)
        if 3.6 * table.top_speed[top] < STANDS:
            return "**No pair here gets the bike moving.**"
        how = "without a cut-out" if reaches(table.top_speed, page.target_speed).any() else within(page)
        return (
            f"**No pair here reaches {target} {how}**; {pair_name(table, top)} comes closest, with "
            f"{fmt.apart('speed', table.top_speed[top], page.target_speed)}."
        )
    timed = np.isfinite(table.time_to_speed[best])
    if table.ratio[best] == table.ratio[answer.here]:
        own, better = pair_name(table, answer.here), f"quicker to {speed}" if timed else "faster"
        return f"**Keep {own}:** of the pairs that reach {target}, none is {better}."
    if not timed:
        text = f"**Try {pair_name(table, best)}:** of the pairs that reach {target} it is the fastest, with "
        return f"{text}{fmt.apart('speed', table.top_speed[best], page.target_speed)}."
    when = fmt("time", table.time_to_speed[best], 2)
    return (
        f"**Try {pair_name(table, best)}:** of the pairs that reach {target} it is the quickest to "
        f"{speed}, in {when}, and tops out at "
        f"{fmt.apart('speed', table.top_speed[best], page.target_speed)}."
    )


def legend(answer: GearingAnswer) -> str:
    """How to read the map."""
    parts = ["Framed: your pair; dotted frame: the suggested one."]
    if not np.isnan(answer.table.cut_out_time).all():
        parts.append("×: the pack cuts out.")
    if (answer.table.front_lift_ratio < 1).any():
        parts.append("↑ (pull): enough to lift the front wheel.")
    parts.append("Fewer rear teeth make it faster only where voltage is the limit.")
    return " ".join(parts)


def chain_words(answer: GearingAnswer, page: Page) -> str:
    """Whether the chain on the bike fits the build's pair, and the suggested one."""
    table, fit, chain, fmt = answer.table, answer.fit, answer.chain, page.fmt
    metric = fmt.system == "metric"
    indices = [answer.here] + ([answer.best] if answer.best is not None and answer.best != answer.here else [])
    texts = []
    for index in indices:
        move = fit.axle_move[index]
        if fit.fits[index]:
            how = "with the axle where it is"
            if abs(move) >= 0.0005:
                way = "back" if move > 0 else "forward"
                how = f"with the axle {fmt('length', abs(move), 1 if metric else 2)} {way}"
            texts.append(f"{pair_name(table, index)} fits {how}")
        else:
            away = (
                "the chain will not reach"
                if np.isnan(move)
                else (
                    f"the axle would have to move {fmt('length', abs(move), 0 if metric else 2)} "
                    f"{'back' if move > 0 else 'forward'}"
                )
            )
            instead = (
                f"{fit.links[index]:.0f} links would" if fit.links_fit[index] else ("no even number of links fits")
            )
            texts.append(f"{pair_name(table, index)} does not fit: {away}; {instead}")
    text = "; ".join(texts)
    speed = fmt("speed", table.chain_speed(chain.pitch)[answer.here], 0)
    return f"**The {chain.links}-link chain:** {text}. At top speed the chain runs at {speed}."


def cautions(answer: GearingAnswer, page: Page) -> list[str]:
    """Tyres, motor, chain."""
    table, fmt, build = answer.table, page.fmt, page.build
    fast = max((i for i in (answer.here, answer.best) if i is not None), key=lambda i: table.top_speed[i])
    front, rear = int(table.front_teeth[fast]), int(table.rear_teeth[fast])
    geared = build.change({"driveline.front_teeth": front, "driveline.rear_teeth": rear})
    texts = [page_cautions.speed_ratings(geared, float(table.top_speed[fast]), fmt)]
    free = no_load_speed(build.motor.kv_rpm_per_volt, page.run.rest_voltage[0, 0], build.controller.modulation)
    texts.append(
        f"The motor turns {fmt('motor speed', table.motor_speed[answer.here])} at top speed, and up to "
        f"{fmt('motor speed', free)} downhill or with the wheel off the ground, more with field weakening: both "
        "must stay below the motor maker's limit."
    )
    texts.append(
        "Fit sprockets to match the chain's pitch; check alignment, slack with the rider aboard, and that "
        "nothing rubs. Keep your hands off a chain that can move."
    )
    if table.front_lift_ratio[answer.here] < 1:
        texts.append("With this pair the bike pulls hard enough to lift the front wheel.")
    return [text for text in texts if text]


def pair_name(table: GearingMap, index: int) -> str:
    """A pair as riders write it: front/rear."""
    return f"{table.front_teeth[index]:.0f}/{table.rear_teeth[index]:.0f}"


def pair(table: GearingMap, index: int) -> tuple[int, int]:
    """Teeth of a pair, front and rear."""
    return int(table.front_teeth[index]), int(table.rear_teeth[index])


def try_pair(front: int, rear: int) -> str:
    """Of the button that fits a pair."""
    return f"Try {front}/{rear}"


def running(count: int) -> str:
    """What is said while the pairs are run."""
    return f"Running {count} pairs"


def map_alt(title: str, verdict: str) -> str:
    """The map in words."""
    return f"{title} for each pair of front and rear sprocket. {verdict}"


def no_time(speed: float, page: Page) -> str:
    """What stands where no pair reaches the speed whose time is compared."""
    return f"No pair here gets to {page.fmt('speed', speed)} {within(page)}: there is no time to compare."


@dataclass(frozen=True)
class MapView:
    """What the map shows.

    Attributes
    ----------
    title : str
        With its unit.
    values : array, shape (n,)
        In the rider's unit.
    texts : list of str
        What each cell says.
    low_is_good : bool
        Whether the strong colour stands for low values.
    """

    title: str
    values: NDArray[np.float64]
    texts: list[str]
    low_is_good: bool = False


def map_view(answer: GearingAnswer, page: Page, view: str) -> MapView:
    """The map of one of VIEWS."""
    table, fmt = answer.table, page.fmt
    if view == "Chain fit":
        return _chain_view(answer, page)
    at = fmt("speed", table.low_speed)
    quantity, si, digits, title = {
        "Top speed": ("speed", table.top_speed, 0, f"Top speed, {fmt.unit('speed')}"),
        "Time": ("time", table.time_to_speed, 1, f"Time to {fmt('speed', table.speed)}, s"),
        "Pull": ("force", table.low_speed_force, 0, f"Pull at {at}, {fmt.unit('force')}"),
        "Motor speed": ("motor speed", table.motor_speed, 0, "Motor at top speed, rpm"),
    }[view]
    values = fmt.number(quantity, si)
    marks = np.where(np.isnan(table.cut_out_time), "", " ×")
    if view == "Pull":
        marks = np.where(table.front_lift_ratio < 1, " ↑", "")
    texts = [
        "–" if np.isnan(value) else plain_number(value, digits) + mark
        for value, mark in zip(values, marks, strict=True)
    ]
    return MapView(title, values, texts, low_is_good=view == "Time")


def _chain_view(answer: GearingAnswer, page: Page) -> MapView:
    """By how much the axle moves, or how many links it takes."""
    fmt, fit = page.fmt, answer.fit
    digits = 0 if fmt.system == "metric" else 2
    texts = [
        with_sign(move, digits) if fits else f"{links:.0f}"
        for move, fits, links in zip(from_si(fit.axle_move, fmt.label("length")), fit.fits, fit.links, strict=True)
    ]
    return MapView(f"Axle moves by, {fmt.unit('length')}, or links needed", np.where(fit.fits, 1.0, 0.0), texts)


def pairs_table(answer: GearingAnswer, page: Page) -> pd.DataFrame:
    """Every pair of the map in numbers."""
    table, fmt, fit = answer.table, page.fmt, answer.fit
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
            "limited at the top by": [LIMITS[limit] for limit in table.holding_limit],
            "cuts out after, s": table.cut_out_time.round(1),
            f"chain, {fmt.unit('speed')}": fmt.number("speed", table.chain_speed(answer.chain.pitch)).round(0),
            f"axle moves, {fmt.unit('length')}": fmt.number("length", fit.axle_move).round(1),
            "chain fits": fit.fits,
            "links": fit.links.astype(int),
        }
    )


def derivation(page: Page) -> list[Step]:
    """Ratio, motor speed and pull of the present pair, where the run is fastest."""
    now, line = fastest(page.build, page.run), page.build.driveline
    return [
        Step(
            "Ratio",
            r"G = G_1\,\frac{z_{rear}}{z_{front}}",
            f"{put(line.primary_ratio)} × {line.rear_teeth} / {line.front_teeth}",
            now.ratio,
            "",
            "z teeth; G₁ any reduction before the sprockets",
            GEARING,
            digits=4,
        ),
        *back_emf(now, page.fmt),
        Step(
            "Pack voltage there",
            r"U = U_0 - \Delta U",
            f"{put(now.rest_voltage, 5)} − {put(now.sag)}",
            now.pack_voltage,
            "V",
            "U₀ rest voltage, V; ΔU sag, V. Back-EMF below it leaves room for current; the closer, the less. "
            "Fewer rear teeth lower the back-EMF at each speed, and the pull with it",
            MACHINE,
            digits=4,
        ),
        *drive(now, page.fmt),
    ]
