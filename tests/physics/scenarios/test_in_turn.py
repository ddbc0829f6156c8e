"""The same thing done in turn: pulls worked out at once against pulls made one after another."""

import numpy as np
import pytest

from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from physics.build.batch import Batch
from physics.scenarios.in_turn import GOES_ON, in_turn
from physics.scenarios.pull import Pull, make_pull
from physics.scenarios.state import BikeState, rest


@pytest.mark.parametrize("until", [np.inf, 294.0])
def test_as_one_after_another(until):
    """property: two builds, one of which misses its target after a while: every start and every result is that of
    a loop, up to the last of each build. 5e-5 of charge, 5 mK: a fortieth of what starts may still move when they
    count as agreed; a speed of 0.01 m/s goes with that."""
    build = make_build(PRESETS["supermoto"].values())
    batch = Batch.vary(build, {"conditions.charge": np.array([0.95, 0.55])})
    pull = Pull(20.0, 22.5, 3.0)

    def once(many, state):
        made = make_pull(many, pull, state)
        return {GOES_ON: made.reached & (made.worst < 1), "top": made.top_speed}, rest(many, made.after, 90.0)

    kept, states = in_turn(batch, once, BikeState.rested(batch), 8, until)
    state, goes, made = BikeState.rested(batch), np.ones(2, dtype=bool), 0
    while made < 8 and (goes & (state.temperatures[0] < until)).any():
        row, after = once(batch, state)
        assert kept[GOES_ON][goes, made].tolist() == row[GOES_ON][goes].tolist()
        assert kept["top"][goes, made] == pytest.approx(row["top"][goes], abs=0.01)
        assert states[made].charge[goes] == pytest.approx(state.charge[goes], abs=5e-5)
        assert states[made].temperatures[:, goes] == pytest.approx(state.temperatures[:, goes], abs=5e-3)
        state, goes, made = after, goes & row[GOES_ON] & (after.temperatures[0] < until), made + 1
    assert 1 < made == len(states) - 1 == kept["top"].shape[1]
