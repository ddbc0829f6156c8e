"""The protection in words: the verdict, its derivation, how to read the chart, the numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from explorer.derivations import pack
from explorer.derivations.derivation import Instant, Step, put
from explorer.derivations.sources import PRACTICE
from explorer.format import joined
from explorer.page.page import Page
from explorer.page.words import UNTOUCHED, cut_out, nearest_rule, past_rating, weakest_cell
from physics.build.batch import Batch
from physics.limits import CONTINUOUS_CURRENT, RULES, TIMED_OVER_CURRENT
from physics.simulation.protection import TripTimers
from physics.simulation.result import RunResult

if TYPE_CHECKING:
    import pandas as pd

MARGINAL = 0.8
"""Fraction of an allowance from which a run counts as marginal."""


def active(page: Page) -> list[str]:
    """The rules that are switched on."""
    watched = TripTimers(Batch.of(page.build)).watched[:, 0]
    return [name for name, on in zip(RULES, watched, strict=True) if on]


def verdict(page: Page) -> str:
    """Whether it cuts out, and by how much it does not."""
    run, fmt = page.run, page.fmt
    used = _used(run)
    if np.isfinite(run.cut_out_time[0]):
        return f"**Yes.** {cut_out(page)} From there you coast; the pack stays off.{_also(page)}"
    order = sorted(active(page), key=lambda name: used[name], reverse=True)
    some = [f"{fmt('share', used[name])} of the {name} limit" for name in order if used[name] >= UNTOUCHED]
    cell = weakest_cell(page)
    if not some:
        return f"**No:** the run stays inside every BMS limit. {cell}{_also(page)}"
    if used[order[0]] >= MARGINAL:
        start = "**Not in this run, but it is marginal:**"
    else:
        start = "**No:**"
    return f"{start} the run uses {joined(some)}. {cell}{_also(page)}"


def _also(page: Page) -> str:
    """A rating that is passed, and the baseline, in a sentence each."""
    old, rated = page.baseline_run, past_rating(page)
    text = f" {rated}" if rated else ""
    if old is None:
        return text
    if np.isfinite(old.cut_out_time[0]):
        return f"{text} The baseline cuts out after {page.fmt('time', old.cut_out_time[0])}."
    rule, used = nearest_rule(old)
    return f"{text} The baseline uses {page.fmt('share', used)} of the {rule} limit."


def note(page: Page) -> str:
    """How to read it, and which rules are off."""
    text = (
        "Each line is a BMS timer; it trips at 100 %. It counts while its threshold is exceeded. The "
        "controller's overshoot and the weakest cell are included."
    )
    if {RULES[CONTINUOUS_CURRENT], RULES[TIMED_OVER_CURRENT]} <= set(active(page)):
        text += (
            " You have not said whether time above the continuous current counts by a plain timer or by "
            "the square of current, so both run and the first to trip counts."
        )
    used = _used(page.run)
    idle = [name for name in active(page) if used[name] < UNTOUCHED]
    if idle and len(idle) < len(active(page)):
        text += f" Never started, so not drawn: {', '.join(idle)}."
    off = [name for name in RULES if name not in active(page)]
    if off:
        text += f" Off in this build: {', '.join(off)}."
    return text


def derivation(page: Page) -> list[Step]:
    """The rules of the protection at the run's highest current and lowest cell voltage."""
    runs, overshoot = page.run, page.build.controller.overshoot
    most = Instant(page.build, runs, 0, int(np.argmax(runs.line_current[0])))
    lowest = Instant(page.build, runs, 0, int(np.argmin(runs.weakest_cell_voltage[0])))
    current = most.line_current * (1 + overshoot)
    steps = [
        Step(
            "Current the BMS sees",
            r"I_p = I\,(1 + o)",
            f"{put(most.line_current, 5)} × (1 + {put(overshoot)})",
            current,
            "A",
            "I highest line current of the run, A; o the controller's overshoot",
            PRACTICE,
        ),
        *pack.overcurrent(page.build, current),
        pack.weakest(lowest),
    ]
    rules = page.build.pack.protection
    if rules.cell_undervoltage > 0:
        steps.append(
            Step(
                "Margin above the cut-out threshold",
                r"u - u_{min}",
                f"{put(lowest.weakest_cell_voltage, 5)} − {put(rules.cell_undervoltage)}",
                lowest.weakest_cell_voltage - rules.cell_undervoltage,
                "V",
                f"u lowest voltage of the weakest cell, V; u_min the threshold, V. Below zero for "
                f"{rules.undervoltage_delay:g} s the pack cuts out",
                PRACTICE,
                digits=2,
            )
        )
    return steps


def alt(page: Page) -> str:
    """What the chart shows."""
    return f"How much of each BMS limit is used, against time. {verdict(page).replace('*', '')}"


def table(page: Page) -> pd.DataFrame:
    """Threshold, time allowed, nearest approach, what is left to it, and fraction used, rule by rule."""
    import pandas as pd  # a third of a second at the first visit, and no chart needs it

    rules, run, fmt = page.build.pack.protection, page.run, page.fmt
    overshoot = 1 + page.build.controller.overshoot
    peak = fmt("current", overshoot * run.line_current[0].max())
    temperature = run.pack_temperature[0]
    window = (rules.discharge_temperature_minimum, rules.discharge_temperature_maximum)
    steady, most = fmt("current", rules.continuous_current), fmt("current", rules.peak_current)
    threshold = fmt("current", min(rules.continuous_current, rules.peak_current))
    rows = {
        "continuous current": (f"above {steady}", f"{fmt('time', rules.peak_time)} at {most}", peak),
        "timed over-current": (f"above {threshold}", fmt("time", rules.peak_time), peak),
        "fast over-current": (fmt("current", rules.fast_current), f"{1000 * rules.fast_delay:.0f} ms", peak),
        "under-voltage": (
            f"weakest cell below {fmt('cell voltage', rules.cell_undervoltage)}",
            fmt("time", rules.undervoltage_delay),
            fmt("cell voltage", run.minimum_cell_voltage[0]),
        ),
        "pack temperature": (
            f"below {fmt('temperature', window[0])} or above {fmt('temperature', window[1])}",
            fmt("time", rules.temperature_delay),
            f"{fmt('temperature', temperature.min())} to {fmt('temperature', temperature.max())}",
        ),
    }
    used, highest = _used(run), overshoot * float(run.line_current[0].max())
    below = ("current", min(rules.continuous_current, rules.peak_current) - highest)
    left = {
        "continuous current": below,
        "timed over-current": below,
        "fast over-current": ("current", rules.fast_current - highest),
        "under-voltage": ("cell voltage", run.minimum_cell_voltage[0] - rules.cell_undervoltage),
        "pack temperature": (
            "temperature difference",
            min(temperature.min() - window[0], window[1] - temperature.max()),
        ),
    }
    return pd.DataFrame(
        [
            {
                "rule": name,
                "threshold": rows[name][0] if name in active(page) else "off",
                "for": rows[name][1],
                "this run": rows[name][2],
                "left to the threshold": fmt(*left[name]) if name in active(page) else "off",
                "BMS limit used": fmt("share", used[name]),
            }
            for name in RULES
        ]
    )


def _used(run: RunResult) -> dict[str, float]:
    """Fraction of its allowance that each rule has used."""
    return dict(zip(RULES, map(float, run.allowance_used[0]), strict=True))
