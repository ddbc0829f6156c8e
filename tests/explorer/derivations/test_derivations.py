"""The derivations: the numbers that are put into a printed formula give the printed result, for any build."""

import math
import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from explorer.derivations import pack
from explorer.derivations.answer import answer
from explorer.derivations.derivation import Step, fastest, significant
from explorer.derivations.motor import motor_voltage
from explorer.format import UnitFormatter
from explorer.inputs.presets import PRESETS
from explorer.page.page import Page
from explorer.questions.front_wheel import words as front_wheel
from explorer.questions.gearing import words as gearing
from explorer.questions.headroom import words as headroom
from explorer.questions.headroom.results import headroom_of
from explorer.questions.heat import words as heat
from explorer.questions.how_sure import words as how_sure
from explorer.questions.line_limit import words as line_limit
from explorer.questions.packs_on_offer import words as packs_on_offer
from explorer.questions.parts_fit import words as parts_fit
from explorer.questions.parts_fit.results import fit_of
from explorer.questions.sag import timer_words as protection
from explorer.questions.sag import words as sag
from explorer.questions.speedometer import words as speedometer
from explorer.questions.speedometer.results import Instrument
from explorer.questions.voltage_window import words as voltage_window
from explorer.questions.what_gets_me_there import words as what_gets_me_there
from physics.build.batch import Batch
from physics.components.load_transfer import front_wheel_load
from physics.limits import LIMITS
from physics.simulation.run import run
from physics.studies.uncertainty.bands import chance
from tests.explorer.pages import page_of

NUMBER = re.compile(r"(?<![\w.])\d+(?:\.\d+)?")
CHANGES = {
    "as it is": {},
    "field weakening": {"field_weakening": 150.0},
    "line limit": {"line_3": 90.0, "line_2": 60.0, "line_1": 50.0},
    "slope and tailwind": {"slope": 6.0, "headwind": -40.0},
    "phase limit": {"phase_3": 120.0, "slope": 8.0},
    "little throttle": {"throttle": 15.0},
    "speed cap": {"speed_cap": 50.0},
    "low voltage": {"foldback_start": 120.0, "foldback_end": 50.0, "charge": 30.0},
    "no grip": {"grip": 0.3},
    "steep": {"slope": 15.0, "phase_3": 1200.0, "line_3": 500.0, "front_teeth": 9},
    "cut-out": {"air_temperature": -15.0, "line_3": 500.0},
    "cold and empty": {"pack_temperature": -18.0, "charge": 8.0},
    "hot motor": {"air_temperature": 50.0, "phase_3": 900.0, "slope": 15.0, "duration": 60.0, "line_3": 400.0},
}


@cache
def changed(preset: str, name: str) -> Page:
    """The page of a preset with one of the changes."""
    return page_of(preset, **CHANGES[name])


def every_derivation(page: Page) -> list[Step]:
    """The derivations behind every verdict of the page."""
    fullest = headroom_of(page)
    return [
        *answer(page),
        *sag.derivation(page),
        *protection.derivation(page),
        *parts_fit.derivation(page, fit_of(page)),
        *headroom.derivation(page, fullest),
        *packs_on_offer.derivation(page, 9000.0, 12.0),
        *line_limit.derivation(page, page.build.controller.line_current_limit),
        *voltage_window.derivation(page),
        *gearing.derivation(page),
        *what_gets_me_there.derivation(page),
        *heat.derivation(page),
        *front_wheel.derivation(page),
        *speedometer.derivation(25.0, 23.1, Instrument(1450.0, False, "motor", 20.0), page.fmt),
        *speedometer.derivation(25.0, 23.1, Instrument(9.0, True, "motor", 20.0), page.fmt),
        *(step for count in (180, 200, 0) for step in how_sure.derivation(chance(count, 200))),
    ]


def worked_out(numbers: str) -> float:
    """The printed arithmetic, worked out by Python."""
    text = numbers.replace("×", "*").replace("−", "-").replace("²", "**2")
    text = re.sub(r"√(\d+)", r"math.sqrt(\1)", text).replace("√", "math.sqrt")
    text = text.replace("exp(", "math.exp(").replace("ln(", "math.log(")
    text = text.replace("asinh(", "math.asinh(")
    assert not re.search(r"[^\d\s.+\-*/()a-z]", text), text
    return eval(text, {"math": math})


def rounding(numbers: str) -> float:
    """By how much the result may be off because each printed number was rounded to its last digit."""
    value, total = worked_out(numbers), 0.0
    for found in NUMBER.finditer(numbers):
        digits = found[0]
        places = len(digits.partition(".")[2])
        if not places and len(digits) < 4:
            continue  # a count, a whole setting or a number of the formula
        shifted = numbers[: found.start()] + f"{float(digits) + 0.5 * 10.0**-places:.12f}" + numbers[found.end() :]
        try:
            total += abs(worked_out(shifted) - value)
        except ValueError:
            continue
    return total


def printed_half_digit(result: str) -> float:
    """Half the last printed digit of a result."""
    number = result.split(" ")[0].replace("−", "-")
    return 0.5 * 10.0 ** -len(number.partition(".")[2])


def check(step: Step) -> None:
    shown = step.result(UnitFormatter("metric"))
    printed = float(shown.split(" ")[0].replace("−", "-"))
    # besides the rounding of what is printed: 1e-9 for the arithmetic of the check itself
    allowed = printed_half_digit(shown) + 1.01 * rounding(step.numbers) + 1e-9
    assert abs(worked_out(step.numbers) - printed) <= allowed, (step.heading, step.numbers, shown)
    assert step.source
    assert step.symbols
    assert "nan" not in step.numbers + shown
    assert "known" not in step.numbers + shown


@pytest.mark.parametrize("changes", CHANGES, ids=str)
@pytest.mark.parametrize("preset", PRESETS)
def test_the_numbers_give_the_result(preset, changes):
    """property: what is printed, worked out again, is what is printed as its result."""
    steps = every_derivation(changed(preset, changes))
    assert len(steps) > 25
    for step in steps:
        check(step)


def test_many_limits_are_worked_out():
    """property: the changes above reach most limits, each with a derivation of its own."""
    seen = set()
    for name in CHANGES:
        page = changed("supermoto", name)
        now = fastest(page.build, page.run)
        seen.add(now.limit)
    assert {"voltage", "line current", "throttle", "speed cap", "low-voltage cutback", "rear grip"} <= seen
    assert seen <= set(LIMITS)


def step(steps: list[Step], heading: str) -> Step:
    return next(one for one in steps if one.heading.startswith(heading))


def test_forces_at_the_top_worked_out_from_the_inputs():
    """hand-worked: drag, rolling resistance and torque constant from the demo's own inputs.

    Density of dry air at 6 degrees C and 50 m: 101325 Pa x (1 - 50 x 2.25577e-5)^5.2559 / (287.05 x 279.15), the
    barometric formula of the standard atmosphere; moisture lowers it by at most 0.4 % at 6 degrees C, hence 0.5 %.
    """
    page = page_of()
    top = float(page.run.top_speed[0])
    density = 101325 * (1 - 50 * 2.25577e-5) ** 5.2559 / (287.05 * 279.15)
    steps = answer(page)
    assert step(steps, "Air drag").value == pytest.approx(0.5 * density * 0.48 * top**2, rel=5e-3)
    assert step(steps, "Rolling").value == pytest.approx(200 * 9.80665 * (0.015 + 3e-6 * top**2), rel=1e-4)
    assert step(steps, "Torque").value == pytest.approx(math.sqrt(3) / 2 * 60 / (2 * math.pi * 62), rel=1e-9)
    assert step(steps, "Motor speed").value == pytest.approx(
        60 / (2 * math.pi) * top * (56 / 12) / (0.975 * 0.5 * (17 * 0.0254 + 2 * 0.7 * 0.110)), rel=2e-3
    )  # the rolling radius from the tyre code; the nominal rim is 0.5 mm from 17 inches


def test_where_voltage_holds_the_motor_asks_for_all_there_is():
    """property: at the voltage limit the voltage asked for is the voltage that can be given.

    In fine steps: what is read at an instant belongs to the speed foreseen for it.
    """
    for preset in PRESETS:
        for changes in ({}, {"field_weakening": 200.0, "line_3": 500.0}):
            page = page_of(preset, **changes)
            now = fastest(page.build, run(page.build, page.run.time[-1], steps=160))
            if now.limit in ("voltage", "field weakening"):
                most = now.pack_voltage * page.build.controller.modulation
                assert motor_voltage(now) == pytest.approx(most, rel=1e-4)


def test_cold_resistance_worked_out():
    """published: typical growth of the whole resistance to 0 degrees C, 1.92 after K. O'Regan and others (2022),
    here at the current of a pull, four times 26 Ah over an hour."""
    cold, mild = (page_of(pack_temperature=celsius).build for celsius in (0.0, 25.0))
    now, then = (pack.resistance(build, 104.0)[-1].value for build in (cold, mild))
    assert now / then == pytest.approx(1.92, abs=0.005)


def test_how_long_a_current_may_flow_worked_out():
    """hand-worked: 10 s x (240^2 - 180^2) / (206^2 - 180^2) = 25.1 s at 200 A with 3 % of overshoot."""
    page = page_of()
    assert step(line_limit.derivation(page, 200.0), "How long").value == pytest.approx(25.11, abs=0.01)


def test_headroom_ends_at_the_limit():
    """property: from the highest charge that is allowed, the fullest cell ends at its limit."""
    for preset in PRESETS:
        page = page_of(preset)
        fullest = headroom_of(page)
        last = headroom.derivation(page, fullest)[-1]
        assert last.value == pytest.approx(float(fullest.today.peak_cell_voltage), abs=1e-6)
        assert last.value == pytest.approx(4.2, abs=1e-3)


@pytest.mark.parametrize(("pack", "outside"), [(-10.0, 13.0), (50.0, 8.0)])
def test_headroom_derivation_where_no_regen_is_allowed(pack, outside):
    """hand-worked: the demo's window of 0 to 45 °C, 3 °C off at either end: 3 − (−10) = 13 °C too cold, 50 − 42 =
    8 °C too hot."""
    page = page_of(pack_temperature=pack)
    (made,) = headroom.derivation(page, headroom_of(page))
    assert made.value == pytest.approx(outside, abs=1e-6)


def test_lift_leaves_no_load_on_the_front_wheel():
    """property: at the drive that lifts, the moment balance leaves nothing on the front wheel."""
    page = page_of()
    lift = step(front_wheel.derivation(page), "Drive force that lifts").value
    load = front_wheel_load(Batch.of(page.build).stance(), lift, rolling_force=page.run.rolling_force[0, 0])
    assert abs(load[0]) < 1e-6


def test_results_follow_the_riders_units():
    made = Step("a", "b", "1 × 300", 300.0, "N", "c", "d", "force")
    assert made.result(UnitFormatter("metric")) == "300 N"
    assert made.result(UnitFormatter("US")) == "300 N (67 lbf)"
    power = replace(made, value=16400.0, unit="W", quantity="power")
    assert power.result(UnitFormatter("metric")) == "16400 W (16.4 kW)"


@pytest.mark.parametrize("value", np.geomspace(1e-6, 1e6, 25))
def test_significant_digits(value):
    """property: four significant digits are within half of the fourth of the value."""
    shown = float(significant(value))
    assert abs(shown - value) <= 0.5 * 10 ** (math.floor(math.log10(value)) - 3) * (1 + 1e-9) or value >= 1e4
    assert significant(-value).startswith("−")


def test_a_bike_that_cannot_move_has_derivations():
    """The steepest hill with the least current: nothing moves and nothing is divided by nothing."""
    for one in every_derivation(page_of("road", slope=15.0, phase_3=50.0, line_3=20.0)):
        check(one)
