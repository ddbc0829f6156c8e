"""What follows a slider while it is held: the pages it is drawn from."""

import numpy as np
import pytest

from explorer.page import make_page
from explorer.page.tolerances import tolerances
from explorer.state.state import State


@pytest.fixture(scope="module")
def state():
    return State.of("supermoto")


@pytest.fixture(scope="module")
def settled(state):
    """The page before a slider was touched, with its band."""
    return make_page.page_of(state, state.values, tolerances(state.values))


def test_a_held_page_is_the_page_of_its_inputs(state, settled):
    """property: several pages from one batch show what each shows alone, but for the band."""
    line = f"line_{state.values['level']}"
    several = [state.values | {"air_temperature": degrees} for degrees in (-5.0, 30.0)]
    several += [state.values | {line: amps} for amps in (120.0, 180.0)]
    for values, found in zip(several, make_page.near(settled, state, several), strict=True):
        alone = make_page.page_of(state, values)
        assert found.build == alone.build
        assert found.inputs == values
        speed = np.interp(found.run.time, alone.run.time, alone.run.speed[0])
        assert found.run.speed[0] == pytest.approx(speed, abs=0.02)  # m/s, far below what a chart shows
        assert found.rough


def test_inputs_that_make_no_build_or_last_longer_have_no_page(state, settled):
    """property: the others are made all the same."""
    none = state.values | {"cells": 0}
    longer = state.values | {"duration": state.values["duration"] + 5}
    found = make_page.near(settled, state, [state.values, longer, none])
    assert [page is None for page in found] == [False, True, True]
    assert make_page.near(settled, state, [none]) == [None]


def test_the_band_of_a_run_that_has_not_changed_is_itself(state, settled):
    """property: shifted to its own run, a band stays where it is."""
    instants, low, high = make_page.shifted_band(settled.band, settled.run, settled.run)
    assert np.array_equal(instants, settled.band[0])
    moving = np.interp(instants, settled.run.time, settled.run.speed[0]) > 0.1
    assert low[moving] == pytest.approx(settled.band[1][moving])
    assert high[moving] == pytest.approx(settled.band[2][moving])
