"""What riders read is plain English: no banned phrase in the source, no slip in any sentence of 200 random builds.

All are properties. What makes a slip stands in `tests/explorer/plain_words.py`.
"""

import functools
import re

import numpy as np

from explorer.format import UnitFormatter, spelled
from explorer.inputs.catalogue import INPUTS
from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from explorer.page import cautions, words
from explorer.page.page import LONGER, LONGER_STEPS, Page
from explorer.questions.headroom import results as headroom_results
from explorer.questions.headroom import words as headroom
from explorer.questions.heat import results as heat_results
from explorer.questions.heat import words as heat
from explorer.questions.line_limit import results as limit_results
from explorer.questions.line_limit import words as line_limit
from explorer.questions.packs_on_offer import results as burst_results
from explorer.questions.packs_on_offer import words as burst
from explorer.questions.run import words as run_words
from explorer.questions.sag import timer_words as protection
from explorer.questions.sag import words as sag
from explorer.questions.voltage_window import results as window_results
from explorer.questions.voltage_window import words as voltage_window
from physics.build.batch import Batch
from physics.scenarios.state import run_from, state_at
from physics.simulation.run import run
from tests.explorer.pages import SUPERMOTO, opened, written
from tests.explorer.plain_words import (
    BANNED,
    BRITISH,
    EXPLORER,
    PHYSICS,
    README,
    SLIPS,
    TRADE,
    prose,
    slips,
    unsaid,
)
from tests.explorer.random_builds import sound_inputs

UNIT_NAMES = "quantities.py"
"""Holds how logs write their units, "metre" among them."""
BUILDS, SOME, FEW = 200, 10, 2
"""Of all, those asked for their headroom, and those asked what takes many runs."""
DURATION = 25.0


@functools.cache
def pages() -> tuple[Page, ...]:
    """Every other one in US units and beside the demo as its baseline; all from one batch of runs."""
    inputs = [values | {"duration": DURATION} for values in sound_inputs(BUILDS)]
    builds = [make_build(values) for values in inputs]
    demo = make_build(PRESETS[SUPERMOTO].values())
    runs = run([*builds, demo], DURATION)
    made = []
    for row, (build, values) in enumerate(zip(builds, inputs, strict=True)):
        rows = [row, -1] if row % 2 else [row]
        made.append(
            Page(
                build=build,
                baseline=demo if row % 2 else None,
                runs=runs.take(rows),
                target_speed=INPUTS["target"].si(values["target"]),
                duration=DURATION,
                headroom_wanted=float(values["headroom_wanted"]),
                fmt=UnitFormatter("US" if row % 2 else "metric"),
                inputs=values,
            )
        )
    _go_on(made)
    return tuple(made)


def _go_on(made: list[Page]) -> None:
    """Give the pages their longer runs from one batch, as they would work them out one by one."""
    going = [page for page in made if not (page.reaches_target or page.run.settled[0] or words.cut_out(page))]
    batch = Batch.of([page.build for page in going]).change({"controller.throttle_ramp_time": 0.0})
    shorter = run([page.build for page in going], DURATION)
    state = state_at(shorter, np.full(len(going), DURATION))
    longer = run_from(batch, state, LONGER, shorter.speed[:, -1], LONGER_STEPS)
    for row, page in enumerate(going):
        page.__dict__["longer_run"] = longer.one(row)


def test_every_phrase_of_the_source_is_one_a_rider_would_say():
    """property: of both lists nothing stands anywhere in the page's texts, labels, helps and cautions."""
    said = [
        f"{path.relative_to(EXPLORER)}:{line}: {fault} in “{text[:90]}”"
        for path in sorted(EXPLORER.rglob("*.py"))
        for line, text in prose(path)
        for fault in unsaid(text)
    ]
    assert not said, "\n".join(said)


def test_so_is_every_line_of_the_readme():
    """property: the same of what is read first."""
    said = [f"{line}: {fault}" for line in README.read_text("utf-8").splitlines() for fault in unsaid(line)]
    assert not said, "\n".join(said)


def test_beside_us_units_no_british_word_is_left():
    """property: of the commonest spellings that differ, none is left in any text of the page or of the physics it
    quotes, once the text is spelled for US units."""
    left = [
        f"{path.name}:{line}: {found[0]} in “{text[:90]}”"
        for room in (EXPLORER, PHYSICS)
        for path in sorted(room.rglob("*.py"))
        for line, text in prose(path)
        if " " in text and path.name != UNIT_NAMES and (found := BRITISH.search(spelled(text, "US")))
    ]
    assert not left, "\n".join(left)
    assert BRITISH.search("the tyre")
    assert not BRITISH.search(spelled("Tyres, the kerb and the centre; ageing aluminium", "US"))


def test_the_lists_find_what_they_are_for():
    """property: the sentences these lists were made from are found, and what stands in their place is not."""
    old = (
        "uses none of any allowance", "The 3.0 V you plan are too few by 2.1 V", "Ride it off at",
        "the last digits leave 948 to 964 open", "A prediction is no permission", "What brings the doubt in speed",
        "Go on with a copy", "57 A would do even if nothing at all were lost", "as much worse as it may well be",
        "with nothing in hand", "(74 % of charge)", "goes light from 86 % of throttle", "ampere-hours to put in",
        "all but certain to reach it", "one tooth less at the rear", "106 A root mean square", "the brake lamp",
    )  # fmt: skip
    new = (
        "stays inside every BMS limit", "Your planned 3.0 V is 2.1 V short", "Today's 77.3 V is 3.8 V above that.",
        "Rounding allows anything from 948 to 964.", "1 pull", "12 pulls", "it reads 3 % low", "−4 °C",
        "57 A keeps to it even with no losses at all.", "with an 80 % margin", "an 11 A fuse", "a 110 A fuse",
        "with nothing to spare", "(74 % charge)", "In Level 2 is", "each 10 % of throttle adds 0.4 g",
    )  # fmt: skip
    assert all(unsaid(text) for text in old)
    assert not any(unsaid(text) or slips(text) for text in new)
    for text in (
        "the the",
        "1 pulls",
        "3.8 V are above",
        "−2.1 V short",
        "-4 °C",
        "2 readings is",
        "It ( so",
        "a  b",
        "a 8 % margin",
        "an 10 A fuse",
        "1 are",
        "2 is",
        "1 stops",
        "done,.",
        "2 mismatches is",
    ):
        assert slips(text), text
    assert len({*BANNED, *TRADE, *SLIPS}) == len(BANNED) + len(TRADE) + len(SLIPS)


def of_every_page(page: Page) -> dict[str, str]:
    """What the first screen and the quick questions say."""
    return {
        "headline": words.headline(page)[1],
        "holds": words.what_holds(page),
        "closed": words.pack_stays_closed(page),
        "rating": words.past_rating(page),
        "in turn": run_words.in_turn(page),
        "sag": sag.verdict(page),
        "protection": protection.verdict(page),
        "protection note": protection.note(page),
        "cautions": cautions.speed_ratings(page.build, float(page.run.top_speed[0]), page.fmt),
        "changes": words.changes(PRESETS[SUPERMOTO].values(), page.inputs, page.fmt.system, "peak"),
    }


def of_a_few(page: Page) -> dict[str, str]:
    """What the questions say that take many runs."""
    window, now = window_results.window_of(page), window_results.resting_now(page)
    pulls = window_results.pulls_of(page)
    power = burst_results.burst_of(page)
    return {
        "window": voltage_window.verdict(page, window, now),
        "how many": voltage_window.how_many(page, pulls),
        "what ends it": voltage_window.what_ends_it(page, pulls, window),
        "line limit": line_limit.verdict(page, limit_results.limit_of(page)),
        "burst": f"{burst.verdict(page, power)} {burst.warmer(page, power)}",
        "heat held": heat.held_verdict(page, heat_results.held_of(page)),
        "heat of pulls": heat.pulls_verdict(page, heat_results.pulls_of(page)),
    }


def wrong_in(said: dict[str, str]) -> list[str]:
    """What is wrong in these sentences."""
    return [
        f"{name}: {fault} in “{text}”" for name, text in said.items() for fault in [*slips(text), *unsaid(text)]
    ]


def test_no_sentence_of_200_random_builds_slips():
    """property: no word twice, no "1 pulls", no amount below zero beside its direction, number and verb agree."""
    wrong = [fault for page in pages() for fault in wrong_in(of_every_page(page))]
    assert not wrong, "\n".join(wrong)


def test_one_number_says_one_thing():
    """property: the answer and the tiles under it print top speed and time to the target alike."""
    for page in pages():
        sentence = words.headline(page)[1]
        if re.search("tops out at|gaining at", sentence) and page.longer_run is None:
            assert f" {words.top_speed(page)}." in sentence
        if sentence.startswith("Reaches"):
            assert f"after {words.time_to_target(page)}" in sentence


def test_nor_does_a_plan():
    """property: the same of headroom, and of the questions that take many runs."""
    wrong = [
        fault
        for page in pages()[:SOME]
        for fault in wrong_in({"headroom": headroom.verdict(page, headroom_results.headroom_of(page))})
    ]
    wrong += [fault for page in pages()[:FEW] for fault in wrong_in(of_a_few(page))]
    assert not wrong, "\n".join(wrong)


def test_us_units_bring_us_spelling():
    """property: labels, helps, captions and cautions of the first screen and two sections that speak of tyres."""
    page = opened("speedometer", "experiments", units="US", target=140)
    drawn = written(page)
    for kind in ("slider", "selectbox", "number_input", "toggle", "radio", "expander", "segmented_control"):
        drawn += " ".join(f"{part.label} {getattr(part, 'help', '')}" for part in page.get(kind))
    assert "tires" in drawn
    assert not re.findall(r".{20}(?:tyre|\bcentre|\bageing|tarmac)", drawn, re.IGNORECASE)
    assert "tyre" in written(opened("speedometer", target=140))
