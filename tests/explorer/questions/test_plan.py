"""The sections that plan pulls, as Streamlit runs them: verdicts, tables, inputs, folding, units, far ends."""

from pathlib import Path

import numpy as np
import pytest
from streamlit.testing.v1 import AppTest

from explorer.components.live_chart import pack
from explorer.components.palette import DARK, LIGHT
from explorer.format import UnitFormatter
from explorer.inputs.presets import FIRST, PRESETS
from explorer.inputs.to_build import make_build
from explorer.page.results_plan import BurstAnswer, LimitAnswer
from explorer.questions.burst_power import chart as burst
from explorer.questions.heat import chart as heat
from explorer.questions.line_limit import chart as limit_map
from explorer.questions.protection import chart as clocks
from explorer.questions.voltage_window import chart as voltage_window
from physics.limits import RULES
from physics.scenarios.burst import burst_power
from physics.scenarios.pull import Pull
from physics.scenarios.repeated_pulls import repeated_pulls
from physics.simulation.run import run
from physics.studies.full_power import full_power, thresholds
from physics.studies.line_limit import line_limit
from physics.studies.voltage_window import voltage_window as window_of

APP = str(Path(__file__).parents[3] / "explorer" / "app.py")
CAUTIONS = {
    "protection": "never bypass",
    "line_limit": "never a wider protection",
    "voltage_window": "Count the way back",
    "burst_power": "only as its maker allows",
    "heat": "burn skin",
}
NAMES = tuple(CAUTIONS)


def opened(*names: str, **link) -> AppTest:
    """The page with just these sections unfolded."""
    page = AppTest.from_file(APP, default_timeout=60)
    for key, value in link.items():
        page.query_params[key] = str(value)
    for name in NAMES:
        page.session_state[f"section_{name}"] = name in names
    page.run()
    assert not page.exception, [error.value for error in page.exception]
    return page


def written(page: AppTest) -> str:
    blocks = [*page.markdown, *page.caption, *page.info, *page.error, *page.warning]
    return " ".join(block.value for block in blocks).replace("\u00a0", " ")


def tokens(part):
    """Every colour token of a figure."""
    if isinstance(part, dict):
        part = list(part.values())
    if isinstance(part, list | tuple):
        return [token for inner in part for token in tokens(inner)]
    return [part] if isinstance(part, str) and part.startswith("@") else []


@pytest.mark.parametrize("system", ["metric", "US"])
def test_figures_travel_and_use_known_colours(system):
    """property: every figure can be sent, and each of its colours is one of the palette's."""
    build, fmt = make_build(PRESETS[FIRST].values()), UnitFormatter(system)
    pulls = repeated_pulls(build, Pull(8.0), 60.0, 3, steps=40)
    limits = line_limit(build, Pull(8.0), 0.2, [270.0, 279.15], [0.3, 0.9], 10.0, 40)
    tried, used = np.linspace(50.0, 250.0, 5), np.tile(np.linspace(0, 1, 5)[:, None], len(RULES))
    asked = burst_power(build, 14e3, 10.0)
    answer = BurstAnswer(asked, np.array([1.0, 10.0]), np.array([279.15, 300.0]), np.full((2, 2), 2e4), 0)
    made = [
        clocks.figure(run(build, 10.0), list(RULES), run(build, 8.0)),
        limit_map.map_figure(LimitAnswer(limits, 1, 1, tried, used, used[2]), 200.0, fmt),
        limit_map.ladder_figure(LimitAnswer(limits, 1, 1, tried, used, used[2]), 200.0, 0.2),
        voltage_window.figure(window_of(build, 25.0, 20.0, steps=40), 98.0, fmt, pulls.rest_voltage[0]),
        voltage_window.figure(window_of(build, 90.0, 20.0, steps=40), 98.0, fmt),
        burst.figure(answer, fmt),
        heat.held_figure(full_power(build, 60.0, steps=40), fmt),
        heat.pulls_figure(pulls, thresholds(build)[:, 0], fmt),
    ]
    for figure in made:
        assert len(pack(figure, key="a", height=300, alt="b")) < 60_000
        names = {token[1:].split("/")[0] for token in tokens(figure)}
        assert names
        assert names <= set(LIGHT) & set(DARK)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("preset", PRESETS)
def test_every_section_answers_every_preset(name, preset):
    """Verdict in words, a caution, no fault, and nothing that is not a number."""
    text = written(opened(name, preset=preset))
    assert "**" in text
    assert "nan" not in text.lower().split()
    assert "not known" not in text
    assert CAUTIONS[name] in text


def test_folded_sections_compute_nothing(monkeypatch):
    """None of the cached answers is asked for while the sections are folded."""
    from explorer.page import results_plan

    def refuse(*_):
        raise AssertionError("A folded section computed something.")

    for name in ("limit_answer", "window_answer", "pulls_answer", "burst_answer", "warming_answer", "heat_answer"):
        monkeypatch.setattr(results_plan, name, refuse)
    assert "never bypass" not in written(opened())


def test_protection_says_how_much_is_used_though_nothing_tripped():
    """A long delay and a high threshold: the clock runs and nothing opens."""
    page = opened("protection", undervoltage=3.35, undervoltage_delay=20)
    text = written(page)
    assert "% of the under-voltage allowance" in text
    assert "**No" in text or "marginal" in text


def test_protection_says_yes_where_it_cuts_out():
    text = written(opened("protection", fast_current=120))
    assert "**Yes.**" in text
    assert "fast over-current" in text
    assert "From there you coast" in text


def test_a_rule_that_is_off_is_named():
    assert "Switched off in this build, so not watched: fast over-current" in written(
        opened("protection", fast_current="off")
    )


def test_line_limit_follows_the_cold():
    """Colder and emptier: the verdict goes from none needed to a limit, with the rule that decides."""
    warm = written(opened("line_limit", air_temperature=25, charge=95))
    cold = written(opened("line_limit", air_temperature=-10, charge=50))
    assert "No line limit is needed today" in warm
    assert "A or less.**" in cold
    assert "the under-voltage rule is the first to leave less" in cold


def test_line_limit_table_prints_today():
    page = opened("line_limit")
    page.session_state["table_line_limit"] = True
    page.run()
    assert not page.exception
    table = page.table[0].value
    assert any("(today)" in str(name) for name in table.columns)
    assert any("(today)" in str(name) for name in table.index)
    assert table.shape[0] >= 5


def test_line_limit_none_survives():
    text = written(opened("line_limit", pack_temperature=-15, discharge_minimum=0))
    assert "No line limit is low enough" in text


def test_holding_the_target_is_another_pull():
    text = written(opened("line_limit", pull_hold=10, target=80))
    assert "a pull to 80 km/h, held for 10 s" in text


def test_voltage_window_counts_pulls():
    text = written(opened("voltage_window", target=100))
    assert "is out of reach below" in text or "within reach from any charge" in text
    assert "pull" in text


def test_voltage_window_out_of_reach():
    assert "out of reach today at any charge" in written(opened("voltage_window", target=200))


def test_pull_by_pull_table():
    page = opened("voltage_window", target=90)
    page.session_state["table_voltage_window_pulls"] = True
    page.session_state["table_voltage_window"] = True
    page.run()
    assert not page.exception
    frames = [frame.value for frame in page.dataframe]
    assert any("pull" in frame.columns for frame in frames)
    assert not any(frame.astype(str).eq("nan").any().any() for frame in frames)


def test_burst_says_yes_and_no():
    assert "**Yes: it gives 5.0 kW for 10 s**" in written(opened("burst_power", burst_power=5))
    assert "**No: not 100.0 kW for 60 s" in written(opened("burst_power", burst_power=100, burst_time=60))


def test_pre_warmed_table():
    page = opened("burst_power", air_temperature=-5)
    page.session_state["table_burst_warming"] = True
    page.run()
    assert not page.exception
    table = next(frame.value for frame in page.dataframe if "resistance" in frame.value.columns)
    assert len(table) == 4
    resistances = [float(text.split()[0]) for text in table["resistance"]]
    assert np.all(np.diff(resistances) < 0)


def test_heat_held_and_pull_by_pull():
    assert "Heat is not what ends it" in written(opened("heat")) or "Full power lasts" in written(opened("heat"))
    text = written(opened("heat", heat_view="pulls", heat_count=4))
    assert "All 4 pulls go through" in text or "ends in a cut-out" in text


@pytest.mark.parametrize("name", NAMES)
def test_us_units(name):
    text = written(opened(name, units="US"))
    section = text[text.index("**") :]
    assert "°C" not in section.replace("25 °C", "")


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(
    "link",
    [
        {"charge": 0}, {"charge": 100, "air_temperature": -20},
        {"cells": 10, "capacity": 5, "pack_resistance": 400},
        {"air_temperature": 50, "discharge_maximum": 40}, {"throttle": 10, "slope": 15},
        {"continuous_current": "off", "peak_current": "off", "fast_current": "off"},
    ],
    ids=str,
)  # fmt: skip
def test_far_ends_of_the_inputs(name, link):
    """property: the ends of the inputs' ranges give a verdict or a plain sentence, never an exception or a NaN."""
    text = written(opened(name, **link))
    assert "nan" not in text.lower().split()
    assert "not known" not in text
