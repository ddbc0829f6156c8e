"""The setup sheet in words: what stands on it, from the page's own answers. Text only; `sheet` sets it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from explorer.format import plain_number, spelled
from explorer.inputs.catalogue import INPUTS
from explorer.inputs.origins import GIVEN, LEGEND, mark, origin
from explorer.inputs.power_levels import levels
from explorer.inputs.speedometer import INVERSE
from explorer.page import cautions as page_cautions
from explorer.page import words as page_words
from explorer.page.page import Page
from explorer.page.results import home_of
from explorer.questions.charge_to import words as charge_to
from explorer.questions.charge_to.results import charge_to_of
from explorer.questions.front_wheel.results import front_answer
from explorer.questions.headroom import words as headroom
from explorer.questions.headroom.results import headroom_of
from explorer.questions.hill_start import words as hill_start
from explorer.questions.hill_start.results import hill_of
from explorer.questions.line_limit import words as line_limit
from explorer.questions.line_limit.results import LimitAnswer, limit_of
from explorer.questions.line_limit.words import cell_text
from explorer.questions.regen import words as regen
from explorer.questions.regen.results import regen_of
from explorer.questions.road_needed import words as road_needed
from explorer.questions.road_needed.results import road_of
from explorer.questions.rule_limits import words as rule_limits
from explorer.questions.rule_limits.results import rule_of
from explorer.questions.setup_sheet.sheet import TODAY, Block, Sheet, Table
from explorer.questions.speedometer.words import constant_text
from explorer.questions.voltage_window.results import window_of
from explorer.questions.warm_up import results as warming
from explorer.questions.warm_up import words as warm_up
from explorer.questions.way_home import words as way_home
from explorer.state.names import as_markdown
from physics.build.batch import Batch
from physics.components.pack import rest_voltage
from physics.studies.headroom_curves import HeadroomAnswer
from physics.studies.limit_use import BINDS
from physics.studies.line_limit import NO_LIMIT_NEEDED, NONE_SURVIVES
from physics.studies.speedometer import PooledCalibration
from physics.studies.voltage_window import ALWAYS_REACHED, NEVER_REACHED
from physics.units import rms_from_peak

SAVE, WHAT_STANDS = "Save the setup sheet", "What is on the sheet"
SAVE_HELP = "One self-contained HTML page; open it and print it on A4 or Letter."
PRINT = (
    "The sheet is for the conditions printed on it. If it gets colder, or the pack is emptier or older than "
    "entered, make a new one."
)
MAP = "For the pull and margin above. “free”: no limit needed; “none”: even the lowest limit cuts out."
BLANKS = (
    "Rest voltage before, V", "Rest voltage after, V", "Pack temperature before", "Pack temperature after",
    "Tyres, front and rear", "Chain, brakes, bolts checked by",
)  # fmt: skip
CAUTIONS = (
    "A prediction is not permission to ride. Test on closed ground, in riding gear, with brakes, chain "
    "and tyres checked and rated for the speed. Local law, the makers' instructions and licensed "
    "practice come before this sheet.",
    "Plan so that the BMS never cuts out; never bypass, reset or loosen it to carry on. A cut-out takes your "
    "drive away at once.",
    "Lithium packs can burn, and above 60 V DC a touch can kill: leave work inside a pack to people trained and "
    "licensed for it.",
    "Regen is charging. Charging cold cells damages them permanently and can make them unsafe; without "
    "regen the brakes alone must stop the bike.",
    "A front wheel in the air neither steers nor brakes. A bump or a shift of weight lifts it sooner than the "
    "marks say.",
)
CAUTION = f"{CAUTIONS[0]} The other cautions are on the sheet."
WRITING = "Writing the sheet ..."

LOW_SPEED = 50 / 3.6
MOST_ROWS = 5
"""Pack temperatures in the table of line limits: today's and those nearest to it."""


def gather(
    page: Page, when: str, link: str, calibration: PooledCalibration | None, phase_as: str, cut_out: str = ""
) -> Sheet:
    """The sheet of the page as it stands.

    Parameters
    ----------
    page : Page
        Build, run and inputs.
    when : str
        Date and time.
    link : str
        The share link, whole.
    calibration : PooledCalibration or None
        Of the speedometer, where the rider has entered readings.
    phase_as : str
        "peak" or "RMS": how the rider reads phase currents.
    cut_out : str
        The cut-out in the ride log that is open, in a line; empty where there is none.

    Returns
    -------
    Sheet
    """
    limits = limit_of(page)
    answer = f"{page_words.headline(page)[1]} {page_words.what_holds(page)}".replace("**", "")
    blocks = [
        Block("Limits for today", _limits(page, limits, phase_as), strong=True),
        Block("Pack voltage at rest", _voltages(page), strong=True),
        Block("Front wheel: throttle marks", _front_wheel(page)),
        Block("Speedometer", _speedometer(page, calibration)),
        Block("Today", _today(page)),
        Block("Pack and BMS", [*_pack(page), *([("Cut-out in the log", cut_out)] if cut_out else [])]),
        Block("Motor, gearing, bike", _bike(page, phase_as)),
    ]
    said = partial(spelled, system=page.fmt.system)
    rated = page_cautions.speed_ratings(page.build, float(page.run.top_speed[0]), page.fmt)
    return Sheet(
        page.build.name,
        when,
        said(answer),
        [replace(block, rows=[(said(label), value) for label, value in block.rows]) for block in blocks],
        [_map(page, limits)],
        list(map(said, BLANKS)),
        [said(text) for text in (*CAUTIONS, rated) if text],
        link,
    )


def _text(page: Page, key: str, phase_as: str = "peak") -> str:
    """A value as text, marked where it is not given."""
    return INPUTS[key].text(page.inputs[key], page.fmt.system, phase_as) + mark(page.inputs, key)


def _undervoltage(page: Page) -> str:
    voltage = page.fmt("cell voltage", page.build.pack.protection.cell_undervoltage)
    return f"{voltage} a cell{mark(page.inputs, 'undervoltage')}, {_text(page, 'undervoltage_delay')}"


def line_limit_for_today(page: Page, answer: LimitAnswer) -> str:
    """The highest line limit that survives the pull, in a few words."""
    limits, index = answer.limits, (answer.row, answer.column)
    if limits.status[index] == NONE_SURVIVES:
        return f"none is low enough: {BINDS[limits.rule[index]]}"
    if limits.status[index] == NO_LIMIT_NEEDED:
        return f"none needed (the pull draws {page.fmt('current', limits.largest_current[index])} at most)"
    return f"{page.fmt('current', limits.limit[index])} or less"


def _limits(page: Page, answer: LimitAnswer, phase_as: str) -> list[tuple[str, str]]:
    fmt, values = page.fmt, page.inputs
    rows = [
        ("Line limit, highest today", line_limit_for_today(page, answer)),
        ("", f"For {line_limit.described(page)}, {page_words.margin(page)}."),
        ("In the run as entered", page_words.allowance(page)),
    ]
    for level in levels(values):
        peak = float(values[f"phase_{level}"])
        phase = f"{plain_number(peak, 0)} A peak ({plain_number(rms_from_peak(peak), 0)} A RMS)"
        used = ", in use" if level == values["level"] else ""
        line = fmt("current", values[f"line_{level}"]) + mark(values, f"line_{level}")
        rows.append((f"Level {level}{used}", f"line {line}, phase {phase}{mark(values, f'phase_{level}')}"))
    if values["field_weakening"]:
        rows.append(("Field weakening", _text(page, "field_weakening", phase_as)))
    if values["speed_cap"] is not None:
        rows.append(("Speed cap", _text(page, "speed_cap")))
    rule = rule_of(page)
    if rule is not None:
        rows.append(("For your rule", rule_limits.on_the_sheet(page, rule)))
    if values["foldback_start"]:
        rows.append(("Low-voltage cutback", f"{_text(page, 'foldback_start')} to {_text(page, 'foldback_end')}"))
    return rows


def least_voltage(page: Page) -> str:
    """Lowest rest voltage at which the target is within reach, in a few words."""
    window = window_of(page)
    if window.status == NEVER_REACHED:
        return f"out of reach {page_words.within(page)} today"
    if window.status == ALWAYS_REACHED:
        return f"any, down to {page.fmt('voltage', window.rest_voltage[0])}"
    least = f"{page.fmt('voltage', window.lowest_rest_voltage)} ({page.fmt('charge', window.lowest_charge)})"
    if window.highest_rest_voltage < window.rest_voltage[-1]:
        least += f", at most {page.fmt('voltage', window.highest_rest_voltage)}: fuller, it cuts out first"
    return least


def headroom_needed(page: Page) -> tuple[str, HeadroomAnswer]:
    """Headroom before regen, in a few words, and the answer it comes from."""
    answer = headroom_of(page)
    today, fmt = answer.today, page.fmt
    if today.status in (-1, -2):
        return f"no regen: pack too {'cold' if today.status == -1 else 'hot'}", answer
    if not page.build.controller.regen_current:
        return "no regen is set", answer
    if today.status == -3:
        return f"no regen at {headroom.current_text(page, today.current)}", answer
    if today.highest_charge >= 1:
        return "0 V: regen even from full", answer
    if headroom.is_flat(page):
        amp_hours = fmt.at_least("capacity", headroom.amp_seconds_below(page, answer))
        return f"{fmt.at_least('charge', today.charge_below_full)} charge below full ({amp_hours})", answer
    return f"{fmt.at_least('voltage', today.volts_below_full)} below full", answer


def _voltages(page: Page) -> list[tuple[str, str]]:
    pack, fmt = page.build.pack, page.fmt

    def rests(charge: float) -> str:
        return fmt("voltage", float(rest_voltage(pack.chemistry, pack.cells_in_series, charge)))

    needed, answer = headroom_needed(page)
    rows = [
        ("Full", rests(1.0)),
        ("Today", f"{rests(page.build.conditions.charge)} ({_text(page, 'charge')})"),
        (f"Lowest for {fmt.entered('speed', page.target_speed)}", least_voltage(page)),
        ("Headroom before regen", needed),
    ]
    rows.append(("Regen at most", regen.on_the_sheet(page, regen_of(page))))
    rows.append(("Road needed", road_needed.on_the_sheet(page, road_of(page))))
    rows.append(("Home needs above", way_home.on_the_sheet(page, home_of(page))))
    rows.append(("Hill start up to", hill_start.on_the_sheet(page, hill_of(page))))
    if warming.applies(page):
        plan = warming.plan_of(page)
        rows.append(("Warm-up", warm_up.on_the_sheet(fmt, plan.current, warming.warm_up_of(page))))
    rows.append(("Charge to", charge_to.on_the_sheet(page, charge_to_of(page))))
    today = answer.today
    if page.build.controller.regen_current and today.allowed and today.highest_charge < 1:
        at = fmt.at_most("charge", today.highest_charge) + " charge"
        at = at if headroom.is_flat(page) else fmt.at_most("voltage", today.highest_rest_voltage)
        rows.append(("Regen only at or below", at))
    energy = float(today.energy_to_ride_off)
    if page.build.controller.regen_current and today.allowed and energy > 0:
        rows.append(("Use up first", fmt("energy", energy)))
    return rows


def _front_wheel(page: Page) -> list[tuple[str, str]]:
    answer = front_answer(page.build, LOW_SPEED, page.target_speed, page.duration)
    light, lift = answer.marks.least("light_throttle"), answer.marks.least("lift_throttle")
    rows = []
    for index, level in enumerate(answer.marks.levels):
        if np.isfinite(lift[index]):
            value = f"light from {page.fmt('share', light[index])}, lifts from {page.fmt('share', lift[index])}"
        elif np.isfinite(light[index]):
            value = f"light from {page.fmt('share', light[index])}, stays down"
        else:
            value = "stays planted at full throttle"
        rows.append((level.name, value))
    return [*rows, ("", f"Smooth, level road; rider {page.inputs['posture']} and still.")]


def _speedometer(page: Page, calibration: PooledCalibration | None) -> list[tuple[str, str]]:
    rows = [("Current constant", constant_text(page.inputs["speedo_constant"]))]
    if calibration is None or not calibration.success:
        return [*rows, ("New constant", "no readings yet")]
    low, high = calibration.interval
    rows.append(("New constant", constant_text(calibration.constant)))
    if np.isfinite(low) and np.isfinite(high):
        sure = low if page.inputs["speedo_way"] == INVERSE else high
        rows.append(("To never read low", constant_text(sure)))
    return rows


def _today(page: Page) -> list[tuple[str, str]]:
    temperature = float(Batch.of(page.build)["conditions.pack_temperature"][0])
    return [
        ("Air", f"{_text(page, 'air_temperature')}, humidity {_text(page, 'humidity')}"),
        ("Pack", page.fmt("temperature", temperature)),
        ("Headwind, slope", f"{_text(page, 'headwind')}, {_text(page, 'slope')}"),
        ("Altitude, pressure", f"{_text(page, 'altitude')}, {_text(page, 'sea_level_pressure')} at sea level"),
    ]


def _pack(page: Page) -> list[tuple[str, str]]:
    typical = 1000 * float(Batch.of(page.build)["pack.resistance"][0])
    resistance = _text(page, "pack_resistance")
    if page.inputs["pack_resistance"] is None:
        resistance = f"{typical:.0f} mΩ{mark(page.inputs, 'pack_resistance')}"
    elif origin(page.inputs, "pack_resistance") == GIVEN:
        resistance += ", measured"
    parts = [f"{_text(page, 'cells')} cells in series", _text(page, "capacity"), _text(page, "chemistry")]
    rows = [
        ("Pack", ", ".join(parts)),
        ("Resistance", resistance),
        ("Continuous current", _text(page, "continuous_current")),
        ("Peak current", f"{_text(page, 'peak_current')} for {_text(page, 'peak_time')}"),
        ("Time above continuous", f"{_text(page, 'overcurrent_law')}"),
        ("Fast over-current", _text(page, "fast_current")),
        ("Under-voltage", _undervoltage(page)),
        ("Charging", f"{_text(page, 'charge_minimum')} to {_text(page, 'charge_maximum')}"),
    ]
    return rows


def _bike(page: Page, phase_as: str) -> list[tuple[str, str]]:
    line = page.build.driveline
    ratio = line.primary_ratio * line.rear_teeth / line.front_teeth
    return [
        ("Motor", f"Kv {_text(page, 'kv')}, {_text(page, 'pole_pairs')} pole pairs"),
        ("Sprockets", f"{_text(page, 'front_teeth')} / {_text(page, 'rear_teeth')}, ratio {ratio:.2f} in all"),
        ("Rear tyre", _text(page, "tyre")),
        ("Bike, rider with gear", f"{_text(page, 'bike_mass')}, {_text(page, 'rider_mass')}"),
        ("Seat", _text(page, "posture")),
        ("", f"Not given, so check these: {LEGEND}."),
    ]


def _map(page: Page, answer: LimitAnswer) -> Table:
    limits, fmt = answer.limits, page.fmt

    def named(text: str, is_today: bool) -> str:
        return text + (TODAY if is_today else "")

    near = np.sort(np.argsort(np.abs(limits.temperature - limits.temperature[answer.row]))[:MOST_ROWS])
    heads: Sequence[str] = [
        "pack",
        *(named(fmt("charge", charge), index == answer.column) for index, charge in enumerate(limits.charge)),
    ]
    rows = [
        [named(fmt("temperature", value), row == answer.row), *map(cell_text, limits.limit[row])]
        for row, value in zip(near, limits.temperature[near], strict=True)
    ]
    return Table("Highest line limit, A, by pack temperature and charge", heads, rows, MAP)


def verdict(page: Page, when: str) -> str:
    """The three numbers of the day, and what the sheet is."""
    return (
        f"**Line limit today:** {line_limit_for_today(page, limit_of(page))}. **Lowest rest voltage for "
        f"{page.fmt.entered('speed', page.target_speed)}:** {least_voltage(page)}. **Headroom before regen:** "
        f"{headroom_needed(page)[0]}. The sheet for {as_markdown(page.build.name)}, {when}, "
        "has these and all settings."
    )
