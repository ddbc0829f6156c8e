"""Figures as pure functions: complete, finite, in known colours, fit to be sent; and the words beside them."""

import numpy as np
import pytest

from explorer.components import palette
from explorer.components.live_chart import pack
from explorer.format import UnitFormatter
from explorer.page import words
from explorer.page.page import Page
from explorer.questions.headroom import chart as headroom
from explorer.questions.headroom.results import headroom_of
from explorer.questions.heat import chart as heat
from explorer.questions.line_limit import chart as line_limit
from explorer.questions.line_limit.results import LimitAnswer
from explorer.questions.pack_gauge import marks
from explorer.questions.pack_gauge.chart import figure as pack_gauge
from explorer.questions.packs_on_offer import chart as burst_power
from explorer.questions.packs_on_offer.results import BurstAnswer
from explorer.questions.run import chart as run
from explorer.questions.run.words import limits_in_turn
from explorer.questions.sag import chart as sag
from explorer.questions.sag import timers as protection
from explorer.questions.voltage_window import chart as voltage_window
from physics.limits import RULES
from physics.scenarios.burst import burst_power as burst
from physics.scenarios.pull import Pull
from physics.scenarios.repeated_pulls import repeated_pulls
from physics.simulation.run import run as ride
from physics.studies.full_power import full_power, thresholds
from physics.studies.limit_use import limit_use
from physics.studies.line_limit import line_limit as limit_map
from physics.studies.voltage_window import voltage_window as window_of
from tests.explorer.pages import CUTS_OUT, page_of

CORNERS = [
    {},
    {"cells": 10.0, "capacity": 5.0, "charge": 0.0},
    {"cells": 32.0, "line_3": 600.0, "phase_3": 1500.0, "charge": 100.0},
    {"line_3": 20.0, "phase_3": 50.0, "throttle": 10.0, "slope": 15.0, "headwind": 60.0},
    {"air_temperature": -20.0, "pack_resistance": 400.0},
    {"air_temperature": 50.0, "kv": 200.0, "pack_resistance": 5.0},
    {"kv": 10.0, "duration": 5.0, "target": 200.0},
    {"continuous_current": None, "peak_current": None, "fast_current": None, "overvoltage": None, "regen": 300.0},
    {"chemistry": "lfp", "field_weakening": 600.0, "posture": "tucked", "slope": -15.0},
    {"front_teeth": 20.0, "rear_teeth": 25.0, "regen": 0.0, "headroom_wanted": 0.0},
    CUTS_OUT,
]


def always_drawn(page: Page) -> list[dict]:
    """The figures of the run, the sag, the gauge and the headroom."""
    shared = (headroom_of(page), page.build, page.headroom_wanted, page.fmt)
    return [
        run.figure(page.run, page.fmt, page.target_speed, page.baseline_run),
        sag.figure(page.run, page.build, page.fmt, page.baseline_run),
        pack_gauge(page, marks.of(page)),
        headroom.against_current(*shared),
        headroom.against_temperature(*shared),
    ]


def leaves(part):
    """Every value in a figure that holds no other."""
    if isinstance(part, dict):
        part = list(part.values())
    if isinstance(part, list | tuple):
        for inner in part:
            yield from leaves(inner)
    elif isinstance(part, np.ndarray):
        yield from part.astype(float).ravel()
    else:
        yield part


def numbers(part):
    """Every number in a figure."""
    return [leaf for leaf in leaves(part) if isinstance(leaf, float)]


def tokens(part):
    """Every colour token of a figure."""
    return [leaf for leaf in leaves(part) if isinstance(leaf, str) and leaf.startswith("@")]


@pytest.mark.parametrize("system", ["metric", "US"])
@pytest.mark.parametrize("index", range(len(CORNERS)))
def test_figures_and_words_at_the_corners(index, system):
    """property: no NaN or infinity in the run's and the sag's figure, known colours, and sentences without NaN."""
    page = page_of(units=system, **CORNERS[index])
    figures = always_drawn(page)
    for figure in figures:
        pack(figure, key="k", height=1, alt="")
        assert {palette.colour(token) for token in tokens(figure)}.isdisjoint(tokens(figure))
        assert all(trace["name"] for trace in figure["data"] if trace.get("showlegend", True))
        assert all(np.isfinite(numbers(figure["layout"])))
    for figure in figures[:2]:
        assert all(np.isfinite(numbers(figure["data"])))
    kind, sentence = words.headline(page)
    turns = limits_in_turn(page.run, page.fmt)
    text = " ".join((sentence, words.what_holds(page), words.pack_stays_closed(page), turns))
    assert kind in ("reaches", "misses", "cuts out")
    assert "nan" not in text
    assert "not known" not in text


@pytest.mark.parametrize("system", ["metric", "US"])
def test_figures_travel_and_use_known_colours(system):
    """property: every figure can be sent, and each of its colours is one of the palette's."""
    build, fmt = page_of().build, UnitFormatter(system)
    pulls = repeated_pulls(build, Pull(8.0), 60.0, 3, steps=40)
    limits = limit_map(build, Pull(8.0), 1.0, [270.0, 279.15], [0.3, 0.9], 10.0, 40)
    tried, used = np.linspace(50.0, 250.0, 5), np.tile(np.linspace(0, 1, 5)[:, None], len(RULES))
    limit_answer = LimitAnswer(
        limits, 1, 1, tried, used, used[:, 0], limit_use(build, Pull(8.0), [200.0], limits.cases, 40)
    )
    asked, temperatures = burst(build, 14e3, 10.0), np.array([279.15, 300.0])
    burst_answer = BurstAnswer(asked, np.array([1.0, 10.0]), temperatures, np.full((2, 2), 2e4), 0)
    figures = [
        protection.figure(ride(build, 10.0), list(RULES), ride(build, 8.0)),
        line_limit.map_figure(limit_answer, 200.0, fmt),
        line_limit.ladder_figure(limit_answer, 200.0),
        voltage_window.figure(window_of(build, 25.0, 20.0, steps=40), 98.0, fmt, pulls.rest_voltage[0]),
        voltage_window.figure(window_of(build, 90.0, 20.0, steps=40), 98.0, fmt),
        burst_power.figure(burst_answer, fmt),
        heat.held_figure(full_power(build, 60.0), fmt),
        heat.pulls_figure(pulls, thresholds(build)[:, 0], fmt),
    ]
    for figure in figures:
        assert len(pack(figure, key="a", height=300, alt="b")) < 60_000
        names = {token[1:].split("/")[0] for token in tokens(figure)}
        assert names
        assert names <= set(palette.LIGHT) & set(palette.DARK)
