"""Experiments: what is said agrees with the runs, on any build; the guess comes before anything is run."""

import re

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from explorer.charts import parts
from explorer.components.live_chart import pack
from explorer.components.palette import DARK, LIGHT
from explorer.format import UnitFormatter
from explorer.inputs.presets import PRESETS, STARTS
from explorer.questions.experiments import chart, force_chart, results, words
from explorer.questions.experiments import regen as regen_words
from explorer.questions.experiments.catalogue import BY_KEY, CELL, EXPERIMENTS
from explorer.questions.experiments.results import ONE_EVENT, braking, forces
from explorer.questions.experiments.section import two_runs
from explorer.questions.experiments.two_runs import TwoRuns
from explorer.state import link_entries
from physics.components import cell, cell_resistance
from physics.components.cell import chemistry
from physics.limits import CUT_OUT, LIMITS
from physics.scenarios.charging import ChargeEvent, fullest_cell_voltages, rest_beyond_full
from physics.simulation.run import run
from tests.explorer.pages import SUPERMOTO, opened, page_of, written
from tests.explorer.plain_words import slips, unsaid
from tests.explorer.random_builds import sound_inputs

RANDOM_BUILDS = 12


def runs_of(experiment, inputs, system="metric", duration=None) -> TwoRuns:
    """Both runs of an experiment, without the page."""
    builds, fmt = experiment.builds(inputs), UnitFormatter(system)
    runs = run(list(builds), float(duration or inputs["duration"]))
    events = tuple(map(braking, builds, experiment.plans)) if experiment.chart == CELL else None
    return TwoRuns(builds, runs, experiment.names(inputs, fmt), fmt, events)


def runs_together(experiment, every, system="metric", duration=25.0) -> list[TwoRuns]:
    """The same for many builds, all in one batch."""
    fmt = UnitFormatter(system)
    pairs = [experiment.builds(inputs) for inputs in every]
    runs = run([build for pair in pairs for build in pair], duration)
    result = []
    for index, (pair, inputs) in enumerate(zip(pairs, every, strict=True)):
        events = tuple(map(braking, pair, experiment.plans)) if experiment.chart == CELL else None
        two = runs.take([2 * index, 2 * index + 1])
        result.append(TwoRuns(pair, two, experiment.names(inputs, fmt), fmt, events))
    return result


EVERY = [*(preset.values() for preset in PRESETS.values()), *sound_inputs(RANDOM_BUILDS)]


def spoken(text: str) -> float:
    return float(text.replace(",", "").replace("−", "-"))


def check_claims(text: str, two: TwoRuns) -> None:
    """Every claim of a text against the runs, read off them here in another way."""
    each = [two.runs.one(row) for row in (0, 1)]
    powered = [np.where(run.limit[0] == CUT_OUT, 0.0, run.speed[0]) for run in each]  # coasting is no drive
    top = np.array([3.6 * speed.max() for speed in powered])
    if found := re.search(r"from ([\d.,]+) km/h to ([\d.,]+) km/h: ([\d.,]+) km/h (faster|slower)", text):
        before, after, much = (spoken(number) for number in found.groups()[:3])
        assert before == pytest.approx(top[0], abs=0.0501)
        assert after == pytest.approx(top[1], abs=0.0501)
        assert much == pytest.approx(abs(after - before), abs=1e-9)  # as printed
        assert (found[4] == "faster") == (top[1] > top[0])
    if found := re.search(r"(?:Top speed|The highest speed in the run) is ([\d.,]+) km/h either way", text):
        assert top == pytest.approx(spoken(found[1]), abs=0.0501)
    if re.search(r"hardly changes", text):
        assert abs(top[1] - top[0]) <= 0.0051 * top.max()
    if "Top speed" in text:
        assert two.runs.settled.all()
    for found in re.finditer(r"at ([\d.,]+) km/h (sooner|later): after ([\d.,]+) s instead of ([\d.,]+) s", text):
        # the speed is printed without digits after the point, so the time may be off by what half a km/h takes
        low, high = ((spoken(found[1]) + off) / 3.6 for off in (-0.5, 0.5))
        early, late = two.runs.time_to(low), two.runs.time_to(high)
        for place, said in ((1, found[3]), (0, found[4])):
            assert early[place] - 0.006 <= spoken(said) <= np.nan_to_num(late[place], nan=np.inf) + 0.006
        assert (found[2] == "sooner") == (spoken(found[3]) < spoken(found[4]))
    cut = np.isfinite(two.runs.cut_out_time)
    if "the pack **cuts out**" in text:
        happened = text.split("\n\n")[0].replace(". ", ".\n").split("\n")
        assert ["cuts out" in sentence for sentence in happened] == list(cut)
    if "holds it back in both runs" in text:
        places = [max(speed.argmax() - 1, 0) for speed in powered]
        held = [LIMITS[run.limit[0, place]] for run, place in zip(each, places, strict=True)]
        assert held[0] == held[1]
    if "none of it is used" in text:
        assert abs(two.fastest(1).i_d) < 1
    if found := re.search(r"The deepest sag: from ([\d.]+) V to ([\d.]+) V", text):
        sag = (two.runs.rest_voltage - two.runs.pack_voltage).max(axis=1)
        assert [spoken(found[1]), spoken(found[2])] == pytest.approx(list(sag), abs=0.0501)
    if found := re.search(r"The strongest drive at the wheel: from ([\d,]+) N to ([\d,]+) N", text):
        assert [spoken(found[1]), spoken(found[2])] == pytest.approx(
            list(two.runs.drive_force.max(axis=1)), abs=0.501
        )


@pytest.mark.parametrize("experiment", EXPERIMENTS, ids=lambda one: one.key)
def test_what_is_said_agrees_with_the_runs(experiment):
    """property: on the presets and on random builds nothing raises, and every claim agrees with the runs."""
    for two in runs_together(experiment, EVERY):
        assert experiment.judge(two) in dict(experiment.answers)
        text = "\n\n".join(experiment.explanation(two))
        assert text.count("\n\n") == 1
        check_claims(text, two)
        assert not [*slips(text), *unsaid(text)], text
        for bad in ("nan", "inf ", "not known", "  ", "None", "-0."):
            assert bad not in text.replace("\n\n", " "), text
        steps = experiment.derivation(two)
        assert all(step.source and step.equation for step in steps)
        rows = (regen_words if experiment.chart == CELL else words).numbers(two)
        assert all(len(row) == 3 for row in rows)


def test_there_are_enough_and_their_names_are_their_own():
    keys = [experiment.key for experiment in EXPERIMENTS]
    assert len(keys) == len(set(keys)) >= 8
    for experiment in EXPERIMENTS:
        labels = [label for _, label in experiment.options]
        assert 2 <= len(labels) == len(set(labels)) <= 4


@pytest.mark.parametrize("experiment", EXPERIMENTS, ids=lambda one: one.key)
def test_one_thing_is_changed(experiment):
    """property: the two builds differ, and in no more than one part of the bike; or in how often they brake."""
    before, after = experiment.builds(PRESETS[SUPERMOTO].values())
    parts = [part for part in ("pack", "motor", "controller", "driveline", "bike", "conditions")
             if getattr(before, part) != getattr(after, part)]  # fmt: skip
    assert len(parts) + (experiment.plans[0] != experiment.plans[1]) == 1


def test_answers_turn_round_with_the_build():
    """The same experiment on two builds can have two answers: nothing is canned."""
    demo = PRESETS[SUPERMOTO].values() | {"overcurrent_law": "square of current"}  # by which neither run cuts out
    weak = demo | {"line_3": 60.0}
    sprocket = BY_KEY["sprocket"]
    assert sprocket.outcome(runs_of(sprocket, demo)) == "faster"
    assert sprocket.outcome(runs_of(sprocket, weak, duration=60)) != "faster"
    throttle = BY_KEY["half_throttle"]
    answers = {throttle.outcome(runs_of(throttle, PRESETS[name].values())) for name in PRESETS}
    assert len(answers) > 1


def test_regen_says_no_in_the_cold_and_yes_to_little_current():
    regen = BY_KEY["regen"]
    cold = runs_of(regen, PRESETS[SUPERMOTO].values() | {"pack_temperature": -10.0})
    assert regen.outcome(cold) == "none"
    assert "No regen at all" in regen.explain(cold).happened
    demo = runs_of(regen, PRESETS[SUPERMOTO].values())
    assert regen.outcome(demo) == "lower"
    found = demo.events
    # hand-worked: 26 Ah so cold take 5.2 A, of which 3 % are overshoot; 15 % more resistance than 52 milliohm, 3 K
    # colder, and a fullest cell ahead by 2 % that are entered, 1.5 % and 3 % of charge; measured with a pull's
    # 104 A, of which v asinh(k R I / v) is charge transfer, v = 24 x 2 x 8.314463 x 298.15 / 96485.33 = 1.23318 V
    k, volt = chemistry("nmc").transfer_fraction, 1.23318
    small = brentq(lambda r: (1 - k) * r * 104 + volt * np.arcsinh(k * r * 104 / volt) - 0.0598 * 104, 0.05, 0.5)
    event = ChargeEvent("nmc", 24, 26.0, small, 5.2 / 1.03, 276.15, 10.0, charge_spread=0.065, overshoot=0.03)
    for one, charge in zip(found, (1.0, 0.6), strict=True):
        again = fullest_cell_voltages(event, charge)[-1, -1]
        assert one.voltage[-1] == pytest.approx(float(again), abs=1e-4)  # steps of another length
    said = regen.explain(demo).because
    assert "40 A is more than the cells can take today; their limit is 5.0 A" in said
    assert found[1].voltage.max() < found[1].limit == found[0].limit < found[0].voltage.max()


def factor(charge: float) -> float:
    """Charging resistance of a cell over that at half charge."""
    return float(cell_resistance.resistance_charge_factor("nmc", charge, "charge"))


def test_the_series_follows_from_the_equations_of_the_cell():
    """exact solution: `solve_ivp` on dv/dt = (R(c) I - v) / t of each pair and dc/dt = I / C, event after event."""
    chosen, answers = BY_KEY["regen_series"], set()
    for name in PRESETS:
        two = runs_of(chosen, PRESETS[name].values())
        event, limit, charge = two.events[1].event, two.events[1].limit, two.builds[1].conditions.charge
        at_once, *settled = event.rises()
        flowing = float(event.current) * (1 + event.overshoot) / 3600 / event.capacity_ah

        def rates(_, state, on, settled=settled, flowing=flowing):
            drive = np.array(settled) * factor(state[0]) * on
            return [flowing * on, *((drive - state[1:]) / cell.PAIR_TIMES)]

        state, peaks = np.array([charge + event.charge_spread, *np.zeros(len(settled))]), []
        for _ in range(10):
            state = solve_ivp(rates, (0, 10), state, args=(1,), rtol=1e-8, atol=1e-10).y[:, -1]
            rest = float(rest_beyond_full("nmc", state[0]))
            peaks.append(rest + at_once * factor(state[0]) + state[1:].sum())
            state = solve_ivp(rates, (0, 10), state, args=(0,), rtol=1e-8, atol=1e-10).y[:, -1]
        assert regen_words.peaks(two.events[1]) == pytest.approx(peaks, abs=2e-4)  # steps of half a second or more
        right = "none" if peaks[0] > limit else "over" if peaks[-1] > limit else "higher"
        assert chosen.judge(two) == right
        answers.add(right)
    assert len(answers) > 1


def test_a_cut_out_is_the_answer_explained_and_cautioned():
    """property: half throttle ends up faster because full throttle cuts out sooner; the answer is the cut-out."""
    chosen = BY_KEY["half_throttle"]
    two = two_runs(page_of("road", charge=15.0, air_temperature=-5.0), chosen)
    assert two.top[1] > 1.2 * two.top[0]
    assert dict(chosen.answers)[chosen.judge(two)] == "The pack cuts out in one run or both"
    happened, because = chosen.explanation(two)
    assert happened.startswith("Before the change the pack **cuts out** after")
    assert "After the change" in happened
    assert "rule trips" in because
    assert "never bypass" in chosen.cautions(two)


@pytest.mark.parametrize("experiment", EXPERIMENTS, ids=lambda one: one.key)
def test_us_units(experiment):
    inputs = PRESETS[SUPERMOTO].values()
    two = runs_of(experiment, inputs, "US")
    said = " ".join([experiment.scene(inputs, two.fmt), *two.names, *experiment.explanation(two)])
    said += " ".join(text for row in words.numbers(two) for text in row)
    assert not re.search(r"km/h|°C|\d kg|\d N\b", said), said


@pytest.mark.parametrize("system", ["metric", "US"])
def test_figures_travel_and_use_known_colours(system):
    inputs = PRESETS[SUPERMOTO].values() | {"line_3": 400.0}
    two = runs_of(BY_KEY["line_current"], inputs, system)
    found = [braking(build, ONE_EVENT) for build in BY_KEY["regen"].builds(inputs)]
    made = [
        chart.speed_figure(two.runs, two.names, two.fmt, two.runs.speed[1]),
        chart.voltage_figure(two.runs, two.names, two.fmt),
        chart.cell_figure([(one.time, one.voltage) for one in found], found[0].limit, two.names, two.fmt),
    ]
    for figure in made:
        text = pack(figure, key="a", height=300, alt="b").decode()
        names = set(re.findall(r'"@([a-z]+)', text))
        assert names <= set(LIGHT) & set(DARK)
        assert len(text) < 60_000


GUESSED = [experiment for experiment in EXPERIMENTS if experiment.guessed is not None]


def test_what_came_out_lies_in_the_band_of_the_right_answer_alone():
    """property: of the demo builds, in US units, read off the figure: band, mark, and a cross at each cut-out."""
    cut = 0
    for experiment in GUESSED:
        labels = dict(experiment.answers)
        for two in runs_together(experiment, [preset.values() for preset in PRESETS.values()], "US"):
            found = forces(*two.builds, force_chart.last_speed(two), 41)
            right = experiment.judge(two)
            for guess in labels:
                shown = guess, labels[guess]
                made = force_chart.figure(found, two, experiment.guessed, shown, labels[right])
                (band,), notes = made["layout"]["shapes"], [note["text"] for note in made["layout"]["annotations"]]
                assert notes[0].lower() == f"your guess: {labels[guess]}".lower()
                marks = [trace for trace in made["data"] if trace.get("mode") == "markers"]
                crosses = [mark for mark in marks if mark["marker"]["symbol"] == "x"]
                assert len(crosses) == np.isfinite(two.runs.cut_out_time).sum()
                if right == "cut" or guess == "cut":
                    cut += right == "cut"
                    assert ("<b>cut-out before</b>" in notes) == np.isfinite(two.runs.cut_out_time[0])
                    continue
                axis = "y" if experiment.guessed.of_force else "x"
                inside = band[f"{axis}0"] <= marks[1][axis][0] <= band[f"{axis}1"]
                assert inside == (guess == right), (experiment.key, guess, right)
                assert any(note.startswith("<b>came out:") for note in notes)
            names = set(re.findall(r'"@([a-z]+)', pack(made, key="a", height=300, alt="b").decode()))
            assert names <= set(LIGHT) & set(DARK)
    assert cut


def test_large_letters_are_eighteen_pixels_all():
    """property: every letter of a chart before a class; what is drawn, and where, stays."""
    two = runs_of(BY_KEY["half_empty"], PRESETS[SUPERMOTO].values())
    for figure in (
        chart.speed_figure(two.runs, two.names, two.fmt, large=True),
        chart.voltage_figure(two.runs, two.names, two.fmt),
    ):
        made = parts.large(figure)
        sizes = re.findall(
            r'"size":(\d+)', pack({"data": [], "layout": made["layout"]}, key="", height=1, alt="").decode()
        )
        assert set(sizes) == {"18"}
        assert all(trace["textfont"]["size"] == 18 for trace in made["data"] if trace["type"] == "bar")
        for before, after in zip(figure["data"], made["data"], strict=True):
            assert np.array_equal(before["x"], after["x"])


def test_the_course_says_what_was_guessed_and_what_came_out():
    came = [("Hill start", "Much", "Much", "much"), ("Sit up or tuck in", "A lot", "Little", "little")]
    said = words.course(came)
    assert "1 of 2 right" in said
    assert "- Hill start: **much**, as you guessed" in said
    assert "- Sit up or tuck in: **little**; you said: a lot" in said


def test_the_build_that_is_suggested_teaches_what_another_does_not():
    """property: where a cut-out or an earlier answer hides a lesson on a demo, a build is named that shows it."""
    judged = {
        (key, start): BY_KEY[key].judge(runs_of(BY_KEY[key], STARTS[start].values()))
        for key in BY_KEY for start in STARTS
    }  # fmt: skip
    hidden = {key for (key, start), answer in judged.items() if start in PRESETS and answer == "cut"}
    hidden |= {one.key for one in EXPERIMENTS if one.flips}
    for one in (BY_KEY[key] for key in hidden):
        shown = judged[one.key, one.shows_on]
        assert shown != "cut", one.key
        assert not one.flips or shown != judged[one.flips, one.shows_on], one.key
    assert judged["sprocket", "trail"] == judged["sprocket_power", "trail"]  # the pair that is spoken of


# ---- the section as Streamlit runs it


def ran(monkeypatch) -> list:
    """The builds that experiments run."""
    calls = []
    original = results.run
    monkeypatch.setattr(results, "run", lambda *args: calls.append(args) or original(*args))
    results.both_runs.clear()
    return calls


def test_nothing_is_run_or_shown_before_the_guess(monkeypatch):
    calls = ran(monkeypatch)
    page = opened("experiments")
    key = EXPERIMENTS[0].key
    assert page.radio(key=f"experiments_guess_{key}").value is None
    assert page.button(key=f"experiments_show_{key}").disabled
    page.radio(key=f"experiments_guess_{key}").set_value("both").run()
    assert not page.button(key=f"experiments_show_{key}").disabled
    assert not calls
    assert "**Why:**" not in written(page)
    page.button(key=f"experiments_show_{key}").click().run()
    assert not page.exception
    assert len(calls) == 1
    assert len(calls[0][0]) == 2
    assert "**Why:**" in written(page)
    assert "guess" in written(page)
    assert page.radio(key=f"experiments_guess_{key}").disabled


def test_guess_and_place_are_kept_while_folded(monkeypatch):
    page = opened("experiments")
    page.selectbox(key="experiments_choice").set_value("tuck").run()
    page.radio(key="experiments_guess_tuck").set_value("much").run()
    page.button(key="experiments_show_tuck").click().run()
    page.session_state["section_experiments"] = False
    page.run()
    calls = ran(monkeypatch)
    page.session_state["headroom_state"].change("rider_mass", 90.0)
    page.run()
    assert not calls
    page.session_state["section_experiments"] = True
    page.run()
    assert not page.exception
    assert page.selectbox(key="experiments_choice").value == "tuck"
    assert page.radio(key="experiments_guess_tuck").value == "much"
    assert "**Why:**" in written(page)
    assert len(calls) == 1


def test_on_to_the_next_and_guess_again():
    page = opened("experiments")
    first, second = EXPERIMENTS[0].key, EXPERIMENTS[1].key
    page.radio(key=f"experiments_guess_{first}").set_value("both").run()
    page.button(key=f"experiments_show_{first}").click().run()
    page.button(key="experiments_next").click().run()
    assert page.selectbox(key="experiments_choice").value == second
    assert page.radio(key=f"experiments_guess_{second}").value is None
    page.selectbox(key="experiments_choice").set_value(first).run()
    assert page.radio(key=f"experiments_guess_{first}").value == "both"
    page.button(key=f"experiments_again_{first}").click().run()
    assert not page.exception
    assert page.radio(key=f"experiments_guess_{first}").value is None
    assert "**Why:**" not in written(page)


@pytest.mark.parametrize("system", ["metric", "US"])
def test_every_experiment_is_drawn_with_its_working_and_table(system):
    page = opened("experiments", units=system)
    page.session_state["why_experiments"] = page.session_state["table_experiments"] = True
    for experiment in EXPERIMENTS:
        page.selectbox(key="experiments_choice").set_value(experiment.key).run()
        page.radio(key=f"experiments_guess_{experiment.key}").set_value(experiment.options[0][0]).run()
        page.button(key=f"experiments_show_{experiment.key}").click().run()
        assert not page.exception
        assert "*Source:*" in written(page)
        assert any("number" in frame.value.columns for frame in page.dataframe)


def test_working_beside_the_answer_is_made_on_request():
    page = opened("experiments")
    assert "*Source:*" not in written(page)
    for key in ("why_answer", "details_sag", "why_sag"):
        page.session_state[key] = True
    page.run()
    assert not page.exception
    assert "Air drag" in written(page)
    assert "C_dA" in written(page)
    assert "Weakest cell" in written(page)


def test_the_projector_is_a_switch_and_part_of_the_link():
    """property: it stands in the link while it is on, a link brings it back, and it goes with the switch."""
    page = opened("experiments")
    page.toggle(key="experiments_projector").set_value(True).run()
    assert not page.exception
    link = link_entries.texts({key: page.session_state[key] for key in (link_entries.PROJECTOR,)})
    assert link == {"projector": "yes"}
    assert link_entries.read(link) == ({link_entries.PROJECTOR: True}, [])
    assert link_entries.read({"projector": "perhaps"})[1]
    page.toggle(key="experiments_projector").set_value(False).run()
    assert not page.session_state[link_entries.PROJECTOR]
