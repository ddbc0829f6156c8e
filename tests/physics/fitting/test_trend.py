"""The trend over dates, and the voltage window of a pack that has aged on."""

import numpy as np
import pytest
from scipy import stats

from physics.build import example_build
from physics.build.batch import Batch
from physics.fitting.trend import FEWEST, TWO_SIDED_95, TooFewError, trend
from physics.simulation.run import run
from physics.studies.target.ageing import aged_window
from physics.studies.voltage_window import REACHED_FROM
from tests.published.nist_strd import NORRIS

CARS = {
    4: (2, 10), 7: (4, 22), 8: (16,), 9: (10,), 10: (18, 26, 34), 11: (17, 28), 12: (14, 20, 24, 28),
    13: (26, 34, 34, 46), 14: (26, 36, 60, 80), 15: (20, 26, 54), 16: (32, 40), 17: (32, 40, 50),
    18: (42, 56, 76, 84), 19: (36, 46, 68), 20: (32, 48, 52, 56, 64), 22: (66,), 23: (54,), 24: (70, 92, 93, 120),
    25: (85,),
}  # fmt: skip
"""Speed and stopping distances; M. Ezekiel, Methods of Correlation Analysis, Wiley 1930, as the R language's data
set "cars" has it. Typed from memory: that the lines and interval ends below come out is the check of it."""


def _even(x, y):
    x, y = np.asarray(x, float), np.asarray(y, float)
    return trend(x, y, y - 1.0, y + 1.0)


def test_norris():
    """published: NIST's certified values of the Norris data, with equal weights."""
    found = _even(NORRIS["x"], NORRIS["y"])
    line = found.line(0.0)[0]
    assert line == pytest.approx(NORRIS["values"][0], rel=1e-9)
    assert found.fit.value("rate") == pytest.approx(NORRIS["values"][1], rel=1e-12)
    assert found.fit.error("rate") == pytest.approx(NORRIS["standard_error"][1], rel=1e-9)


def test_line_and_reading_of_stopping_distances():
    """published: the 95 % confidence intervals of the mean at 12, 19 and 24 mph as tutorials of R's predict.lm
    print them (29.6: 24.4 to 34.8; 57.1: 51.8 to 62.4; 76.8: 68.4 to 85.2). exact solution: the prediction interval
    y +- t s sqrt(1 + 1/n + (x - mean x)^2 / Sxx) of Draper and Smith, section 1.4, on scipy's own line."""
    x = [speed for speed, distances in CARS.items() for _ in distances]
    y = [distance for distances in CARS.values() for distance in distances]
    found = _even(x, y)
    value, low, high = found.line([12.0, 19.0, 24.0])
    assert value == pytest.approx([29.6, 57.1, 76.8], abs=0.05)
    assert low == pytest.approx([24.4, 51.8, 68.4], abs=0.05)
    assert high == pytest.approx([34.8, 62.4, 85.2], abs=0.05)
    at, x = np.array([12.0, 19.0, 24.0]), np.asarray(x, float)
    line, free = stats.linregress(x, y), x.size - 2
    squares = np.sum((x - x.mean()) ** 2)
    left = np.sqrt(np.sum((y - line.intercept - line.slope * x) ** 2) / free)
    reach = stats.t.ppf(0.975, free) * left * np.sqrt(1.0 + 1.0 / x.size + (at - x.mean()) ** 2 / squares)
    _, low, high = found.reading(at)
    assert high - value == pytest.approx(reach, rel=1e-9)
    assert value - low == pytest.approx(reach, rel=1e-9)


def test_weights_as_reference_libraries_have_them():
    """exact solution: equal weights as scipy.stats.linregress, unequal ones as numpy.polyfit has them."""
    rng = np.random.default_rng(5)
    t, error = np.arange(7.0) ** 1.3, rng.uniform(0.3, 3.0, 7)
    y = 50.0 + 2.0 * t + error * rng.standard_normal(7)
    even = _even(t, y)
    line = stats.linregress(t, y)
    assert even.fit.value("rate") == pytest.approx(line.slope, rel=1e-10)
    assert even.fit.error("rate") == pytest.approx(line.stderr, rel=1e-10)
    found = trend(t, y, y - TWO_SIDED_95 * error, y + TWO_SIDED_95 * error)
    values, covariance = np.polyfit(t, y, 1, w=1.0 / error, cov=True)
    assert found.fit.value("rate") == pytest.approx(values[0], rel=1e-9)
    assert found.fit.error("rate") == pytest.approx(np.sqrt(covariance[0, 0]), rel=1e-9)
    assert float(found.line(0.0)[0]) == pytest.approx(values[1], rel=1e-9)


@pytest.mark.parametrize("count", [FEWEST, 9])
def test_a_known_ageing_comes_back(count):
    """property: a pack that ages by a known rate, its rides' resistances drawn by their intervals: in 92 to 98 %
    of 600 repeats the 95 % intervals hold the true rate, and the next ride's value (the binomial spread of that
    share is 1 point)."""
    rng = np.random.default_rng(count)
    rate, start, ahead = 4e-3, 52e-3, 2.0
    inside, foreseen = [], []
    for _ in range(600):
        years = np.sort(rng.uniform(0.0, 1.5, count))
        error = start * rng.uniform(0.01, 0.04, count)
        seen = start + rate * years + error * rng.standard_normal(count)
        found = trend(years, seen, seen - TWO_SIDED_95 * error, seen + TWO_SIDED_95 * error)
        low, high = found.fit.bounds("rate")
        inside.append(low <= rate <= high)
        new = start + rate * ahead + np.median(error) * rng.standard_normal()
        _, low, high = found.reading(ahead)
        foreseen.append(low <= new <= high)
    assert 0.92 <= np.mean(inside) <= 0.98
    assert 0.92 <= np.mean(foreseen) <= 0.98


def test_too_few_and_nonsense_are_refused():
    with pytest.raises(TooFewError, match=f"3 different dates are too few .* at least {FEWEST}"):
        _even([0.0, 1.0, 2.0, 2.0], [1.0, 2.0, 3.0, 3.1])
    with pytest.raises(ValueError, match="upper end above"):
        trend(range(4), [1.0] * 4, [1.0] * 4, [1.0] * 4)
    with pytest.raises(ValueError, match="finite"):
        trend(range(4), [1.0, 2.0, np.nan, 3.0], [0.0] * 4, [4.0] * 4)
    with pytest.raises(TooFewError, match="span 3, too short"):
        trend(range(4), [1.0] * 4, [0.0] * 4, [2.0] * 4, shortest=30.0)


def test_intervals_however_unlike_give_a_line_or_a_refusal():
    """property: half widths from a millionth of the value up, as a file may hold them: finite, or refused."""
    rng = np.random.default_rng(4)
    for _ in range(200):
        y = 10.0 ** rng.uniform(-4, 1, 5)
        width = y * 10.0 ** rng.uniform(-6, 1, 5)
        try:
            found = trend(738000.0 + np.arange(5.0), y, y - width, y + width)
        except TooFewError:
            continue
        assert np.isfinite([*found.fit.bounds("rate"), *found.reading(738500.0)]).all()


def test_an_older_pack_needs_more_voltage():
    """property: the target is out of reach from a voltage that rises with resistance, higher at the worse end of
    what the trend allows, and a run by itself with that resistance bears it out."""
    build = example_build()
    own = 0.05
    years = np.array([0.0, 0.5, 1.0, 1.5, 2.0])
    seen = own * np.array([1.0, 1.06, 1.09, 1.16, 1.2])
    found = trend(years, seen, 0.98 * seen, 1.02 * seen)
    aged = aged_window(build, found, 4.0, 25.0, 279.15, duration=20.0)
    assert aged.resistance == pytest.approx(own * 1.4, rel=0.02)
    assert aged.resistance < aged.resistance_worse
    assert aged.now.lowest_rest_voltage < aged.then.lowest_rest_voltage <= aged.worse.lowest_rest_voltage
    # replayed: as resistive as at the worse end, at rest at the voltage told, and a fortieth of the charge below
    assert aged.worse.status == REACHED_FROM
    day = {"conditions.air_temperature": 279.15, "conditions.pack_temperature": 279.15}
    old, low = build.change(day | {"pack.resistance": aged.resistance_worse}), aged.worse.lowest_charge
    made = run(Batch.vary(old, {"conditions.charge": [low - 0.025, low, aged.worse.charge[-1]]}), 20.0)
    assert made.rest_voltage[1, 0] == pytest.approx(aged.worse.lowest_rest_voltage, abs=0.01)
    assert made.reaches(25.0).tolist() == [False, True, True]
