"""Reference runs: `solve_ivp` in pieces, one for each stretch on which no rule or table changes its piece."""

from types import SimpleNamespace

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from physics.limits import RULES
from tests.reference.bike import (
    BOX,
    CASE,
    CHARGE,
    CLOCK,
    DISTANCE,
    ENERGY,
    PACK,
    PAIR_1,
    PAIR_2,
    PAIR_3,
    SPEED,
    WINDING,
    Bike,
)

TOLERANCES = np.array(  # absolute, at a relative tolerance of 1e-9
    [1e-9, 1e-8, 1e-11, 1e-9, 1e-9, 1e-9, 1e-7, 1e-7, 1e-7, 1e-7, 1e-9, 1e-4]
)
TINY = 1e-9  # s, how far a restart steps past a change
CHATTER = 2000  # more pieces than this means that two rules fight at one instant
AFRESH = ("rules", "limits", "kinks")
"""Where solve_ivp begins afresh: where the protection needs it; at changes of limit too; at kinks of tables too."""


class Run:
    """A finished reference run.

    Attributes
    ----------
    bike : Bike
        The build it was made from.
    pieces : list of (start, end, dense output, opened)
        Stretches without a change.
    cut_out : None or (time, rule, line current, bus voltage, weakest cell voltage)
        When the protection opened.
    """

    def __init__(self, bike, pieces, cut_out, duration):
        self.bike, self.pieces, self.cut_out, self.duration = bike, pieces, cut_out, duration
        self.starts = [piece[0] for piece in pieces]

    def state(self, time):
        """State at one time, and whether the protection was open."""
        _, end, dense, opened = self.pieces[max(int(np.searchsorted(self.starts, time, "right")) - 1, 0)]
        return dense(min(time, end)), opened

    def sample(self, times):
        """Every quantity of an instant, as arrays over `times`."""
        return self._rows([(time, *self.state(time)) for time in times])

    def sample_pieces(self, spacing=0.05):
        """The same at both ends of every piece, seen from within it, and every `spacing` seconds between them."""
        points = []
        for start, end, dense, opened in self.pieces:
            times = np.linspace(start, end, 6 + int((end - start) / spacing))
            points += [(time, dense(time), opened) for time in times]
        return self._rows(points)

    def _rows(self, points):
        rows = []
        for time, y, opened in points:
            row = vars(self.bike.instant(time, y, opened))
            row.update(time=time, distance=y[DISTANCE], charge=y[CHARGE], energy=y[ENERGY], clock=y[CLOCK])
            row.update(
                pairs=y[PAIR_1] + y[PAIR_2] + y[PAIR_3], pack=y[PACK], winding=y[WINDING], case=y[CASE], box=y[BOX]
            )
            rows.append(row)
        return SimpleNamespace(**{name: np.array([row[name] for row in rows]) for name in rows[0]})

    def rates_at_cut_out(self, span=0.02):
        """How fast things move round the cut-out, so that a moment can be turned into a difference of values.

        Returns
        -------
        tuple of float
            Change of acceleration at the opening, m/s2, and the largest rates of pack voltage and weakest cell
            voltage within `span` before it, V/s.
        """
        time = self.cut_out[0]
        now = self.sample(np.linspace(max(time - span, 0.0), time - TINY, 21))
        after = self.sample([time + TINY]).acceleration[0]
        steps = np.maximum(np.diff(now.time), 1e-12)
        sags = (np.abs(np.diff(values) / steps).max() for values in (now.bus, now.weakest))
        return abs(now.acceleration[-1] - after), *sags

    def speeds(self, count=4001):
        """Even instants, s, and the speed at each, m/s."""
        times, found = np.linspace(0.0, self.duration, count), np.empty(count)
        places = np.maximum(np.searchsorted(self.starts, times, "right") - 1, 0)
        for place in np.unique(places):
            _, end, dense, _ = self.pieces[place]
            within = places == place
            found[within] = dense(np.minimum(times[within], end))[SPEED]
        return times, found

    def time_to(self, speed):
        """When a speed is first reached; NaN where it is not."""
        times, found = self.speeds()
        reached = np.flatnonzero(found >= speed)
        if not reached.size:
            return np.nan
        if reached[0] == 0:
            return 0.0
        before, after = times[reached[0] - 1], times[reached[0]]
        return brentq(lambda t: self.state(t)[0][SPEED] - speed, before, after, xtol=1e-12)


def _stretch(bike, span, y, opened, mode, method, tolerance, afresh):
    """Integrate over a span of time until its end, a change of mode, or a full clock."""

    def changed(t, state):
        return 1.0 if bike.mode(t, state, opened, afresh) == mode else -1.0

    def full(_, state):
        return -1.0 if opened else state[CLOCK] - 1.0

    changed.terminal = full.terminal = True
    return solve_ivp(
        lambda t, state: bike.derivative(t, state, opened, *mode[:2]),
        span,
        y,
        method,
        dense_output=True,
        rtol=tolerance,
        atol=TOLERANCES * tolerance / 1e-9,
        events=[changed, full],
        max_step=0.25 if tolerance < 1e-6 else np.inf,
    )


def simulate(build, duration=20.0, initial_speed=0.0, method="DOP853", tolerance=1e-9, afresh="kinks"):
    """One reference run.

    Parameters
    ----------
    build : physics.build.Build
        The build.
    duration : float, s
        How long.
    initial_speed : float, m/s
        Speed at the start.
    method, tolerance : str, float
        Of solve_ivp; with a tolerance of 1e-6 or more steps are as long as it likes.
    afresh : str
        One of AFRESH.

    Returns
    -------
    Run
        To be sampled at any time.
    """
    bike = Bike(build)
    y = np.zeros(12)
    y[SPEED], y[CHARGE] = initial_speed, bike.start_charge
    y[PACK:CLOCK] = bike.start_temperatures
    ramp = bike.controller.throttle * bike.controller.throttle_ramp_time
    rules = bike.rules
    delays = (rules.peak_time, rules.fast_delay, rules.undervoltage_delay, rules.temperature_delay)
    time, opened, cut_out, pieces, timers = 0.0, False, None, [], {}
    while time < duration - TINY:
        bound, due = duration, None
        if time < ramp < bound:
            bound = ramp
        if not opened:
            now = bike.instant(time, y)
            conditions = now.timed, now.over, now.low, now.outside
            for rule, (broken, delay) in enumerate(zip(conditions, delays, strict=True), 1):
                if not broken:
                    timers.pop(rule, None)
                elif timers.setdefault(rule, time) + delay <= bound:
                    bound, due = timers[rule] + delay, rule
        rule = due
        if bound > time:
            mode = bike.mode(time, y, opened, afresh)
            solution = _stretch(bike, (time, bound), y, opened, mode, method, tolerance, afresh)
            pieces.append((time, float(solution.t[-1]), solution.sol, opened))
            time, y = float(solution.t[-1]), solution.y[:, -1].copy()
            if solution.t_events[1].size and not opened:
                rule = 0
            elif time < bound - TINY:
                rule = None
                y = y + TINY * bike.derivative(time, y, opened, *mode[:2])
                time += TINY
        if rule is not None:
            now = bike.instant(time, y)
            cut_out, opened = (time, RULES[rule], now.line, now.bus, now.weakest), True
        y[SPEED], y[CLOCK], y[CHARGE] = max(y[SPEED], 0.0), max(y[CLOCK], 0.0), max(y[CHARGE], 0.0)
        if len(pieces) > CHATTER:
            raise RuntimeError(f"Two rules fight at {time:.6f} s.")
    return Run(bike, pieces, cut_out, duration)
