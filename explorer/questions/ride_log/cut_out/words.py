"""The cut-outs of a log in words: when they came, what would have saved the pull, or where log and model differ."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from explorer.derivations.derivation import Step, put
from explorer.derivations.saving import saving
from explorer.derivations.sources import REST_VOLTAGE, SAME_CUT_OUT
from explorer.format import UnitFormatter, joined
from explorer.page import lever_words, saved_words
from explorer.page.page import Page
from explorer.questions.ride_log.cut_out.results import Ridden
from physics.fitting.cut_out_pull import CutOutPull, Replay
from physics.limits import RULES
from physics.ridelog.cut_out import CutOut
from physics.ridelog.report import RideLog
from physics.studies.target import Survival

SEARCHING = "Searching what would have saved the pull"
WHICH = "Cut-out"
NO_BEGINNING = "The log does not show how the pull before the cut-out began, so the model cannot ride it again."
TRY_HELP = (
    "Puts the pull on the page, from a standstill: as it was ridden as the baseline, and with this change beside "
    "it. Undo reverses it."
)
_SHOWN = 3
_VOLTS_APART, _AMPS_APART = 0.01, 0.03
"""Shares of the log's from which a difference is named."""


def cut_outs(cuts: Sequence[CutOut], pulls: Sequence[Ridden | None], log: RideLog, fmt: UnitFormatter) -> str:
    """The cut-outs in the log, or that there is none."""
    if not log.holds("line_current"):
        return "The log has no line current, so it cannot tell whether the pack cut out."
    if not cuts:
        return "No cut-out is in this log."
    texts = []
    for index, cut in enumerate(cuts[:_SHOWN]):
        sure = "The pack cut out" if cut.certain else "The pack may have cut out"
        known = pulls[index] if index < len(pulls) else None
        into = "" if known is None else f", {fmt('time', known.pull.held)} into {name(known.pull, 'a pull')}"
        text = f"**{sure} at {fmt('time', cut.time)}**{into}, at {fmt('current', cut.current_before)}"
        if np.isfinite(cut.voltage_before):
            text += f" and {fmt('voltage', cut.voltage_before)}"
        rule = f"; likely the {cut.likely_rule} rule" if cut.likely_rule else "; the log cannot say which rule"
        texts.append(f"{text}{rule}. {cut.reason}")
    more = f" And {len(cuts) - _SHOWN} more." if len(cuts) > _SHOWN else ""
    return " ".join(texts) + more


def name(pull: CutOutPull, otherwise: str = "that pull") -> str:
    """What a pull is called."""
    return f"pull {pull.number}" if pull.number else otherwise


def choice(ridden: Ridden, fmt: UnitFormatter) -> str:
    """A cut-out to choose."""
    return f"at {fmt('time', ridden.pull.cut_out.time)}, in {name(ridden.pull, 'a pull')}"


def saved(ridden: Ridden, found: Survival, page: Page) -> str:
    """What would have saved the pull, and how the model's pull compares with the log's."""
    fmt, pull = page.fmt, ridden.pull
    logged = f"; in the log it was after {fmt('time', pull.held)}, at {fmt('speed', pull.end_speed)}"
    return f"{saved_words.verdict(found, page, name(pull), logged)} {_taken(ridden, fmt)}{_unsure(pull)}"


def differs(ridden: Ridden, page: Page) -> str:
    """Why nothing can be said of what would have saved the pull."""
    fmt, replay, pull = page.fmt, ridden.replay, ridden.pull
    cut = pull.cut_out
    text = (
        f"**What would have saved {name(pull)} cannot be said: the model does not match the log.** "
        f"In the log the pack cuts out after {fmt('time', pull.held)}, at {fmt('speed', pull.end_speed)}; in the "
    )
    if replay.opens:
        text += f"model after {fmt('time', replay.time)}, by the {RULES[replay.rule]} rule."
    else:
        text += "model it stays on for twice as long."
    if replay.in_time and not replay.same_rule:
        text += f" The log came near the {cut.near[0]} threshold instead."
    logged, ours = fmt("current", cut.current_before), fmt("current", replay.current)
    if np.isfinite(cut.voltage_before):
        logged = f"{fmt('voltage', cut.voltage_before)} and {logged}"
        ours = f"{fmt('voltage', replay.voltage)} and {ours}"
    then = "Just before its cut-out" if replay.opens else "At that moment"
    text += f" Just before the cut-out the log reads {logged}. {then} the model has {ours}."
    return f"{text} {_hint(replay)} {_taken(ridden, fmt)}{_unsure(pull)}"


def on_the_sheet(ridden: Ridden, found: Survival, fmt: UnitFormatter) -> str:
    """The cut-out and the change that saves its pull, in a line; of several the line limit."""
    pull = ridden.pull
    text = f"{fmt('time', pull.held)} into {name(pull, 'a pull')}, at {fmt('current', pull.cut_out.current_before)}"
    if math.isfinite(pull.rest_voltage):
        text += f", from {fmt('voltage', pull.rest_voltage)} at rest"
    saving = [one for one in found.savings if one.found]
    saving.sort(key=lambda one: one.lever.key != "line_limit")
    if saving:
        change = lever_words.change_text(saving[0].lever, saving[0].present, saving[0].value, fmt)
        text += f"; saved by {change[:1].lower()}{change[1:]}"
    return text


def _hint(replay: Replay) -> str:
    """What to look at, by what is furthest apart."""
    cut = replay.pull.cut_out
    amps = cut.current_before / max(replay.current, 1e-9) - 1
    volts = cut.voltage_before / replay.voltage - 1 if np.isfinite(cut.voltage_before) else 0.0
    if abs(amps) > _AMPS_APART:
        if amps > 0:
            return "Your bike drew more than the build does: check its line and phase limits and the power level."
        return (
            "Your bike drew less than the build does: check its limits and the power level, and whether the "
            "throttle was held open."
        )
    if abs(volts) > _VOLTS_APART:
        if volts < 0:
            return "Your pack sags more than the build's: it has more resistance, or is colder or emptier."
        return "Your pack sags less than the build's: it has less resistance, or is warmer or fuller."
    return (
        "Volts and amps agree, so what differs is what switches the pack off: check the BMS thresholds and delays, "
        "and the weakest cell. A loose connector or a kill switch looks the same in a log."
    )


def _taken(ridden: Ridden, fmt: UnitFormatter) -> str:
    """What the log says of the pull, and what is as entered."""
    pull = ridden.pull
    day, controller = pull.build.conditions, pull.build.controller
    parts = []
    charge = f"{fmt('charge', day.charge)} charge"
    if math.isfinite(pull.rest_voltage):
        parts.append(f"{fmt('voltage', pull.rest_voltage)} at rest ({charge})")
    elif "conditions.charge" in pull.told:
        parts.append(charge)
    temperature = fmt("temperature", day.pack_temperature if day.pack_temperature else day.air_temperature)
    warm = "conditions.pack_temperature" in pull.told
    if warm:
        parts.append(f"a pack at {temperature}")
    if "controller.line_current_limit" in pull.told:
        parts.append(f"{fmt('current', controller.line_current_limit)} at most")
    if controller.throttle < saved_words.FLAT_OUT and "controller.throttle" in pull.told:
        parts.append(f"{fmt('share', controller.throttle, 0)} throttle")
    if "controller.throttle_ramp_time" in pull.told:
        parts.append(f"a throttle opened in {fmt('time', controller.throttle * controller.throttle_ramp_time)}")
    parts += ["the fitted values"] if ridden.fitted else []
    text = f"Taken from the log: {joined(parts)}." if parts else "The log says nothing of how the pull began."
    return text if warm else f"{text} The log has no pack temperature: {temperature}, as entered, is assumed."


def _unsure(pull: CutOutPull) -> str:
    if pull.cut_out.certain:
        return ""
    return " The log has no throttle: if you shut it yourself there, nothing needed saving."


def derivation(ridden: Ridden, found: Survival | None, page: Page) -> list[Step]:
    """Charge from the voltage at rest, how far log and model are apart, and what would have saved the pull."""
    pull, replay = ridden.pull, ridden.replay
    pack = pull.build.pack
    steps = []
    if math.isfinite(pull.rest_voltage):
        steps.append(
            Step(
                "Voltage of a cell at rest before the pull",
                r"u = U_0 / n",
                f"{put(pull.rest_voltage, 5)} / {pack.cells_in_series}",
                pull.rest_voltage / pack.cells_in_series,
                "V",
                "U₀ pack voltage in the log while no current flows, up to three seconds before the pull, V; n "
                f"cells in series. The pull is ridden from {100 * pull.build.conditions.charge:.1f} % charge",
                REST_VOLTAGE[pack.chemistry],
                digits=4,
            )
        )
    left_out = (
        "Left out: what still settles in the pack from before the pull, wind and slope other than those entered, "
        "and a throttle that is not held once it is open"
    )
    if replay.opens:
        high, low = max(replay.time, pull.held), min(replay.time, pull.held)
        steps.append(
            Step(
                "How far apart the cut-outs of log and model are",
                r"\Delta t = |t_m - t_l|",
                f"{put(high, 5)} − {put(low, 5)}",
                high - low,
                "s",
                f"t_m model, t_l log, from the start of the pull; up to {pull.slack:.1f} s they count as one, "
                f"where volts agree within 5 % and amps within 10 %. {left_out}",
                SAME_CUT_OUT,
                digits=2,
            )
        )
    return steps + ([] if found is None else saving(found))
