"""Gearing: the map against single runs and force balances, the best pairs against brute force, the chain's fit."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from physics.build import Bike, Build, Controller, Driveline, Motor, Pack, Protection
from physics.build.samples import samples
from physics.components.chain import chain_length
from physics.components.chain_fit import chain_fit
from physics.limits import LIMITS
from physics.simulation.run import run
from physics.studies.gearing import (
    HELD_BY_OTHER,
    HELD_BY_POWER,
    HELD_BY_VOLTAGE,
    gearing_map,
    kind_of_limit,
    pareto_set,
)
from physics.studies.sweep import CANCELLED
from physics.units import to_si

BUILD = Build(
    Pack(24, 26.0, resistance=0.046, protection=Protection(continuous_current=180.0, peak_current=240.0)),
    Motor(62.0),
    Controller(210.0, 480.0),
    Driveline(12, 56),
    Bike(118.0, 82.0, drag_area=0.48, rolling_radius=0.286),
)
SPEED = 50 / 3.6
NO_RULES = {"pack.protection.continuous_current": np.inf, "pack.protection.peak_current": np.inf}
FRONT, REAR = [11, 12, 13], [48, 52, 56, 60]


@pytest.fixture(scope="module")
def table():
    return gearing_map(BUILD, FRONT, REAR, SPEED, 25.0)


def test_a_pair_of_the_map_equals_its_own_run(table):
    """property: the map's numbers are those of a run of that build alone."""
    place = table.index(13, 52)
    result = run(BUILD.change({"driveline.front_teeth": 13, "driveline.rear_teeth": 52}), 25.0)
    assert table.top_speed[place] == pytest.approx(result.top_speed[0], rel=1e-9)
    assert table.time_to_speed[place] == pytest.approx(result.time_to(SPEED)[0], rel=1e-9)
    assert table.holding_limit[place] == result.holding_limit[0]
    assert table.on_grid(table.top_speed)[2, 1] == table.top_speed[place]


def test_motor_wheel_and_chain_speed(table):
    """hand-worked: 30 m/s on a 0.286 m wheel is 104.895 rad/s; 56/12 makes 489.51 of it."""
    place = table.index(12, 56)
    per_speed = table.top_speed[place] / 30.0
    assert table.wheel_speed[place] == pytest.approx(104.895 * per_speed, rel=5e-6)
    assert table.motor_speed[place] == pytest.approx(489.51 * per_speed, rel=1e-5)
    chain_speed = 56 * 0.0127 * 104.895 / 6.283185 * per_speed
    assert table.chain_speed(0.0127)[place] == pytest.approx(chain_speed, rel=5e-6)


def test_force_at_low_speed(table):
    """hand-worked: torque constant x phase limit less iron loss, times ratio over radius times efficiency.

    Kv 62 rpm/V: (sqrt(3)/2) 60 / (2 pi 62) = 0.133387 N m per peak ampere; 480 A make 64.026 N m. At 15 km/h the
    motor turns at 67.99 rad/s; iron loss is 0.3 + 4e-4 x 67.99 = 0.3272 N m. 63.699 N m x (56/12) / 0.286 x 0.96.
    """
    place = table.index(12, 56)
    assert table.low_speed_force[place] == pytest.approx(997.8, abs=0.1)


def test_share_at_which_the_front_lifts(table):
    """hand-worked: m g b' = (m h' + J) a + D h_d, and m_e a + D + R over the force just checked.

    35 mm of fork over 1.40 m: b' = 0.68 - 0.364 x 0.025 = 0.6709, h' = 0.65 + 0.68 x 0.025 = 0.667 m. J = (0.9 +
    0.012 x 56/12) / 0.286 = 3.343 kg m, m_e = 200 + (0.9 + 0.012 x (56/12)^2) / 0.286^2 = 214.20 kg. At 15 km/h
    drag is 0.6 x 0.48 x 17.36 = 5.0 N at 0.75 m: a = (1315.86 - 3.75) / 136.743 = 9.5955 m/s2. Rolling takes
    29.4 N: 2089.7 N over 997.8 N. Air density 1.2 within 1 %.
    """
    assert table.front_lift_ratio[table.index(12, 56)] == pytest.approx(2089.7 / 997.8, rel=2e-4)


def test_wheels_do_not_hold_the_force():
    """property: whether the front wheel is held down changes the run, not the force the drive could give."""
    strong = BUILD.change({"controller.phase_current_limit": 1500.0, "controller.line_current_limit": 400.0})
    free = strong.change({"bike.hold_front_down": False, "bike.grip": np.inf})
    held, loose = (gearing_map(build, [12], [56], SPEED, 4.0) for build in (strong, free))
    assert held.low_speed_force[0] == loose.low_speed_force[0]
    assert held.front_lift_ratio[0] < 1


def test_a_pair_outside_is_refused(table):
    """property: the message says what was asked for and what the map holds."""
    with pytest.raises(ValueError, match="10/56 is not in this map; it holds 11 to 13 front and 48 to 60 rear"):
        table.index(10, 56)


def test_a_cancelled_map_keeps_what_is_done():
    """property: pairs that were not run are NaN and never among the best."""
    asked = []

    def cancelled():
        asked.append(1)
        return len(asked) > 2

    few = {"steps": 60, "memory": 5 * 2 * 8 * 21 * 63}  # five pairs a chunk
    part = gearing_map(BUILD, FRONT, REAR, SPEED, 8.0, cancelled=cancelled, **few)
    assert part.status == CANCELLED
    assert 0 < part.done.sum() < 12
    assert np.isnan(part.top_speed[~part.done]).all()
    assert not part.best[~part.done].any()
    assert part.best.any()


def brute_force(top_speed, time, allowed):
    """The definition, pair against pair."""
    chosen = []
    for one in range(len(top_speed)):
        beaten = not (allowed[one] and np.isfinite(top_speed[one]) and np.isfinite(time[one]))
        for other in range(len(top_speed)):
            if allowed[other] and np.isfinite(time[other]) and np.isfinite(top_speed[other]):
                at_least = top_speed[other] >= top_speed[one] and time[other] <= time[one]
                beaten |= at_least and (top_speed[other] > top_speed[one] or time[other] < time[one])
        chosen.append(not beaten)
    return chosen


@settings(max_examples=300, deadline=None)
@given(st.data(), st.integers(1, 25))
def test_best_pairs_against_brute_force(data, count):
    """exact solution: with ties, unreached speeds and pairs that are not allowed."""
    whole = st.one_of(st.integers(0, 6), st.just(np.nan))
    top_speed = np.array(data.draw(st.lists(whole, min_size=count, max_size=count)), dtype=float)
    time = np.array(data.draw(st.lists(whole, min_size=count, max_size=count)), dtype=float)
    allowed = np.array(data.draw(st.lists(st.booleans(), min_size=count, max_size=count)))
    assert pareto_set(top_speed, time, allowed).tolist() == brute_force(top_speed, time, allowed)


def test_best_pairs_of_a_map_against_brute_force():
    """exact solution: on a real map, pairs that cut out left out."""
    weak = BUILD.change({"pack.protection.continuous_current": 130.0, "pack.protection.peak_current": 180.0})
    wide = gearing_map(weak, range(10, 16), range(36, 70, 3), SPEED, 30.0)
    assert np.isfinite(wide.cut_out_time).any()
    assert np.isnan(wide.cut_out_time).any()
    found = brute_force(wide.top_speed, wide.time_to_speed, np.isnan(wide.cut_out_time))
    assert wide.best.tolist() == found


def test_kinds_of_limit():
    """hand-worked: which limits are voltage's and which are power's."""
    kinds = dict(zip(LIMITS, kind_of_limit(np.arange(len(LIMITS))), strict=True))
    assert [name for name, kind in kinds.items() if kind == HELD_BY_VOLTAGE] == ["voltage", "field weakening"]
    power = [name for name, kind in kinds.items() if kind == HELD_BY_POWER]
    assert power == ["line current", "low-voltage cutback"]
    assert kinds["throttle"] == HELD_BY_OTHER


def test_teeth_off_the_rear_help_only_where_voltage_holds():
    """common practice, no source: one to a few teeth off the rear help top speed only where voltage holds it back.

    Over line limits and drag areas, at settled speeds: where voltage holds both pairs, a tooth off raises it; where
    power holds both, it does not raise it by more than a tenth of what the ratio would.
    """
    seen = set()
    for line in (60.0, 110.0, 210.0):
        for area in (0.36, 0.60):
            bike = BUILD.change({"controller.line_current_limit": line, "bike.drag_area": area} | NO_RULES)
            wide = gearing_map(bike, [12], range(34, 70), SPEED, 60.0)
            settled = wide.settled[1:] & wide.settled[:-1]
            more = wide.top_speed[:-1] / wide.top_speed[1:] - 1  # one tooth less against one more
            by_ratio = wide.rear_teeth[1:] / wide.rear_teeth[:-1] - 1
            voltage = settled & (wide.held[1:] == HELD_BY_VOLTAGE) & (wide.held[:-1] == HELD_BY_VOLTAGE)
            power = settled & (wide.held[1:] == HELD_BY_POWER) & (wide.held[:-1] == HELD_BY_POWER)
            assert (more[voltage] > 0).all()
            assert (more[power] < 0.1 * by_ratio[power]).all()
            seen |= {name for name, found in (("voltage", voltage), ("power", power)) if found.sum() > 5}
    assert seen == {"voltage", "power"}


def test_the_limit_named_does_not_depend_on_the_batch():
    """property: builds of different phase limits name, in one batch, what each names alone."""
    phases = [480.0, 120.0, 300.0]
    together = run(samples(BUILD, {"controller.phase_current_limit": phases}).batch(), 8.0)
    for place, phase in enumerate(phases):
        alone = run(BUILD.change({"controller.phase_current_limit": phase}), 8.0)
        assert together.limit_names(place) == alone.limit_names()


PITCH, DISTANCE = to_si(12.7, "mm"), 0.55


def test_chain_round_equal_sprockets():
    """exact solution: equal sprockets need 2 C / p + N links; one tooth more on both moves the axle p / 2."""
    fit = chain_fit(PITCH, [15, 16], [15, 16], 40 * PITCH, 95, forward=0.01, back=0.01)
    np.testing.assert_allclose(fit.length, [95.0, 96.0], rtol=1e-12)
    np.testing.assert_allclose(fit.axle_move, [0.0, -PITCH / 2], atol=1e-12)
    assert fit.fits.tolist() == [True, True]
    assert fit.links.tolist() == [94.0, 96.0] or fit.links.tolist() == [96.0, 96.0]


@given(st.integers(9, 20), st.integers(25, 80), st.integers(112, 136))
def test_the_axle_goes_where_the_chain_is_tight(front, rear, links):
    """property: at the moved axle the pair needs just the links there are."""
    fit = chain_fit(PITCH, front, rear, DISTANCE, links, forward=0.02, back=0.02)
    if np.isfinite(fit.axle_move):
        needed = chain_length(PITCH, front, rear, DISTANCE + fit.axle_move)
        assert needed == pytest.approx(links, abs=1e-9)
        assert bool(fit.fits) == (abs(fit.axle_move) <= 0.02)
    assert chain_length(PITCH, front, rear, DISTANCE + fit.links_move) == pytest.approx(fit.links, abs=1e-9)
    assert fit.links % 2 == 0
    assert fit.links_fit  # 4 cm of room are more than the 12.7 mm between two even lengths
    assert abs(fit.links_move) <= PITCH / 2 / 0.95  # the runs lean by less than 18 degrees


def test_a_chain_too_short_and_no_room():
    """property: a chain that cannot close moves nowhere; without room only the present pair fits."""
    fit = chain_fit(PITCH, 12, [70, 78], DISTANCE, 70, forward=0.1, back=0.1)
    assert np.isnan(fit.axle_move).all()
    assert not fit.fits.any()
    links = 122
    here = DISTANCE + float(chain_fit(PITCH, 12, 56, DISTANCE, links, 0.0, 0.0).axle_move)
    fit = chain_fit(PITCH, 12, [55, 56, 57], here, links, forward=1e-9, back=1e-9)
    assert fit.fits.tolist() == [False, True, False]
    assert fit.links_fit.tolist() == [False, True, False]
    with pytest.raises(ValueError, match="room must be 0 m or more"):
        chain_fit(PITCH, 12, 56, DISTANCE, links, forward=-0.01, back=0.0)
