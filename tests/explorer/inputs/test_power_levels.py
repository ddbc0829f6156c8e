"""One to five power levels: what goes into the build, links of any age, and what is typical of an own bike."""

import pytest

from explorer.inputs.origins import OWN, Inputs
from explorer.inputs.power_levels import LEVELS
from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from explorer.state import build_files
from explorer.state.state import State, from_link


@pytest.mark.parametrize("count", range(1, 6))
@pytest.mark.parametrize("start", [OWN, *PRESETS])
def test_a_build_has_the_levels_that_are_said(start, count):
    """property: that many, none milder than the one below; of one that is not there the last takes the place."""
    values = (Inputs(OWN, {}, {}) if start == OWN else PRESETS[start].values()) | {"levels": count, "level": "5"}
    control = make_build(values).controller
    assert len(control.power_levels) == count
    assert values["level"] == LEVELS[count - 1]
    now, last = (control.line_current_limit, control.phase_current_limit), control.power_levels[-1]
    assert now == (last.line_current_limit, last.phase_current_limit)
    for kind in ("line_current_limit", "phase_current_limit"):
        limits = [getattr(level, kind) for level in control.power_levels]
        assert limits == sorted(limits)
    again = from_link(State({"One": values}, "One").link())
    assert again.values == values
    assert not again.notes


def test_a_link_or_file_beyond_the_levels_says_what_it_uses():
    """hand-worked: the demos have three levels; the last of them stands for the fifth."""
    state = from_link({"preset": "trail", "level": "5"})
    said = "Power level was Level 5; this build has 3 power levels, so Level 3 is used."
    assert (state.values["level"], state.notes) == ("3", [said])
    file = build_files.as_json({"One": state.values}).replace('"level": "3"', '"level": "5"')
    opened = build_files.from_bytes(file.encode())
    assert opened.builds[0][1]["level"] == "3"
    assert said in " ".join(opened.sentences)


def test_links_from_when_there_were_always_three():
    """hand-worked: level 2 had 70 % of the limits of level 3; of 200 A that is 140 A."""
    old = from_link({"preset": OWN, "level": "2", "line_3": "200"})
    assert (old.values["levels"], old.values["level"], old.values["line_2"]) == (3.0, "2", 140.0)
    assert not old.notes
    strongest = from_link({"preset": OWN, "line_3": "200"}).values
    assert (strongest["levels"], strongest["level"]) == (3.0, "3")
    mildest = from_link({"preset": OWN, "level": "1", "line_1": "60"}).values
    assert (mildest["levels"], mildest["level"], mildest["line_1"]) == (3.0, "1", 60.0)


def test_an_own_bike_starts_with_one_level_and_more_move_nothing_given():
    """property: the limit that was given, and that it is in use, stay when levels are added."""
    bare = Inputs(OWN, {}, {})
    assert (bare["levels"], bare["level"]) == (1.0, "1")
    more = bare.told({"line_1": 180.0}) | {"levels": 4.0}
    assert (more["level"], more["line_1"]) == ("1", 180.0)
    assert make_build(more).controller.line_current_limit == 180.0
