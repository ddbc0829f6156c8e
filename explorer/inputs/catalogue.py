"""Every input of the page, once: key, label, group, range, step, default, help, and where it goes in the build.

Defaults are a plausible small supermoto; the presets change them. Ranges lie inside what the physics accepts (a
test holds that). `InputSpec` in spec.py says what the fields mean.
"""

from __future__ import annotations

from typing import Any

from explorer.inputs.day import day_inputs
from explorer.inputs.how_sure import sure_inputs
from explorer.inputs.protection import PROTECTION, protection_inputs
from explorer.inputs.spec import InputSpec, quoted
from explorer.inputs.speedometer import speedometer_inputs
from physics.components.cell import CHEMISTRY_KEYS, chemistry
from physics.components.road_load import POSTURES

PACK, DRIVE, GEARING, BIKE, TODAY = (
    "Pack", "Controller and motor", "Gearing and tyre", "Bike and rider", "Today",
)  # fmt: skip
GROUPS = (PACK, DRIVE, GEARING, BIKE, TODAY)
HEADROOM = "Headroom"
LINE_LIMIT, PULLS, BURST, HEAT, HEAT_HELD, HEAT_PULLS = (
    "Line limit for today", "Pulls", "Burst power", "Heat", "Heat of a held throttle", "Heat of repeated pulls",
)  # fmt: skip
"""Inputs that stand in a section of the page, not at the side."""
AT_THE_SIDE = (*GROUPS, PROTECTION)
"""The groups that make a build and its day."""
LEVELS = ("1", "2", "3")

COMMON_TYRES = (
    "3.50-8", "3.50-10", "100/90-10", "130/60-11", "90/90-12", "120/70-12", "130/60-13", "100/90-14",
    "2.50-16", "100/80-16", "100/80-17", "110/70-17", "120/70-17", "140/70-17", "160/60-17", "4.10-18",
    "100/90-18", "90/90-19", "70/100-19",
)  # fmt: skip
"""Sizes offered, from 8 to 19 inch rims; any other can be typed."""


def _pack() -> list[InputSpec]:
    kinds = tuple((key, chemistry(key).name) for key in CHEMISTRY_KEYS)
    return [
        InputSpec("cells", "Cells in series", PACK, 10, 32, 1, 24, whole=True, path="pack.cells_in_series",
               help="Count the groups from the pack's minus to its plus. Nominal voltage is about 3.7 V a cell "
                    "(3.2 V for iron phosphate)."),
        InputSpec("capacity", "Capacity", PACK, 5, 80, 1, 26, "Ah", path="pack.capacity_ah",
               help="Of the whole pack: one cell's amp-hours times cells in parallel."),
        InputSpec("chemistry", "Chemistry", PACK, kind="options", options=kinds, default="nmc",
               path="pack.chemistry",
               help="Sets the rest voltage at each charge, and how resistance grows in the cold."),
        InputSpec("pack_resistance", "Pack resistance", PACK, 5, 400, 1, None, "mohm", path="pack.resistance",
               kind="optional", switch="I have measured the pack's resistance", start=50,
               help="Voltage drop after ten seconds of steady current, over that current; at 25 °C, half charge. "
                    "Without a measurement the page takes what is typical for chemistry and capacity; packs of "
                    "one chemistry differ by a factor of three."),
        InputSpec("charge_current", "Charging current the cells may take", PACK, 1, 400, 1, None, "A",
               advanced=True, path="pack.charge_current", kind="optional",
               switch="I know the cells' charging current", start=30,
               help="The cell maker's largest charging current, times cells in parallel. Regen is charging. "
                    "Without it the page takes the current that would fill the pack in an hour (1C)."),
        InputSpec("lead_resistance", "Leads, fuse, switch, connectors", PACK, 0, 20, 0.5, 0, "mohm",
               advanced=True, path="pack.lead_resistance",
               help="From the pack's terminals to the controller: 2 m of 16 mm² copper have 2.4 mΩ, fuse, switch "
                    "and plugs 1 or 2 more. They sag at the controller, not in the cells. 0 where the pack's "
                    "resistance was measured at the controller."),
        InputSpec("ageing", "Ageing: resistance now over new", PACK, 1, 3, 0.05, 1.0, advanced=True,
               path="pack.resistance_growth",
               help="1 for a new pack. Leave it at 1 if the resistance was measured lately."),
        InputSpec("charge_spread", "Weakest cell is behind by", PACK, 0, 20, 0.5, 2.0, "%", advanced=True,
               path="pack.charge_spread",
               help="How much less charge the weakest cell has than the rest. It cuts out first."),
        InputSpec("resistance_spread", "Weakest cell's extra resistance", PACK, 0, 60, 1, 10, "%", advanced=True,
               path="pack.resistance_spread",
               help="How much higher the weakest cell's resistance is than the mean."),
    ]  # fmt: skip


def _drive() -> list[InputSpec]:
    specs = [
        InputSpec("level", "Power level", DRIVE, kind="options", options=tuple((n, f"Level {n}") for n in LEVELS),
               default="3",
               help="Which of the controller's three saved sets of limits is used, and edited below."),
    ]  # fmt: skip
    for level, line, phase in zip(LEVELS, (80, 140, 210), (220, 340, 480), strict=True):
        specs += [
            InputSpec(f"line_{level}", "Line limit", DRIVE, 20, 600, 5, line, "A",
                   help="Highest line current (DC, pack to controller). It sets power: what the pack must give."),
            InputSpec(f"phase_{level}", "Phase limit", DRIVE, 50, 1500, 10, phase, "A", phase=True,
                   help="Highest current in one motor phase. It sets torque: how hard the bike pulls away. "
                        "Makers quote peak or RMS, which is 0.707 of peak: choose above which one you enter."),
        ]  # fmt: skip
    return [
        *specs,
        InputSpec("throttle", "Throttle", DRIVE, 10, 100, 5, 100, "%", path="controller.throttle",
               help="Throttle held through the run."),
        InputSpec("kv", "Motor speed constant Kv", DRIVE, 10, 200, 0.5, 62, "rpm/V", path="motor.kv_rpm_per_volt",
               help="Rpm for each volt of back-EMF, the voltage a turning motor makes (line to line, peak). A "
                    "lower Kv pulls harder per ampere and tops out slower."),
        InputSpec("field_weakening", "Field-weakening current", DRIVE, 0, 600, 5, 0, "A", phase=True,
               path="controller.field_weakening_current",
               help="Phase current spent on weakening the magnets' field, for speed above what the voltage "
                    "allows. It heats the motor, and a fault at speed can push voltage into the controller."),
        InputSpec("regen", "Regen current", DRIVE, 0, 300, 5, 40, "A", path="controller.regen_current",
               help="Largest line current pushed back into the pack, by braking or by wheelie control."),
        InputSpec("motor_resistance", "Phase resistance", DRIVE, 0.5, 200, 0.5, 6, "mohm", advanced=True,
               path="motor.phase_resistance",
               help="Line to neutral at 20 °C: half of what is measured between two wires."),
        InputSpec("motor_inductance", "Phase inductance", DRIVE, 5, 1000, 5, 60, "uH", advanced=True,
               path="motor.phase_inductance",
               help="Line to neutral: half of what is measured between two wires."),
        InputSpec("saturation", "Torque per ampere is a tenth less at", DRIVE, 50, 3000, 10, None, "A",
               advanced=True, kind="limit", switch="Torque falls behind at high current", start=500, phase=True,
               path="motor.saturation_current",
               help="The iron saturates. From the maker's curve of torque against current, or two pulls: the phase "
                    "current at which torque is a tenth below the line through its beginning."),
        InputSpec("inductance_saturation", "Inductance is a tenth less at", DRIVE, 50, 3000, 10, None, "A",
               advanced=True, kind="limit", switch="Inductance falls at high current", start=300, phase=True,
               path="motor.inductance_saturation_current",
               help="An inductance measured without current is too high for a motor that pulls: less of it leaves "
                    "more voltage for speed."),
        InputSpec("eddy_frequency", "Winding resistance has doubled at", DRIVE, 200, 10000, 50, None, "Hz",
               advanced=True, kind="limit", switch="Winding resistance grows with speed", start=2000,
               path="motor.eddy_frequency",
               help="Electrical frequency, turns a second times pole pairs. Thick wires lose more as the current "
                    "turns faster; many thin ones hardly do."),
        InputSpec("magnet_weakening", "Magnets weaken with heat by", DRIVE, 0, 0.2, 0.01, 0, "%/K",
               advanced=True, path="motor.magnet_weakening",
               help="Flux lost for each degree above 20 °C: about 0.11 % for neodymium, 0.04 % for "
                    "samarium-cobalt. A hot motor then pulls less for each ampere and turns faster. 0 leaves "
                    "it out."),
        InputSpec("pole_pairs", "Pole pairs", DRIVE, 1, 30, 1, 5, advanced=True, whole=True,
               path="motor.pole_pairs",
               help="Half the number of magnets round the rotor."),
        InputSpec("throttle_ramp", "Throttle ramp", DRIVE, 0, 5, 0.1, 0.3, "s", advanced=True,
               path="controller.throttle_ramp_time", help="Time from closed to full throttle."),
        InputSpec("overshoot", "Line current overshoot", DRIVE, 0, 20, 0.5, 3, "%", advanced=True,
               path="controller.overshoot", help="How far the controller's line current swings past its limit."),
        InputSpec("modulation", "Voltage the controller makes of the pack's", DRIVE, 80, 110, 1, 100, "%",
               advanced=True, path="controller.modulation",
               help="Highest peak voltage between two motor wires over the pack's loaded voltage. 100 % is all of "
                    "a clean sine; about 95 % where the controller keeps some in reserve, up to 110 % where it "
                    "cuts the tops of the sine off."),
        InputSpec("foldback_start", "Line limit folds back from", DRIVE, 0, 140, 0.5, 0, "V", advanced=True,
               path="controller.foldback_start_voltage",
               help="Pack voltage at which the controller begins to reduce the line limit; 0 for none."),
        InputSpec("foldback_end", "No line current below", DRIVE, 0, 140, 0.5, 0, "V", advanced=True,
               path="controller.foldback_end_voltage",
               help="Pack voltage at which nothing is left of the line limit."),
        InputSpec("speed_cap", "Speed cap", DRIVE, 20, 200, 1, None, "km/h", "mph", advanced=True, kind="limit",
               switch="The controller caps the speed", start=100, path="controller.speed_cap"),
        InputSpec("controller_voltage", "Controller's highest voltage", DRIVE, 20, 300, 1, None, "V", advanced=True,
               kind="limit", switch="I know the controller's highest voltage", start=100,
               path="controller.voltage_maximum",
               help="From its data sheet. The page warns where a full pack, or the motor's back-EMF, passes it."),
        InputSpec("back_emf", "Back-EMF the controller withstands", DRIVE, 20, 500, 1, None, "V", advanced=True,
               kind="limit", switch="Its data sheet allows another back-EMF", start=100,
               path="controller.back_emf_maximum",
               help="Line to line, peak: what the turning motor may push into it, should it let go at speed. "
                    "Switched off, its highest voltage stands for it."),
        InputSpec("electrical_frequency", "Highest electrical frequency", DRIVE, 50, 5000, 10, None, "Hz",
               advanced=True, kind="limit", switch="I know the highest electrical frequency", start=1000,
               path="controller.electrical_frequency_maximum",
               help="That the controller can follow: motor rpm times pole pairs over 60. A limit stated as "
                    "electrical rpm is 60 times as much."),
    ]  # fmt: skip


def _gearing() -> list[InputSpec]:
    return [
        InputSpec("front_teeth", "Front sprocket", GEARING, 9, 20, 1, 12, whole=True, path="driveline.front_teeth",
               help="Teeth of the motor's sprocket."),
        InputSpec("rear_teeth", "Rear sprocket", GEARING, 25, 80, 1, 56, whole=True, path="driveline.rear_teeth",
               help="Teeth of the wheel's sprocket."),
        InputSpec("tyre", "Rear tyre", GEARING, kind="text", default="110/70-17", path="bike.tyre",
               help="As printed on the sidewall, or a measured diameter such as 580 mm."),
        InputSpec("primary_ratio", "Reduction before the sprockets", GEARING, 1, 12, 0.05, 1.0, advanced=True,
               path="driveline.primary_ratio", help="1 where the front sprocket sits on the motor's shaft."),
        InputSpec("efficiency", "Efficiency of the driveline", GEARING, 70, 100, 0.5, 96, "%", advanced=True,
               path="driveline.efficiency", help="Power at the wheel over power at the motor's shaft, of a strong "
                    "pull."),
        InputSpec("chain_drag", "Chain force lost at any load", GEARING, 0, 60, 1, 0, "N", "lbf", advanced=True,
               path="driveline.chain_drag",
               help="What a chain with little load costs beside the efficiency: a dry, tight or sealed chain drags "
                    "more. Chain force is torque at a sprocket over its pitch radius. 0 leaves it out."),
    ]  # fmt: skip


def _bike() -> list[InputSpec]:
    seats = tuple((key, item.label.capitalize()) for key, item in POSTURES.items())
    return [
        InputSpec("bike_mass", "Bike", BIKE, 30, 250, 1, 118, "kg", "lb", path="bike.bike_mass",
               help="Ready to ride, without the rider."),
        InputSpec("rider_mass", "Rider with gear", BIKE, 30, 160, 1, 82, "kg", "lb", path="bike.rider_mass"),
        InputSpec("posture", "Seat position", BIKE, kind="options", options=seats, default="crouched",
               help="Sets drag area and where the rider's weight sits."),
        InputSpec("drag_area", "Drag area", BIKE, 0.2, 1.2, 0.01, None, "m2", "ft2", kind="optional",
               switch="I know the drag area", start=0.48,
               help="Drag coefficient times frontal area; a coast-down gives yours. Switched off, the page takes "
                    "what is typical for the seat position."),
        InputSpec("rolling", "Rolling resistance coefficient", BIKE, 0.5, 4, 0.1, 1.5, "%", advanced=True,
               path="bike.rolling_coefficient", help="Rolling resistance over weight, at low speed."),
        InputSpec("wheelbase", "Wheelbase", BIKE, 900, 1800, 10, 1400, "mm", "in", advanced=True,
               path="bike.wheelbase"),
        InputSpec("bike_balance", "Bike's balance point before the rear axle", BIKE, 300, 1100, 10, 690, "mm", "in",
               advanced=True, help="Centre of gravity of the bike alone; from the weight on each wheel."),
        InputSpec("bike_height", "Bike's balance point above the road", BIKE, 250, 900, 10, 530, "mm", "in",
               advanced=True),
        InputSpec("fork_sag", "Fork sag with the rider on", BIKE, 0, 150, 5, 35, "mm", "in", advanced=True,
               path="bike.fork_sag",
               help="How far the fork stands in: 30 to 35 mm on the road, 60 to 75 mm off it. Before the front "
                    "wheel lifts the fork extends by that, and rider and bike stand taller."),
        InputSpec("seat_height", "Seat above the road", BIKE, 500, 1000, 10, 860, "mm", "in", advanced=True),
        InputSpec("seat_place", "Rider before the rear axle", BIKE, 200, 900, 10, 600, "mm", "in", advanced=True,
               help="Horizontally from the rear axle to the rider's middle, sitting upright."),
        InputSpec("grip", "Rear tyre grip", BIKE, 0.3, 1.6, 0.05, 1.1, advanced=True, path="bike.grip",
               help="Largest drive force over the rear tyre's load: about 1 on dry tarmac, far less on wet or "
                    "dirt."),
        InputSpec("slip_stiffness", "Drive force over rear load, over slip", BIKE, 5, 60, 1, None,
               advanced=True, kind="limit", switch="The rear tyre slips a little under drive", start=20,
               path="bike.slip_stiffness",
               help="A driven tyre turns faster than it rolls: 12 to 30 on tarmac, so that a drive force of half "
                    "the rear load slips by 2 to 4 %. It costs top speed."),
        InputSpec("hold_front", "Rider or controller keeps the front wheel down", BIKE, kind="flag", default=True,
               advanced=True, path="bike.hold_front_down"),
    ]  # fmt: skip


def _today() -> list[InputSpec]:
    return [
        InputSpec("target", "Target speed", TODAY, 20, 200, 1, 115, "km/h", "mph",
               help="The speed you want to reach."),
        InputSpec("air_temperature", "Air temperature", TODAY, -20, 50, 1, 20, "degC", "degF",
               path="conditions.air_temperature", help="Cold air is denser: more drag."),
        InputSpec("pack_temperature", "Pack temperature", TODAY, -20, 50, 1, None, "degC", "degF", kind="optional",
               switch="The pack is colder or warmer than the air", without="as the air", start=20,
               path="conditions.pack_temperature",
               help="A cold pack has more resistance: more sag. Switched off, it is as cold or warm as the air."),
        InputSpec("charge", "Charge", TODAY, 0, 100, 1, 95, "%", path="conditions.charge",
               help="State of charge at the start. If you know the rest voltage, choose it above."),
        InputSpec("headroom_wanted", "Headroom you plan", HEADROOM, 0, 20, 0.1, 3.0, "V",
               help="How many volts below full you mean the pack to rest before regen or wheelie control pushes "
                    "current back."),
        InputSpec("event_duration", "One event lasts", HEADROOM, 1, 60, 1, 10, "s",
               help="One braking, or one intervention of wheelie control, at the full regen current."),
        InputSpec("event_count", "Events in a row", HEADROOM, 1, 30, 1, 10, whole=True,
               help="With nothing drawn from the pack between them. Ten are about a lap's braking on a small "
                    "circuit; what you draw between the corners only helps."),
        InputSpec("event_pause", "Pause between them", HEADROOM, 0, 120, 1, 10, "s"),
        InputSpec("descent_height", "Long descent", HEADROOM, 0, 2000, 10, 0, "m", "ft",
               help="Height that you come down in one go, held back by regen; 0 for none."),
        InputSpec("descent_slope", "Its slope", HEADROOM, 1, 20, 0.5, 8, "%",
               help="Height lost over distance. Steeper roads give more back: air and tyres take less of it."),
        InputSpec("ride_off_speed", "Ride it off at", HEADROOM, 15, 120, 1, 40, "km/h", "mph",
               help="Steady speed at which you would ride down to that headroom, and come down a long descent."),
        InputSpec("headwind", "Headwind", TODAY, -60, 60, 1, 0, "km/h", "mph", path="conditions.headwind",
               help="Wind against you; below zero it pushes."),
        InputSpec("slope", "Slope", TODAY, -15, 15, 0.5, 0, "%",
               help="Rise over distance; below zero it is downhill."),
        InputSpec("duration", "Length of the run", TODAY, 5, 120, 1, 30, "s",
               help="Full throttle from a standstill."),
        InputSpec("altitude", "Altitude", TODAY, -100, 4000, 10, 50, "m", "ft", advanced=True,
               help="Thin air: less drag, less cooling."),
        InputSpec("sea_level_pressure", "Sea-level pressure", TODAY, 960, 1050, 1, 1013.25, "hPa", "inHg",
               advanced=True,
               help="As a weather service reports it."),
        InputSpec("humidity", "Relative humidity", TODAY, 0, 100, 5, 60, "%", advanced=True,
               path="conditions.humidity"),
    ]  # fmt: skip


def _plan() -> list[InputSpec]:
    """Inputs that stand in the sections that plan pulls."""
    return [
        InputSpec("pull_time", "Flat out for", LINE_LIMIT, 5, 60, 1, 20, "s",
               help="The pull that the pack must survive."),
        InputSpec("pull_hold", "Then hold the target for", LINE_LIMIT, 0, 60, 1, None, "s", kind="optional",
               switch="Only up to the target speed, then hold it", without="not at all", start=5,
               help="Time flat out is then the longest it may take to get there."),
        InputSpec("limit_margin", "Margin", LINE_LIMIT, 0, 200, 10, 100, "%",
               help="How much worse than entered things may be before a rule trips: 100 % as wrong as each value "
                    "may well be (set under “How sure is this?”), 0 % exactly as entered. It covers errors of "
                    "temperature, charge, resistance, wind, weight and the like, not a damaged cell or a "
                    "protection that is set otherwise."),
        InputSpec("pulls_hold", "Hold the target for", PULLS, 0, 60, 1, 5, "s",
               help="Each pull: flat out to the target speed, then held so long."),
        InputSpec("pulls_rest", "Rest between pulls", PULLS, 0, 30, 0.5, 5, "min",
               help="The pack relaxes and every part cools."),
        InputSpec("pulls_current", "Line current while riding back", PULLS, 0, 60, 1, 0, "A",
               help="Mean over the rest; 0 where the bike stands or is pushed."),
        InputSpec("burst_power", "Power", BURST, 0.5, 100, 0.5, 14, "kW",
               help="Electrical power at the pack's terminals."),
        InputSpec("burst_time", "Held for", BURST, 1, 300, 1, 10, "s"),
        InputSpec("heat_view", "Ridden as", HEAT, kind="options",
               options=(("held", "Full throttle held"), ("pulls", "Pull, cool, pull")), default="held"),
        InputSpec("heat_time", "Look ahead", HEAT_HELD, 1, 30, 1, 10, "min"),
        InputSpec("heat_pull", "Each pull lasts", HEAT_PULLS, 5, 120, 1, 30, "s"),
        InputSpec("heat_rest", "Cool for", HEAT_PULLS, 0, 30, 0.5, 3, "min"),
        InputSpec("heat_count", "Pulls", HEAT_PULLS, 2, 20, 1, 8, whole=True),
    ]  # fmt: skip


INPUTS: dict[str, InputSpec] = {
    spec.key: spec
    for spec in [
        *[*_pack(), *protection_inputs(), *_drive(), *_gearing(), *_bike(), *_today(), *_plan()],
        *day_inputs(),
        *speedometer_inputs(),
        *sure_inputs(),
    ]
}
"""Every input by its key, in the order in which the page shows them."""


def defaults() -> dict[str, Any]:
    """Every input at its default."""
    return {key: spec.default for key, spec in INPUTS.items()}


def of_group(group: str, *, advanced: bool) -> list[InputSpec]:
    """The inputs of a group: those in reach first, or those folded away."""
    return [spec for spec in INPUTS.values() if spec.group == group and spec.advanced == advanced]


def cleaned(given: dict[str, Any], start: dict[str, Any]) -> tuple[dict[str, Any], list[str]]:
    """Values from outside laid over known good ones.

    Parameters
    ----------
    given : dict
        Key to value, as texts or numbers; from a link or a file.
    start : dict
        What to keep where a value is left out or cannot be used.

    Returns
    -------
    tuple of (dict, list of str)
        The values, and a plain sentence for each that was changed or dropped.
    """
    values, sentences = dict(start), []
    for key, value in given.items():
        if key not in INPUTS:
            shown = quoted(key)
            sentences.append(f"The link holds {shown}, which this page does not know. It was left out.")
            continue
        accepted, sentence = INPUTS[key].clean(value)
        if sentence:
            sentences.append(sentence)
        if accepted is not None or not sentence:
            values[key] = accepted
    return values, sentences
