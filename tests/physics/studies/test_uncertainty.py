"""Uncertainty: bands against a linear model, indices and intervals against published values."""

import dataclasses
import math
from concurrent.futures import ProcessPoolExecutor

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from physics.build import Bike, Build, Conditions, Controller, Driveline, Motor, Pack, Protection
from physics.build.batch import Batch
from physics.build.fields import BuildError
from physics.simulation.result import RunResult
from physics.simulation.run import run, time_grid
from physics.studies.uncertainty import (
    NORMAL,
    ONE_SIDED,
    UNIFORM,
    Tolerance,
    likely,
    saturation_left_out,
    sensitivity,
)
from physics.studies.uncertainty.bands import CURVES, PERCENTILES, chance
from physics.studies.uncertainty.draws import sample_builds, spread_points
from physics.studies.uncertainty.sensitivity import design, indices
from physics.studies.uncertainty.tolerance import LEFT_OUT, default_tolerances, unmeasured_cold_growth
from physics.studies.uncertainty.worse import AGAINST_A_PULL, JOINED, worse_cases

BUILD = Build(
    Pack(
        24, 26.0, resistance=0.05,
        protection=Protection(continuous_current=180.0, peak_current=240.0, cell_undervoltage=2.8),
    ),
    Motor(62.0),
    Controller(200.0, 480.0),
    Driveline(12, 56),
    Bike(118.0, 82.0, drag_area=0.48, rolling_radius=0.2857),
    Conditions(air_temperature=279.15, charge=0.95),
)  # fmt: skip
CUTS_OUT = BUILD.change({"pack.protection.continuous_current": 150.0, "pack.protection.peak_current": 170.0})
TARGET = 30.0

# Constant force less constant rolling resistance: speed = (k I - c m g) t / m_eq, linear in I and in c.
LINEAR = Build(
    Pack(60, 200.0, resistance=0.001),
    Motor(62.0, phase_resistance=0.001, iron_loss_torque=0.0, iron_loss_damping=0.0, rotor_inertia=0.0),
    Controller(2000.0, 200.0, throttle_ramp_time=0.0),
    Driveline(12, 56, efficiency=1.0),
    Bike(
        120.0, 80.0, drag_area=0.0, rolling_coefficient=0.02, rolling_coefficient_speed_squared=0.0,
        wheel_inertia=0.0, rolling_radius=0.29, grip=math.inf, hold_front_down=False,
    ),
)  # fmt: skip
CURRENT, COEFFICIENT = "controller.phase_current_limit", "bike.rolling_coefficient"
KNOWN = (Tolerance(CURRENT, 20.0, NORMAL), Tolerance(COEFFICIENT, 0.01, NORMAL))
LENGTH = 6.0


def test_worse_cases_hand_worked():
    """hand-worked: four unknowns together each at half of its half-width, 1 / sqrt(4), at its worse end; the three
    of the pack at 1 / sqrt(3) of it; then each alone at both ends; at a margin of 200 % twice as far."""
    known = [
        Tolerance("pack.resistance", 0.2, relative=True),
        Tolerance("conditions.pack_temperature", 3.0),
        Tolerance("conditions.charge", 0.04),
        Tolerance("bike.bike_mass", 8.0),
    ]
    batch = Batch.of(BUILD)
    cases = worse_cases(known)
    assert len(cases) == 1 + 2 + 1 + 2 * 4
    paths = [item.path for item in known]
    entered, together = cases[0].applied(batch), cases[1].applied(batch)
    for path, by in zip(paths, (0.1 * batch["pack.resistance"][0], -1.5, -0.02, 4.0), strict=True):
        assert entered[path] == batch[path]
        assert together[path] - batch[path] == pytest.approx(by)
    pack = cases[3].applied(batch)
    assert cases[3].message == "everything about the pack a little off at once"
    assert pack["bike.bike_mass"] == batch["bike.bike_mass"]
    for path, by in zip(paths[:3], (0.115470, -1.732051, -0.023094), strict=True):
        share = batch[path] if path == "pack.resistance" else 1.0
        assert (pack[path] - batch[path]) == pytest.approx(by * share, abs=5e-7)
    alone = worse_cases(known, 2.0)[4:]
    assert alone[2].applied(batch)["conditions.pack_temperature"] == batch["conditions.pack_temperature"] - 6.0
    assert alone[3].applied(batch)["conditions.pack_temperature"] == batch["conditions.pack_temperature"] + 6.0
    assert len(worse_cases(known, 0.0)) == 1
    assert len(worse_cases(known, both_ends=False)) == 1 + 1 + 1 + 4


def test_what_moves_with_another_makes_no_case_of_its_own():
    """hand-worked: leads up to 4 mohm and magnets up to 0.11 %/K with the resistance and the speed constant: at the
    worse end of those, all; at the other, none; half of them, 1 / sqrt(4), where four are off at once."""
    known = [
        Tolerance("pack.resistance", 0.2, relative=True), Tolerance("motor.kv_rpm_per_volt", 0.04, relative=True),
        Tolerance("bike.drag_area", 0.2, relative=True), Tolerance("bike.bike_mass", 4.0),
    ]  # fmt: skip
    joined = [item for item in LEFT_OUT if item.shape == ONE_SIDED]
    cases, batch = worse_cases([*known, *joined, *saturation_left_out(BUILD)]), Batch.of(BUILD)
    assert [case.message for case in cases] == [case.message for case in worse_cases(known)]
    paths = ("pack.lead_resistance", "motor.magnet_weakening", "motor.saturation_current")
    # the phase limit is 480 A; half of the inverse square of it is that of 480 x sqrt(2)
    values = [[float(case.applied(batch)[path][0]) for path in paths] for case in cases]
    off = math.inf
    assert values[0] == [0.0, 0.0, off]
    assert values[1] == pytest.approx([0.002, 0.00055, 678.823], abs=5e-4)
    assert values[2] == [0.0, 0.0, off]
    assert values[3:7] == [[0.004, 0.0, off], [0.0, 0.0, off], [0.0, 0.0011, 480.0], [0.0, 0.0, off]]
    assert {JOINED[path] for path in paths} <= AGAINST_A_PULL.keys()


@given(effects=st.lists(st.floats(0, 1), min_size=2, max_size=14))
@settings(max_examples=200, deadline=None)
def test_all_at_once_never_counts_more_than_the_root_sum_of_squares(effects):
    """property: of linear effects; and as much where they are equal (JCGM 100:2008, section 5.1, from memory)."""
    known = [Tolerance(path, 1.0) for path in list(AGAINST_A_PULL)[: len(effects)]]
    effects = effects[: len(known)]
    by_path = dict(zip([item.path for item in known], effects, strict=True))
    together = worse_cases(known, both_ends=False)[1]

    def counted(by_path):
        return sum(by_path[item.path] * by * AGAINST_A_PULL[item.path] for item, by in together.away)

    assert counted(by_path) <= math.sqrt(sum(effect**2 for effect in effects)) + 1e-12
    assert counted(dict.fromkeys(by_path, 0.7)) == pytest.approx(0.7 * math.sqrt(len(known)), rel=1e-12)


def test_values_that_were_left_out_are_one_sided():
    """hand-worked: leads evenly from none to 4 mohm; of saturation what it takes, in proportion to the inverse
    square of the current, evenly from nothing to a tenth at the phase limit: a quarter of it at 480 x 2 A."""
    leads, iron = Tolerance("pack.lead_resistance", 0.004, ONE_SIDED), saturation_left_out(BUILD)[0]
    assert leads.values(0.0, [0.0, 0.25, 1.0]) == pytest.approx([0.0, 0.001, 0.004])
    assert iron.values(math.inf, [0.25, 1.0]) == pytest.approx([960.0, 480.0])
    paths = [item.path for item in default_tolerances(BUILD) if item.shape == ONE_SIDED]
    assert paths == ["pack.lead_resistance", "motor.magnet_weakening"]
    given = BUILD.change({"pack.lead_resistance": 0.002, "motor.saturation_current": 500.0})
    assert {item.path: item.half_width for item in default_tolerances(given) if item.shape == NORMAL}.items() >= {
        "pack.lead_resistance": 0.3, "motor.saturation_current": 0.15,
    }.items()  # fmt: skip
    assert [item.path for item in saturation_left_out(given)] == ["motor.inductance_saturation_current"]


def linear_parts():
    """Hand-worked: speed after LENGTH, and what one standard deviation of each unknown does to it."""
    per_ampere = math.sqrt(3) / 2 * 60 / (2 * math.pi * 62.0) * (56 / 12) / 0.29
    mass, gravity = 200.0, 9.80665
    speed = (per_ampere * 200.0 - 0.02 * mass * gravity) * LENGTH / mass
    return speed, per_ampere * 10.0 * LENGTH / mass, 0.005 * gravity * LENGTH


@pytest.fixture(scope="module")
def linear():
    return likely(LINEAR, linear_parts()[0], KNOWN, LENGTH, count=4096)


# --- exact solutions ------------------------------------------------------------------------------------------


def test_bands_of_a_linear_model_are_those_of_a_normal_sum(linear):
    """exact solution: the sum of two independent normal unknowns is normal with the root of the summed variances.

    Tolerance: 2 % of the standard deviation, the quadrature error of 4,096 points at the 5th percentile.
    """
    middle, by_current, by_rolling = linear_parts()
    deviation = math.hypot(by_current, by_rolling)
    expected = norm.ppf(np.array(PERCENTILES) / 100, middle, deviation)
    assert linear.top_speed == pytest.approx(expected, abs=0.02 * deviation)
    assert linear.bands["speed"][:, -1] == pytest.approx(expected, abs=0.02 * deviation)
    half = np.searchsorted(linear.time, LENGTH / 2)
    assert linear.bands["speed"][:, half] == pytest.approx(
        expected * linear.time[half] / LENGTH, abs=0.02 * deviation
    )


def test_chance_in_a_linear_model_is_the_normal_one(linear):
    """exact solution: the target lies at the middle, so half of all runs reach it."""
    assert linear.reaches.low <= 0.5 <= linear.reaches.high
    assert linear.reaches.estimate == pytest.approx(0.5, abs=0.005)


def test_indices_of_a_linear_model_are_its_variance_shares():
    """exact solution: S_i = var_i / (var_1 + var_2), first-order and total alike.

    Tolerance 0.03: the estimator's own error with 1,024 rows.
    """
    _, by_current, by_rolling = linear_parts()
    share = by_current**2 / (by_current**2 + by_rolling**2)
    found = sensitivity(LINEAR, KNOWN, LENGTH, base=1024, outcomes=("top_speed",))
    assert found.first["top_speed"] == pytest.approx([share, 1 - share], abs=0.03)
    assert found.total["top_speed"] == pytest.approx([share, 1 - share], abs=0.03)
    assert found.spread["top_speed"] == pytest.approx(math.hypot(by_current, by_rolling), rel=0.02)
    left = found.spread["top_speed"] * math.sqrt(1 - found.first["top_speed"][0])  # with the current known
    assert left == pytest.approx(by_rolling, rel=0.05)
    low, high = found.low["top_speed"], found.high["top_speed"]
    assert (low <= [share, 1 - share]).all()
    assert (high >= [share, 1 - share]).all()


def test_uniform_and_normal_half_widths():
    """hand-worked: a uniform half-width holds everything; half of a normal one is a standard deviation."""
    uniform = Tolerance("conditions.air_temperature", 2.0, UNIFORM)
    assert uniform.values(280.0, [0.0, 0.25, 1.0]) == pytest.approx([278.0, 279.0, 282.0])
    normal = Tolerance("bike.drag_area", 0.2, NORMAL, relative=True)
    # 0.841345 and 0.977250 are the normal distribution at one and two standard deviations
    assert normal.values(0.5, [0.5, 0.841345, 0.977250]) == pytest.approx([0.5, 0.55, 0.60], abs=1e-6)


def test_bands_of_a_state_at_the_start_are_the_tolerances():
    """exact solution: the winding starts as warm as the air, uniform to 2 K either side; 90 % lie within 1.8 K."""
    found = likely(BUILD, TARGET, [Tolerance("conditions.air_temperature", 2.0, UNIFORM)], 5.0, count=512)
    start = found.bands["winding_temperature"][:, 0]
    assert start == pytest.approx([277.35, 279.15, 280.95], abs=0.01)


# --- published ------------------------------------------------------------------------------------------------


def ishigami(x):
    return np.sin(x[:, 0]) + 7 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])


def test_ishigami_function():
    """published: T. Ishigami, T. Homma, An importance quantification technique in uncertainty analysis for computer
    models, Proc. ISUMA (1990) 398-403; analytic indices for a = 7, b = 0.1 as commonly printed (from memory):
    first 0.3139, 0.4424, 0; total 0.5576, 0.4424, 0.2437. They follow from the variances below.

    Tolerance 0.01: the estimator's own error with 16,384 rows.
    """
    a, b, pi4 = 7.0, 0.1, math.pi**4
    one, two, both = (1 + b * pi4 / 5) ** 2 / 2, a * a / 8, 8 * b * b * pi4 * pi4 / 225
    whole = one + two + both
    assert [one / whole, two / whole] == pytest.approx([0.3139, 0.4424], abs=5e-5)
    assert [(one + both) / whole, both / whole] == pytest.approx([0.5576, 0.2437], abs=5e-5)
    base = 2**14
    places = design(3, base)
    first, total, low, high = indices([ishigami((2 * places - 1) * math.pi)], 3, base)
    assert first[0] == pytest.approx([0.3139, 0.4424, 0.0], abs=0.01)
    assert total[0] == pytest.approx([0.5576, 0.4424, 0.2437], abs=0.01)
    assert (low[0] <= first[0]).all()
    assert (first[0] <= high[0]).all()


@pytest.mark.parametrize(
    ("count", "of", "low", "high"),
    [(81, 263, 0.2527, 0.3676), (15, 148, 0.0578, 0.1617), (0, 20, 0.0, 0.1684), (1, 29, 0.0009, 0.1776)],
)
def test_interval_of_a_chance(count, of, low, high):
    """published: R. G. Newcombe, Two-sided confidence intervals for the single proportion, Statistics in Medicine
    17 (1998) 857-872, table I, the exact (Clopper-Pearson) method; rows from memory."""
    found = chance(count, of)
    assert (found.low, found.high) == pytest.approx((low, high), abs=5e-5)
    assert found.estimate == count / of


@given(of=st.integers(1, 5000))
@settings(max_examples=40, deadline=None)
def test_interval_where_it_never_or_always_happens(of):
    """exact solution: with none in n the upper end is 1 - 0.025 ** (1 / n); with all of them, its mirror image."""
    edge = 1 - 0.025 ** (1 / of)
    assert (chance(0, of).low, chance(0, of).high) == pytest.approx((0.0, edge), abs=1e-9)
    assert (chance(of, of).low, chance(of, of).high) == pytest.approx((1 - edge, 1.0), abs=1e-9)


# --- properties -----------------------------------------------------------------------------------------------


def test_the_same_seed_gives_the_same_samples():
    assert (spread_points(5, 64, 3) == spread_points(5, 64, 3)).all()
    assert (spread_points(5, 64, 3) != spread_points(5, 64, 4)).any()
    places = spread_points(5, 64)
    assert places.shape == (64, 5)
    # each column of a Sobol' sequence has one point in each of its 64 equal slices
    assert (np.sort((places * 64).astype(int), axis=0) == np.arange(64)[:, None]).all()


def test_design_takes_one_column_at_a_time_from_the_second_half():
    places = design(3, 8)
    first, second, mixed = places[:8], places[8:16], places[16:].reshape(3, 8, 3)
    for column in range(3):
        assert (mixed[column, :, column] == second[:, column]).all()
        others = [other for other in range(3) if other != column]
        assert (mixed[column][:, others] == first[:, others]).all()
    with pytest.raises(ValueError, match="power of two"):
        design(3, 12)


@given(
    half_width=st.floats(0, 2), place=st.floats(0, 1), shape=st.sampled_from([NORMAL, UNIFORM, ONE_SIDED]),
    item=st.sampled_from(default_tolerances(BUILD)),
)  # fmt: skip
@settings(max_examples=80, deadline=None)
def test_every_value_drawn_is_one_a_build_accepts(half_width, place, shape, item):
    """property: whatever the tolerance, the builds can be made."""
    wild = dataclasses.replace(item, half_width=half_width, shape=shape)
    assert len(sample_builds(BUILD, [wild], [[place]]).batch()) == 1


def test_bands_enclose_nine_in_ten_runs_and_the_middle():
    known = default_tolerances(BUILD)
    found = likely(BUILD, TARGET, known, 20.0, count=256)
    samples = sample_builds(BUILD, known, spread_points(len(known), 256))
    result = run(samples.batch(), 20.0)
    assert set(found.bands) == set(CURVES)
    for name in CURVES:
        low, middle, high = found.bands[name]
        values = getattr(result, name)
        assert (low <= middle).all()
        assert (middle <= high).all()
        # 32-bit floats are kept, so values that are equal may stand a little outside
        slack = 1e-5 * np.abs(values).max()
        inside = (values >= low - slack) & (values <= high + slack)
        assert (inside.mean(axis=0) >= 0.89).all()
    assert found.time == pytest.approx(time_grid(20.0))


def test_cut_outs_are_counted():
    """property: as many as the same builds have in one run of all."""
    found = likely(CUTS_OUT, TARGET, default_tolerances(BUILD), 20.0, count=64)
    result = run(sample_builds(CUTS_OUT, default_tolerances(BUILD), spread_points(14, 64)).batch(), 20.0)
    assert found.cuts_out.count == (result.cut_out_rule >= 0).sum() > 0


def test_growth_in_the_cold_is_in_the_band():
    """property: at 0 degrees C it moves the lowest cell voltage, at 25 degrees C it does not;
    hand-worked: known within a factor of 3.46 / 1.92, it lies from 1.92 x 1.92 / 3.46 = 1.0654 to 3.46."""
    known = [unmeasured_cold_growth("nmc")]
    assert known[0].values(1.92, [0.0, 0.5, 1.0]) == pytest.approx([1.0654, 1.92, 3.46], abs=5e-5)
    for celsius, least, most in ((0.0, 0.1, 2.0), (25.0, -0.01, 0.01)):
        day = {"conditions.air_temperature": 273.15 + celsius, "pack.heat_capacity": 1e7}
        samples = sample_builds(BUILD.change(day), known, [[0.0], [1.0]])
        low = run(samples.batch(), 10.0).minimum_cell_voltage
        assert least <= low[0] - low[1] <= most


def test_wider_tolerances_give_wider_bands():
    narrow = [dataclasses.replace(item, half_width=item.half_width / 2) for item in default_tolerances(BUILD)]
    wide = likely(BUILD, TARGET, default_tolerances(BUILD), 20.0, count=128).bands["speed"]
    slim = likely(BUILD, TARGET, narrow, 20.0, count=128).bands["speed"]
    assert slim[2, -1] - slim[0, -1] < 0.6 * (wide[2, -1] - wide[0, -1])


def test_nothing_unknown_gives_no_band_and_no_rank():
    certain = [Tolerance("bike.drag_area", 0.0), Tolerance("conditions.headwind", 0.0)]
    found = likely(BUILD, TARGET, certain, 10.0, count=16)
    assert np.ptp(found.top_speed) == 0
    ranked = sensitivity(BUILD, certain, 10.0, base=16)
    assert not ranked.first["top_speed"].any()
    assert ranked.spread["top_speed"] == pytest.approx(0.0, abs=1e-9)


def test_a_run_that_is_late_counts_as_late():
    """property: the time's middle is infinite where fewer than half get there, and no number is made up."""
    fast = run(BUILD, 20.0).top_speed[0]
    found = likely(BUILD, fast + 0.3, default_tolerances(BUILD), 20.0, count=128)
    assert 0 < found.reaches.estimate < 0.5
    assert np.isfinite(found.time_to_target[0])
    assert np.isinf(found.time_to_target[1:]).all()


def test_stopping_keeps_what_is_done():
    asked = []
    stop = {"cancelled": lambda: len(asked) > 1 or asked.append(1), "memory": 2**20}
    found = likely(BUILD, TARGET, default_tolerances(BUILD), 10.0, count=512, **stop)
    assert 0 < found.count < 512
    assert not found.complete
    assert found.reaches.of == found.count
    assert likely(BUILD, TARGET, default_tolerances(BUILD), 10.0, count=8, cancelled=lambda: True) is None
    assert sensitivity(BUILD, default_tolerances(BUILD), 10.0, base=8, cancelled=lambda: True) is None


def test_an_executor_changes_nothing():
    options = {"count": 64, "memory": 2**21}
    here = likely(BUILD, TARGET, default_tolerances(BUILD), 10.0, **options)
    with ProcessPoolExecutor(1) as pool:
        there = likely(BUILD, TARGET, default_tolerances(BUILD), 10.0, executor=pool, **options)
    assert (here.bands["speed"] == there.bands["speed"]).all()


def test_a_wrong_tolerance_says_what_is_accepted():
    with pytest.raises(BuildError, match="such as bike"):
        Tolerance("bike.colour", 0.1)
    with pytest.raises(BuildError, match="from 0 up"):
        Tolerance("bike.drag_area", -0.1)
    with pytest.raises(BuildError, match="normal"):
        Tolerance("bike.drag_area", 0.1, "triangular")
    with pytest.raises(ValueError, match="2 unknowns"):
        sample_builds(BUILD, default_tolerances(BUILD)[:2], [[0.5]])


def test_curves_are_names_of_a_run():
    names = {field.name for field in dataclasses.fields(RunResult)}
    assert set(CURVES) <= names
