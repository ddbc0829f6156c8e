"""The experiments: a scene, a guess, one change, two runs, and what they show. No Streamlit.

Each changes the rider's own build, so that nothing is known beforehand: which answer is right, and why, is read off
the two runs. How runs are put into words stands in `drive`, `road`, `regen` and `words`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from explorer.derivations.derivation import Step
from explorer.format import UnitFormatter
from explorer.inputs.to_build import make_build
from explorer.page import cautions
from explorer.questions.experiments import drive, regen, road, words
from explorer.questions.experiments.guessed import (
    AGAINST_WIND,
    FASTER,
    GAINED,
    HARDER,
    LOST,
    THROTTLED,
    Scale,
)
from explorer.questions.experiments.results import ONE_EVENT, SERIES
from explorer.questions.experiments.two_runs import TwoRuns
from explorer.questions.experiments.words import Explanation
from physics.build import Build
from physics.build.batch import Batch
from physics.studies.headroom_curves import RegenPlan

Inputs = dict[str, Any]
Options = tuple[tuple[str, str], ...]

FASTER_SLOWER: Options = (("faster", "Faster"), ("same", "About as fast"), ("slower", "Slower"))
CUT = "cut"
CUTS_OUT = (CUT, "The pack cuts out in one run or both")
"""An answer to every experiment that rides: what comes after a cut-out compares nothing."""
MORE_TEETH_OFF = 4
HILL = 15.0
"""Slope of the hill start, %."""
SPEED, VOLTAGE, CELL = "speed", "voltage", "cell"


@dataclass(frozen=True)
class Experiment:
    """One experiment.

    Attributes
    ----------
    key, title : str
        Its name in keys, and on the page.
    scene : callable (inputs, fmt) to str
        What is there and what is changed; from the inputs alone, nothing is run.
    question : str
        What to guess.
    options : tuple of (key, label)
        The answers to choose from, a cut-out aside.
    builds : callable (inputs) to (Build, Build)
        Before and after.
    names : callable (inputs, fmt) to (str, str)
        What the two runs are called.
    outcome : callable (TwoRuns) to str
        Key of the option that holds where neither run cuts out.
    explain : callable (TwoRuns) to Explanation
        What happened and why, then.
    derivation : callable (TwoRuns) to list of Step
        The equation behind it, with the numbers of both runs.
    chart : str
        SPEED (with the limits beneath), VOLTAGE (with the speed beneath) or CELL.
    caution : str
        What can hurt someone here.
    ends : tuple of two str
        How a sentence about one of the two runs begins.
    plans : tuple of two RegenPlan
        How often each brakes, where braking is compared.
    flips : str
        Key of the experiment before it that it is meant to turn round.
    shows_on : str
        Key of a build to start from on which neither run cuts out and it turns that round.
    guessed : Scale, optional
        Where its answers stand on force against speed, where that explains what comes out.
    """

    key: str
    title: str
    scene: Callable[[Inputs, UnitFormatter], str]
    question: str
    options: Options
    builds: Callable[[Inputs], tuple[Build, Build]]
    names: Callable[[Inputs, UnitFormatter], tuple[str, str]]
    outcome: Callable[[TwoRuns], str]
    explain: Callable[[TwoRuns], Explanation]
    derivation: Callable[[TwoRuns], list[Step]]
    chart: str = SPEED
    caution: str = ""
    ends: tuple[str, str] = words.BEFORE_AND_AFTER
    plans: tuple[RegenPlan, RegenPlan] = (ONE_EVENT, ONE_EVENT)
    flips: str = ""
    shows_on: str = ""
    guessed: Scale | None = None

    @property
    def answers(self) -> Options:
        """All answers to choose from."""
        return self.options if self.chart == CELL else (*self.options, CUTS_OUT)

    def cuts_out(self, two: TwoRuns) -> bool:
        """Whether it ends with a cut-out; a braking event rides nothing."""
        return self.chart != CELL and (two.cut(0) or two.cut(1))

    def judge(self, two: TwoRuns) -> str:
        """Key of the answer that holds."""
        return CUT if self.cuts_out(two) else self.outcome(two)

    def explanation(self, two: TwoRuns) -> Explanation:
        """What happened and why."""
        return words.cut_out(two, self.ends) if self.cuts_out(two) else self.explain(two)

    def cautions(self, two: TwoRuns) -> str:
        """What can hurt someone here, a cut-out too."""
        texts = [self.caution, cautions.CUT_OUT if self.cuts_out(two) else ""]
        return " ".join(dict.fromkeys(text for text in texts if text))


def both(
    before: Callable[[Inputs], Inputs], after: Callable[[Inputs], Inputs]
) -> Callable[[Inputs], tuple[Build, Build]]:
    """Two builds from changes to the inputs."""

    def make(inputs: Inputs) -> tuple[Build, Build]:
        return make_build(inputs | before(inputs)), make_build(inputs | after(inputs))

    return make


def as_it_is(inputs: Inputs) -> Inputs:
    """No change."""
    return {}


def _limit(inputs: Inputs, kind: str) -> tuple[str, float]:
    key = f"{kind}_{inputs['level']}"
    return key, float(inputs[key])


def _quarter_more(kind: str) -> Callable[[Inputs], Inputs]:
    def changed(inputs: Inputs) -> Inputs:
        key, value = _limit(inputs, kind)
        return {key: 1.25 * value}

    return changed


def _low_line(inputs: Inputs) -> float:
    return max(5.0, 5.0 * round(0.08 * _limit(inputs, "line")[1]))


def _little_line(inputs: Inputs) -> Inputs:
    return {_limit(inputs, "line")[0]: _low_line(inputs)}


def _plain(before: str, after: str) -> Callable[[Inputs, UnitFormatter], tuple[str, str]]:
    return lambda inputs, fmt: (before, after)


def weakening(inputs: Inputs) -> float:
    """Field-weakening current that is tried: two fifths of the phase limit, A peak."""
    return max(10.0, 10.0 * round(0.04 * _limit(inputs, "phase")[1]))


def _resistance(inputs: Inputs) -> float:
    """The pack's resistance, milliohm; the typical one where none was measured."""
    if inputs["pack_resistance"] is not None:
        return float(inputs["pack_resistance"])
    return 1000.0 * float(Batch.of(make_build(inputs))["pack.resistance"][0])


def _smaller_tyre(inputs: Inputs) -> tuple[Build, Build]:
    build = make_build(inputs)
    radius = float(Batch.of(build)["bike.rolling_radius"][0])
    return build, build.change({"bike.rolling_radius": 0.95 * radius})


def _wind(fmt: UnitFormatter, more: float = 20.0) -> str:
    return fmt("wind", more / 3.6)


def _saturating(inputs: Inputs) -> Inputs:
    return {"saturation": _limit(inputs, "phase")[1]}


def _throttled(inputs: Inputs) -> Inputs:
    return {"throttle": 50.0}


EXPERIMENTS: tuple[Experiment, ...] = (
    Experiment(
        "phase_current", "More phase current",
        lambda i, w: f"Your controller allows {w('current', _limit(i, 'phase')[1])} peak in a motor "
                     f"phase and {w('current', _limit(i, 'line')[1])} from the pack. You raise the "
                     "**phase** limit by a quarter and leave the line limit alone.",
        "What do you get?",
        (("launch", "Quicker off the line, no more top speed"),
         ("top", "More top speed, no quicker off the line"), ("both", "Both"), ("neither", "Neither")),
        both(as_it_is, _quarter_more("phase")), _plain("as it is", "a quarter more phase current"),
        drive.launch_or_top, drive.phase_current, drive.drive_derivation,
    ),
    Experiment(
        "line_current", "More line current",
        lambda i, w: f"Now the other one: the **line** limit goes from {w('current', _limit(i, 'line')[1])} to "
        f"{w('current', 1.25 * _limit(i, 'line')[1])}, the phase limit stays at "
        f"{w('current', _limit(i, 'phase')[1])} peak.",
        "What do you get?",
        (("faster", "More top speed"), ("sooner", "The same top speed, but sooner"), ("nothing", "Neither")),
        both(as_it_is, _quarter_more("line")), _plain("as it is", "a quarter more line current"),
        drive.line_outcome, drive.line_current, drive.power_derivation, caution=cautions.CUT_OUT,
        shows_on="supermoto",
    ),
    Experiment(
        "sprocket", "A smaller rear sprocket",
        lambda i, w: f"Your rear sprocket has {i['rear_teeth']:.0f} teeth. You fit one with "
        f"{i['rear_teeth'] - MORE_TEETH_OFF:.0f}: taller gearing, the motor turns less for each turn of the wheel.",
        "What happens to top speed?", FASTER_SLOWER,
        both(as_it_is, lambda i: {"rear_teeth": i["rear_teeth"] - MORE_TEETH_OFF}),
        lambda i, w: (f"{i['rear_teeth']:.0f} teeth", f"{i['rear_teeth'] - MORE_TEETH_OFF:.0f} teeth"),
        drive.faster_or_slower, drive.sprocket, drive.gearing_derivation, shows_on="road", guessed=FASTER,
    ),
    Experiment(
        "sprocket_power", "The same sprocket, less power",
        lambda i, w: "Once more the smaller rear sprocket, but now on a bike with its line limit turned down "
        f"to {w('current', _low_line(i))} in both runs.",
        "What does the smaller sprocket do to top speed now?", FASTER_SLOWER,
        both(_little_line, lambda i: _little_line(i) | {"rear_teeth": i["rear_teeth"] - MORE_TEETH_OFF}),
        lambda i, w: (f"{i['rear_teeth']:.0f} teeth", f"{i['rear_teeth'] - MORE_TEETH_OFF:.0f} teeth"),
        drive.faster_or_slower, drive.sprocket, drive.gearing_derivation, flips="sprocket", shows_on="road",
        guessed=FASTER,
    ),
    Experiment(
        "cold_pack", "A cold pack",
        lambda i, w: f"The same bike twice: once with the pack kept at {w('temperature', 298.15)} in the "
                     f"garage, once with the pack left out overnight at {w('temperature', 273.15)}. Same "
                     "charge, same rider, same air.",
        "How deep does the cold pack sag?",
        (("less", "Less deep"), ("same", "About as deep"), ("more", "Deeper, by up to half"),
         ("much", "Deeper, by more than half")),
        both(lambda i: {"pack_temperature": 25.0}, lambda i: {"pack_temperature": 0.0}),
        lambda i, w: (f"pack at {w('temperature', 298.15)}", f"pack at {w('temperature', 273.15)}"),
        road.sag_outcome, road.cold_pack, road.cold_derivation, VOLTAGE,
    ),
    Experiment(
        "half_empty", "Half empty",
        lambda i, w: "First pull of the day at 95 % charge; last one at 40 %.",
        "How much top speed is gone?",
        (("none", "Next to none"), ("some", "Up to a tenth"), ("much", "More than a tenth")),
        both(lambda i: {"charge": 95.0}, lambda i: {"charge": 40.0}), _plain("95 % charge", "40 % charge"),
        road.speed_lost, road.half_empty, road.voltage_derivation, VOLTAGE, guessed=LOST,
    ),
    Experiment(
        "field_weakening", "Field weakening",
        lambda i, w: "A permanent-magnet motor is also a generator: the faster it spins, the more "
                     f"voltage it makes against the pack. You allow {w('current', weakening(i))} peak of "
                     "phase current to weaken its magnets' field; before, there was none.",
        "What happens to top speed?", FASTER_SLOWER,
        both(lambda i: {"field_weakening": 0.0}, lambda i: {"field_weakening": weakening(i)}),
        lambda i, w: ("no field weakening", f"{w('current', weakening(i))} peak"),
        drive.faster_or_slower, drive.field_weakening, drive.weakening_derivation, caution=cautions.HOT,
        flips="sprocket_power", shows_on="own", guessed=FASTER,
    ),
    Experiment(
        "regen", "Regen into a full pack",
        lambda i, w: f"You set off and brake on regen for {ONE_EVENT.duration:.0f} seconds, which pushes "
                     f"{w('current', regen.current(i))} back into the pack: once with a full pack, once "
                     f"starting from {regen.LOWER:.0f} % charge.",
        "Which start keeps the fullest cell below its maximum voltage?",
        (("both", "Both"), ("lower", "Only the lower one"), ("none", "Neither")),
        both(regen.from_full, regen.from_lower), _plain("starting full", f"starting from {regen.LOWER:.0f} %"),
        regen.outcome, regen.explain, regen.derivation, CELL, cautions.COLD_CHARGE,
    ),
    Experiment(
        "regen_series", "Regen lap after lap",
        lambda i, w: f"You start at {regen.START:.0f} % charge and brake on regen for {SERIES.duration:.0f} "
        f"seconds, which pushes {w('current', regen.current(i))} back into the pack: once, then {SERIES.events} "
        f"times with {SERIES.pause:.0f} seconds between, and nothing drawn.",
        f"What does the fullest cell do in the series of {SERIES.events}?",
        (("same", "Peaks at the same voltage each time"), ("higher", "Peaks higher each time, but stays within "
                                                                     "its limit"),
         ("over", "Once is fine, the last one goes too high"), ("none", "Even once is too much")),
        both(regen.from_near_full, regen.from_near_full), _plain("once", f"{SERIES.events} in a row"),
        regen.series_outcome, regen.explain_series, regen.derivation, CELL, cautions.COLD_CHARGE,
        plans=(ONE_EVENT, SERIES),
    ),
    Experiment(
        "heavier_rider", "A heavier rider",
        lambda i, w: f"Your friend takes the bike: {w('mass', 20.0)} more than your "
                     f"{w('mass', i['rider_mass'])}, in the same riding position.",
        "Which changes more, in percent?",
        (("time", "The time to a low speed"), ("top", "Top speed"),
         ("neither", "Neither, or both alike")),
        both(as_it_is, lambda i: {"rider_mass": i["rider_mass"] + 20.0}),
        lambda i, w: (w("mass", i["rider_mass"]), w("mass", i["rider_mass"] + 20.0)),
        road.time_or_top, road.heavier_rider, road.mass_derivation,
    ),
    Experiment(
        "hill_start", "Hill start",
        lambda i, w: f"You pull away flat out twice: once on the flat, once on a hill of {HILL:.0f} %.",
        "How much longer does it take to reach the same low speed on the hill?",
        (("little", "Up to half as long again"), ("much", "More than half as long again"),
         ("never", "It hardly gets moving on the hill")),
        both(lambda i: {"slope": 0.0}, lambda i: {"slope": HILL}),
        _plain("on the flat", "on the hill"), road.hill_outcome, road.hill_start, road.mass_derivation,
        caution=cautions.HOT, shows_on="trail",
    ),
    Experiment(
        "saturation", "More phase current than the iron takes",
        lambda i, w: f"A motor whose iron saturates: at {w('current', _limit(i, 'phase')[1])} peak, your phase "
        "limit, its torque per amp is down 10 %. You raise the phase limit by half.",
        "How much harder is its hardest pull?",
        (("all", "By half, too"), ("less", "By less than half"), ("none", "Hardly, if at all")),
        both(_saturating, lambda i: _saturating(i) | {_limit(i, "phase")[0]: 1.5 * _limit(i, "phase")[1]}),
        _plain("as it is", "half as much phase current again"), drive.pull_outcome, drive.saturation,
        drive.drive_derivation, caution=cautions.HOT, guessed=HARDER,
    ),
    Experiment(
        "tuck", "Sit up or tuck in",
        lambda i, w: "The same pull twice, with the page's typical drag areas: sitting upright, then tucked down "
        "behind the bars.",
        "How much top speed does that gain?",
        (("little", "Less than 3 %"), ("some", "3 to 10 %"), ("much", "More than 10 %")),
        both(lambda i: {"posture": "upright", "drag_area": None},
             lambda i: {"posture": "tucked", "drag_area": None}),
        _plain("upright", "tucked"), road.speed_gained, road.tuck, road.drag_derivation, guessed=GAINED,
    ),
    Experiment(
        "headwind", "Into the wind",
        lambda i, w: f"You turn round at the end of the runway and ride back: {_wind(w)} more wind in "
                     "your face.",
        "How much top speed does the wind cost?",
        (("little", "Less than a third of the wind's speed"), ("middle", "A third to two thirds of it"),
         ("much", "More than two thirds")),
        both(as_it_is, lambda i: {"headwind": i["headwind"] + 20.0}),
        lambda i, w: ("as it is", f"{_wind(w)} more headwind"), road.wind_outcome, road.headwind,
        road.drag_derivation, shows_on="trail", guessed=AGAINST_WIND,
    ),
    Experiment(
        "half_throttle", "Half throttle",
        lambda i, w: "You open the throttle fully, then do it again with half throttle. On this "
                     "controller the throttle asks for phase current: half throttle asks for half the "
                     "limit.",
        "How fast does half throttle get?",
        (("same", "Hardly slower than full, if at all"), ("between", "Clearly slower, but well over half as fast"),
         ("half", "About half as fast, or less")),
        both(lambda i: {"throttle": 100.0}, _throttled), _plain("full throttle", "half throttle"),
        drive.throttle_outcome, drive.half_throttle, drive.drive_derivation, guessed=THROTTLED,
    ),
    Experiment(
        "pack_or_resistance", "A bigger pack or a better one",
        lambda i, w: "Two packs on offer for your bike. The first holds half as much again "
                     f"({w('capacity', 5400.0 * i['capacity'])} instead of "
                     f"{w('capacity', 3600.0 * i['capacity'])}) with your pack's resistance of "
                     f"{w('resistance', _resistance(i) / 1000.0)}. The second holds the same as yours, with "
                     f"{w('resistance', _resistance(i) / 1500.0)}.",
        "Which one sags less in this pull?",
        (("bigger", "The one with more amp-hours"), ("better", "The one with less resistance"),
         ("same", "Both about alike")),
        both(lambda i: {"capacity": 1.5 * i["capacity"], "pack_resistance": _resistance(i)},
             lambda i: {"pack_resistance": _resistance(i) / 1.5}),
        _plain("more amp-hours", "less resistance"), road.which_sags_less, road.pack_or_resistance,
        road.sag_derivation, VOLTAGE, ends=("With more amp-hours", "With less resistance"),
    ),
    Experiment(
        "tyre", "A smaller tyre and the speedometer",
        lambda i, w: "You fit a rear tyre that is 5 % smaller around. The speedometer counts motor turns and "
                     "was right with the old tyre; its setting stays as it was.",
        "At top speed, how does it read against the true speed?",
        (("right", "The true speed"), ("much", "It reads high"), ("little", "It reads low")),
        _smaller_tyre, _plain("old tyre", "smaller tyre"), road.display_outcome, road.tyre, road.tyre_derivation,
    ),
)  # fmt: skip
"""In the order of the page."""

BY_KEY = {experiment.key: experiment for experiment in EXPERIMENTS}
