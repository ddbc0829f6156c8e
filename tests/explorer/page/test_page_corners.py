"""property: with every input at an end of its range, in every pair with every other, the page answers in numbers.

No exception, no numpy warning, no error, nothing that is no number in any text, table or figure, an answer, and a
verdict in each section. Sections are unfolded in turn, a few at each corner; ``python -m tests.bench.corner_sweep``
unfolds all of them at all corners, and draws more rows by lot.
"""

from functools import cache
from itertools import combinations, product

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from explorer.inputs.catalogue import GROUPS, INPUTS, PROTECTION
from explorer.inputs.power_levels import level_in_use
from explorer.inputs.to_build import make_build
from explorer.questions.how_sure import results as results_sure
from explorer.questions.voltage_window import results as voltage_window
from physics.studies.day import warm_up
from tests.explorer import corners, pairwise
from tests.explorer.corners import SECTIONS, VALUES, folds_inside, makes_a_build, shown

pytestmark = pytest.mark.filterwarnings("error::RuntimeWarning")

SLOW = ("what_gets_me_there", "how_sure", "warm_up")
"""Sections that search beside the page; they are seen at fewer corners here."""
QUICK = tuple(name for name in SECTIONS if name not in SLOW)
EACH = 3
ROWS = 31


@pytest.fixture(autouse=True, scope="module")
def less_work():
    """Few pulls in a row and few samples: the ends of the inputs are looked at here, not the ends of patience."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(voltage_window, "MOST_PULLS", 4)
        patch.setattr(results_sure, "SAMPLES", 64)
        patch.setattr(results_sure, "BASE", 16)
        patch.setattr(warm_up, "MOST_PULLS", 4)
        yield


@cache
def rows():
    return pairwise.rows(VALUES, makes_a_build)


def test_every_pair_of_ends_stands_in_a_row():
    """property: each end of each input, together with each end of every other, but for what cannot be together."""
    made, never = rows()
    assert len(made) == ROWS
    assert never == {
        (("continuous_current", 600.0), ("peak_current", 20.0)),
        (("foldback_start", 0.0), ("foldback_end", 140.0)),
    }
    for row in made:
        make_build(row)
    for (one, ends), (other, far) in combinations(VALUES.items(), 2):
        together = {(row[one], row[other]) for row in made}
        missing = set(product(ends, far)) - together
        assert {((one, a), (other, b)) for a, b in missing} <= never, (one, other)


def test_every_input_has_two_ends_and_off_where_it_can_be():
    """property: the ends are the least and the largest value an input accepts."""
    for key, spec in INPUTS.items():
        assert len(set(VALUES[key])) == len(VALUES[key]) >= 2
        if spec.is_number:
            assert {spec.low, spec.high} <= set(VALUES[key])
            assert (None in VALUES[key]) == (spec.kind != "number")


def unfolded_at(place: int) -> tuple[str, ...]:
    """The sections of a row: the quick ones a few at a time, all in turn."""
    some = tuple(QUICK[(EACH * place + step) % len(QUICK)] for step in range(EACH))
    return some + (SLOW[place // 6 % len(SLOW)],) * (place % 6 == 5)


@pytest.mark.parametrize("place", range(ROWS))
def test_the_page_answers_at_every_corner(place):
    row, before = rows()[0][place], rows()[0][place - 1]
    names = unfolded_at(place)
    inside = folds_inside(names)
    if place % 4 == 0:  # every input is drawn
        inside += [f"{kind}_{group}" for kind in ("group", "more") for group in GROUPS]
        inside += ["group_protection", f"group_{PROTECTION}"]
    page = shown(row, names, {key: before[key] for key in INPUTS} if place % 3 == 0 else None, inside)
    wanted = {key: row[key] for key in INPUTS} | {"level": level_in_use(row)}  # one that the controller holds
    assert {key: page.state.values[key] for key in INPUTS} == wanted
    assert not page.faults(names)


@pytest.mark.parametrize("pair", [("continuous_current", "peak_current"), ("foldback_end", "foldback_start")])
def test_ends_that_do_not_go_together_are_explained(pair):
    """The page says which two, and answers for the preset instead."""
    row = rows()[0][0] | {pair[0]: INPUTS[pair[0]].high, pair[1]: INPUTS[pair[1]].low}
    page = shown(row)
    assert not page.faults((), wrong_build=True)
    said = " ".join(error.value for error in page.page.error).lower()
    assert INPUTS[pair[1]].label.lower() in said


def between(spec):
    """Any value of an input."""
    if spec.kind == "options":
        return st.sampled_from([key for key, _ in spec.options])
    if spec.kind == "flag":
        return st.booleans()
    if spec.kind == "text":
        return st.sampled_from(corners.TYRES)
    number = st.floats(spec.low, spec.high).map(spec.clamp)
    return number if spec.kind == "number" else st.none() | number


ANYWHERE = st.fixed_dictionaries(
    {key: between(spec) for key, spec in INPUTS.items()}
    | {key: st.sampled_from(values) for key, values in corners.SETTINGS.items()}
)


@settings(max_examples=12, deadline=None, derandomize=True, phases=[Phase.explicit, Phase.generate])
@given(row=ANYWHERE, name=st.sampled_from(QUICK))
def test_the_page_answers_between_the_ends(row, name):
    fine = makes_a_build(row)
    assert not shown(row, (name,), inside=folds_inside((name,))).faults((name,), wrong_build=not fine)
