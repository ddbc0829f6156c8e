"""Numbers to text."""

import math

import pytest

from explorer.format import UnitFormatter, joined, plain_number, tied

METRIC, US = UnitFormatter("metric"), UnitFormatter("US")


@pytest.mark.parametrize(
    ("writer", "quantity", "value", "text"),
    [
        (METRIC, "speed", 115 / 3.6, "115 km/h"),
        (US, "speed", 115 / 3.6, "71 mph"),
        (METRIC, "temperature", 279.15, "6 °C"),
        (US, "temperature", 279.15, "43 °F"),
        (US, "mass", 100.0, "220 lb"),
        (METRIC, "resistance", 0.052, "52.0 mΩ"),
        (METRIC, "share", 0.267, "27 %"),
        (METRIC, "energy", 3.6e6, "1,000 Wh"),
        (METRIC, "speed", math.nan, "not known"),
        (METRIC, "speed", math.inf, "no limit"),
        (METRIC, "road distance", 21302.0, "21.3 km"),
    ],
)
def test_hand_worked_texts(writer, quantity, value, text):
    """hand-worked: factors of NIST SP 811, appendix B.8 (1 mile 1609.344 m, 1 lb 0.45359237 kg)."""
    assert writer(quantity, value) == text


def test_two_values_that_would_look_alike_get_more_digits():
    assert METRIC.apart("speed", 114.8 / 3.6, 115 / 3.6) == "114.8 km/h"
    assert METRIC.apart("speed", 110.0 / 3.6, 115 / 3.6) == "110 km/h"
    assert METRIC.apart("speed", 115 / 3.6, 115 / 3.6) == "115.00 km/h"


def test_no_minus_zero_and_nothing_stranger():
    assert plain_number(-0.0001, 2) == "0.00"
    assert plain_number(-1.5, 1) == "−1.5"


def test_numbers_stay_with_their_units():
    text = tied("After 6 s at 115 km/h and 6 °C, 27 % of 24 cells.")
    assert text.replace("\u00a0", "_") == "After 6_s at 115_km/h and 6_°C, 27_% of 24 cells."


def test_names_in_a_row():
    assert [joined(names) for names in (["a"], ["a", "b"], ["a", "b", "c"])] == ["a", "a and b", "a, b and c"]


def test_a_difference_is_that_of_the_printed_numbers():
    """hand-worked: 113.66 and 107.64 are printed 113.7 and 107.6, which leaves 6.1; whole, 114 and 108 leave 6."""
    fmt = UnitFormatter("metric")
    assert fmt.difference("speed", 113.66 / 3.6, 107.64 / 3.6, 1) == 6.1
    assert fmt.difference("speed", 107.64 / 3.6, 113.66 / 3.6) == -6.0


def test_what_was_entered_is_printed_as_it_was_typed():
    """hand-worked: 71.25 mph keeps both digits; 40 km/h is 24.855 mph, read as 25; 115 km/h 71.458, as 71.5."""
    fmt = UnitFormatter("US")
    assert fmt.entered("speed", fmt.si("speed", 71.25)) == "71.25 mph"
    assert fmt.entered("speed", 40 / 3.6) == "25 mph"
    assert fmt.entered("speed", 115 / 3.6) == "71.5 mph"
