"""The count at the top, the dialog that makes a build one's own, and the way from value to value, on the page.

property: what is entered is held, nothing entered is lost, nothing is left from a demo.
"""

from explorer.frame.provenance import NEXT_FACT
from explorer.inputs.answers import questions
from explorer.inputs.catalogue import INPUTS
from explorer.inputs.origins import DEMO, GIVEN, OWN, TYPICAL
from explorer.page import words_of_origins as words
from explorer.state.link_entries import READINGS
from tests.explorer.pages import SUPERMOTO, opened, state_of, written

ANSWERS = {
    "cells": "20", "capacity": "20", "continuous_current": "200/250", "line_1": "180", "kv": "75",
    "front_teeth": "13/46", "tyre": "90/90-12", "rest": "81", "air_temperature": "2",
}  # fmt: skip


def answered(page, **answers):
    """The dialog opened, filled in and sent."""
    page.button(key="make_it_yours").click().run()
    for name, text in answers.items():
        page.text_input(key=f"own:{name}").set_value(text)
    page.button(key="own:use").click().run()
    assert not page.exception
    return page


def test_the_demo_is_counted_and_making_it_ones_own_leaves_none_of_it():
    page = opened()
    assert f"0 {DEMO}" not in written(page)
    assert "from the demo" in written(page)
    assert page.button(key="make_it_yours").label == words.MAKE_IT_YOURS
    answered(page, **ANSWERS)
    state = state_of(page)
    assert [key for key in INPUTS if state.values.origin(key) == DEMO] == []
    assert "○ 0 from the demo" in written(page)
    assert "invented" not in state.name
    assert page.session_state[READINGS] == []
    assert {key: state.values[key] for key in ("cells", "line_1", "front_teeth", "rear_teeth", "peak_current")} == {
        "cells": 20.0, "line_1": 180.0, "front_teeth": 13.0, "rear_teeth": 46.0, "peak_current": 250.0,
    }  # fmt: skip
    assert state.link() == {key: "".join(page.query_params[key]) for key in page.query_params if key != "readings"}
    page.button(key="undo").click().run()
    assert state.preset == SUPERMOTO


def test_nothing_known_is_an_answer_too():
    page = answered(opened())
    state = state_of(page)
    assert (state.preset, state.values.given) == (OWN, set())
    assert page.metric[0].value.endswith("km/h")


def test_what_cannot_be_used_is_said_and_nothing_entered_is_lost():
    wrong = ANSWERS | {
        "capacity": "20 kg", "continuous_current": "250/200", "kv": "900", "front_teeth": "13/46/2",
        "tyre": "banana", "rest": "120", "cells": "20.5",
    }  # fmt: skip
    page = answered(opened(), **wrong)
    said = [error.value for error in page.error]
    for start in (
        "Cells in series: ",
        "Capacity: ",
        "Pack current rating, ",
        "Motor Kv",
        "Sprockets, ",
        "Rear tyre: ",
    ):
        assert [text for text in said if text.startswith(start)], start
    assert all("accepts" in text for text in said), said
    assert {name: page.text_input(key=f"own:{name}").value for name in wrong} == wrong
    assert state_of(page).preset == SUPERMOTO
    for name, text in ANSWERS.items():
        page.text_input(key=f"own:{name}").set_value(text)
    page.button(key="own:use").click().run()
    assert not page.error
    assert state_of(page).preset == OWN


def test_a_rest_voltage_that_does_not_fit_the_cells_is_said():
    page = answered(opened(), cells="20", rest="120")
    assert "120 V does not fit 20 cells" in page.error[0].value
    page = answered(opened(), rest="81")
    assert "cells in series" in page.error[0].value


def test_somebodys_bike_skips_it_and_opens_with_what_is_known():
    page = opened(preset=OWN, kv="75", line_3="180", peak_current="250", front_teeth="13")
    assert "○ 0 from the demo" in written(page)
    assert page.button(key="make_it_yours").label == words.YOUR_FACTS
    page.button(key="make_it_yours").click().run()
    shown = {
        question.name: page.text_input(key=f"own:{question.name}").value
        for question in questions(state_of(page).values)
    }
    assert {name: text for name, text in shown.items() if text} == {
        "kv": "75", "line_3": "180", "continuous_current": "/250", "front_teeth": "13",
    }  # fmt: skip
    page.text_input(key="own:kv").set_value("")
    page.button(key="own:use").click().run()
    assert state_of(page).values.given == {"line_3", "peak_current", "front_teeth"}


def test_answers_are_in_the_riders_units():
    """hand-worked: 185 lb are 83.915 kg; 200 A RMS are 282.84 A peak; 41 degrees F are 5 degrees C."""
    page = answered(opened(units="US", phase="RMS"), phase_1="200", bike_mass="185", air_temperature="41")
    values = state_of(page).values
    assert abs(values["bike_mass"] - 83.915) < 5e-4
    assert abs(values["phase_1"] - 282.84) < 5e-3
    assert abs(values["air_temperature"] - 5.0) < 1e-6


def test_the_count_leads_from_value_to_value():
    page = opened(preset=OWN, kv="75")
    state = state_of(page)
    page.button(key="make_it_yours").click().run()
    page.button(key="own:walk").click().run()
    assert "typical" in written(page)
    page.text_input(key="walk:cells").set_value("many")
    page.button(key="walk:next").click().run()
    assert "“many” is not a number. It accepts" in page.error[0].value
    page.text_input(key="walk:cells").set_value("20")
    page.button(key="walk:next").click().run()
    assert state.values.origin("cells") == GIVEN
    page.button(key="walk:right").click().run()
    assert state.values.origin("capacity") == GIVEN
    page.selectbox(key="walk:chemistry").set_value("lfp")
    page.button(key="walk:next").click().run()
    assert state.values["chemistry"] == "lfp"
    page.button(key="walk:next").click().run()
    assert state.values.origin("pack_resistance") == TYPICAL
    page.button(key="walk:enough").click().run()
    assert not page.exception
    assert "3 / " not in written(page)


def test_a_rim_size_alone_is_an_answer_and_its_tyre_is_typical():
    """property: in the dialog, by link and by hand; it is held as it was said, and fills in again."""
    page = answered(opened(), tyre='12"')
    state = state_of(page)
    assert (state.values["tyre"], state.values.origin("tyre")) == ("12-inch", TYPICAL)
    assert state.link()["tyre"] == "12-inch"
    again = opened(preset=OWN, tyre="12-inch")
    assert not again.exception
    assert state_of(again).values.origin("tyre") == TYPICAL
    again.button(key="make_it_yours").click().run()
    assert again.text_input(key="own:tyre").value == "12-inch"
    bad = answered(opened(), tyre="99-inch")
    assert 'a rim size alone such as "12-inch"' in bad.error[0].value


def test_a_speed_on_the_stand_fills_in_the_motor():
    """hand-worked: 467 mm x 0.975 / 2 = 0.22766 m; 130 km/h = 36.111 m/s: 158.62 rad/s, x 46 / 13 = 561.27 rad/s or
    5359.7 rpm, over 80 V 67.0 rpm/V. Resistance and inductance follow as typical."""
    page = answered(opened(), kv="130/80", front_teeth="13/46", tyre="12-inch")
    values = state_of(page).values
    assert values["kv"] == 67.0
    assert [values.origin(key) for key in ("kv", "motor_resistance", "motor_inductance")] == [
        GIVEN,
        TYPICAL,
        TYPICAL,
    ]
    told = answered(opened(), kv="67", front_teeth="13/46", tyre="12-inch")
    assert values == state_of(told).values
    for wrong, part in (
        ({"kv": "130/80"}, "both sprockets and the tyre"),
        ({"kv": "130/80", "front_teeth": "13", "tyre": "12-inch"}, "both sprockets"),
        ({"kv": "130/80/3"}, "not two numbers"),
        ({"kv": "x/80"}, "is not a number"),
        ({"kv": "130/0"}, "is not possible"),
        ({"kv": "5/80", "front_teeth": "13/46", "tyre": "12-inch"}, "no such motor"),
    ):
        assert part in answered(opened(), **wrong).error[0].value, wrong


def test_the_bar_names_the_fact_to_measure_next_while_it_is_typical():
    """property: once the ranking is done; the way from value to value then begins there."""
    page = opened(preset=OWN, kv="75", kept={NEXT_FACT: "bike_mass"})
    button = page.button(key="one_by_one")
    assert button.label == "Measure next: weight of the bike"
    button.click().run()
    assert page.text_input(key="walk:bike_mass").label.startswith("Bike")
    page.text_input(key="walk:bike_mass").set_value("85")
    page.button(key="walk:next").click().run()
    assert page.button(key="one_by_one").label == words.ONE_BY_ONE


def test_what_a_rule_made_of_an_entry_is_told_in_the_dialog_and_one_by_one():
    """hand-worked: 18 milliohm x 20 / 8 with a tenth for connections; 40 of 85 kg on the front wheel."""
    page = answered(opened(), cells="20", bike_mass="40/45, 1280 mm")
    assert [toast.value for toast in page.toast] == [
        "Bike's centre of gravity ahead of the rear axle: 602 mm, from the weight on each wheel."
    ]
    assert state_of(page).link() | {"bike_mass": "85", "bike_balance": "602"} == state_of(page).link()
    page = opened(preset=OWN, cells="20", capacity="20", kept={NEXT_FACT: "pack_resistance"})
    page.button(key="one_by_one").click().run()
    page.text_input(key="walk:pack_resistance").set_value("18 mΩ/0")
    page.button(key="walk:next").click().run()
    assert "0 cells in parallel is not possible" in page.error[0].value
    page.text_input(key="walk:pack_resistance").set_value("18 mΩ x 8")
    page.button(key="walk:next").click().run()
    assert page.toast[0].value.startswith("Pack resistance: 49.5 mΩ, from its cells")
    assert state_of(page).values["pack_resistance"] == 49.5
