"""Charge headroom: its curves."""

import numpy as np

from physics.studies.headroom_curves import headroom_answer
from tests.explorer.pages import page_of


def test_headroom_curves_stop_only_where_regen_is_not_allowed():
    """property: a gap in the curve against temperature lies outside the allowed temperatures."""
    answer = headroom_answer(page_of().build, 10.0)
    inside = (answer.temperature >= answer.floor) & (answer.temperature <= answer.ceiling)
    assert np.isfinite(answer.volts_by_temperature[inside]).all()
    assert np.isnan(answer.volts_by_temperature[~inside]).all()
