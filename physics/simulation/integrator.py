"""Walking a batch of builds through time, each with steps of its own length, its pack's protection on watch.

Where a limit changes inside a step, the acceleration found at its end is not the one that was foreseen. A build
for which that matters, or whose protection opens, takes the step again: to just behind the moment of the change
where its end tells that moment (physics/simulation/landing.py), else shorter, and it lengthens its steps again once
nothing surprises it. All builds that are under way take their steps together.
"""

from dataclasses import dataclass

import numpy as np

from physics.limits import CUT_OUT, RULES
from physics.simulation.landing import share_at_kink, share_at_turn, share_to_land
from physics.simulation.operating_point import coasting_acceleration
from physics.simulation.plant import LONGEST_MEMORY, Plant
from physics.simulation.protection import Protection
from physics.simulation.snapshot import PLACES, POWERS, WITHOUT_CURRENT, WORK, Moment, Weights

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

_VOLTAGES = np.array([PLACES["pack_voltage"], PLACES["weakest_cell_voltage"]])
_NAMED = np.array([PLACES["limit"], PLACES["held_by_line"], PLACES["limit_since"]])
_POWERED = np.array(
    [
        *(PLACES[name] for name in ("line_current", "pair_drive", "quadrature_current", "field_current", "slope")),
        PLACES["held_by_line"],
        *(PLACES["powers"].start + POWERS.index(name) for name in POWERS if name not in WITHOUT_CURRENT),
    ]
)
"""Rows that are zero where no current flows."""

SURPRISE_TOLERANCE = 4e-3
"""Step times unforeseen change of acceleration, over 1 m/s plus the speed, above which a step is taken again."""

SMOOTH_RATIO = 5.0
"""A step up to so many times as long as the one before goes on smoothly, where no limit changes."""

VOLTAGE_TOLERANCE = 0.02
"""Share of its voltage by which the pack may stray from its trend in a step."""

VOLTAGE_JUMP = 0.0015
"""The same where the limit changes in the step."""

UNBALANCE_TOLERANCE = 1.2e-4
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

STEP_OF_A_TURN = 0.02
"""A step that ends so soon, s, behind the start of a timer has found it; so has one so short over a stop."""

STEP_OF_AN_OPENING = 0.004
"""A step that ends so soon, s, behind an opening has found its moment."""


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
    moment : Moment
        Everything just before the opening; last axis k.
    clocks : array, shape (len(RULES), k)
        The protection's clocks, 1 for the rule that opened.
    """

    builds: np.ndarray
    time: np.ndarray
    rule: np.ndarray
    moment: Moment
    clocks: np.ndarray

    def take(self, places) -> "Opening":
        """The openings at some places."""
        moment = self.moment.take(places)
        return Opening(self.builds[places], self.time[places], self.rule[places], moment, self.clocks[:, places])


class Walk:
    """Builds under way: plant, protection, the moment each stands at and the one before, clocks.

    Parameters
    ----------
    plant : Plant
        The builds.
    protection : Protection
        Their rules.
    state : array, shape (len(STATE), n)
        Where they are; the last axis is the builds, as in all arrays here.
    """

    def __init__(self, plant: Plant, protection: Protection, state):
        count = state.shape[1]
        self.plant, self.protection = plant, protection
        self.builds = np.arange(count)
        self.time = np.zeros(count)
        self.pace = np.full(count, 1.0)
        self.landing = np.full(count, np.inf)  # until when a step that went too far is tried again, s
        self.tried = self.untried = np.zeros((2, count))  # its duration, and how far its voltage strayed
        self.tries = np.zeros(count, dtype=int)
        self.clocks = np.zeros((len(RULES), count))
        self.energies = np.zeros((len(POWERS), count))
        self.open = np.zeros(count, dtype=bool)
        self.now = self.past = plant.look(state, self.time, None)
        self.past_frequency = np.zeros(count)  # of steps, 1/s; zero where there is none to remember
        self.signals = self._signals(self.now)
        self.past_rate = self.signals[0]  # of the clock of continuous current, a step before
        self.lowest = self.now.rows[_VOLTAGES].copy()

    @classmethod
    def of(cls, batch, speed) -> "Walk":
        """The builds of a batch at the start of a run, at some speeds."""
        plant = Plant(batch)
        return cls(plant, Protection(batch), plant.start(speed))

    def take(self, places) -> "Walk":
        """The builds at some places, to go on alone."""
        made = object.__new__(Walk)
        for name, value in vars(self).items():
            setattr(made, name, value[..., places] if isinstance(value, np.ndarray) else value.take(places))
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
            Which builds have arrived at their instant, shape (n,); which stand just behind a change of what holds
            them, shape (n,); an Opening or None.
        """
        now, plant = self.now, self.plant
        ramp_end = plant.machine.ramp_end
        stop = np.where(self.time < ramp_end, np.minimum(until, ramp_end), until)
        stop = np.minimum(stop, self.landing)
        left = stop - self.time
        pieces = np.ceil(left / self.pace)
        duration = left / pieces
        reached = np.where(pieces <= 1, stop, self.time + duration)
        ratio = duration * self.past_frequency
        ratio *= (ratio < LONGEST_MEMORY) & (now["speed"] > 0)
        opened = self.open.nonzero()[0] if np.count_nonzero(self.open) else None
        state, foreseen, used = plant.step(now, self.past, ratio, duration)
        near = now["currents"] + ratio * (now["currents"] - self.past["currents"])
        then = plant.look(state, reached, opened, near)
        ramp_ends = reached == ramp_end  # what that changes lies at the end of the step, not in it
        other, changed = self._changed(then, ramp_ends)
        calm = (ratio < SMOOTH_RATIO) & (self.past["limit"] == now["limit"])
        smooth = calm & ~changed
        weights = Weights(duration, ratio * smooth)
        integral = weights.integral(self.past["integrated"], now["integrated"], then["integrated"])
        plant.correct(now, then, integral, duration, used)
        signals = self._signals(then)
        clocks, share, rule = self.protection.advance(self.clocks, self.signals, signals, duration)
        if np.count_nonzero(clocks[0]):
            curve = weights.integral(self.past_rate, self.signals[0], signals[0])
            curve -= duration / 2 * (self.signals[0] + signals[0])
            clocks[0] = self.protection.curved(self.clocks[0], clocks[0], curve)
        trend = calm * ratio * (now["pack_voltage"] - self.past["pack_voltage"])
        surprise, strays, kink = self._surprise(then, state, foreseen, trend, duration, weights, changed)
        self.landing[reached >= self.landing] = np.inf
        again, opens = self._again(then, signals, share, changed, kink, surprise, duration, left)
        then["limit_since"] = now["limit_since"]
        if np.count_nonzero(other):
            moment = np.where(ramp_ends, reached, self.time + kink * duration)
            then["limit_since"][other] = moment[other]
        work = integral[WORK]
        frequency, opening = ~ramp_ends / duration, None  # what was before the ramp's end says nothing after it
        if np.count_nonzero(opens):
            opening = self._open(then, opens, share, rule, duration, clocks)
            reached = np.where(opens, self.time + duration, reached)
            weights = Weights(duration, ratio * (smooth & ~opens))
            work = weights.integral(self.past["powers"], now["powers"], then["powers"])
        failed = again.nonzero()[0]
        self.tried = np.where(again & changed, np.array([duration, strays]), 0.0) if failed.size else self.untried
        if failed.size:
            work[:, failed] = 0.0
            reached[failed], frequency[failed] = self.time[failed], self.past_frequency[failed]
            clocks[:, failed], signals[:, failed] = self.clocks[:, failed], self.signals[:, failed]
            then.rows[:, failed] = now.rows[:, failed]
            before = self.past.rows[:, failed]
        self.energies += work
        if failed.size:
            now.rows[:, failed] = before
        self.time, self.now, self.past, self.past_frequency = reached, then, now, frequency
        self.past_rate = np.where(again, self.past_rate, self.signals[0])
        self.clocks, self.signals = clocks, signals
        self.lowest = np.minimum(self.lowest, then.rows[_VOLTAGES])
        if opening is not None:
            self._let_coast(opens.nonzero()[0])
        arrived = ~again & (reached >= until)
        self.tries[arrived] = 0
        return arrived, (other | changed) & ~(again | opens), opening

    def _again(self, then, signals, opening, changed, kink, surprise, duration, left):
        """Which builds take their step again and which open in it; sets the pace, and where a step is to land."""
        self.tries += 1
        patient = self.tries < MOST_TRIES
        again = shorten = (surprise > 1) & (duration > SHORTEST_STEP) & patient
        late = []  # steps that end too late behind something, and the share of the step at which the next try ends
        if np.count_nonzero(again):
            late.append((again & changed, share_to_land(kink, surprise)))
        if np.count_nonzero((signals[1:] > 0) != (self.signals[1:] > 0)):
            turn = share_at_turn(self.signals[1:], signals[1:])
            steps = ((1 - turn) * duration > STEP_OF_A_TURN) & ~self.open & patient
            late.append((steps, turn + STEP_OF_A_TURN / 4 / duration))
        opens = (opening <= 1) & ~self.open
        if np.count_nonzero(opens):
            steps = opens & ((1 - opening) * duration > STEP_OF_AN_OPENING)
            late.append((steps, opening + STEP_OF_AN_OPENING / 4 / duration))
        if np.count_nonzero(then["speed"]) < patient.size:
            stops = (then["speed"] <= 0) & (self.now["speed"] > 0)
            until = self.now["speed"] / np.maximum(-self.now["acceleration"], 1e-9)
            steps = stops & (duration - until > STEP_OF_A_TURN) & patient
            late.append((steps, (until + STEP_OF_A_TURN / 4) / duration))
        if late:
            share = np.full(again.size, np.inf)
            for steps, end in late:
                again = again | steps
                share = np.where(steps, np.minimum(share, end), share)
            lands = again & (share < 1)
            shorten = again & ~lands
            self.landing = np.where(lands, self.time + share * duration, np.where(again, np.inf, self.landing))
        self._set_pace(shorten, surprise, duration, left, patient)
        return again, opens & ~again

    def _set_pace(self, shorten, surprise, duration, left, patient):
        """How long the next step may be: error goes with its square where all is smooth."""
        aim = 0.7 / np.sqrt(np.maximum(surprise, 1e-3))  # a little below what is allowed
        shorter = duration * np.minimum(np.maximum(aim, 0.1), 0.4)
        longer = np.minimum(np.maximum(self.pace, duration * np.minimum(aim, 4.0)), LONGEST_STEP)
        self.pace = np.where(shorten, shorter, np.where(aim > 1, longer, duration))
        if np.count_nonzero(patient) < patient.size:
            self.pace = np.where(patient, self.pace, np.maximum(self.pace, left / HURRIED_STEPS))

    def _kink(self, then, foreseen, strays, duration, changed):
        """Share of a step at which another limit took over; 1 where none did."""
        kink = np.ones(changed.size)
        if np.count_nonzero(changed):
            some = changed.nonzero()[0]
            acceleration, foreseen, duration = then["acceleration"][some], foreseen[some], duration[some]
            bend = then["slope"][some] * acceleration - (foreseen - self.now["acceleration"][some]) / duration
            apart, tried = acceleration - foreseen, self.tried[:, some]
            kink[some] = share_at_kink(duration, apart, bend, strays[some], tried)
        return kink

    def _changed(self, then, ramp_ends):
        """Whether another limit holds at the end of a step, and whether that broke the path within the step.

        What the end of the throttle's ramp changes did not, nor a cut-out, which changes nothing any more.
        """
        limit = then["limit"]
        other = limit != self.now["limit"]
        changed = other | (then["held_by_line"] != self.now["held_by_line"])
        if np.count_nonzero(changed):
            changed &= (limit != CUT_OUT) & ~ramp_ends
        return other, changed

    def _surprise(self, then, predicted, foreseen, trend, duration, weights, changed):
        """How far the end of a step is from what the step took it to be, 1 is too far; of that, how far the pack's
        voltage strays; and at what share of the step another limit took over."""
        now = self.now
        speed, acceleration = then["speed"], then["acceleration"]
        surprise = duration * np.abs(acceleration - foreseen) / (SURPRISE_TOLERANCE * (1 + speed))
        # energy that the step makes or loses by its own inexactness, against what was moved so far
        inertia = self.plant.machine.inertia
        past = self.past["speed"] * self.past["acceleration"]
        work = weights.integral(past, now["speed"] * now["acceleration"], predicted[0] * acceleration)
        squared = speed * speed
        kinetic = (squared - now["speed"] ** 2) / 2
        moved = np.maximum(np.abs(self.energies[-1]), inertia * (1 + squared / 2))
        surprise = np.maximum(surprise, inertia * np.abs(work - kinetic) / (UNBALANCE_TOLERANCE * moved))
        if np.count_nonzero(speed) < speed.size:
            surprise = np.where((speed > 0) | (acceleration > 0), surprise, 0.0)
        # voltage that left its trend, and where the limit changed also what it may have moved since then
        voltage = then["pack_voltage"]
        allowed = np.where(changed, VOLTAGE_JUMP, VOLTAGE_TOLERANCE) * voltage
        strays = np.abs(voltage - now["pack_voltage"] - trend) / allowed * ~self.open
        surprise = np.maximum(surprise, strays)
        kink = self._kink(then, foreseen, strays, duration, changed)
        if np.count_nonzero(changed):
            surprise = np.maximum(surprise, (1 - kink) * np.abs(trend) / allowed)
        hot = then["winding_temperature"] > self.plant.machine.winding_foldback[0]
        if np.count_nonzero(hot):
            some = hot.nonzero()[0]
            change = np.abs(then["winding_temperature"] - predicted[PLACES["winding_temperature"]])
            surprise[some] = np.maximum(surprise, change / HEAT_TOLERANCE)[some]
        return surprise, strays, kink

    def _signals(self, now):
        return self.protection.signals(now["line_current"], now["weakest_cell_voltage"], now["pack_temperature"])

    def _open(self, then, opens, share, rule, duration, clocks):
        """Move what was found at the end of a step back to the moment of opening, for the builds that open."""
        builds = opens.nonzero()[0]
        share, before, after = share[builds], self.now.rows[:, builds], then.rows[:, builds]
        between = before + (after - before) * share
        between[_NAMED] = after[_NAMED]
        then.rows[:, builds] = between
        clocks[rule[builds], builds] = 1.0
        duration[builds] *= share
        time = self.time[builds] + duration[builds]
        return Opening(self.builds[builds], time, rule[builds], Moment(between), clocks[:, builds])

    def _let_coast(self, places):
        """Open the pack of some builds: no current any more, drag, rolling resistance and iron loss alone."""
        now = self.now
        self.open = self.open.copy()
        self.open[places] = True
        self.past_frequency[places] = 0.0
        drop = now["line_current"][places] * now["ohmic_resistance"][places]
        now["weakest_cell_voltage"][places] += drop * self.plant.pack.weak_share[places]
        now["pack_voltage"][places] += drop
        now.rows[_POWERED[:, None], places] = 0.0
        now["sources"][:, places] = self.plant.heat.sources(now["temperatures"], now["powers"][:4])[:, places]
        now["limit"][places], now["limit_since"][places] = CUT_OUT, self.time[places]
        speed = now["speed"][places]
        coasting = coasting_acceleration(self.plant.machine, now["speed"])[places]
        now["acceleration"][places] = np.where((speed <= 0) & (coasting < 0), 0.0, coasting)
        self.signals[:, places] = self._signals(now)[:, places]
