"""Chain: printed pitches and diameters, the length of a band over two circles, a build's efficiency."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from physics.build import example_build
from physics.components import chain

PUBLISHED = Path(__file__).parents[2] / "published"
DIAMETERS = pd.read_csv(PUBLISHED / "sprocket_pitch_diameters.csv", comment="#")
SIZES = pd.read_csv(PUBLISHED / "chain_sizes.csv", comment="#")
INCH = 0.0254
SPROCKETS = {"front": st.integers(9, 24), "rear": st.integers(25, 75), "pitches": st.floats(30.0, 70.0)}


@pytest.mark.parametrize("row", list(SIZES.itertuples()), ids=lambda row: str(row.size))
def test_chain_sizes(row):
    """published: trade table of ISO 10190 / ANSI B29.1 sizes, every row; exact to the digits printed."""
    size = chain.chain_size(row.size)
    assert size.pitch * 1000.0 == pytest.approx(row.pitch_mm, abs=5e-10)
    assert size.inner_width * 1000.0 == pytest.approx(row.inner_width_mm, abs=5e-9)
    assert size.roller_diameter * 1000.0 == pytest.approx(row.roller_diameter_mm, abs=5e-9)


def test_pitch_diameter_column():
    """published: one-inch pitch table, 8 to 152 teeth, all 145 rows; half the last printed digit."""
    diameters = chain.pitch_diameter(INCH, DIAMETERS["teeth"]) * 1000.0
    np.testing.assert_allclose(diameters, DIAMETERS["pitch_diameter_mm"], atol=0.00501, rtol=0)


@pytest.mark.parametrize(("teeth", "inches"), [(9, 2.924), (13, 4.179), (25, 7.979)])
def test_pitch_diameter_in_inches(teeth, inches):
    """published: ANSI B29.1 No. 80 stock sprockets (pitch 1 in), pitch diameter; half the last printed digit."""
    assert chain.pitch_diameter(1.0, teeth) == pytest.approx(inches, abs=5.01e-4)


@pytest.mark.parametrize(("teeth", "percent"), [(9, 6.0), (11, 4.1), (17, 1.7)])
def test_chordal_speed_change(teeth, percent):
    """published: chordal speed change in trade engineering data; half the last printed digit.

    A link lies as a chord between two pins: its middle is nearer to the shaft than they are.
    """
    radius = 0.5 * chain.pitch_diameter(1.0, teeth)
    assert (1.0 - np.sqrt(radius**2 - 0.25) / radius) * 100.0 == pytest.approx(percent, abs=0.0501)


def test_chain_length_worked_example():
    """published: roller chain design example, 20 and 63 teeth, 36 pitches apart: 114.8 links, 35.6 pitches at 114.

    As quoted from a design textbook in a later paper on chain length; half the last printed digit.
    """
    assert chain.chain_length(1.0, 20, 63, 36.0) == pytest.approx(114.8, abs=0.0501)
    assert chain.centre_distance(1.0, 20, 63, 114) == pytest.approx(35.6, abs=0.0501)


def test_equal_sprockets():
    """exact solution: two equal sprockets leave two straight runs and one whole turn, L = 2 C / p + N."""
    assert chain.chain_length(0.0127, 15, 15, 0.5) == pytest.approx(2 * 0.5 / 0.0127 + 15, rel=1e-14)


@given(**SPROCKETS)
def test_length_from_tangent_points(front, rear, pitches):
    """exact solution: the straight run between tangent points and the arcs, laid out in coordinates."""
    small, large = 0.5 / np.sin(np.pi / front), 0.5 / np.sin(np.pi / rear)
    lean = np.arcsin((large - small) / pitches)
    normal = np.array([np.sin(lean), np.cos(lean)])  # of the upper run; the rear sprocket is at the origin
    on_rear, on_front = large * normal, np.array([pitches, 0.0]) + small * normal
    run = on_front - on_rear
    assert run @ normal == pytest.approx(0.0, abs=1e-9)  # it touches both circles
    wrap_rear = 2.0 * (np.pi - np.arctan2(on_rear[1], on_rear[0]))
    wrap_front = 2.0 * np.arctan2(on_front[1], on_front[0] - pitches)
    links = 2.0 * np.hypot(*run) + (rear * wrap_rear + front * wrap_front) / (2.0 * np.pi)
    assert chain.chain_length(1.0, front, rear, pitches) == pytest.approx(links, rel=1e-12)


@given(**SPROCKETS)
def test_centre_distance_undoes_length(front, rear, pitches):
    """property: 9 to 24 over 25 to 75 teeth, 30 to 70 pitches apart: the inverse returns the distance."""
    links = chain.chain_length(0.0127, front, rear, pitches * 0.0127)
    assert chain.centre_distance(0.0127, front, rear, links) == pytest.approx(pitches * 0.0127, rel=1e-12)


def test_pitch_scales_everything():
    """property: the same drive drawn with a larger pitch has the same number of links."""
    assert chain.chain_length(0.015875, 13, 48, 0.6 * 1.25) == pytest.approx(
        chain.chain_length(0.0127, 13, 48, 0.6), rel=1e-13
    )


def test_chain_speed_by_hand():
    """hand-worked: 12 teeth of 15.875 mm at 6000 rpm: 12 x 0.015875 x 100 = 19.05 m/s.

    With many teeth it is nearly the speed of the pitch circle: 60 teeth, pi / N squared over 6 is 0.05 %.
    """
    assert chain.chain_speed(0.015875, 12, 100 * 2 * np.pi) == pytest.approx(19.05, abs=1e-12)
    by_circle = np.pi * chain.pitch_diameter(0.0127, 60) * 100
    assert chain.chain_speed(0.0127, 60, 100 * 2 * np.pi) == pytest.approx(by_circle, rel=5e-4)


def test_efficiency_of_a_build():
    """published: Burgess and Lodge, Sports Engineering 7 (2004) 65-73, abstract: 96 to 99 % below 75 mile/h."""
    assert 0.96 <= example_build().driveline.efficiency <= 0.99


def test_wrong_inputs_are_refused():
    """property: what is no sprocket, no chain, or does not fit is refused in words."""
    with pytest.raises(ValueError, match="sprocket needs at least 5 teeth; got 3"):
        chain.pitch_diameter(0.0127, 3)
    with pytest.raises(ValueError, match="Unknown chain size '521'"):
        chain.chain_size("521")
    with pytest.raises(ValueError, match="touch at 103 mm"):
        chain.chain_length(0.0127, 12, 39, 0.05)
    with pytest.raises(ValueError, match="too short"):
        chain.centre_distance(0.0127, 12, 56, 40)
