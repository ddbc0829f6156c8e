"""Front wheel and power levels in words: the verdict, feel in numbers, how to read the charts, the caution."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from explorer.page.page import Page
from explorer.questions.front_wheel.results import FEEL_SPEED, FrontAnswer

CAUTION = (
    "A front wheel in the air neither steers nor brakes, and a light one does little of both. These marks hold "
    "for a smooth, level road, a steady hand and a rider who sits still: a crest, a bump, a jerk of the throttle "
    "or a shift of weight lifts it sooner. Try a stronger level at a closed place, upright and straight ahead, "
    "from little throttle up, the rear brake covered. Wheelie control is an aid, not a promise. The makers' "
    "limits come first; on public roads local law often forbids wheelies."
)


def verdict(page: Page, answer: FrontAnswer, used: int, seats: dict[str, float]) -> str:
    """What the front wheel does in the level in use, in the others, and what phase limit keeps it down."""
    text = f"**In {_name(answer, used)} {_does(page, answer, used)}** {_more(page, answer, used)}"
    others = [place for place in range(len(answer.found.levels)) if place != used]
    if others:
        text += " " + _others(answer, others)
    if answer.found.slips_first[answer.at]:
        text += " On this surface the rear tyre slips before the front can lift."
    return f"{text} {_limits(page, answer, used, seats)}"


def _name(answer: FrontAnswer, place: int) -> str:
    return answer.found.levels[place].name


def _does(page: Page, answer: FrontAnswer, place: int) -> str:
    light, lift = (answer.found.least(name)[place] for name in ("light_throttle", "lift_throttle"))
    if np.isfinite(lift):
        return f"the front wheel lifts from {page.fmt('share', lift)} of throttle."
    if np.isfinite(light):
        return f"the front wheel goes light from {page.fmt('share', light)} of throttle, but stays down."
    return "the front wheel stays planted at full throttle."


def _more(page: Page, answer: FrontAnswer, place: int) -> str:
    found, fmt = answer.found, page.fmt
    light, lift = (found.least(name)[place] for name in ("light_throttle", "lift_throttle"))
    if np.isfinite(lift):
        up_to = _up_to(page, found.fastest("lift_throttle")[place], found.speed[-1])
        return f"It can do so {up_to}. From {fmt('share', light)} on it carries half its standing load or less."
    if np.isfinite(light):
        up_to = _up_to(page, found.fastest("light_throttle")[place], found.speed[-1])
        return f"Light means half of its standing load; that can happen {up_to}."
    share = _load_left(answer, place)
    return f"It keeps at least {fmt('share', share)} of its standing load."


def _load_left(answer: FrontAnswer, place: int) -> float:
    """Least share of the standing load at full throttle: load falls in a straight line with force."""
    found = answer.found
    per_share = found.lift_force - found.light_force  # force that takes away half the standing load
    left = 0.5 * (found.lift_force - found.full_force[place]) / np.maximum(per_share, 1e-9)
    return float(left.min())


def _up_to(page: Page, speed: float, fastest: float) -> str:
    return "at any speed shown" if speed >= fastest else f"up to {page.fmt('speed', speed)}"


def _others(answer: FrontAnswer, places: Sequence[int]) -> str:
    """The other levels, in one sentence, those of a kind together."""
    light, lift = (answer.found.least(name) for name in ("light_throttle", "lift_throttle"))
    kinds: dict[str, list[str]] = {}
    for place in places:
        if np.isfinite(lift[place]):
            kind = f"lifts it from {100 * lift[place]:.0f} %"
        elif np.isfinite(light[place]):
            kind = f"makes it light from {100 * light[place]:.0f} %"
        else:
            kind = "keeps it planted"
        kinds.setdefault(kind, []).append(_name(answer, place))
    said = [f"{joined(names)} {kind if len(names) == 1 else _plural(kind)}" for kind, names in kinds.items()]
    return joined(said) + "."


def _plural(kind: str) -> str:
    verb, _, rest = kind.partition(" ")
    return f"{verb.removesuffix('s')} {rest}"


def joined(parts: Sequence[str]) -> str:
    """Names in a row.

    Examples
    --------
    >>> joined(["a", "b", "c"])
    'a, b and c'
    """
    parts = list(parts)
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def _amperes(page: Page, limit: float) -> str:
    return page.fmt("current", limit) if math.isfinite(limit) else "no limit needed"


def _limits(page: Page, answer: FrontAnswer, used: int, seats: dict[str, float]) -> str:
    seat, limit = page.inputs["posture"], answer.holds[used]
    if not math.isfinite(limit):
        return "The line limit alone keeps the front down: no phase limit is needed for that."
    others = [f"{name} {_amperes(page, value)}" for name, value in seats.items() if name != seat]
    return (
        f"For this rider, sitting {seat}, **the front stays down up to {_amperes(page, limit)} peak of phase "
        f"current** ({', '.join(others)})."
    )


def feel(page: Page, answer: FrontAnswer) -> str:
    """Snappy and manageable as numbers."""
    fmt, found = page.fmt, answer.found
    gains = [fmt.digits("acceleration", value) for value in per_tenth(answer)]
    numbers = [level.name.removeprefix("Level ") for level in found.levels]
    text = (
        f"**Feel in numbers:** at {fmt('speed', FEEL_SPEED)}, a tenth of the throttle adds {joined(gains)} "
        f"{fmt.unit('acceleration')} in levels {joined(numbers)}. More is snappier."
    )
    room = room_to_lift(answer)
    told = [
        f"{fmt('share', value)} of the throttle's travel in {level.name}"
        for level, value in zip(found.levels, room, strict=True)
        if np.isfinite(value)
    ]
    if told:
        text += f" Between light and lifted lie {joined(told)}. Less is harder to manage."
    return text


def per_tenth(answer: FrontAnswer) -> np.ndarray:
    """Acceleration that a tenth of the throttle adds at FEEL_SPEED, m/s2, shape (levels,)."""
    return 0.1 * answer.found.force_per_throttle[:, answer.at] / answer.found.mass


def room_to_lift(answer: FrontAnswer) -> np.ndarray:
    """Throttle between light and lifted at FEEL_SPEED, shape (levels,); NaN where it does not lift."""
    return answer.found.lift_throttle[:, answer.at] - answer.found.light_throttle[:, answer.at]


def note(page: Page) -> str:
    """How to read the charts."""
    text = (
        "Light: the front carries half of its standing load. Lifts: it carries nothing. All it has: beyond that "
        "line more throttle adds nothing. Worked out for a rested pack, a throttle that asks for torque, and "
        "nothing that holds the front down"
    )
    if page.build.bike.hold_front_down:
        return f"{text}; in the runs of the table below, rider or controller keep it down."
    return f"{text}, as in the runs of the table below."
