"""Will it cut out: how much of each allowance of the pack's protection the run uses, tripped or not."""

from __future__ import annotations

import numpy as np
import pandas as pd

from explorer.derivations import pack as why_pack
from explorer.frame.layout import show
from explorer.page import words
from explorer.page.page import Page
from explorer.questions.protection import chart
from physics.limits import RULES
from physics.simulation.result import RunResult

TITLE = "Will it cut out?"
OPEN = True
MARGINAL = 0.8
"""Share of an allowance from which a run counts as marginal."""


def draw(page: Page) -> None:
    """Verdict, the clocks against time, and what came nearest to each threshold."""
    on = active(page)
    show(
        "protection",
        verdict=verdict(page),
        derivation=lambda: why_pack.protection(page),
        figure=chart.figure(page.run, on, page.baseline_run) if on else None,
        height=chart.HEIGHT,
        alt=f"Share of each protection rule's allowance against time. {verdict(page).replace('*', '')}",
        note=note(page),
        table=lambda: table(page),
        caution=words.CAUTION_CUT_OUT,
    )


def active(page: Page) -> list[str]:
    """The rules that are switched on."""
    rules = page.build.pack.protection
    on = {
        "continuous current": np.isfinite(min(rules.continuous_current, rules.peak_current)),
        "fast over-current": np.isfinite(rules.fast_current),
        "under-voltage": rules.cell_undervoltage > 0,
        "pack temperature": True,
    }
    return [name for name in RULES if on[name]]


def verdict(page: Page) -> str:
    """Whether it cuts out, and by how much it does not."""
    run, fmt = page.run, page.fmt
    used = dict(zip(RULES, run.allowance_used[0], strict=True))
    if np.isfinite(run.cut_out_time[0]):
        return f"**Yes.** {words.cut_out(page)} From there you coast: the pack stays off.{_before(page)}"
    order = sorted(active(page), key=used.get, reverse=True)
    some = [f"{fmt('share', used[name])} of the {name} allowance" for name in order if used[name] >= chart.LEAST]
    cell = words.weakest_cell(page)
    if not some:
        return f"**No:** the run uses none of any allowance. {cell}{_before(page)}"
    text = some[0] if len(some) == 1 else ", ".join(some[:-1]) + " and " + some[-1]
    if used[order[0]] >= MARGINAL:
        start = "**Not in this run, but it is marginal:**"
    else:
        start = "**No:**"
    return f"{start} the run uses {text}. {cell}{_before(page)}"


def _volts(page: Page) -> str:
    return page.fmt("cell voltage", page.build.pack.protection.cell_undervoltage)


def _before(page: Page) -> str:
    """The baseline in a sentence."""
    old = page.baseline_run
    if old is None:
        return ""
    if np.isfinite(old.cut_out_time[0]):
        return f" The baseline cuts out after {page.fmt('time', old.cut_out_time[0])}."
    rule, used = words.nearest_rule(old)
    return f" The baseline uses {page.fmt('share', used)} of the {rule} allowance."


def note(page: Page) -> str:
    """How to read it, and which rules are off."""
    text = (
        "Each line is a clock of the protection: it fills while a threshold is passed, and at 100 % the pack cuts "
        "out. The controller's overshoot and the weakest cell are counted."
    )
    used = dict(zip(RULES, page.run.allowance_used[0], strict=True))
    idle = [name for name in active(page) if used[name] < chart.LEAST]
    if idle and len(idle) < len(active(page)):
        text += f" Untouched, so not drawn: {', '.join(idle)}."
    off = [name for name in RULES if name not in active(page)]
    if off:
        text += f" Switched off in this build, so not watched: {', '.join(off)}."
    return text


def table(page: Page) -> pd.DataFrame:
    """Threshold, time allowed, nearest approach and share used, rule by rule."""
    rules, run, fmt = page.build.pack.protection, page.run, page.fmt
    overshoot = 1 + page.build.controller.overshoot
    peak = fmt("current", overshoot * run.line_current[0].max())
    temperature = run.pack_temperature[0]
    window = (rules.discharge_temperature_minimum, rules.discharge_temperature_maximum)
    steady, most = fmt("current", rules.continuous_current), fmt("current", rules.peak_current)
    rows = {
        "continuous current": (f"above {steady}", f"{fmt('time', rules.peak_time)} at {most}", peak),
        "fast over-current": (fmt("current", rules.fast_current), f"{1000 * rules.fast_delay:.0f} ms", peak),
        "under-voltage": (
            f"weakest cell below {_volts(page)}", fmt("time", rules.undervoltage_delay),
            fmt("cell voltage", run.minimum_cell_voltage[0]),
        ),
        "pack temperature": (
            f"below {fmt('temperature', window[0])} or above {fmt('temperature', window[1])}",
            fmt("time", rules.temperature_delay),
            f"{fmt('temperature', temperature.min())} to {fmt('temperature', temperature.max())}",
        ),
    }  # fmt: skip
    used = _used(run)
    return pd.DataFrame(
        [
            {
                "rule": name,
                "threshold": rows[name][0] if name in active(page) else "off",
                "for": rows[name][1],
                "this run": rows[name][2],
                "allowance used": fmt("share", used[name]),
            }
            for name in RULES
        ]
    )


def _used(run: RunResult) -> dict[str, float]:
    return dict(zip(RULES, run.allowance_used[0], strict=True))
