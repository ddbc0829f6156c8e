"""Facts typed where one value is asked for: what each gives, and what is said where it cannot be used."""

import pytest

from explorer.inputs.answers import LONGEST_ENTRY, QUESTIONS, read, texts
from explorer.inputs.entries import Context, read_entry
from explorer.inputs.origins import GIVEN, OWN, TYPICAL, Inputs
from explorer.state.state import State, from_link
from physics.components.pack import rest_voltage

HALF = f"{rest_voltage('nmc', 20, 0.5):.2f}"
"""V, at rest, of 20 cells at half charge."""
GEARED = {"front_teeth": "13/46", "tyre": "12-inch"}


def answered(system="metric", phase_as="peak", **answers):
    """All that some answers give, and what is said of it; none of them wrong."""
    given, wrong, said = read(answers, Inputs(OWN, {}, {}), system, phase_as)
    assert not wrong
    return given, said


@pytest.mark.parametrize(
    ("entered", "kv"),
    [("6000 rpm/80", 75.0), ("6000rpm at 80 V", 75.0), ("8.27 Nm/100 A", 100.0), ("6.1 lb-ft at 100", 100.0)],
)
def test_a_motor_by_its_own_speed_or_its_torque(entered, kv):
    """hand-worked: 6000 rpm / 80 V = 75 rpm/V. published: 0.0827 N m for a peak ampere at 100 rpm/V (trade tables
    of sine motors); 6.1 lbf ft are 8.27 N m (1.35582 N m each, NIST SP 811)."""
    given, said = answered(kv=entered)
    assert given == {"kv": pytest.approx(kv, abs=0.05)}
    assert said[0].startswith(f"Motor Kv: {kv:g} rpm/V, from the ")


def test_a_motor_by_the_pull_at_the_tyre():
    """hand-worked: 467 mm x 0.975 / 2 = 0.22766 m; 350 N x 0.22766 / (46 / 13 x 0.96) = 23.456 N m at 200 A
    peak, 0.11728 each; 8.2699 / 0.11728 = 70.5. The same pull at 141.42 A RMS."""
    assert answered(kv="350 N/200 A", **GEARED)[0]["kv"] == 70.5
    assert answered(kv="350 N/141.42 A", phase_as="RMS", **GEARED)[0]["kv"] == 70.5
    assert answered(kv="78.68 lbf at 200", system="US", **GEARED)[0]["kv"] == 70.5


def test_a_motors_mass_or_power_leaves_its_winding_typical():
    """hand-worked: 6 kW over 30/55 is 11 kW for some seconds, at 1300 W/kg 8.46 kg; 11 kW peak is 6 kW
    rated. Smaller than 10 kg: more resistance. 22 lb are 9.979 kg."""
    given, said = answered(kv="75, 6 kW")
    assert (given, said) == ({"kv": 75.0, "motor_power": 6.0}, [])
    assert answered(kv="11 kW peak; 75")[0] == given
    small, mine = Inputs(OWN, {}, given), Inputs(OWN, {}, {"kv": 75.0, "motor_mass": 10.0})
    assert small.origin("motor_resistance") == small.origin("motor_mass") == TYPICAL
    # resistance goes with mass to the power of -5/3
    assert small["motor_resistance"] / mine["motor_resistance"] == pytest.approx(
        (8.4615 / 10) ** (-5 / 3), rel=2e-4
    )
    heavy = Inputs(OWN, {}, answered(kv="75, 22 lb, 6 kW")[0])
    assert heavy["motor_mass"] == pytest.approx(9.979, abs=5e-4)
    assert texts(mine | {"motor_power": 6.0}, "metric", "peak")["kv"] == "75, 10 kg, 6 kW"


@pytest.mark.parametrize(
    ("entered", "milliohm"),
    [
        ("45 mΩ", 45.0),
        ("18 mΩ x 8", 49.5),
        ("18 mΩ, 8 in parallel", 49.5),
        ("12 mΩ AC/8p", 49.5),
        ("200/250, 18 mohm/8", 49.5),
        ("80/0 71/200", 45.0),
        ("71.0 V at 200 A, 80 V at 0 A", 45.0),
        ("200/250 80/0 71/200", 45.0),
        ("200, 78,2 V/40 A; 71 V/200 A", 45.0),
    ],
)
def test_a_packs_resistance(entered, milliohm):
    """hand-worked: 18 milliohm x 20 / 8, with a tenth for connections 49.5; 1.5 times 12 milliohm at 1 kHz
    the same; 9 V over 200 A are 45, 7.2 V over 160 A too. At 25 degrees C and half charge. 0.2 %: three
    digits are held."""
    given, said = answered(cells="20", air_temperature="25", rest=HALF, continuous_current=entered)
    assert given["pack_resistance"] == pytest.approx(milliohm, rel=2e-3)
    assert len(said) == (entered != "45 mΩ")
    assert given.get("continuous_current") == (200.0 if entered.startswith("200") else None)
    assert Inputs(OWN, {}, given).origin("pack_resistance") == GIVEN


def test_the_unit_asked_for_may_follow_a_number():
    """property: it is read as the number alone, and a unit of another quantity is not. published: 187.4 lb are
    85.0 kg (0.45359237 kg each, NIST SP 811)."""
    pairs = {
        "capacity": ("20", "20 Ah"), "continuous_current": ("200/250/10", "200 A/250 A/10 s"),
        "kv": ("75", "75 rpm/V"), "line_1": ("180", "180a"), "rest": ("81.0", "81 v"), "bike_mass": ("85", "85 kg"),
        "air_temperature": ("15", "15 °C"), "cells": ("20", "20"),
    }  # fmt: skip
    alone, named = ({key: pair[place] for key, pair in pairs.items()} for place in (0, 1))
    assert answered(**named) == answered(**alone)
    assert answered("US", bike_mass="85 kg")[0] == {"bike_mass": 85.0}
    assert answered(bike_mass="187.4 lb")[0]["bike_mass"] == pytest.approx(85.0, abs=0.05)
    assert "is not a number" in read({"capacity": "20 kg"}, Inputs(OWN, {}, {}), "metric", "peak")[1]["capacity"]


def test_a_packs_rating_with_its_time():
    """property: continuous, peak, for how long; each alone too, and filled in again as it was typed."""
    for entered, found in (("200/250/10", (200.0, 250.0, 10.0)), ("200", (200.0,)), ("200//5", (200.0, None, 5.0))):
        given, _ = answered(continuous_current=entered)
        keys = ("continuous_current", "peak_current", "peak_time")
        assert given == {key: value for key, value in zip(keys, found, strict=False) if value is not None}
        assert texts(Inputs(OWN, {}, given), "metric", "peak")["continuous_current"] == entered


def test_readings_on_a_cold_pack_are_brought_to_the_reference():
    """property: the same readings in the cold mean less resistance at 25 degrees C; the day is said in the rider's
    units, and the value is held by link and filled in again as a resistance."""
    given, said = answered(cells="20", air_temperature="2", rest="81", continuous_current="81/3 74.5/120")
    assert given["pack_resistance"] < 0.7 * 1000 * 6.5 / 117
    assert "from your two readings, taken at 2 °C and" in said[0]
    state = State()
    state.make_own(given)
    again = from_link(state.link()).values
    assert again.as_given == state.values.as_given
    assert texts(again, "metric", "peak")["continuous_current"] == f"{given['pack_resistance']:g} mΩ"
    _, said = answered("US", cells="20", air_temperature="36", continuous_current="81/3 74.5/120")
    assert "taken at 36 °F" in said[0]
    assert "to 77 °F and half charge" in said[0]


def test_the_weight_on_each_wheel():
    """hand-worked: 40 and 45 kg, wheelbase 1280 mm: 1280 x 40 / 85 = 602 mm ahead of the rear axle; of 1400 mm 659.
    In pounds 88.2 and 99.2, 50.39 in."""
    given, said = answered(bike_mass="40/45, 1280 mm")
    assert given == {"bike_mass": 85.0, "wheelbase": 1280.0, "bike_balance": 602.0}
    assert said[0].endswith("602 mm, from the weight on each wheel.")
    given, said = answered(bike_mass="40 kg / 45 kg")
    assert given == {"bike_mass": 85.0, "bike_balance": 659.0}
    assert said[0].endswith("from the weight on each wheel and a wheelbase of 1,400 mm (◐ typical).")
    given, _ = answered("US", bike_mass="88.2/99.2, 50.39 in")
    assert (given["bike_mass"], given["bike_balance"]) == (pytest.approx(85.0, abs=0.01), 602.0)


@pytest.mark.parametrize(
    ("name", "entered", "part"),
    [
        ("kv", "75, 6000 rpm/80", "is a second value of Kv"),
        ("kv", "75 80", "cannot be read"),
        ("kv", "75/", "is missing"),
        ("kv", "75, 10 kg 12 kg", "Motor weight is given twice"),
        ("kv", "6000 rpm/80, 140 km/h / 80", "both sprockets and the tyre"),
        ("kv", "8.27 Nm/100 A, 6000 rpm/80", "Motor Kv is given twice"),
        ("kv", "6000 rpm/80 Nm", "cannot be read"),
        ("kv", "300 rpm/80", "no such motor"),
        ("kv", "350 N/200", "both sprockets and the tyre"),
        ("kv", "28 Nm/0 A", "is not possible"),
        ("kv", "75, 300 kg", "300 kg, outside 1 kg to 60 kg"),
        ("kv", "75, 1 MW", "cannot be read"),
        ("continuous_current", "18 mΩ/8", "cells in series"),
        ("continuous_current", "45 V/3 A", "one reading where two are needed"),
        ("continuous_current", "45 mΩ 18 mΩ/8", "cells in series"),
        ("continuous_current", "45 mΩ 50 mΩ", "Pack resistance is given twice"),
        ("continuous_current", "80 V/3 A 78 V/60 A 75 V/120 A", "3 readings where two are needed"),
        ("continuous_current", "80/120 75/3", "the voltage must fall as the current rises"),
        ("continuous_current", "900 mΩ", "outside"),
        ("continuous_current", "200/250/300", "is too high"),
        ("continuous_current", "200/250/10/3", "too many numbers"),
        ("bike_mass", "40/45/50", "is not two numbers"),
        ("bike_mass", "85, 40/45", "is a second weight"),
        ("bike_mass", "85, 86 kg", "is a second weight"),
        ("bike_mass", "40/45, 1280 mm 1300 mm", "Wheelbase is given twice"),
        ("bike_mass", "84/1", "outside"),
        ("bike_mass", "heavy", "is not a number"),
    ],
)
def test_what_cannot_be_used_is_said(name, entered, part):
    """property: by what was typed, with what is accepted; nothing of it is held."""
    given, wrong, said = read({name: entered}, Inputs(OWN, {}, {}), "metric", "peak")
    assert part in wrong[name]
    assert "accepts" in wrong[name] or "enter them too" in wrong[name]
    assert said == []
    assert not given.keys() & {"kv", "pack_resistance", "bike_balance", "wheelbase"}


def test_each_field_takes_its_own_example_and_no_other_field_takes_facts():
    """property: every example beside a question is an answer to it; the other fields leave a text as it is."""
    for question in QUESTIONS:
        for example in question.example.split(" or "):
            given, wrong, _ = read(
                {"cells": "20", **GEARED, question.name: example}, Inputs(OWN, {}, {}), "metric", "peak"
            )
            assert (wrong, len(example) <= LONGEST_ENTRY) == ({}, True), question.name
            assert given
    assert read_entry("capacity", "20 Ah", Context(Inputs(OWN, {}, {}))).plain == "20 Ah"
