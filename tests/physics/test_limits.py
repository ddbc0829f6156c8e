"""Names of limits and rules: one of each, places that fit, and the words the rest of the package uses."""

import numpy as np

from physics import limits
from physics.build import Bike, Build, Controller, Driveline, Motor, Pack
from physics.limits import LIMITS, RULES
from physics.simulation.run import run


def places(names):
    """The constants that belong to a tuple of names."""
    return [getattr(limits, name.upper().replace(" ", "_").replace("-", "_")) for name in names]


def test_every_limit_has_its_own_place():
    """hand-worked: twelve limits and four rules, each constant the place of its own name."""
    assert len(LIMITS) == len(set(LIMITS)) == 12
    assert len(RULES) == len(set(RULES)) == 4
    assert places(LIMITS) == list(range(12))
    assert places(RULES) == list(range(4))


def test_a_run_stores_places_of_limits():
    """property: at every instant of a run exactly one limit is named."""
    build = Build(Pack(24, 26.0), Motor(60.0), Controller(200.0, 400.0), Driveline(12, 56), Bike(120.0, 75.0))
    result = run(build, 10.0)
    assert result.limit.shape == (1, *result.time.shape)
    assert np.isin(result.limit, range(len(LIMITS))).all()
    assert result.limit_names() == [LIMITS[place] for place in result.limit[0]]
