"""Walking a batch of builds through time, each with steps of its own length, its pack's protection on watch.

Where a limit changes inside a step, the acceleration found at its end is not the one that was foreseen. A build
for which that matters, or whose protection opens, takes the step again a quarter as long, and lengthens its steps
again once nothing surprises it. All builds that are under way take their steps together.
"""

from dataclasses import dataclass

import numpy as np

from physics.drive import coasting_acceleration
from physics.limits import CUT_OUT, RULES
from physics.protection import Protection
from physics.stepping import POWERS, Plant, State

CHANNELS = (
    "speed",
    "acceleration",
    "pack_voltage",
    "rest_voltage",
    "weakest_cell_voltage",
    "polarisation_voltage",
    "polarisation_heat",
    "ohmic_resistance",
    "line_current",
    "quadrature_current",
    "field_current",
    "charge",
    "drive_force",
)
"""What a run keeps at every instant, with the temperatures."""

SURPRISE_TOLERANCE = 1e-3
"""Step times unforeseen change of acceleration, over 1 m/s plus the speed, above which a step is taken again."""

VOLTAGE_JUMP = 0.0015
"""Share of its voltage by which the pack may change in a step in which the limit changes."""

UNBALANCE_TOLERANCE = 3e-4
"""Share of the energy moved so far that one step may make or lose by its own inexactness."""

HEAT_TOLERANCE = 0.02
"""Unforeseen change of the winding's temperature in a step, K, above which a step is taken again."""

MOST_TRIES = 80
"""A build that has taken as many steps towards one instant does not take them again any more: it chatters."""

HURRIED_STEPS = 8
"""It then makes the rest of the way in about as many steps."""

SHORTEST_STEP = 1e-4
"""A step this short, s, is never taken again."""

LONGEST_STEP = 10.0
"""Where nothing surprises it, a build may pace as far as this, s."""

STEP_OF_A_STOP = 0.02
"""A step this short, s, is short enough to find the moment inside it at which the bike stops or a timer starts."""

STEP_OF_AN_OPENING = 0.004
"""A step this short, s, is short enough to find the moment of an opening inside it."""


@dataclass(frozen=True)
class Opening:
    """The moment at which the protection of some builds opened.

    Attributes
    ----------
    builds : array of int, shape (k,)
        Which builds.
    time : array, shape (k,), s
        Since the start of the run.
    rule : array of int, shape (k,)
        Place in RULES.
    moment : dict of str to array, last axis k
        Everything just before the opening.
    clocks : array, shape (len(RULES), k)
        The protection's clocks, 1 for the rule that opened.
    """

    builds: np.ndarray
    time: np.ndarray
    rule: np.ndarray
    moment: dict
    clocks: np.ndarray

    def take(self, places) -> "Opening":
        """The openings at some places."""
        moment = {name: value[..., places] for name, value in self.moment.items()}
        return Opening(self.builds[places], self.time[places], self.rule[places], moment, self.clocks[:, places])


class Walk:
    """Builds under way: plant, protection, state, clocks, and what was seen last.

    Parameters
    ----------
    plant : Plant
        The builds.
    protection : Protection
        Their rules.
    state : State
        Where they are; the last axis is the builds, as in all arrays here.
    """

    def __init__(self, plant: Plant, protection: Protection, state: State):
        count = len(state.speed)
        self.plant, self.protection, self.state = plant, protection, state
        self.builds = np.arange(count)
        self.time = np.zeros(count)
        self.pace = np.full(count, 1.0)
        self.tries = np.zeros(count, dtype=int)
        self.clocks = np.zeros((len(RULES), count))
        self.energies = np.zeros((len(POWERS), count))
        self.now = plant.look(state, self.time)
        self.signals = self._signals(self.now)

    @classmethod
    def of(cls, batch, speed) -> "Walk":
        """The builds of a batch at the start of a run, at some speeds."""
        plant = Plant(batch)
        return cls(plant, Protection(batch), plant.start(speed))

    def take(self, places) -> "Walk":
        """The builds at some places, to go on alone."""
        made = object.__new__(Walk)
        made.plant, made.protection = self.plant.take(places), self.protection.take(places)
        made.state = self.state.take(places)
        made.now = {name: value[..., places] for name, value in self.now.items()}
        for name in ("builds", "time", "pace", "tries", "clocks", "energies", "signals"):
            setattr(made, name, getattr(self, name)[..., places])
        return made

    def advance(self, until):
        """Try one step of each build, to a next instant at the most.

        Parameters
        ----------
        until : array, shape (n,), s
            The instant no step may pass; later than the builds' own time.

        Returns
        -------
        tuple
            Which builds have arrived at their instant, shape (n,), and an Opening or None.
        """
        left = until - self.time
        duration = np.where(left > self.pace, left / np.ceil(np.minimum(left / self.pace, 1e6)), left)
        duration = np.where(np.isfinite(left), duration, self.pace)
        reached = np.where(duration == left, until, self.time + duration)
        state, foreseen, used = self.plant.step(self.state, self.now, duration)
        then = self.plant.look(state, reached)
        signals = self._signals(then)
        clocks, share, rule = self.protection.advance(self.clocks, self.signals, signals, duration)
        opens = (share <= 1) & ~state.open
        surprise = _surprise(self.now, then, self._trend(duration), foreseen, duration)
        surprise = np.maximum(surprise, self._unbalance(then, duration))
        surprise = np.maximum(surprise, self._unforeseen_heat(then, duration))
        self.plant.correct(state, self.now, then, duration, used)
        self.tries += 1
        patient = self.tries < MOST_TRIES
        again = (surprise > 1) & (duration > SHORTEST_STEP) & patient
        stops = (then["speed"] <= 0) & (self.now["speed"] > 0)
        stops |= ((signals[1:] > 0) != (self.signals[1:] > 0)).any(axis=0) & ~state.open
        again |= (opens & (duration > STEP_OF_AN_OPENING)) | (stops & (duration > STEP_OF_A_STOP) & patient)
        # error goes with the square of the step where all is smooth: aim a little below what is allowed
        aim = 0.7 / np.sqrt(np.maximum(surprise, 1e-3))
        going = np.where(again, np.minimum(np.maximum(aim, 0.1), 0.4), 1.0)
        longer = np.maximum(self.pace, duration * np.minimum(aim, 4.0))
        self.pace = np.where(again, duration * going, np.where(aim > 1, np.minimum(longer, LONGEST_STEP), duration))
        self.pace = np.where(patient, self.pace, np.maximum(self.pace, left / HURRIED_STEPS))
        opens = opens & ~again
        opening = None
        if opens.any():
            opening = self._open(then, opens, share, rule, duration, state, clocks)
            reached = np.where(opens, self.time + duration, reached)
        done = ~again
        if done.all():
            self.energies += duration / 2 * (self.now["powers"] + then["powers"])
            self.time, self.state, self.clocks = reached, state, clocks
            self.now, self.signals = then, signals
        else:
            self.energies += np.where(done, duration / 2, 0.0) * (self.now["powers"] + then["powers"])
            self.time = np.where(done, reached, self.time)
            self.state = state.where(done, self.state)
            self.clocks = np.where(done, clocks, self.clocks)
            self.now = {name: np.where(done, value, self.now[name]) for name, value in then.items()}
            self.signals = np.where(done, signals, self.signals)
        self.state.heading = self.state.heading * going
        if opening is not None:
            self._let_coast(np.flatnonzero(opens))
        arrived = done & (self.time >= until)
        self.tries[arrived] = 0
        return arrived, opening

    def _unforeseen_heat(self, then, duration):
        """Change of the winding's heating within a step while heat holds it back; 1 is too much."""
        foldback_start, _ = self.plant.machine.winding_foldback
        change = duration / 2 * np.abs(then["powers"][1] - self.now["powers"][1]) / self.plant.heat.capacity[1]
        return np.where(then["temperatures"][1] > foldback_start, change / HEAT_TOLERANCE, 0.0)

    def _trend(self, duration):
        """How much the pack's voltage would change in a step if it went on as in the step before."""
        remembers = self.state.past_duration > 0
        ratio = np.where(remembers, duration / np.where(remembers, self.state.past_duration, 1.0), 0.0)
        return ratio * (self.now["pack_voltage"] - self.state.past_voltage)

    def _unbalance(self, then, duration):
        """Energy a step makes or loses by its own inexactness, against what was moved so far; 1 is too much."""
        inertia, now = self.plant.machine.inertia, self.now
        work = duration / 2 * (now["speed"] * now["acceleration"] + then["speed"] * then["acceleration"])
        kinetic = (then["speed"] ** 2 - now["speed"] ** 2) / 2
        moved = np.maximum(np.abs(self.energies[-1]), inertia * (2 + then["speed"] ** 2) / 2)
        return np.where(then["speed"] > 0, inertia * np.abs(work - kinetic) / (UNBALANCE_TOLERANCE * moved), 0.0)

    def _signals(self, now):
        return self.protection.signals(now["line_current"], now["weakest_cell_voltage"], now["temperatures"][0])

    def _open(self, then, opens, share, rule, duration, state, clocks):
        """Move what was found at the end of a step back to the moment of opening, for the builds that open."""
        share = np.where(opens, share, 1.0)
        for name, value in then.items():
            if name != "limit":
                then[name] = self.now[name] + (value - self.now[name]) * share
        state.speed, state.charge = then["speed"], then["charge"]
        state.pair_voltage, state.temperatures = then["pair_voltage"], then["temperatures"]
        lowest = np.minimum(self.state.lowest_voltage, then["pack_voltage"])
        state.lowest_voltage = np.where(opens, lowest, state.lowest_voltage)
        lowest = np.minimum(self.state.lowest_cell_voltage, then["weakest_cell_voltage"])
        state.lowest_cell_voltage = np.where(opens, lowest, state.lowest_cell_voltage)
        builds = np.flatnonzero(opens)
        clocks[rule[opens], builds] = 1.0
        duration *= share
        moment = {name: then[name][..., builds] for name in (*CHANNELS, "temperatures", "limit")}
        time = self.time[builds] + duration[builds]
        return Opening(self.builds[builds], time, rule[opens], moment, clocks[:, builds].copy())

    def _let_coast(self, places):
        """Open the pack of some builds: no current any more, drag, rolling resistance and iron loss alone."""
        now, state = self.now, self.state
        state.open = state.open.copy()
        state.open[places] = True
        state.past_duration = state.past_duration.copy()
        state.past_duration[places] = 0.0
        drop = now["line_current"][places] * now["ohmic_resistance"][places]
        now["weakest_cell_voltage"][places] += drop * self.plant.pack.weak_share[places]
        now["pack_voltage"][places] += drop
        now["powers"][np.ix_([0, 1, 3, 4, 5, 9], places)] = 0.0
        for name in ("line_current", "quadrature_current", "field_current", "slope"):
            now[name][places] = 0.0
        now["limit"][places] = CUT_OUT
        now["regime"][places] = 2 * CUT_OUT
        coasting = coasting_acceleration(self.plant.machine, state.speed)[places]
        now["acceleration"][places] = np.where((state.speed[places] <= 0) & (coasting < 0), 0.0, coasting)
        self.signals[:, places] = self._signals(now)[:, places]


def _surprise(now, then, trend, foreseen, duration):
    """How far acceleration or voltage at the end of a step are from what the step took them to be; 1 is too far."""
    surprise = duration * np.abs(then["acceleration"] - foreseen) / (SURPRISE_TOLERANCE * (1 + then["speed"]))
    surprise = np.where((then["speed"] > 0) | (then["acceleration"] > 0), surprise, 0.0)
    change = then["pack_voltage"] - now["pack_voltage"]
    jump = np.maximum(np.abs(change), np.abs(change - trend)) / (VOLTAGE_JUMP * then["pack_voltage"])
    changed = (then["regime"] != now["regime"]) & (then["limit"] != CUT_OUT)
    return np.maximum(surprise, np.where(changed, jump, 0.0))
