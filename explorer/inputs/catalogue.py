"""Every input of the page, once: key, label, group, range, step, default, help, and where it goes in the build.

Defaults are a plausible small supermoto; the presets change them. Ranges lie inside what the physics accepts (a
test holds that). `InputSpec` in spec.py says what the fields mean.
"""

from __future__ import annotations

from typing import Any

from explorer.inputs.day import day_inputs
from explorer.inputs.how_sure import sure_inputs
from explorer.inputs.part_ratings import part_rating_inputs
from explorer.inputs.power_levels import power_level_inputs
from explorer.inputs.protection import PROTECTION, protection_inputs
from explorer.inputs.spec import InputSpec, quoted
from explorer.inputs.speedometer import speedometer_inputs
from physics.components.cell import CHEMISTRY_KEYS, chemistry
from physics.components.road_load import POSTURES
from physics.typical.tyre import SIZES_OF_RIM

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

COMMON_TYRES = tuple(size for sizes in SIZES_OF_RIM.values() for size in sizes)
"""Sizes offered; any other can be typed."""


def _pack() -> list[InputSpec]:
    kinds = tuple((key, chemistry(key).name) for key in CHEMISTRY_KEYS)
    return [
        InputSpec("cells", "Cells in series", PACK, 10, 32, 1, 24, whole=True, path="pack.cells_in_series",
               help="Cell groups from pack minus to pack plus. Nominal voltage is about 3.7 V a cell "
                    "(3.2 V for iron phosphate)."),
        InputSpec("capacity", "Capacity", PACK, 5, 80, 1, 26, "Ah", path="pack.capacity_ah",
               help="Of the whole pack: amp-hours of one cell times cells in parallel."),
        InputSpec("chemistry", "Chemistry", PACK, kind="options", options=kinds, default="nmc",
               path="pack.chemistry",
               help="Sets the rest voltage at each state of charge and how much resistance rises in the "
                    "cold."),
        InputSpec("pack_resistance", "Pack resistance", PACK, 5, 400, 1, None, "mohm", path="pack.resistance",
               kind="optional", switch="I have measured the pack's resistance", start=50,
               help="Sag after ten seconds of steady current, divided by that current, at 25 °C and half "
                    "charge. Without a measurement the page uses what is typical for the pack's current rating "
                    "and capacity, but packs with the same rating differ by a factor of two and more."),
        InputSpec("charge_current", "Charge current rating of the cells", PACK, 1, 400, 1, None, "A",
               advanced=True, path="pack.charge_current", kind="optional",
               switch="I know the cells' charge rating", start=30,
               help="The cell maker's maximum charge current, times cells in parallel. Regen is charging. If "
                    "off, the page uses 1C: the current that would fill the pack in an hour."),
        InputSpec("lead_resistance", "Leads, fuse, switch, connectors", PACK, 0, 20, 0.5, 0, "mohm",
               advanced=True, path="pack.lead_resistance",
               help="From the pack's terminals to the controller: 2 m of 16 mm² copper is 2.4 mΩ; fuse, "
                    "switch and plugs add 1 or 2. That part sags at the controller, not in the cells. "
                    "Enter 0 if the pack's resistance was measured at the controller."),
        InputSpec("resistance_current", "Resistance measured at", PACK, 1, 400, 1, None, "A", advanced=True,
               path="pack.resistance_current", kind="optional", start=50, without="four times the capacity",
               switch="I know the current the resistance was measured at",
               help="Cells show less resistance at high current, so a number measured at low current overstates "
                    "the sag of a pull. If off, the page takes it as measured at 4C: four times the amp-hours, "
                    "in amps."),
        InputSpec("ageing", "Ageing: resistance now / new", PACK, 1, 3, 0.05, 1.0, advanced=True,
               path="pack.resistance_growth",
               help="1 for a new pack. Leave it at 1 if you measured the resistance recently."),
        InputSpec("cold_growth", "Resistance at 0 °C / at 25 °C", PACK, 1, 6, 0.05, None, advanced=True,
               path="pack.cold_growth", kind="optional", start=2,
               switch="I know how the pack's resistance grows in the cold",
               help="Published cells show 1.4 to 3.5 times as much resistance at 0 °C as at 25 °C, even within "
                    "one chemistry. If off, the page uses a typical value and treats it as poorly known. Two "
                    "measurements give you your own: see below."),
        InputSpec("charge_spread", "Weakest cell: charge deficit", PACK, 0, 20, 0.5, 2.0, "%", advanced=True,
               path="pack.charge_spread",
               help="How much less charge the weakest cell has than the rest. It cuts out first."),
        InputSpec("resistance_spread", "Weakest cell: extra resistance", PACK, 0, 60, 1, 10, "%", advanced=True,
               path="pack.resistance_spread",
               help="How much higher its resistance is than the average cell's."),
    ]  # fmt: skip


def _drive() -> list[InputSpec]:
    return [
        *power_level_inputs(DRIVE),
        InputSpec("throttle", "Throttle", DRIVE, 10, 100, 5, 100, "%", path="controller.throttle",
               help="Throttle held through the run."),
        InputSpec("kv", "Motor Kv", DRIVE, 10, 200, 0.5, 62, "rpm/V", path="motor.kv_rpm_per_volt",
               help="Rpm per volt of back-EMF, the voltage a spinning motor makes (line to line, peak). "
                    "A lower Kv pulls harder per amp and tops out slower."),
        InputSpec("field_weakening", "Field-weakening current", DRIVE, 0, 600, 5, 0, "A", phase=True,
               path="controller.field_weakening_current",
               help="Phase current spent on weakening the magnets' field, for more speed than the "
                    "voltage allows. It heats the motor, and a fault at speed can push high voltage into "
                    "the controller."),
        InputSpec("regen", "Regen current", DRIVE, 0, 300, 5, 40, "A", path="controller.regen_current",
               help="Maximum line current pushed back into the pack, by regen braking or wheelie control."),
        InputSpec("motor_mass", "Motor weight", DRIVE, 1, 60, 0.5, None, "kg", "lb", advanced=True, kind="optional",
               switch="I know the motor's weight", start=10,
               help="With its housing. Heat capacity, iron loss and inertia scale with it, and so do resistance "
                    "and inductance where they are typical. If off, the page assumes 10 kg (22 lb)."),
        InputSpec("motor_power", "Motor's rated power", DRIVE, 0.5, 100, 0.5, None, "kW", advanced=True,
               kind="optional", switch="I know the motor's rated power", without="not known", start=6,
               help="What it can give for hours; about 55 % of what it can give for a few seconds. If you do not "
                    "know its weight, the page takes that of a motor made for this power."),
        InputSpec("motor_resistance", "Phase resistance", DRIVE, 0.5, 200, 0.5, 6, "mohm", advanced=True,
               path="motor.phase_resistance",
               help="Line to neutral at 20 °C: half of what you measure between two wires."),
        InputSpec("motor_inductance", "Phase inductance", DRIVE, 5, 1000, 5, 60, "uH", advanced=True,
               path="motor.phase_inductance",
               help="Line to neutral: half of what you measure between two wires."),
        InputSpec("saturation", "Torque per amp is down 10 % at", DRIVE, 50, 3000, 10, None, "A",
               advanced=True, kind="limit", switch="Torque falls off at high current", start=500, phase=True,
               path="motor.saturation_current",
               help="The iron saturates. From the maker's torque curve, or from two pulls: the phase current at "
                    "which torque is 10 % below the straight line it started on."),
        InputSpec("inductance_saturation", "Inductance is down 10 % at", DRIVE, 50, 3000, 10, None, "A",
               advanced=True, kind="limit", switch="Inductance falls at high current", start=300, phase=True,
               path="motor.inductance_saturation_current",
               help="Inductance measured without current is too high for a motor under load; less of it "
                    "leaves more voltage for speed."),
        InputSpec("eddy_frequency", "Winding resistance doubles at", DRIVE, 200, 10000, 50, None, "Hz",
               advanced=True, kind="limit", switch="Winding resistance rises with speed", start=2000,
               path="motor.eddy_frequency",
               help="Electrical frequency: revs per second times pole pairs. Thick wire loses more at "
                    "high frequency; many thin strands hardly do."),
        InputSpec("magnet_weakening", "Magnets weaken with heat", DRIVE, 0, 0.2, 0.01, 0, "%/K",
               advanced=True, path="motor.magnet_weakening",
               help="Flux lost per degree above 20 °C: about 0.11 % for neodymium, 0.04 % for "
                    "samarium-cobalt. A hot motor pulls less per amp and spins faster. 0 ignores it."),
        InputSpec("pole_pairs", "Pole pairs", DRIVE, 1, 30, 1, 5, advanced=True, whole=True,
               path="motor.pole_pairs",
               help="Half the number of magnets around the rotor."),
        InputSpec("throttle_ramp", "Throttle ramp", DRIVE, 0, 5, 0.1, 0.3, "s", advanced=True,
               path="controller.throttle_ramp_time", help="Time from closed to full throttle."),
        InputSpec("overshoot", "Line current overshoot", DRIVE, 0, 20, 0.5, 3, "%", advanced=True,
               path="controller.overshoot", help="How far line current swings past the controller's "
                                                 "limit."),
        InputSpec("modulation", "Maximum motor voltage / pack voltage", DRIVE, 80, 110, 1, 100, "%",
               advanced=True, path="controller.modulation",
               help="Maximum peak voltage between two motor wires, over the pack's loaded voltage. 100 % is a "
                    "full, clean sine; about 95 % if the controller holds some back, up to 110 % if it "
                    "overmodulates (flattens the sine)."),
        InputSpec("foldback_start", "Low-voltage cutback: starts", DRIVE, 0, 140, 0.5, 0, "V", advanced=True,
               path="controller.foldback_start_voltage",
               help="Pack voltage at which the controller starts to cut the line limit; 0 for none."),
        InputSpec("foldback_end", "Low-voltage cutback: ends", DRIVE, 0, 140, 0.5, 0, "V", advanced=True,
               path="controller.foldback_end_voltage",
               help="Pack voltage at which the line limit reaches zero."),
        InputSpec("speed_cap", "Speed cap", DRIVE, 20, 200, 1, None, "km/h", "mph", advanced=True, kind="limit",
               switch="The controller caps the speed", start=100, path="controller.speed_cap"),
        InputSpec("controller_voltage", "Controller voltage rating", DRIVE, 20, 300, 1, None, "V", advanced=True,
               kind="limit", switch="I know the controller's voltage rating", start=100,
               path="controller.voltage_maximum",
               help="From its data sheet. The page warns you if a full pack or the motor's back-EMF goes above "
                    "it."),
        InputSpec("back_emf", "Back-EMF the controller withstands", DRIVE, 20, 500, 1, None, "V", advanced=True,
               kind="limit", switch="It has a separate back-EMF rating", start=100,
               path="controller.back_emf_maximum",
               help="Line to line, peak: what the spinning motor may push into it if it shuts down at "
                    "speed. If off, its voltage rating is used."),
        InputSpec("electrical_frequency", "Maximum electrical frequency", DRIVE, 50, 5000, 10, None, "Hz",
               advanced=True, kind="limit", switch="I know the maximum electrical frequency", start=1000,
               path="controller.electrical_frequency_maximum",
               help="The fastest the controller can follow: motor rpm times pole pairs / 60. If the data sheet "
                    "gives electrical rpm, divide by 60."),
    ]  # fmt: skip


def _gearing() -> list[InputSpec]:
    return [
        InputSpec("front_teeth", "Front sprocket", GEARING, 9, 20, 1, 12, whole=True, path="driveline.front_teeth",
               help="Teeth on the motor sprocket."),
        InputSpec("rear_teeth", "Rear sprocket", GEARING, 25, 80, 1, 56, whole=True, path="driveline.rear_teeth",
               help="Teeth on the wheel sprocket."),
        InputSpec("tyre", "Rear tyre", GEARING, kind="text", default="110/70-17", path="bike.tyre",
               help=("As printed on the sidewall; or a measured diameter, such as 580 mm; or just the rim size: "
                     "12-inch.")),
        InputSpec("primary_ratio", "Primary reduction", GEARING, 1, 12, 0.05, 1.0, advanced=True,
               path="driveline.primary_ratio", help="Reduction before the sprockets; 1 if the front "
                                                    "sprocket is on the motor shaft."),
        InputSpec("efficiency", "Driveline efficiency", GEARING, 70, 100, 0.5, 96, "%", advanced=True,
               path="driveline.efficiency", help="Power at the wheel over power at the motor shaft, in a "
                                                 "hard pull."),
        InputSpec("chain_drag", "Constant chain drag", GEARING, 0, 60, 1, 0, "N", "lbf", advanced=True,
               path="driveline.chain_drag",
               help="What even an unloaded chain costs, on top of the efficiency: a dry, tight or sealed chain "
                    "drags more. It is a force in the chain: sprocket torque over pitch radius. 0 ignores it."),
    ]  # fmt: skip


def _bike() -> list[InputSpec]:
    seats = tuple((key, item.label.capitalize()) for key, item in POSTURES.items())
    return [
        InputSpec("bike_mass", "Bike", BIKE, 30, 250, 1, 118, "kg", "lb", path="bike.bike_mass",
               help="Ready to ride, without the rider."),
        InputSpec("rider_mass", "Rider with gear", BIKE, 30, 160, 1, 82, "kg", "lb", path="bike.rider_mass"),
        InputSpec("posture", "Riding position", BIKE, kind="options", options=seats, default="crouched",
               help="Sets the drag area and where the rider's weight sits."),
        InputSpec("drag_area", "Drag area", BIKE, 0.2, 1.2, 0.01, None, "m2", "ft2", kind="optional",
               switch="I know the drag area", start=0.48,
               help="Drag coefficient times frontal area (CdA); a coast-down gives yours. If off, the page uses "
                    "a typical value for the riding position."),
        InputSpec("rolling", "Rolling resistance coefficient", BIKE, 0.5, 4, 0.1, 1.5, "%", advanced=True,
               path="bike.rolling_coefficient", help="Rolling resistance over weight, at low speed."),
        InputSpec("wheelbase", "Wheelbase", BIKE, 900, 1800, 10, 1400, "mm", "in", advanced=True,
               path="bike.wheelbase"),
        InputSpec("bike_balance", "Bike's centre of gravity ahead of the rear axle", BIKE, 300, 1100, 10, 690,
               "mm", "in", advanced=True, help="Bike alone; from the weight on each wheel."),
        InputSpec("bike_height", "Height of the bike's centre of gravity", BIKE, 250, 900, 10, 530, "mm", "in",
               advanced=True),
        InputSpec("fork_sag", "Fork sag, rider aboard", BIKE, 0, 150, 5, 35, "mm", "in", advanced=True,
               path="bike.fork_sag",
               help="How far the fork is compressed: 30 to 35 mm on the road, 60 to 75 mm off it. The "
                    "fork extends by that before the front wheel lifts, so bike and rider sit taller."),
        InputSpec("seat_height", "Seat height", BIKE, 500, 1000, 10, 860, "mm", "in", advanced=True),
        InputSpec("seat_place", "Rider ahead of the rear axle", BIKE, 200, 900, 10, 600, "mm", "in", advanced=True,
               help="Horizontally from the rear axle to the rider's centre of gravity, sitting upright."),
        InputSpec("grip", "Rear tyre grip", BIKE, 0.3, 1.6, 0.05, 1.1, advanced=True, path="bike.grip",
               help="Maximum drive force the rear tyre holds, over the load on it: about 1 on dry tarmac, far "
                    "less in the wet or on dirt."),
        InputSpec("slip_stiffness", "Slip stiffness of the rear tyre", BIKE, 5, 60, 1, None,
               advanced=True, kind="limit", switch="Count the rear tyre's slip under drive", start=20,
               path="bike.slip_stiffness",
               help="Drive force over rear load, over slip: 12 to 30 on tarmac, so a drive force of half the "
                    "rear load makes the tyre slip 2 to 4 %. That costs top speed."),
        InputSpec("hold_front", "Rider or wheelie control keeps the front down", BIKE, kind="flag", default=True,
               advanced=True, path="bike.hold_front_down"),
    ]  # fmt: skip


def _today() -> list[InputSpec]:
    return [
        InputSpec("target", "Target speed", TODAY, 20, 200, 1, 115, "km/h", "mph",
               help="The speed you want to reach."),
        InputSpec("air_temperature", "Air temperature", TODAY, -20, 50, 1, 20, "degC", "degF",
               path="conditions.air_temperature", help="Cold air is denser: more drag."),
        InputSpec("pack_temperature", "Pack temperature", TODAY, -20, 50, 1, None, "degC", "degF", kind="optional",
               switch="Pack is not at air temperature", without="same as the air", start=20,
               path="conditions.pack_temperature",
               help="A cold pack has more resistance and sags more. If off, the pack is at air "
                    "temperature."),
        InputSpec("charge", "Charge", TODAY, 0, 100, 1, 95, "%", path="conditions.charge",
               help="State of charge at the start. If you know the rest voltage instead, choose it above."),
        InputSpec("headroom_wanted", "Planned headroom", HEADROOM, 0, 20, 0.1, 3.0, "V",
               help="How many volts below full you plan to have the pack before regen or wheelie control "
                    "pushes current back."),
        InputSpec("event_duration", "Length of one regen event", HEADROOM, 1, 60, 1, None, "s", kind="optional",
               switch="Wheelie control: events of a fixed length", without="a stop from the target speed", start=2,
               help="Each at full regen current: wheelie control feeds the pack short pulses. If off, an event "
                    "is a stop from the target speed on regen alone."),
        InputSpec("event_count", "Regen events in a row", HEADROOM, 1, 30, 1, 10, whole=True,
               help="Stops, or events of a fixed length, with nothing drawn from the pack in between. Ten is about "
                    "a lap's braking on a small circuit; what you use between corners only helps."),
        InputSpec("event_pause", "Pause between events", HEADROOM, 0, 120, 1, 10, "s"),
        InputSpec("descent_height", "Long descent", HEADROOM, 0, 2000, 10, 0, "m", "ft",
               help="Height lost in one go with regen holding the bike back; 0 for none."),
        InputSpec("descent_slope", "Slope of the descent", HEADROOM, 1, 20, 0.5, 8, "%",
               help="Drop over distance. A steeper road gives more back: drag and tyres take a smaller share."),
        InputSpec("ride_off_speed", "Speed while using up charge", HEADROOM, 15, 120, 1, 40, "km/h", "mph",
               us_default=25,
               help="Steady speed at which you would use up charge to reach that headroom, and ride down a long "
                    "descent."),
        InputSpec("headwind", "Headwind", TODAY, -60, 60, 1, 0, "km/h", "mph", path="conditions.headwind",
               help="Negative is a tailwind."),
        InputSpec("slope", "Slope", TODAY, -15, 15, 0.5, 0, "%",
               help="Rise over distance; negative is downhill."),
        InputSpec("duration", "Run length", TODAY, 5, 120, 1, 30, "s",
               help="Full throttle from a standstill."),
        InputSpec("altitude", "Altitude", TODAY, -100, 4000, 10, 50, "m", "ft", advanced=True,
               help="Thinner air: less drag, less cooling."),
        InputSpec("sea_level_pressure", "Sea-level pressure", TODAY, 960, 1050, 1, 1013.25, "hPa", "inHg",
               advanced=True,
               help="As given in weather reports."),
        InputSpec("humidity", "Relative humidity", TODAY, 0, 100, 5, 60, "%", advanced=True,
               path="conditions.humidity"),
    ]  # fmt: skip


def _plan() -> list[InputSpec]:
    """Inputs that stand in the sections that plan pulls."""
    return [
        InputSpec("pull_time", "Flat out for", LINE_LIMIT, 5, 60, 1, 20, "s",
               help="The pull the pack has to survive."),
        InputSpec("pull_hold", "Then hold the target for", LINE_LIMIT, 0, 60, 1, None, "s", kind="optional",
               switch="Only up to the target speed, then hold it", without="not at all", start=5,
               help="The time flat out is then the longest it may take to get there."),
        InputSpec("limit_margin", "Margin", LINE_LIMIT, 0, 200, 10, 100, "%",
               help="How far off your inputs may be before the BMS trips. At 100 %, each by as much as you set "
                    "under “How sure is this?”; at 0 %, everything is exactly as entered. The margin covers "
                    "errors in temperature, charge, resistance, wind, weight and the like, not a damaged cell "
                    "or a BMS with other settings."),
        InputSpec("pulls_hold", "Hold the target for", PULLS, 0, 60, 1, 5, "s",
               help="Each pull is flat out to the target speed, then held there this long."),
        InputSpec("pulls_rest", "Rest between pulls", PULLS, 0, 30, 0.5, 5, "min",
               help="The pack recovers and everything cools."),
        InputSpec("pulls_current", "Line current on the way back", PULLS, 0, 60, 1, 0, "A",
               help="Average over the rest; 0 if the bike stands or is pushed."),
        InputSpec("burst_power", "Power", BURST, 0.5, 100, 0.5, 14, "kW",
               help="Electrical power at the pack's terminals."),
        InputSpec("burst_time", "Held for", BURST, 1, 300, 1, 10, "s"),
        InputSpec("range_speed", "Range at a steady speed of", BURST, 15, 120, 1, 50, "km/h", "mph", us_default=30,
               help="For packs on offer: from full down to 10 %, with today's wind and slope."),
        InputSpec("heat_view", "Type of riding", HEAT, kind="options",
               options=(("held", "Full throttle held"), ("pulls", "Pull, cool, pull")), default="held"),
        InputSpec("heat_time", "Time shown", HEAT_HELD, 1, 30, 1, 10, "min"),
        InputSpec("heat_pull", "Length of each pull", HEAT_PULLS, 5, 120, 1, 30, "s"),
        InputSpec("heat_rest", "Rest between pulls", HEAT_PULLS, 0, 30, 0.5, 3, "min"),
        InputSpec("heat_count", "Pulls", HEAT_PULLS, 2, 20, 1, 8, whole=True),
    ]  # fmt: skip


INPUTS: dict[str, InputSpec] = {
    spec.key: spec
    for spec in [
        *[*_pack(), *protection_inputs(), *_drive(), *_gearing(), *_bike(), *_today(), *_plan()],
        *day_inputs(),
        *part_rating_inputs(),
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


def cleaned(given: dict[str, Any]) -> tuple[dict[str, Any], list[str]]:
    """Values from outside, made safe.

    Parameters
    ----------
    given : dict
        Key to value, as texts or numbers; from a link or a file.

    Returns
    -------
    tuple of (dict, list of str)
        The values that can be used, and a plain sentence for each that was changed or dropped.
    """
    values, sentences = {}, []
    for key, value in given.items():
        if key not in INPUTS:
            shown = quoted(key)
            sentences.append(f"The link has {shown}, which this page does not know; it was ignored.")
            continue
        accepted, sentence = INPUTS[key].clean(value)
        if sentence:
            sentences.append(sentence)
        if accepted is not None or not sentence:
            values[key] = accepted
    return values, sentences
