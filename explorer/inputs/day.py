"""Inputs of the questions about one day: charging the night before, and at the track."""

from __future__ import annotations

from explorer.inputs.spec import InputSpec

CHARGE_TO, WAY_HOME, ROAD, REGEN = "Charge to", "Way home", "Road needed", "Regen"
HILL, RULE, THROTTLE, WARM_UP = "Hill start", "A rule's limits", "Throttle", "Warm-up"


def day_inputs() -> list[InputSpec]:
    """Every input of these questions."""
    return [*_charge_to(), *_way_home(), *_road(), *_regen(), *_hill(), *_rule(), *_throttle(), *_warm_up()]


def _charge_to() -> list[InputSpec]:
    return [
        InputSpec("charge_for", "Charge for", CHARGE_TO, kind="options",
               options=(("regen", "As much as regen allows"), ("target", "As little as the target needs")),
               default="regen",
               help="For the day entered under “Today”: set tomorrow morning's temperature there."),
        InputSpec("charge_own", "Rest voltage wanted", CHARGE_TO, 20, 140, 0.1, None, "V", kind="optional",
               switch="To a rest voltage of my own", without="as chosen above"),
        InputSpec("charge_from", "Rests now at", CHARGE_TO, 20, 140, 0.1, None, "V", kind="optional",
               switch="I know what it rests at now", without="at half charge",
               help="With no load, settled for minutes."),
        InputSpec("charger_power", "Power from the wall", CHARGE_TO, 0.2, 22, 0.1, None, "kW", kind="limit",
               switch="A weak wall outlet limits it", start=2.3,
               help="Volts times amps: 230 V at 10 A are 2.3 kW, 120 V at 12 A are 1.4 kW. A tenth of it is taken "
                    "to stay in the charger."),
        InputSpec("charger_current", "Charger's current", CHARGE_TO, 0.5, 200, 0.5, 8, "A",
               help="Into the pack, not from the wall."),
        InputSpec("charge_temperature", "Pack temperature while charging", CHARGE_TO, -20, 50, 1, 18, "degC",
               "degF", help="Of the cells, in the garage: bring a cold pack in some hours before."),
    ]  # fmt: skip


def _way_home() -> list[InputSpec]:
    return [
        InputSpec("home_distance", "Way home", WAY_HOME, 0.2, 100, 0.1, 5, "km", "mile"),
        InputSpec("home_speed", "Ridden at", WAY_HOME, 10, 120, 1, 40, "km/h", "mph",
               help="A steady speed. Slower takes less, and sags less."),
        InputSpec("home_slope", "Slope on the whole", WAY_HOME, -10, 10, 0.5, 0, "%",
               help="Height from here to home over the way; uphill above zero."),
        InputSpec("home_wind", "Headwind on the way", WAY_HOME, -60, 60, 1, 0, "km/h", "mph"),
        InputSpec("home_stops", "Stop-and-go", WAY_HOME, 0, 100, 5, 20, "%",
               help="Of the way, as in traffic: a stop every 250 m is taken, and speed made anew after each."),
    ]  # fmt: skip


def _road() -> list[InputSpec]:
    return [
        InputSpec("road_surface", "Road", ROAD, kind="options", options=(("dry", "Dry"), ("wet", "Wet")),
               default="dry", help="Grip and what a rider achieves: 7 m/s² on a dry road, 3.5 m/s² on a wet one."),
        InputSpec("road_brakes", "Brakes", ROAD, kind="options",
               options=(("both", "Both"), ("front", "Front only"), ("rear", "Rear only")), default="both"),
        InputSpec("road_deceleration", "Braking that you achieve", ROAD, 1, 10, 0.1, None, "m/s2", "g",
               kind="optional", switch="I have measured how hard I brake", without="as the road allows", start=6,
               help="Mean of a stop on a level road: speed squared, in m/s, over twice the distance."),
        InputSpec("road_hold", "Hold the target for", ROAD, 0, 60, 1, 2, "s"),
        InputSpec("road_reaction", "Reaction", ROAD, 0.3, 5, 0.1, 1, "s",
               help="From the decision to stop until the brakes bite. Taken by surprise it is 1.5 s and more."),
    ]  # fmt: skip


def _regen() -> list[InputSpec]:
    return [
        InputSpec("regen_phase", "Phase limit while braking", REGEN, 10, 1500, 10, None, "A", kind="limit",
               switch="Regen has a phase limit of its own", start=150, phase=True,
               help="Regen brake current in many controllers' settings. It sets how hard regen slows at low speed; "
                    "switched off, the level's phase limit holds."),
        InputSpec("regen_off_below", "Regen is off below", REGEN, 0, 40, 1, 5, "km/h", "mph"),
    ]  # fmt: skip


def _hill() -> list[InputSpec]:
    return [
        InputSpec("hill_passenger", "Passenger with gear", HILL, 0, 150, 1, 0, "kg", "lb",
               help="Behind the rider, 0.3 m farther back and a little higher; 0 is nobody. Only where the bike's "
                    "maker and local law allow one."),
    ]  # fmt: skip


def _rule() -> list[InputSpec]:
    return [
        InputSpec("rule_power", "Power allowed", RULE, 0.2, 100, 0.1, None, "kW", kind="limit",
               switch="My rule limits the power", start=10,
               help="From your local law or your club: the most it may ever make."),
        InputSpec("rule_speed", "Speed allowed", RULE, 5, 250, 1, None, "km/h", "mph", kind="limit",
               switch="My rule limits the speed", start=80, help="On the level, under power."),
    ]  # fmt: skip


def _throttle() -> list[InputSpec]:
    return [
        InputSpec("throttle_pull", "Acceleration wanted", THROTTLE, 0.2, 12, 0.1, 2, "m/s2", "g",
               help="The throttle that gives it in each level is named above."),
    ]  # fmt: skip


def _warm_up() -> list[InputSpec]:
    return [
        InputSpec("warm_to", "Warm the pack to", WARM_UP, -15, 45, 1, None, "degC", "degF", kind="optional",
               switch="To a temperature of my own", without="what the target needs", start=25,
               help="If off: the least at which the target is reached, or 25 °C where that says nothing. Stay "
                    "within what the makers of cells and pack allow."),
        InputSpec("warm_current", "Steady line current", WARM_UP, 2, 300, 1, 40, "A",
               help="Held on the level, without wind; the speed that draws it is named above."),
        InputSpec("warm_share", "Line limit of gentle pulls", WARM_UP, 10, 100, 5, 50, "%",
               help="Of the line limit in use. Harder pulls take less charge for the same warmth."),
        InputSpec("warm_pull", "Length of each pull", WARM_UP, 5, 60, 1, 20, "s"),
        InputSpec("warm_rest", "Rest after each, and before the run", WARM_UP, 0, 15, 0.5, 1, "min"),
    ]  # fmt: skip
