"""What several charts share: axes that stand still."""

import itertools

import numpy as np

from explorer.charts import parts


def test_steady_axes_end_on_few_round_numbers():
    """property: what is asked for is inside, with less than a step to spare; hand-worked: tens from 100 to 120."""
    for low, span, steps in itertools.product((-40.0, 0.0, 66.3), np.geomspace(0.01, 5e4, 211), (4, 8)):
        start, end = parts.steady(low, low + span, steps)
        step = span / steps  # at most
        assert low - step <= start <= low + 1e-9
        assert low + span - 1e-9 <= end <= low + span + step
    assert {parts.steady(0, high)[1] for high in np.linspace(100, 120, 41)} == {100.0, 110.0, 120.0}
