"""Where a step that went too far is to land: exact solutions on paths made of straight lines and roots."""

import numpy as np
import pytest

from physics.simulation.landing import LEAST_SHARE, MOST_SHARE, share_at_kink, share_at_turn, share_to_land

KINKS = np.array([0.01, 0.25, 0.5, 0.9])
ONE = np.ones(KINKS.size)
NEVER_TRIED = np.zeros((2, KINKS.size))


def test_a_kink_between_two_straight_lines_is_found_from_one_try():
    """exact solution: from the kink on acceleration falls by 3 m/s3 where it rose by 1 before, over 2 s."""
    apart = -4.0 * 2.0 * (1 - KINKS)
    assert share_at_kink(2.0 * ONE, apart, -4.0 * ONE, ONE, NEVER_TRIED) == pytest.approx(KINKS)


def test_a_second_try_finds_it_from_how_far_voltage_strayed():
    """exact solution: straying grows in proportion to the time since the kink, at 0.2 s; tries of 2 and 1.5 s."""
    tried = np.array([[2.0], [7.0 * 1.8]])
    share = share_at_kink(np.array([1.5]), np.zeros(1), np.zeros(1), np.array([7.0 * 1.3]), tried)
    assert share == pytest.approx([0.2 / 1.5])


def test_where_a_straight_line_leads_nowhere_a_root_is_taken():
    """exact solution: straying grows with the root of the time since the kink, at 0.1 s; tries of 2 and 1 s."""
    tried = np.array([[2.0], [np.sqrt(1.9)]])
    share = share_at_kink(np.array([1.0]), np.zeros(1), np.zeros(1), np.array([np.sqrt(0.9)]), tried)
    assert share == pytest.approx([0.1])


@pytest.mark.parametrize(("apart", "bend"), [(0.0, 0.0), (1.0, 0.0), (1.0, -2.0), (5.0, 2.0)])
def test_where_nothing_tells_the_step_is_halved(apart, bend):
    """property: paths that do not part, or did before the step began."""
    assert share_at_kink(ONE, apart * ONE, bend * ONE, ONE, NEVER_TRIED).tolist() == [0.5] * KINKS.size


def test_a_step_lands_behind_the_kink_but_never_too_near_to_its_ends():
    """property: over all of both ranges."""
    share, surprise = np.meshgrid(np.linspace(0.0, 1.0, 101), np.geomspace(1e-3, 1e6, 50))
    landed = share_to_land(share, surprise)
    assert ((landed >= LEAST_SHARE) & (landed <= MOST_SHARE)).all()
    assert (landed >= np.minimum(share, MOST_SHARE)).all()


def test_the_first_of_several_signs_that_change_is_found():
    """exact solution: lines through zero at 0.5, 0.2 and nowhere."""
    before, after = np.array([[-1.0], [4.0], [2.0]]), np.array([[1.0], [-16.0], [1.0]])
    assert share_at_turn(before, after) == pytest.approx([0.2])
    assert np.isinf(share_at_turn(before[2:], after[2:])).all()
