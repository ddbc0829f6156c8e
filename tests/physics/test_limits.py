"""Names of limits and rules: one of each, indices that fit, and the words the rest of the package uses."""

import numpy as np

from physics import limits
from physics.build import example_build
from physics.limits import LIMITS, RULES
from physics.simulation.run import run


def indices(names):
    """The constants that belong to a tuple of names."""
    return [getattr(limits, name.upper().replace(" ", "_").replace("-", "_").replace("-", "_")) for name in names]


def test_every_limit_has_its_own_index():
    """hand-worked: twelve limits and five rules, each constant the index of its own name."""
    assert len(LIMITS) == len(set(LIMITS)) == 12
    assert len(RULES) == len(set(RULES)) == 5
    assert indices(LIMITS) == list(range(12))
    assert indices(RULES) == list(range(5))


def test_a_run_stores_indices_of_limits():
    """property: at every instant of a run exactly one limit is named."""
    result = run(example_build(), 10.0)
    assert result.limit.shape == (1, *result.time.shape)
    assert np.isin(result.limit, range(len(LIMITS))).all()
    assert result.limit_names() == [LIMITS[index] for index in result.limit[0]]
