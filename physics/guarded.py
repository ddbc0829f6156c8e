"""A plant with its pack's protection, moved on by steps that are taken apart where something changes inside them.

Where a limit changes inside a step, the acceleration found at its end is not the one that was foreseen. Builds
for which that matters, and builds whose protection opens, take the step again in four, and again, alone.
"""

from dataclasses import dataclass

import numpy as np

from physics.drive import coasting_acceleration
from physics.limits import CUT_OUT, RULES
from physics.protection import Protection
from physics.stepping import Plant, State

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

SURPRISE_TOLERANCE = 3e-4
"""Step times unforeseen change of acceleration, over 1 m/s plus the speed, above which a step is taken again."""

VOLTAGE_JUMP = 0.005
"""Share of its voltage by which the pack may change in a step in which the limit changes."""

_PARTS_OF_A_STEP = 4
_DEEPEST = 4
_DEEPEST_FOR_AN_OPENING = 2


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


class GuardedPlant:
    """A plant, its protection, and the state of both.

    Parameters
    ----------
    plant : Plant
        The builds.
    protection : Protection
        Their rules.
    state : State
        Where they are.
    clocks : array, shape (len(RULES), n)
        The protection's clocks.
    """

    def __init__(self, plant: Plant, protection: Protection, state: State, clocks):
        self.plant, self.protection, self.state, self.clocks = plant, protection, state, clocks

    @classmethod
    def of(cls, batch, speed) -> "GuardedPlant":
        """The builds of a batch at the start of a run, at some speeds."""
        plant = Plant(batch)
        return cls(plant, Protection(batch), plant.start(speed), np.zeros((len(RULES), len(batch))))

    def take(self, places) -> "GuardedPlant":
        """The builds at some places, with a state of their own."""
        return GuardedPlant(
            self.plant.take(places), self.protection.take(places), self.state.take(places), self.clocks[:, places]
        )

    def look(self, time: float):
        """Everything at this instant, and the protection's signals."""
        now = self.plant.look(self.state, time)
        return now, self._signals(now)

    def advance(self, now, signals, time: float, duration: float, depth: int = 0):
        """Move on by one step.

        Parameters
        ----------
        now : dict of str to array
            What `look` or the step before returned.
        signals : array, shape (len(RULES), n)
            The protection's signals at the same instant.
        time, duration : float, s
            Where the step begins, and how long it is.
        depth : int
            How often the step has been taken apart already.

        Returns
        -------
        tuple
            Everything at the end of the step, the signals there, and a list of Opening.
        """
        state, foreseen = self.plant.step(self.state, now, duration)
        then = self.plant.look(state, time + duration)
        following = self._signals(then)
        clocks, share, rule = self.protection.advance(self.clocks, signals, following, duration)
        opens = (share <= 1) & ~state.open
        again = opens & (depth < _DEEPEST_FOR_AN_OPENING)
        if depth < _DEEPEST:
            again |= _surprised(now, then, foreseen, duration)
        openings = []
        if again.any():
            openings = self._take_again(np.flatnonzero(again), now, signals, time, duration, depth)(
                state, then, following, clocks
            )
            opens &= ~again
        if opens.any():
            openings.append(self._open(now, then, opens, share, rule, time, duration, state, clocks))
            coasting = self.plant.look(state, time + duration)
            for name, value in coasting.items():
                then[name] = np.where(opens, value, then[name])
            following = self._signals(then)
        self.state, self.clocks = state, clocks
        return then, following, openings

    def _signals(self, now):
        return self.protection.signals(now["line_current"], now["weakest_cell_voltage"], now["temperatures"][0])

    def _take_again(self, places, now, signals, time, duration, depth):
        """The step once more for some builds, in smaller ones; returns what writes them over the first attempt."""
        some, part = self.take(places), duration / _PARTS_OF_A_STEP
        seen, felt = {name: value[..., places] for name, value in now.items()}, signals[:, places]
        some.state.heading /= _PARTS_OF_A_STEP
        openings = []
        for turn in range(_PARTS_OF_A_STEP):
            seen, felt, found = some.advance(seen, felt, time + turn * part, part, depth + 1)
            openings += [
                Opening(places[one.builds], one.time, one.rule, one.moment, one.clocks) for one in found
            ]

        def write_over(state, then, following, clocks):
            state.put(places, some.state)
            for name, value in seen.items():
                then[name][..., places] = value
            following[:, places], clocks[:, places] = felt, some.clocks
            return openings

        return write_over

    def _open(self, before, now, opens, share, rule, time, duration, state, clocks):
        """Open some builds inside a step: keep the moment, and let them coast from there to its end."""
        share = np.where(opens, share, 1.0)

        def at_opening(name):
            return before[name] + (now[name] - before[name]) * share

        rest = (1 - share) * duration
        moment = {name: at_opening(name)[opens] for name in CHANNELS}
        moment["temperatures"] = at_opening("temperatures")[:, opens]
        moment["limit"] = now["limit"][opens]
        coasting = coasting_acceleration(self.plant.machine, now["speed"])
        state.speed = np.where(opens, np.maximum(at_opening("speed") + rest * coasting, 0.0), state.speed)
        state.charge = np.where(opens, at_opening("charge"), state.charge)
        faded = at_opening("pair_voltage") * np.exp(-rest / self.plant.pack.pair_times)
        state.pair_voltage = np.where(opens, faded, state.pair_voltage)
        state.temperatures = np.where(opens, at_opening("temperatures"), state.temperatures)
        state.past_duration = np.where(opens, 0.0, state.past_duration)
        lowest = np.minimum(self.state.lowest_voltage, at_opening("pack_voltage"))
        state.lowest_voltage = np.where(opens, lowest, state.lowest_voltage)
        state.open = state.open | opens
        builds = np.flatnonzero(opens)
        clocks[rule[opens], builds] = 1.0
        return Opening(builds, time + (share * duration)[opens], rule[opens], moment, clocks[:, opens].copy())


def _surprised(now, then, foreseen, duration):
    """Builds whose acceleration or voltage at the end of a step is not what the step took it to be."""
    surprise = duration * np.abs(then["acceleration"] - foreseen) > SURPRISE_TOLERANCE * (1 + then["speed"])
    jump = np.abs(then["pack_voltage"] - now["pack_voltage"]) > VOLTAGE_JUMP * then["pack_voltage"]
    jump &= (then["limit"] != now["limit"]) & (then["limit"] != CUT_OUT)
    return (surprise & (then["speed"] > 0)) | jump
