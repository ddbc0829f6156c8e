"""The tank sticker: each band's numbers hold anywhere inside it, and it is whole in itself."""

from dataclasses import replace

import numpy as np
import pytest

from explorer.inputs.origins import Inputs
from explorer.inputs.presets import PRESETS
from explorer.page.tolerances import tolerances
from explorer.questions.regen.results import plan_of
from explorer.questions.setup_sheet import sticker, strip
from explorer.questions.setup_sheet.results import bands_of
from physics.build.batch import Batch
from physics.scenarios.pull import Pull
from physics.scenarios.repeated_pulls import repeated_pulls
from physics.simulation.run import run
from physics.studies.headroom_curves import needed
from tests.explorer.questions.test_setup_sheet import HOSTILE, Reader, page_of


def test_bands_of_a_pack_of_24_cells():
    """hand-worked: full is 24 x 4.2 V; whole volts below it, each band's lower end the next one's upper."""
    bands = bands_of(page_of())
    assert bands.upper[0] == pytest.approx(24 * 4.2)
    assert np.all(bands.upper[1:] == bands.lower[:-1])
    assert np.all(np.diff(bands.lower) == bands.lower[1] - bands.lower[0])
    assert bands.lower_charge[-1] <= 0.1 < bands.upper_charge[-1]


@pytest.mark.parametrize("preset", PRESETS)
def test_it_holds_at_the_worse_end_of_each_band(preset):
    """property: a pull at the lower end survives at the line limit; regen at the upper end is allowed."""
    page = page_of(preset, regen=40.0)
    bands = bands_of(page)
    some = np.isfinite(bands.line) & (bands.line > 0)
    builds = [
        page.build.change({"conditions.charge": charge, "controller.line_current_limit": line})
        for charge, line in zip(bands.lower_charge[some], bands.line[some], strict=True)
    ]
    if builds:
        assert not np.isfinite(run(builds, page.duration).cut_out_time).any()
    temperature = float(Batch.of(page.build)["conditions.pack_temperature"][0])
    plan, known = plan_of(page), tolerances(page.inputs)
    found = needed(page.build, bands.regen, temperature, plan, page.batch, known)
    assert np.all((bands.regen == 0) | (found.highest_charge >= bands.upper_charge - 1e-9))
    assert np.all(np.diff(bands.regen) >= 0)


def test_its_pulls_are_there():
    """property: from the lower end of each band at least so many pulls reach the target."""
    page = page_of("trail", target=60.0)
    bands = bands_of(page)
    assert bands.pulls.max() > 2
    assert np.all(np.diff(bands.pulls) <= 0)
    starts = Batch.vary(page.build, {"conditions.charge": bands.lower_charge})
    pull = Pull(page.duration, page.target_speed, float(page.inputs["pulls_hold"]))
    rest = 60.0 * page.inputs["pulls_rest"]
    most = int(min(bands.pulls.max(), 12))
    made = repeated_pulls(starts, pull, rest, most, float(page.inputs["pulls_current"]))
    assert np.all(made.pulls >= np.minimum(bands.pulls, most))


def test_the_way_home_is_marked_where_it_is_known():
    """property: a mark above the first band that reaches below it, and a line to write on where it is not known."""
    page = page_of()
    unknown = strip.gather(page, "1 April 2030, 09:00")
    assert "Turn back at, V" in unknown.blanks
    page = replace(page, inputs=Inputs("supermoto", page.inputs, {"home_distance": 5.0}))
    known = strip.gather(page, "1 April 2030, 09:00")
    assert "Turn back at, V" not in known.blanks
    marks = [index for index, row in enumerate(known.rows) if len(row) == 1]
    back = bands_of(page).turn_back
    assert back is not None
    if np.isfinite(back):
        (index,) = marks
        low = float(known.rows[index + 1][0].split(" to ")[1])
        assert low < back
    else:
        assert not marks


def test_it_is_whole_in_itself_and_text_stays_text():
    """property: nothing is loaded or run, all tags are closed, and hostile text is shown."""
    made = strip.gather(page_of(name=HOSTILE), HOSTILE)
    html = sticker.as_html(made)
    read = Reader(html)
    assert not read.wrong
    assert not read.open
    assert html.count(HOSTILE) == 0
    assert not {"script", "img", "link", "iframe", "a"} & set(read.tags)
    for row in made.rows:
        for cell in row:
            assert cell in read.text
    assert len(made.rows) <= 12
