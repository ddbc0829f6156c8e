"""Prose for keeping, sharing and comparing builds, and for the setup sheet."""

from __future__ import annotations

import numpy as np

from explorer.format import UnitFormatter
from explorer.state.share_link import MOST_BUILDS
from physics.simulation.result import RunResult

SWITCH = "The inputs and the whole page belong to this build. The others stay as they are."
COPY = "This build stays as it is; from here on you change a copy of it. The two stand side by side further down."
REMOVE = "Takes away the build that is being edited. Undo brings it back."
OPEN = "A file that was saved here. Its builds are put beside yours; nothing of yours is lost."
LINK = (
    "Or copy this link: it holds all your builds and the baseline. It works where this page runs at the same "
    "address; elsewhere, put the part from the question mark on behind that page's address."
)

SAVE_SHEET = "One page of HTML that needs nothing else; open it and print it on A4 or Letter."
PRINT = (
    "The sheet holds for the conditions that stand on it. When the day turns colder, or the pack is emptier or "
    "older than entered, make a new one."
)
MAP = "For the pull and margin above. “free”: no limit needed; “none”: even the lowest limit cuts out."
BLANKS = (
    "Rest voltage before, V", "Rest voltage after, V", "Pack temperature before", "Pack temperature after",
    "Tyres, front and rear", "Chain, brakes, bolts checked by",
)  # fmt: skip
SHEET_CAUTIONS = (
    "A prediction is no permission. Test at a closed place, in riding gear, with brakes, chain and tyres checked "
    "and rated for the speed. Local law, the makers' instructions and licensed practice come before this sheet.",
    "Plan so that the protection stays closed; never bypass, reset or widen it to go on. A cut-out takes the drive "
    "away at once.",
    "Lithium packs can burn, and above 60 V DC a touch can kill: work inside a pack is for people trained and "
    "licensed for it.",
    "Regen is charging. Charging cold cells harms them for good and can make them unsafe; without regen the brakes "
    "alone must stop the bike.",
    "A front wheel in the air neither steers nor brakes. A bump or a shift of weight lifts it sooner than the "
    "marks say.",
)


def taken_in(names: list[str], count: int) -> str:
    """What was opened, in a sentence."""
    if not names:
        return f"There is room for {MOST_BUILDS} builds. Remove one first; nothing was opened."
    listed = ", ".join(f"“{name}”" for name in names)
    text = f"Opened {listed}; undo takes {'it' if len(names) == 1 else 'them'} away again."
    if len(names) < count:
        text += f" {count - len(names)} more did not fit: there is room for {MOST_BUILDS} builds."
    return text


ONLY_ONE = (
    "There is one build so far. Go on with a copy, change it, and the two stand here side by side; builds that "
    "were saved can be opened at the side, under “Keep and share”."
)
TABLE = (
    "First what each build does, then the inputs in which they differ. The build being edited has the widest line; "
    "choose another one at the side."
)


def verdict(names, runs: RunResult, targets, fmt: UnitFormatter) -> str:
    """Which build is fastest, which is there first, which cut out or miss.

    Parameters
    ----------
    names : list of str
        Ready for Markdown.
    runs : RunResult
        One row each.
    targets : list of float, m/s
        One each.
    fmt : UnitFormatter
        The rider's units.

    Returns
    -------
    str
    """
    top = np.asarray(runs.top_speed, dtype=float)
    times = np.array([float(runs.take([row]).time_to(target)[0]) for row, target in enumerate(targets)])
    cut = np.isfinite(runs.cut_out_time)
    order = np.argsort(-top)
    fastest, text = order[0], ""
    if float(fmt.number("speed", top[order[0]] - top[order[-1]])) < 0.1:
        text = f"**All are equally fast: {fmt('speed', top[fastest], 1)}.**"
    else:
        text = f"**Fastest is “{names[fastest]}”: {fmt('speed', top[fastest], 1)}**"
        slowest = order[-1]
        text += f"; slowest “{names[slowest]}”, {fmt('speed', top[slowest], 1)}."
    aim = f" to {fmt('speed', targets[0])}" if len(set(targets)) == 1 else ""
    there = np.flatnonzero(np.isfinite(times))
    if there.size == 0:
        text += f" None gets{aim or ' to its target'}."
    else:
        first = there[np.argmin(times[there])]
        text += f" Soonest{aim or ' at its target'} is “{names[first]}”, after {fmt('time', times[first])}"
        missing = [f"“{names[row]}”" for row in range(len(names)) if not np.isfinite(times[row])]
        text += f"; {_list(missing)} {'does' if len(missing) == 1 else 'do'} not get there." if missing else "."
    if cut.any():
        those = [f"“{names[row]}”" for row in np.flatnonzero(cut)]
        text += f" **{_list(those)} cut{'s' if len(those) == 1 else ''} out.**"
    return text


def _list(parts: list[str]) -> str:
    return parts[0] if len(parts) == 1 else ", ".join(parts[:-1]) + " and " + parts[-1]
