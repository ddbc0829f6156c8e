"""Units: the fixed table against the printed factors, the pint registry, and itself."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from physics import units

PUBLISHED = Path(__file__).parents[1] / "published"
FACTORS = pd.read_csv(PUBLISHED / "conversion_factors.csv", comment="#")

# What the registry calls the dimension of each of ours; several of ours share base units in the SI.
REGISTRY_DIMENSION = {
    "speed": "[length] / [time]",
    "frequency": "1 / [time]",
    "acceleration": "[length] / [time] ** 2",
    "length": "[length]",
    "area": "[length] ** 2",
    "mass": "[mass]",
    "density": "[mass] / [length] ** 3",
    "moment of inertia": "[mass] * [length] ** 2",
    "time": "[time]",
    "temperature": "[temperature]",
    "temperature difference": "[temperature]",
    "force": "[mass] * [length] / [time] ** 2",
    "torque": "[mass] * [length] ** 2 / [time] ** 2",
    "pressure": "[mass] / [length] / [time] ** 2",
    "power": "[mass] * [length] ** 2 / [time] ** 3",
    "energy": "[mass] * [length] ** 2 / [time] ** 2",
    "energy per distance": "[mass] * [length] / [time] ** 2",
    "voltage": "[mass] * [length] ** 2 / [current] / [time] ** 3",
    "current": "[current]",
    "electric charge": "[current] * [time]",
    "resistance": "[mass] * [length] ** 2 / [current] ** 2 / [time] ** 3",
    "inductance": "[mass] * [length] ** 2 / [current] ** 2 / [time] ** 2",
    "flux linkage": "[mass] * [length] ** 2 / [current] / [time] ** 2",
    "torque constant": "[mass] * [length] ** 2 / [current] / [time] ** 2",
    "angular speed": "1 / [time]",
    "speed constant": "[current] * [time] ** 2 / [mass] / [length] ** 2",
    "angle": "dimensionless",
    "heat capacity": "[mass] * [length] ** 2 / [temperature] / [time] ** 2",
    "heat conductance": "[mass] * [length] ** 2 / [temperature] / [time] ** 3",
    "temperature coefficient": "1 / [temperature]",
    "fraction": "dimensionless",
}


def _powers(dimension):
    """A registry dimension as {base: power}, whatever order it was written in."""
    powers, sign = {}, 1
    for word in dimension.replace("**", "^").replace(" ^ ", "^").split():
        if word in "*/":
            sign = 1 if word == "*" else -1
            continue
        base, _, power = word.partition("^")
        if base not in ("1", "dimensionless"):
            powers[base] = powers.get(base, 0) + sign * float(power or 1)
    return powers


@pytest.mark.parametrize("row", list(FACTORS.itertuples()), ids=lambda row: row.unit)
def test_factors_are_those_printed(row):
    """published: NIST SP 811 (2008), appendix B.8; half the last of seven printed digits."""
    assert units.to_si(1.0, row.unit) == pytest.approx(row.factor, rel=5e-7)


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"), [(-40.0, -40.0), (0.0, 32.0), (6.0, 42.8), (37.0, 98.6), (100.0, 212.0)]
)
def test_temperature_scales(celsius, fahrenheit):
    """published: NIST SP 811 (2008), appendix B.8, t/C = (t/F - 32)/1.8 and T/K = t/C + 273.15."""
    assert units.convert(fahrenheit, "degF", "degC") == pytest.approx(celsius, abs=1e-9)
    assert units.to_si(celsius, "degC") == pytest.approx(celsius + 273.15, abs=1e-12)


@pytest.mark.parametrize("label", units.UNITS)
def test_every_row_agrees_with_the_registry(label):
    """published: the pint registry, its own definitions; rounding only."""
    factor, offset, dimension = units.registry_factor(label)
    row = units.UNITS[label]
    assert row.factor == pytest.approx(factor, rel=1e-12)
    assert row.offset == pytest.approx(offset, abs=1e-9)
    assert _powers(dimension) == _powers(REGISTRY_DIMENSION[row.dimension])


def test_amperes_peak_and_rms():
    """exact solution: the root mean square of a sine over whole periods is its peak over the root of two."""
    angle = np.linspace(0.0, 2.0 * np.pi, 1000, endpoint=False)
    assert units.rms_from_peak(350.0) == pytest.approx(np.sqrt(np.mean((350.0 * np.sin(angle)) ** 2)), rel=1e-12)
    assert units.peak_from_rms(units.rms_from_peak(350.0)) == pytest.approx(350.0, rel=1e-15)


@given(value=st.floats(-1e6, 1e6), label=st.sampled_from(sorted(units.UNITS)))
def test_there_and_back(value, label):
    """property: every unit, values of either sign: from_si undoes to_si."""
    back = units.from_si(units.to_si(value, label), label)
    assert back == pytest.approx(value, rel=1e-12, abs=1e-9)


@given(value=st.floats(0.0, 1e6), data=st.data())
def test_through_any_third_unit(value, data):
    """property: converting through any third unit of the dimension changes nothing."""
    first = data.draw(st.sampled_from(sorted(units.UNITS)))
    same = st.sampled_from([label for label, row in units.UNITS.items() if row[0] == units.UNITS[first].dimension])
    second, third = data.draw(same), data.draw(same)
    straight = units.convert(value, first, third)
    assert units.convert(units.convert(value, first, second), second, third) == pytest.approx(
        straight, rel=1e-11, abs=1e-8
    )


def test_arrays_keep_their_shape():
    """hand-worked: 3.6 km/h is 1 m/s."""
    speeds = np.full((3, 2), 3.6)
    assert units.to_si(speeds, "km/h").shape == (3, 2)
    np.testing.assert_allclose(units.to_si(speeds, "km/h"), 1.0, rtol=1e-15)
    np.testing.assert_allclose(units.from_si([1.0, 2.0], "km/h"), [3.6, 7.2], rtol=1e-15)


def test_a_wrong_dimension_is_refused():
    """property: a wrong dimension is refused in words; the same SI base units do not make torque energy."""
    with pytest.raises(ValueError, match="'mph', which measures speed, to 'kg', which measures mass"):
        units.convert(80.0, "mph", "kg")
    with pytest.raises(ValueError, match="torque"):
        units.convert(80.0, "Wh", "N m")
    with pytest.raises(ValueError, match="temperature difference"):
        units.convert(10.0, "degC", "degC difference")


@pytest.mark.parametrize("typed", ["Nm", "mb", "C", "F", "amps", "", None, 3, "KM/H", ["m"]])
def test_typed_units_are_not_guessed(typed):
    """property: only the labels themselves are units; the refusal lists them."""
    with pytest.raises(ValueError, match="Accepted units: m/s, km/h, mph"):
        units.to_si(1.0, typed)


@pytest.mark.parametrize("value", [None, "80", "80 kg", [None, 1.0], 1j])
def test_only_numbers_are_converted(value):
    """property: text, None and complex numbers are refused rather than guessed at."""
    with pytest.raises(ValueError, match="is not a number"):
        units.to_si(value, "kg")
