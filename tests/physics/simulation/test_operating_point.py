"""The operating point: bus voltage and line current solved together, every limit named, power balanced."""

import math

import numpy as np
import pytest

from physics.build import Bike, Build, Conditions, Controller, Driveline, Motor, Pack, Protection
from physics.build.batch import Batch
from physics.limits import LIMITS
from physics.simulation.machine import Machine
from physics.simulation.operating_point import operating_point
from physics.simulation.plant import Plant
from physics.simulation.run import run

GRAVITY = 9.80665
GEAR = 5.0 / 0.3  # motor rad/s for each m/s
TORQUE = math.sqrt(3.0) / 2.0 * 60.0 / (2.0 * math.pi * 60.0)  # N m for a peak ampere, 60 rpm/V
COLD = 293.15
CLOSE = 1e-6  # of the line limit: how closely bus voltage and line current are asked to belong together


def bare(**changes):
    """200 kg, gear 5 over 0.3 m, 60 rpm/V, 200 A peak, no losses but copper, no drag, nothing else in its way."""
    build = Build(
        Pack(20, 40.0, resistance=0.05),
        Motor(60.0, phase_resistance=0.006, phase_inductance=60e-6, iron_loss_torque=0.0, iron_loss_damping=0.0,
              rotor_inertia=0.0),
        Controller(1000.0, 200.0, throttle_ramp_time=0.0, fixed_loss=0.0, loss_per_ampere=0.0, loss_resistance=0.0),
        Driveline(10, 50, efficiency=1.0),
        Bike(120.0, 80.0, drag_area=0.0, rolling_coefficient=0.0, rolling_coefficient_speed_squared=0.0,
             rolling_radius=0.3, wheel_inertia=0.0, fork_sag=0.0, hold_front_down=False, grip=math.inf),
        Conditions(298.15),
    )  # fmt: skip
    return build.change(changes)


def point_of(build, speed, throttle=1.0, electromotive=80.0, resistance=0.05, winding=COLD, controller=COLD):
    """One operating point of one build."""
    machine = Machine(Batch.of(build))
    given = (speed, throttle, electromotive, resistance, winding, controller)
    return machine, operating_point(machine, *[np.array([float(value)]) for value in given])


# ----- each limit in a case of its own. Hand-worked: the current, or the force, that the limit leaves.

FOLDING = {
    "controller.line_current_limit": 400.0, "controller.foldback_start_voltage": 80.0,
    "controller.foldback_end_voltage": 60.0, "controller.phase_current_limit": 2000.0,
}  # fmt: skip
WEAK = {"controller.field_weakening_current": 50.0}
STRONG = {"controller.phase_current_limit": 2000.0}
CASES = [
    ("throttle", {}, {"speed": 0.0, "throttle": 0.5}, 100.0),
    ("phase current", {}, {"speed": 0.0}, 200.0),
    ("winding heat", {}, {"speed": 0.0, "winding": (393.15 + 423.15) / 2}, 100.0),
    ("controller heat", {}, {"speed": 0.0, "controller": (348.15 + 368.15) / 2}, 100.0),
    # 0.1 m/s below the cap, over 0.05 s: 2 m/s2, which takes 400 N
    ("speed cap", {"controller.speed_cap": 10.0}, {"speed": 9.9}, 400.0 / GEAR / TORQUE),
    # moments about the rear contact: F = m g b / h
    ("front wheel", {**STRONG, "bike.hold_front_down": True}, {"speed": 0.0},
     200.0 * GRAVITY * 0.68 / 0.65 / GEAR / TORQUE),
    # F = mu m g (w - b) / (w - mu h)
    ("rear grip", {**STRONG, "bike.grip": 0.6}, {"speed": 0.0},
     0.6 * 200.0 * GRAVITY * (1.40 - 0.68) / (1.40 - 0.6 * 0.65) / GEAR / TORQUE),
    # 30 A at 80 - 1.5 V are 2355 W: 0.009 x 1.0 i^2 + k w i, at 10 m/s and 20 degrees C
    ("line current", {"controller.line_current_limit": 30.0}, {"speed": 10.0},
     max(np.roots([1.5 * 0.006, TORQUE * GEAR * 10.0, -30.0 * 78.5]).real)),
    # 10 (80 - 60) = 200 A at 70 V are 14 kW
    ("low-voltage cutback", FOLDING, {"speed": 15.0},
     max(np.roots([1.5 * 0.006, TORQUE * GEAR * 15.0, -200.0 * 70.0]).real)),
    ("voltage", {}, {"speed": 29.5}, None),
    ("field weakening", WEAK, {"speed": 33.0}, None),
]  # fmt: skip


@pytest.mark.parametrize(("name", "changes", "state", "current"), CASES, ids=[name for name, *_ in CASES])
def test_each_limit_is_named_where_it_alone_holds(name, changes, state, current):
    """hand-worked: one case for each limit, with the current it leaves."""
    _, point = point_of(bare(**changes), **state)
    assert LIMITS[point.limit[0]] == name
    assert point.i_q[0] > 0
    if current is not None:
        assert point.i_q[0] == pytest.approx(current, rel=1e-9)


def test_cut_out_is_named_by_the_run():
    """hand-worked: 100 A for the 0.5 s that a fast rule of 90 A allows, then no current and the name."""
    build = bare(**{
        "controller.line_current_limit": 100.0, "controller.overshoot": 0.0, **STRONG,
        "pack.protection": Protection(fast_current=90.0, fast_delay=0.5),
    })  # fmt: skip
    result = run(build, 3.0, initial_speed=15.0)
    names, time = np.array(result.limit_names()), result.time
    assert set(names[time < 0.49]) == {"line current"}
    assert set(names[time > 0.51]) == {"cut-out"}
    assert (result.line_current[0, time > 0.51] == 0).all()


def test_every_limit_has_a_case():
    """hand-worked: the twelve names."""
    assert {name for name, *_ in CASES} | {"cut-out"} == set(LIMITS)


def test_back_emf_leaves_what_it_must():
    """exact solution: at 29.5 m/s without field weakening i_d = 0 and the point lies on the voltage limit,
    (R i + w flux)^2 + (w L i)^2 = (U / sqrt(3))^2, a quadratic in i; U I = P and U = E - 0.05 I.
    """
    _, point = point_of(bare(), 29.5)
    i, u = point.i_q[0], point.voltage[0]
    electrical, flux = 29.5 * GEAR * 5, TORQUE / 1.5 / 5
    squared = 0.006**2 + (electrical * 60e-6) ** 2
    quadratic = [squared, 2 * 0.006 * electrical * flux, (electrical * flux) ** 2 - u * u / 3]
    assert i == pytest.approx(max(np.roots(quadratic).real), rel=1e-6)
    assert u == pytest.approx(80.0 - 0.05 * point.line_current[0], abs=CLOSE * 1000.0 * 0.05)
    power = (1.5 * 0.006 * i + TORQUE * 29.5 * GEAR) * i
    assert u * point.line_current[0] == pytest.approx(power, rel=1e-9)


def test_beyond_the_field_weakened_top_there_is_no_drive():
    """hand-worked: 50 A of 306.3 A (flux / L) raise the no-load speed of 30.16 m/s to 36.0 m/s."""
    assert point_of(bare(**WEAK), 35.5)[1].i_q[0] > 0
    _, point = point_of(bare(**WEAK), 36.6)
    assert point.i_q[0] == 0
    assert point.i_d[0] == pytest.approx(-50.0)
    assert LIMITS[point.limit[0]] == "field weakening"
    assert point_of(bare(), 30.3)[1].i_q[0] == 0


def test_a_controller_that_the_line_limit_starves_stays_fed():
    """hand-worked: folded back to nothing at 50 V, its 100 W still flow: U (50 - U) = 0.05 x 100, U = 49.8998 V."""
    build = bare(**FOLDING, **{"controller.fixed_loss": 100.0})
    _, point = point_of(build, 10.0, electromotive=50.0)
    assert point.voltage[0] == pytest.approx(25.0 + math.sqrt(625.0 - 5.0), abs=CLOSE * 400.0 * 0.05)
    assert point.line_current[0] * point.voltage[0] == pytest.approx(100.0, rel=1e-9)
    assert point.i_q[0] == 0
    assert LIMITS[point.limit[0]] == "low-voltage cutback"


def test_a_pack_asked_for_more_than_it_has():
    """hand-worked: at 80 V and 2 ohm no more than 0.95 x 80 / 4 = 19 A flow, whatever the line limit."""
    _, point = point_of(bare(**STRONG), 15.0, resistance=2.0)
    assert point.line_current[0] == pytest.approx(19.0)
    assert point.voltage[0] == pytest.approx(42.0)
    assert LIMITS[point.limit[0]] == "voltage"


def test_coasting():
    """hand-worked: m a = -(m g c cos + m g sin + T G / (r eta)), iron 0.6 N m, slope 0.02, c = 0.01, eta = 0.9."""
    build = bare(**{
        "bike.rolling_coefficient": 0.01, "conditions.slope": 0.02, "motor.iron_loss_torque": 0.6,
        "driveline.efficiency": 0.9,
    })  # fmt: skip
    expected = -(200 * GRAVITY * (0.01 * math.cos(0.02) + math.sin(0.02)) + 0.6 * GEAR / 0.9) / 200
    plant = Plant(Batch.of(build))
    found = plant.evaluate(plant.start(10.0), np.zeros(1), opened=np.array([0]))
    assert found.acceleration == pytest.approx([expected], rel=1e-12)
    assert found.line_current == [0.0]


# ----- wide random batches

COUNT = 3000


def wide(seed, weakening, ahead=0.0):
    """Random machines, limits and states far beyond what is built, and their operating points.

    `ahead` moves every speed on, m/s.
    """
    draw = np.random.default_rng(seed)

    def spread(low, high):
        return np.exp(draw.uniform(np.log(low), np.log(high), COUNT))

    foldback_end = np.where(draw.random(COUNT) < 0.3, draw.uniform(10.0, 140.0, COUNT), 0.0)
    build = Build(Pack(24, 26.0, resistance=0.05), Motor(60.0), Controller(200.0, 400.0), Driveline(12, 56),
                  Bike(120.0, 75.0, rolling_radius=0.29))  # fmt: skip
    batch = Batch.vary(build, {
        "motor.kv_rpm_per_volt": spread(5, 500), "motor.pole_pairs": draw.integers(1, 40, COUNT),
        "motor.phase_resistance": spread(1e-4, 0.3), "motor.phase_inductance": spread(1e-6, 3e-3),
        "controller.line_current_limit": spread(5, 1500), "controller.phase_current_limit": spread(20, 3000),
        "controller.field_weakening_current": weakening * draw.integers(0, 2, COUNT) * spread(1, 1000),
        "controller.modulation": draw.uniform(0.7, 1.1, COUNT),
        "controller.foldback_end_voltage": foldback_end, "controller.foldback_start_voltage": foldback_end * 1.2,
        "controller.fixed_loss": draw.choice([0.0, 15.0, 200.0], COUNT),
        "controller.loss_per_ampere": draw.choice([0.0, 0.2, 2.0], COUNT),
        "controller.loss_resistance": draw.choice([0.0, 1.5e-3, 0.02], COUNT),
        "driveline.rear_teeth": draw.integers(25, 81, COUNT),
        "conditions.slope": draw.uniform(-0.3, 0.3, COUNT), "conditions.headwind": draw.uniform(-20, 20, COUNT),
    })  # fmt: skip
    machine, voltage = Machine(batch), spread(20, 150)
    free = batch["motor.kv_rpm_per_volt"] * voltage * 2 * np.pi / 60 / machine.speed_ratio
    speed = np.where(draw.random(COUNT) < 0.1, 0.0, np.minimum(draw.uniform(0.0, 1.6, COUNT) * free, 100.0))
    speed = np.maximum(speed + ahead, 0.0)
    throttle = np.where(draw.random(COUNT) < 0.3, draw.uniform(0.0, 1.0, COUNT), 1.0)
    resistance = spread(1e-3, 0.5)
    winding, controller = draw.uniform(250.0, 430.0, COUNT), draw.uniform(250.0, 370.0, COUNT)
    with np.errstate(all="raise", under="ignore"):
        point = operating_point(machine, speed, throttle, voltage, resistance, winding, controller)
    return machine, speed, voltage, resistance, winding, point


@pytest.fixture(scope="module", params=[(seed, weak) for seed in range(4) for weak in (0, 1)])
def drawn(request):
    return wide(*request.param)


def electrical_power(machine, speed, winding, point):
    """Electrical power from the currents alone: copper, air gap and the controller's three losses."""
    copper = machine.resistance_20 * (235.0 + winding - 273.15) / 255.0
    squared = point.i_q**2 + point.i_d**2
    loss = machine.fixed_loss + machine.loss_per_ampere * np.sqrt(squared) + machine.loss_resistance * squared
    air_gap = machine.torque_per_ampere * point.i_q * speed * machine.speed_ratio
    return 1.5 * copper * squared + air_gap + loss


def test_bus_voltage_and_line_current_belong_together(drawn):
    """property: U = E - R I, and I = P / U with P from the currents, within 1e-6 of the line limit."""
    machine, speed, voltage, resistance, winding, point = drawn
    flows = (voltage - point.voltage) / resistance
    assert (np.abs(flows - point.line_current) / machine.line_limit).max() < CLOSE
    needed = electrical_power(machine, speed, winding, point) / point.voltage
    assert (np.abs(needed - point.line_current) / machine.line_limit).max() < CLOSE


def test_every_point_keeps_all_limits(drawn):
    """property: inside voltage disc, phase disc and strip of field weakening, and at most the line limit."""
    machine, speed, _, _, winding, point = drawn
    electrical = speed * machine.speed_ratio * machine.pole_pairs
    copper = machine.resistance_20 * (235.0 + winding - 273.15) / 255.0
    direct, quadrature = np.broadcast_to(point.i_d, speed.shape), point.i_q
    along = copper * direct - electrical * machine.inductance * quadrature
    across = copper * quadrature + electrical * (machine.inductance * direct + machine.flux)
    driving = quadrature > 1e-3
    assert (quadrature >= 0).all()
    assert (np.hypot(along, across) <= point.voltage * machine.voltage_fraction * (1 + 1e-6))[driving].all()
    assert (np.hypot(direct, quadrature) <= machine.phase_limit * (1 + 1e-9))[driving].all()
    assert (-direct <= np.minimum(machine.field_weakening, machine.phase_limit) * (1 + 1e-9) + 1e-6).all()
    assert (point.line_current <= machine.line_limit * (1 + 1e-6))[driving].all()
    assert (point.voltage > 0).all()


def test_power_balances_at_an_instant(drawn):
    """property: E I = heat of pack, copper, iron, controller and driveline + drag, rolling, slope and kinetic."""
    machine, speed, voltage, resistance, winding, point = drawn
    current = point.line_current
    copper = machine.resistance_20 * (235.0 + winding - 273.15) / 255.0
    squared = point.i_q**2 + point.i_d**2
    motor_speed = speed * machine.speed_ratio
    shaft = (point.air_gap_torque - point.iron_torque) * motor_speed
    heat = resistance * current**2 + 1.5 * copper * squared + point.iron_torque * motor_speed
    heat += machine.fixed_loss + machine.loss_per_ampere * np.sqrt(squared) + machine.loss_resistance * squared
    driveline = shaft - point.drive_force * speed
    assert (driveline >= -1e-9 * np.abs(shaft)).all()
    road = (point.drag_force + point.rolling_force + machine.slope_force) * speed
    kinetic = machine.inertia * point.acceleration * speed
    left = voltage * current - heat - driveline - road - kinetic
    assert (np.abs(left) / (voltage * machine.line_limit)).max() < CLOSE


def test_the_name_fits_what_binds(drawn):
    """property: a limit is named only where it is reached: line current at the line limit, and so on."""
    machine, *_, point = drawn
    name = np.array(LIMITS)[point.limit]
    driving = point.i_q > 0
    at_line = (name == "line current") & driving
    assert point.line_current[at_line] == pytest.approx(machine.line_limit[at_line])
    assert (name[driving & (point.i_d == 0)] != "field weakening").all()
    weakened = (name == "field weakening") & driving & ~point.held_by_line
    assert np.broadcast_to(-point.i_d, name.shape)[weakened] == pytest.approx(machine.field_weakening[weakened])
    folded = name == "low-voltage cutback"
    assert (point.voltage[folded] < machine.foldback_start[folded]).all()
    assert set(name) >= {"throttle", "phase current", "line current", "voltage", "low-voltage cutback"}


@pytest.mark.parametrize("seed", range(3))
def test_the_slope_is_what_two_speeds_beside_it_give(seed):
    """exact solution: the central difference of acceleration over 20 um/s, where no limit changes between.

    1e-3: the search for the bus voltage leaves each acceleration off by some 1e-9 of itself.
    """
    half = 1e-5
    _, speed, *_, point = wide(seed, 1)
    below, above = wide(seed, 1, -half)[-1], wide(seed, 1, half)[-1]
    name = point.limit
    same = (name == below.limit) & (name == above.limit) & (speed > half)
    same &= ((point.i_d < 0) == (below.i_d < 0)) & ((point.i_d < 0) == (above.i_d < 0))
    difference = (above.acceleration - below.acceleration) / (2 * half)
    assert same.sum() > 0.8 * COUNT
    assert point.slope[same] == pytest.approx(difference[same], rel=1e-3, abs=1e-3)
    assert set(np.array(LIMITS)[name[same]]) >= {"throttle", "line current", "voltage", "low-voltage cutback"}


def test_where_the_search_begins_does_not_matter():
    """property: from any currents within the phase limit it finds the same line current.

    1e-5 of the line limit: twenty times the residual, for points at which power rises almost as the pack sags.
    """
    machine, speed, voltage, resistance, winding, _ = wide(12, 1)
    given = machine, speed, np.ones(COUNT), voltage, resistance, winding, winding * 0 + COLD
    plain, draw = operating_point(*given), np.random.default_rng(3)
    current, angle = draw.uniform(0, machine.phase_limit), draw.uniform(0, np.pi / 2, COUNT)
    other = operating_point(*given, (current * np.cos(angle), -current * np.sin(angle)))
    assert (np.abs(other.line_current - plain.line_current) / machine.line_limit).max() < 1e-5
    assert (other.limit == plain.limit).mean() > 0.999


def test_two_rows_of_speeds_are_two_points():
    """property: a second axis of speeds gives what two calls give."""
    machine, speed, voltage, resistance, winding, _ = wide(11, 1)
    rows = np.array([speed, speed + 0.5])
    args = np.ones(COUNT), voltage, resistance, winding, winding * 0 + COLD
    both = operating_point(machine, rows, *args)
    for row in range(2):
        alone = operating_point(machine, rows[row], *args)
        assert both.line_current[row] == pytest.approx(alone.line_current, rel=1e-5, abs=1e-5)
        assert both.drive_force[row] == pytest.approx(alone.drive_force, rel=1e-5, abs=1e-3)


def test_a_torque_table_stands_in_for_the_current_plane():
    """hand-worked: 40 N m at 100 rad/s with 0.8: 5 kW from the pack, U (80 - U) = 0.05 x 5000; 20 N m between."""
    table = ((0.0, 40.0), (200.0, 40.0), (400.0, 0.0))
    build = bare(**{"motor.torque_table": table, "motor.table_efficiency": 0.8})
    _, point = point_of(build, 100.0 / GEAR)
    assert point.air_gap_torque[0] == pytest.approx(40.0)
    assert point.voltage[0] == pytest.approx(40.0 + math.sqrt(1600.0 - 250.0), rel=1e-8)
    assert point.line_current[0] == pytest.approx(5000.0 / point.voltage[0], rel=1e-9)
    assert point_of(build, 300.0 / GEAR)[1].air_gap_torque[0] == pytest.approx(20.0)
    assert point_of(build, 300.0 / GEAR, throttle=0.5)[1].air_gap_torque[0] == pytest.approx(10.0)
