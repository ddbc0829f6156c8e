"""One input of the page: what it is called, what it accepts, and how it crosses the border to SI. No Streamlit.

Values are held in home units (metric rider units, phase currents as peak). The widgets show them in the rider's
display units; switching those changes no value.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any

from explorer.format import plain_number, printed, with_minus
from physics.typical.tyre import rim_alone, typical_size
from physics.units import convert, peak_from_rms, rms_from_peak, to_si

LONGEST_TEXT = 30
NEGLIGIBLE = 1e-6
"""Of a slider's step: what is less is nothing, and would only make formulas that divide by it overflow."""
_UNSAFE = re.compile(r"(?!(?<=\w)/(?=\d))(?:[^\w .,+\-]|(?<![^\W_])_|_(?![^\W_]))")


def quoted(value: Any, longest: int = 24) -> str:
    """Text from outside, safe to show: cut short, nothing left that could be markup, but 110/70 as it is.

    Examples
    --------
    >>> quoted("<b>12</b>")
    '“?b?12??b?”'
    """
    text = _UNSAFE.sub("?", str(value)[:longest])
    return f"“{text}{'...' if len(str(value)) > longest else ''}”"


@dataclass(frozen=True)
class InputSpec:
    """One input.

    Attributes
    ----------
    key, label, group : str
        Its name in the state and in share links, its label, and the group of inputs it stands in.
    low, high, step, default : float
        In home units. The step is the slider's; the box takes exact numbers between.
    us_default : float or None
        What it starts from beside US units, in its US unit, where the default would be no round number there.
    unit, us_unit : str
        Labels of `physics.units.UNITS`; `us_unit` is empty where both systems use the same.
    path : str
        Field of the Build it goes to, or empty where `rider_build` combines several inputs.
    kind : str
        "number", "optional" (a number or None for a typical value), "limit" (a number or None for no such limit),
        "options", "text" or "flag".
    switch, without : str
        For "optional" and "limit": label of the switch that turns the number on, and what stands for it while off.
    options : tuple of (key, label)
        For "options".
    whole, advanced, phase : bool
        Whole numbers only; folded away at first; a phase current, shown as peak or RMS.
    """

    key: str
    label: str
    group: str
    low: float = 0.0
    high: float = 0.0
    step: float = 1.0
    default: Any = None
    unit: str = "1"
    us_unit: str = ""
    help: str = ""
    path: str = ""
    kind: str = "number"
    switch: str = ""
    without: str = "typical"
    start: float | None = None
    us_default: float | None = None
    options: tuple[tuple[str, str], ...] = ()
    whole: bool = False
    advanced: bool = False
    phase: bool = False

    @property
    def is_number(self) -> bool:
        """Whether it holds a number (possibly None)."""
        return self.kind in ("number", "optional", "limit")

    def unit_shown(self, system: str) -> str:
        """The unit label in which the rider sees it."""
        return self.us_unit if system == "US" and self.us_unit else self.unit

    def unit_text(self, system: str, phase_as: str = "peak") -> str:
        """The unit as printed beside the label."""
        return f"A {phase_as}" if self.phase else printed(self.unit_shown(system))

    def shown(self, value: float, system: str, phase_as: str = "peak") -> float:
        """Home unit to display unit."""
        if self.phase:
            return rms_from_peak(value) if phase_as == "RMS" else value
        return convert(value, self.unit, self.unit_shown(system))

    def as_shown(self, value: float, system: str, phase_as: str = "peak") -> float:
        """The number that a box or a sheet shows.

        What was typed in this unit stands as it was typed; what was entered in the other one is no finer than the
        slider's step, or a tenth of it where that would be far off.

        Examples
        --------
        >>> speed = InputSpec("a", "A", "", 20, 200, 1, 115, "km/h", "mph")
        >>> speed.as_shown(115.0, "US"), speed.as_shown(speed.held(71.46, "US"), "US")
        (71.5, 71.46)
        """
        shown, digits = self.shown(value, system, phase_as), self.digits(system, phase_as)
        typed = round(shown, digits + 2)
        if abs(self.held(typed, system, phase_as) - value) <= 1e-7 * max(1.0, abs(value)):
            return typed
        coarse = round(shown, digits)
        near = abs(coarse - shown) <= 0.2 * self.step_shown(system, phase_as)
        return coarse if near else round(shown, digits + 1)

    def held(self, value: float, system: str, phase_as: str = "peak") -> float:
        """Display unit to home unit, inside the range."""
        if self.phase:
            value = peak_from_rms(value) if phase_as == "RMS" else value
        else:
            value = convert(value, self.unit_shown(system), self.unit)
        return self.clamp(value)

    def clamp(self, value: float) -> float:
        """The nearest value it accepts."""
        value = float(value) if abs(value) > NEGLIGIBLE * self.step else 0.0
        value = min(max(value, self.low), self.high)
        return float(round(value)) if self.whole else float(f"{value:.8g}")

    def bounds(self, system: str, phase_as: str = "peak") -> tuple[float, float, float]:
        """Lowest, highest and step of the slider in display units; round numbers that enclose the home range."""
        step = self.step_shown(system, phase_as)
        low = math.floor(self.shown(self.low, system, phase_as) / step + 1e-6) * step
        high = math.ceil(self.shown(self.high, system, phase_as) / step - 1e-6) * step
        return round(low, 9), round(high, 9), step

    def step_shown(self, system: str, phase_as: str = "peak") -> float:
        """The slider's step: the home step, or in other units about that, as 1, 2 or 5 times a power of ten."""
        if self.shown(1.0, system, phase_as) == 1.0 or self.whole:
            return self.step
        raw = abs(self.shown(self.step, system, phase_as) - self.shown(0.0, system, phase_as))
        tens = 10.0 ** math.floor(math.log10(raw))
        return round(next(times for times in (1.0, 2.0, 5.0, 10.0) if times * tens >= 0.9 * raw) * tens, 9)

    def digits(self, system: str, phase_as: str = "peak") -> int:
        """Digits after the point that the step needs."""
        step = self.step_shown(system, phase_as)
        return max(0, -math.floor(math.log10(step) + 1e-9)) if not self.whole else 0

    def si(self, value: float) -> float:
        """Home unit to SI."""
        return float(to_si(value, self.unit))

    def text(self, value: Any, system: str = "metric", phase_as: str = "peak") -> str:
        """A value of it with its unit, as text."""
        if self.kind == "options":
            return dict(self.options).get(value, str(value))
        if self.kind == "flag":
            return "yes" if value else "no"
        if self.kind == "text":
            rim = rim_alone(str(value))
            return str(value) if rim is None else f"{value}, taken as {typical_size(rim)}"
        if value is None:
            return "no limit" if self.kind == "limit" else self.without
        unit = self.unit_text(system, phase_as)
        number = plain_number(self.as_shown(value, system, phase_as), self.digits(system, phase_as) + 2)
        number = number.rstrip("0").rstrip(".") if "." in number else number
        return f"{number} {unit}".strip()

    def accepts(self, system: str = "metric") -> str:
        """What it accepts, in words."""
        if self.kind == "options":
            return "one of " + ", ".join(label for _, label in self.options)
        if self.kind == "flag":
            return "yes or no"
        if self.kind == "text":
            return "a tyre size such as 110/70-17, 90/90-12 or 3.00-12, or a rim size alone such as 12-inch"
        whole = "a whole number from " if self.whole else ""
        return f"{whole}{self.text(self.low, system)} to {self.text(self.high, system)}"

    def clean(self, value: Any) -> tuple[Any, str]:
        """A value from outside (a link, a file) made safe.

        Returns
        -------
        tuple of (value, str)
            What may be held, or None where nothing of it is usable (for an optional number None is a value), and a
            plain sentence saying what was changed or dropped; empty when all is well.
        """
        if self.kind == "options":
            known = [key for key, _ in self.options]
            return (value, "") if value in known else (None, self._dropped(value))
        if self.kind == "flag":
            truth = {"yes": True, "no": False, True: True, False: False}.get(value)
            return (truth, "") if truth is not None else (None, self._dropped(value))
        if self.kind == "text":
            text = " ".join(str(value).split())
            fine = 0 < len(text) <= LONGEST_TEXT and text.isprintable()
            if len(text) > LONGEST_TEXT:
                return None, f"{self._dropped(text)} It had {len(text)} characters of {LONGEST_TEXT} at most."
            if fine and (rim := rim_alone(text)) is not None:
                text = f"{rim}-inch"
            return (text, "") if fine else (None, self._dropped(value))
        if self.kind != "number" and value in (None, "off"):
            return None, ""
        return self._clean_number(value)

    def _clean_number(self, value: Any) -> tuple[float | None, str]:
        try:
            number = float(value) if "_" not in str(value) else math.nan
        except (TypeError, ValueError):
            number = math.nan
        if not math.isfinite(number):
            return None, self._dropped(value)
        accepted = self.clamp(number)
        if abs(accepted - number) <= 1e-6 * max(1.0, abs(number)):
            return accepted, ""
        return (
            accepted,
            with_minus(f"{self.label} was {number:g}; ")
            + f"it accepts {self.accepts()}, so {self.text(accepted)} is used.",
        )

    def _dropped(self, value: Any) -> str:
        return f"{self.label} was {quoted(value)}; it accepts {self.accepts()}. It was left unchanged."
