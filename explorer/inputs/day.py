"""Inputs of the questions about one day: charging the night before, and at the track."""

from __future__ import annotations

from explorer.inputs.spec import InputSpec

CHARGE_TO, WAY_HOME, ROAD, REGEN = "Charge to", "Way home", "Road needed", "Regen"
HILL, RULE, THROTTLE, WARM_UP = "Hill start", "Power and speed rules", "Throttle", "Warm-up"


def day_inputs() -> list[InputSpec]:
    """Every input of these questions."""
    return [*_charge_to(), *_way_home(), *_road(), *_regen(), *_hill(), *_rule(), *_throttle(), *_warm_up()]


def _charge_to() -> list[InputSpec]:
    return [
        InputSpec("charge_for", "Charge for", CHARGE_TO, kind="options",
               options=(("regen", "As much as regen allows"), ("target", "As little as the target needs")),
               default="regen",
               help="For the day entered under “Today”: set tomorrow morning's temperature there."),
        InputSpec("charge_own", "Target rest voltage", CHARGE_TO, 20, 140, 0.1, None, "V", kind="optional",
               switch="To a rest voltage I choose", without="as chosen above"),
        InputSpec("charge_from", "Rest voltage now", CHARGE_TO, 20, 140, 0.1, None, "V", kind="optional",
               switch="I know the rest voltage now", without="at half charge",
               help="With no load, after a few minutes at rest."),
        InputSpec("charger_power", "Outlet power", CHARGE_TO, 0.2, 22, 0.1, None, "kW", kind="limit",
               switch="The wall outlet is the limit", start=2.3,
               help="Volts times amps: 230 V at 10 A is 2.3 kW, 120 V at 12 A is 1.4 kW. The charger is assumed "
                    "to lose a tenth of it."),
        InputSpec("charger_current", "Charger current", CHARGE_TO, 0.5, 200, 0.5, 8, "A",
               help="Into the pack, not out of the wall."),
        InputSpec("charge_temperature", "Pack temperature while charging", CHARGE_TO, -20, 50, 1, 18, "degC",
               "degF", help="Of the cells, in the garage. Bring a cold pack indoors a few hours before."),
    ]  # fmt: skip


def _way_home() -> list[InputSpec]:
    return [
        InputSpec("home_distance", "Way home", WAY_HOME, 0.2, 100, 0.1, 5, "km", "mile", us_default=3),
        InputSpec("home_speed", "Speed on the way home", WAY_HOME, 10, 120, 1, 40, "km/h", "mph", us_default=25,
               help="A steady speed. Slower uses less charge and sags less."),
        InputSpec("home_slope", "Average slope home", WAY_HOME, -10, 10, 0.5, 0, "%",
               help="Climb from here to home over distance; negative is downhill."),
        InputSpec("home_wind", "Headwind on the way home", WAY_HOME, -60, 60, 1, 0, "km/h", "mph"),
        InputSpec("home_stops", "Stop-and-go", WAY_HOME, 0, 100, 5, 20, "%",
               help="Share of the way in traffic: a stop every 250 m (800 ft), and back up to speed after each."),
    ]  # fmt: skip


def _road() -> list[InputSpec]:
    return [
        InputSpec("road_surface", "Road", ROAD, kind="options", options=(("dry", "Dry"), ("wet", "Wet")),
               default="dry", help=("Sets the grip and how hard a rider brakes: 7 m/s² on a dry road, 3.5 m/s² "
                                    "on a wet one.")),
        InputSpec("road_brakes", "Brakes", ROAD, kind="options",
               options=(("both", "Both"), ("front", "Front only"), ("rear", "Rear only")), default="both"),
        InputSpec("road_deceleration", "How hard you brake", ROAD, 1, 10, 0.1, None, "m/s2", "g",
               kind="optional", switch="I have measured how hard I brake", without="as the road allows", start=6,
               help="Average over a stop on a level road: speed in m/s, squared, over twice the distance in m."),
        InputSpec("road_hold", "Hold the target for", ROAD, 0, 60, 1, 2, "s"),
        InputSpec("road_reaction", "Reaction", ROAD, 0.3, 5, 0.1, 1, "s",
               help="From deciding to stop until the brakes bite. A rider caught off guard takes 1.5 s or more."),
    ]  # fmt: skip


def _regen() -> list[InputSpec]:
    return [
        InputSpec("regen_phase", "Phase limit while braking", REGEN, 10, 1500, 10, None, "A", kind="limit",
               switch="Regen has a phase limit of its own", start=150, phase=True,
               help="Many controllers call it regen brake current. It sets how hard regen slows the bike at low "
                    "speed. If off, the level's phase limit applies."),
        InputSpec("regen_off_below", "No regen below", REGEN, 0, 40, 1, 5, "km/h", "mph", us_default=3),
    ]  # fmt: skip


def _hill() -> list[InputSpec]:
    return [
        InputSpec("hill_passenger", "Passenger with gear", HILL, 0, 150, 1, 0, "kg", "lb",
               help="Behind the rider, 0.3 m (1 ft) farther back and a little higher; 0 for none. Only where "
                    "the bike's maker and local law allow it."),
    ]  # fmt: skip


def _rule() -> list[InputSpec]:
    return [
        InputSpec("rule_power", "Power allowed", RULE, 0.2, 100, 0.1, None, "kW", kind="limit",
               switch="The rules limit power", start=10,
               help="From local law or your club: the most it may ever make."),
        InputSpec("rule_speed", "Speed allowed", RULE, 5, 250, 1, None, "km/h", "mph", kind="limit",
               switch="The rules limit speed", start=80, help="On the level, under power."),
    ]  # fmt: skip


def _throttle() -> list[InputSpec]:
    return [
        InputSpec("throttle_pull", "Target acceleration", THROTTLE, 0.2, 12, 0.1, 2, "m/s2", "g", us_default=0.2,
               help="The throttle it takes in each level is given above."),
    ]  # fmt: skip


def _warm_up() -> list[InputSpec]:
    return [
        InputSpec("warm_to", "Warm the pack to", WARM_UP, -15, 45, 1, None, "degC", "degF", kind="optional",
               switch="To a temperature of my own", without="what the target needs", start=25,
               help="If off: the lowest temperature at which the target is reached, or 25 °C (77 °F) where "
                    "that gives no answer. Stay within what the makers of cells and pack allow."),
        InputSpec("warm_current", "Steady line current", WARM_UP, 2, 300, 1, 40, "A",
               help="Held on the level, without wind; the speed that draws it is named above."),
        InputSpec("warm_share", "Line limit of gentle pulls", WARM_UP, 10, 100, 5, 50, "%",
               help="Of the line limit in use. Harder pulls take less charge for the same warmth."),
        InputSpec("warm_pull", "Length of each pull", WARM_UP, 5, 60, 1, 20, "s"),
        InputSpec("warm_rest", "Rest after each, and before the run", WARM_UP, 0, 15, 0.5, 1, "min"),
    ]  # fmt: skip
