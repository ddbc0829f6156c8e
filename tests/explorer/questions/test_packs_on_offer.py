"""Packs on offer side by side, and the present one's power for a time: pure functions, and what Streamlit shows."""

import math
from dataclasses import replace

import pytest

from explorer.format import UnitFormatter
from explorer.inputs.to_build import make_build
from explorer.questions.packs_on_offer import compared, offers
from physics.components.cell import chemistry
from physics.components.thresholds import typical_thresholds
from physics.studies.packs_on_offer import Offer, PackAnswer, fitted
from tests.explorer.pages import opened, page_of, rerun, settled, state_of, written
from tests.explorer.plain_words import slips, unsaid

MINE = PackAnswer(0.052, 0.0, 170.0, 31.0, math.inf, 300.0, 330.0, 2.6, 5.0, 74e3)
SLOW = Offer("Slow", 24, 20.0, price=500.0)
FAST = Offer("Fast", 24, 30.0, 0.03, 250.0, 300.0, price=1500.0)
DEAR = Offer("Dear", 24, 40.0, 0.03, 300.0, 400.0, price=3000.0)
BETTER = replace(MINE, top_speed=33.0, time_to_target=14.0, line_limit=240.0)


def test_the_cheapest_that_reaches_the_target():
    """hand-worked: 1500 for 2 m/s, 7.2 km/h, are 208 each km/h; the dearer one gains no more."""
    page = page_of()
    answers = (MINE, BETTER, replace(BETTER, time_to_target=12.0))
    text = compared.verdict(page, (SLOW, FAST, DEAR), MINE, answers)
    assert text.startswith("**Fast reaches 115 km/h**, the cheapest that does: after 14.0 s")
    assert "with a line limit of 240 A, at 208 per km/h gained" in text
    assert not slips(text)
    assert not unsaid(text)
    unpriced = compared.verdict(page, (replace(FAST, price=None), DEAR), MINE, answers[1:])
    assert unpriced.startswith("**Dear reaches 115 km/h**, the quickest there")


def test_none_reaches_or_none_is_needed():
    page = page_of()
    assert "None of these packs reaches 115 km/h" in compared.verdict(page, (SLOW,), MINE, (MINE,))
    text = compared.verdict(page, (SLOW,), BETTER, (replace(BETTER, top_speed=32.0),))
    assert text == (
        "**The pack you have reaches 115 km/h**, with a line limit of 240 A. None of the offers is faster."
    )


@pytest.mark.parametrize("units", ["metric", "US"])
def test_every_pack_has_every_row(units):
    """property: a column for each pack, the present one first, alike names told apart; empty is a price alone."""
    odd = replace(MINE, line_limit=0.0, headroom=math.nan, reach=math.nan, cold_time=600.0)
    table = compared.table(page_of(units=units), (FAST, replace(FAST, mass=9.0)), MINE, (BETTER, odd))
    assert list(table.columns) == ["of each pack", compared.MINE, "Fast", "Fast’"]
    assert not (table.iloc[:-1] == "").any(axis=None)
    assert "nan" not in table.to_string()
    assert {"none survives", "no regen today", "not held", "over 10 min"} <= set(table["Fast’"])


def test_what_is_entered_becomes_offers():
    """hand-worked: 22 lb are 9.979 kg; a row without amp-hours is none; a peak below continuous is raised to it."""
    entries, fmt = {}, UnitFormatter("US")
    edits = {
        0: {"Ah": 30.0, "mΩ": 30.0, "mass, lb": 22.0, "A continuous": 250.0, "A peak": 200.0},
        1: {"price": 9.0},
    }
    offers.take(entries, edits, fmt)
    offers.take(entries, {"0": {"pack": " Mine <b> ", "price": 1e12}}, fmt)
    (only,) = offers.made(entries, 24)
    assert only.mass == pytest.approx(9.979, abs=0.0005)
    assert only == Offer("Mine <b>", 24, 30.0, pytest.approx(0.03), 250.0, 250.0, 10.0, only.mass, 1e7)
    shown = offers.as_table(entries, fmt)
    assert shown["mass, lb"][0] == pytest.approx(22.0)
    offers.take(entries, {0: {"Ah": None}}, fmt)
    assert offers.made(entries, 24) == ()


def test_a_tried_pack_makes_the_same_build():
    """property: the inputs that put an offer in make the build that was judged, as far as inputs reach."""
    page = page_of()
    wanted = fitted(page.build, replace(FAST, mass=20.0))
    made = make_build(page.inputs | compared.as_inputs(wanted))
    assert made.pack == replace(wanted.pack, lead_resistance=made.pack.lead_resistance)
    assert made.bike.bike_mass == pytest.approx(wanted.bike.bike_mass, abs=1e-4)


def test_an_offer_of_another_chemistry():
    """property: its own thresholds, growth in the cold and range of voltages; tried, the inputs make that build."""
    page, offer = page_of(), replace(FAST, chemistry="lfp", cells_in_series=27)
    wanted = fitted(page.build, offer)
    assert wanted.pack.chemistry == "lfp"
    assert (wanted.pack.protection.cell_undervoltage, wanted.pack.cold_growth) == (
        typical_thresholds("lfp")[0],
        None,
    )
    made = make_build(page.inputs | compared.as_inputs(wanted))
    assert made.pack == replace(wanted.pack, lead_resistance=made.pack.lead_resistance)
    table = compared.table(page, (offer,), MINE, (BETTER,))
    assert table["Fast"][0] != table[compared.MINE][0]
    entries = {0: {"capacity_ah": 30.0}}
    offers.take(entries, {0: {offers.CHEMISTRY: chemistry("lfp").name}}, page.fmt)
    assert offers.made(entries, 24)[0].chemistry == "lfp"
    assert offers.as_table(entries, page.fmt)[offers.CHEMISTRY][0] == chemistry("lfp").name
    offers.take(entries, {0: {offers.CHEMISTRY: None}}, page.fmt)
    assert offers.made(entries, 24)[0].chemistry == ""


def test_packs_on_the_page():
    """Entered packs are judged beside the page; trying one keeps the build with the old one as baseline."""
    entries = {0: {"capacity_ah": 30.0, "resistance": 0.03, "continuous_current": 250.0, "mass": 16.0}}
    page = settled(opened("packs_on_offer", kept={"packs_on_offer:offers": entries}), "packs_on_offer")
    text = written(page)
    assert "".join(page.query_params["packs"]).startswith(":::30:30:250:::16:")
    assert "Pack A" in text
    assert "another charger" in text
    assert any(compared.MINE in table.value.columns for table in page.table)
    next(button for button in page.button if button.key == "packs_on_offer_try_0").click()
    rerun(page)
    state = state_of(page)
    assert state.values["capacity"] == 30.0
    assert state.baseline["capacity"] == 26.0


def test_burst_says_yes_and_no():
    assert "**Yes: it gives 5.0 kW for 10 s**" in written(opened("packs_on_offer", burst_power=5))
    assert "**No: not 100.0 kW for 60 s" in written(opened("packs_on_offer", burst_power=100, burst_time=60))
