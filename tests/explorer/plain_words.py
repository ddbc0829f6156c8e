"""What riders read, held to plain English: phrases nobody says, and slips that sentences built of parts make."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

EXPLORER, PHYSICS, README = (Path(__file__).parents[2] / name for name in ("explorer", "physics", "README.md"))

BANNED = {
    r"\ballowances?\b": "BMS limit used, or trip timer",
    r"\bprotection of the pack\b": "battery protection (BMS)",
    r"\bprotection's\b": "the BMS",
    r"\bis no permission\b": "is not permission to ride",
    r"\bwithout end\b": "indefinitely",
    r"\bfor good\b": "permanently",
    r"\bbalance point\b": "centre of gravity",
    r"\bbefore the rear axle\b": "ahead of the rear axle",
    r"\btoo few by\b": "is ... short",
    r"\bare (above|below) that\b": "is ... above that",
    r"\b(you plan|planned [^.]*) are\b": "your planned ... is",
    r"\bride it off\b|\bride off\b": "use up charge",
    r"\bknown as\b": "enter ... as",
    r"\bbrings? the doubt\b|\bthe doubt in\b": "what makes ... uncertain",
    r"\bleave (over|\S+ to \S+ open)\b|\bleft over\b": "errors; rounding allows",
    r"\bstands? apart\b": "outlier",
    r"\bgo on with a copy\b": "duplicate and edit",
    r"\bcounts the turns of\b": "speed sensor on",
    r"\bstands? on it\b": "is on it",
    r"\bday turns\b": "if it gets colder",
    r"\blook ahead\b": "time shown",
    r"\btakes? (power|pull) (away|as well)?\b": "cuts power, costs pull",
    r"\ball it has\b": "full output",
    r"\bfolds? back from\b|\bno line current below\b": "low-voltage cutback: starts, ends",
    r"\bfor each (volt|ampere|degree)\b|\bper ampere\b": "per volt, per amp, per degree",
    r"\bspeeded up\b": "accelerated",
    r"\bturn(s)? round\b(?! at)": "flip",
    r"\bbehind by\b": "deficit",
    r"\bswitched off, (it|the page)\b": "if off, ...",
    r"\bdrop the baseline\b": "remove the baseline",
    r"\bget rid\b|\bin the way of\b": "say it plainly",
    r"\bmust be \S+ for\b.*\bmust be\b": "once is enough",
    r"\bmay well be\b|\bas (much worse|bad|wrong|far off) .*\bas (they|it|each) may\b": "as they plausibly may be",
    r"\bmay be worse than entered\b|\bsafe side\b(?! of|$)": "margin for error; to be safe",
    r"\bwould do even\b|\bnothing at all\b": "is enough even with",
    r"\bin hand\b": "to spare, in reserve",
    r"\bfor each \{\}": "per",
    r"\bby regen (of|alone)\b": "at ... of regen, on regen alone",
    r"\bride some off\b|\bcharge on\b": "charge some more, use some up",
    r"\bwhere it is fastest\b": "at its fastest",
    r"\brule cuts out\b|\bcut-?out by the\b": "the rule trips; a cut-out on the ... rule",
    r"\btakes (it|them) back\b": "Undo reverses it",
    r"\blower down\b|\bat the foot\b": "at a lower voltage, at the bottom",
    r"\bspins? free\b|\bspinning free\b": "with the wheel off the ground",
    r"\bfits? each other\b|\bdoes not fit\*\*|\bthings? do(es)? not fit\b": "go together, mismatch",
    r"\bas far as is (known|usual)\b": "say what was found",
    r"\ball but certain\b": "almost certain",
    r"\bone tooth less\b": "one tooth fewer",
    r"\bridden at\b(?! all)|\brests now\b|\bon the whole\b": "speed, rest voltage now, average",
    r"\bno longer bears?\b": "can no longer give",
    r"\bbadly known\b": "poorly known",
    r"\bkeep within\b": "stay within",
    r"\bsuffers\b": "changes",
    r"\bbelow zero is\b": "negative is",
}
"""What is not said on the page, and what is said in its place."""

TRADE = {
    r"\bstate of charge level\b": "state of charge",
    r"(?<!app: )\bbattery current\b|\bDC current limit\b": "line current, unless a controller's app is quoted",
    r"(?<!app: )\bmotor current\b": "phase current, unless a controller's app is quoted",
    r"\bvoltage drop under load\b|\bvoltage dip\b": "sag",
    r"\bcounter-?EMF\b|\bgenerator voltage\b": "back-EMF",
    r"\bsprocket wheels?\b|\bpinion\b": "sprocket",
    r"\baccu(mulator)?\b": "pack",
    r"\brecuperation\b|\benergy recovery\b": "regen",
    r"\bidle (speed|voltage)\b": "no-load speed, rest voltage",
    r"\bair resistance\b": "drag",
    r"\bampere-?hours?\b": "amp-hours",
    r"\bmean (current|power|speed)\b": "average",
    r"\broot mean square\b": "RMS",
    r"\bseat position\b": "riding position",
    r"\bmotor('s)? speed constant\b": "motor Kv",
    r"\b(motor|bike|rider|pack)('s)? mass\b": "weight",
    r"\bcharging current\b": "charge current",
    r"\binner resistance\b": "internal resistance",
    r"\benergy of motion\b": "kinetic energy",
    r"\bbrake lamps?\b": "brake light",
    r"\bbattery\b(?! protection| current)": "pack",
    r"\b(largest|highest) (power|motor voltage|electrical frequency)\b": "maximum",
    r"(\{\}|\d %) of charge\b": "% charge",
    r"(\{\}|\d %) of (throttle|line current)\b(?! adds| travel)": "% throttle, A line current",
    r"\brevolutions\b": "turns, rpm",
    r"\b(gas|accelerator) (grip|pedal|handle)\b": "throttle",
    r"\b(driven|driving) wheel\b": "rear wheel",
}
"""Words that have a trade form, and that form."""

BRITISH = re.compile(
    r"\b(?:tyre|kerb|centre|ageing|tarmac|grey|(?:kilo|milli|centi)?metres?\b|litre|colour|alumini|behaviour|favour|"
    r"labour|neighbour|licence|defence|catalogue\b|analogue|programmes\b|(?:travel|model|label|cancel|fuel|signal)"
    r"l(?:ed|ing)|(?:recogn|minim|maxim|normal|organ|optim|summar|linear|stabil)is|per cent\b|towards|whilst|"
    r"learnt|burnt)",
    re.IGNORECASE,
)
"""British spellings that a reader of US units would trip over, and that a page like this one could hold."""

_QUANTITY = r"[\d.,]+ (?:V|A|W|kW|Wh|Ah|km/h|mph|%|°C|°F|kg|lb|mm|in|m|ft|s|min|km|mi|N|lbf)"
_PLURAL = (
    r"(?:pulls|readings|changes|builds|events|levels|links|runs|samples|teeth|points|rules|stops|cells|bikes|rides|"
    r"facts|rows|packs|pairs|steps|times|seconds|minutes|hours|mismatches|unknowns)"
)
SLIPS = {
    r"\b([A-Za-z]+) \1\b": "a word twice",
    rf"(?<![\d.,])1 {_PLURAL}\b": "one of several",
    rf"(?<![\d.,]){_QUANTITY} (?:are|were|have)\b": "an amount takes a singular verb",
    rf"(?<!each of )\b{_PLURAL} (?:is|has|does)\b": "a plural with a singular verb",
    r"(?<![\d.,])1 (?:are|were|have|do)\b": "one with a plural verb",
    r"(?<![\d.,/])(?<![Ll]evel )(?:[2-9]|[1-9]\d+) (?:is|was|has|does)\b": "several with a singular verb",
    r"\b[Aa] (?:8|1[18](?!\d))": "a for an, before a number",
    r"\b[Aa]n (?!8|1[18](?!\d))\d": "an for a, before a number",
    r"\b(?:pull|reading|change|build|event|level) (?:are|have|do)\b": "a singular with a plural verb",
    rf"[-−]{_QUANTITY} (?:above|below|short|faster|slower|sooner|later|more|less|left|to spare|too)\b": (
        "an amount below zero beside its direction"
    ),
    r"(?<![\w.)])-\d": "a hyphen for a minus sign",
    r" [.,;:](?!\d)|,,|\.\.(?!\.)|[,;:]\.(?!\d)|\.[,;:]| {2,}(?!\n)": "spaces and marks",
    r"\b(?:nan|inf|None|True|False)\b|[{}]": "what is no word",
    r"(?<![\d.,])0 (?:V|A|km/h|mph) (?:above|below|short|faster|slower)\b(?! full)": "nothing, with a direction",
    r"[.!?] [a-z]": "a sentence that begins small",
}
"""Patterns that no sentence holds, and what they are."""


def prose(path: Path) -> Iterator[tuple[int, str]]:
    """The texts of a source file with their lines, docstrings left out; what is put in is shown as {}."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    parts = {id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in node.values}
    parts |= {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            bits = [str(bit.value) if isinstance(bit, ast.Constant) else "{}" for bit in node.values]
            yield node.lineno, "".join(bits)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in parts:
            yield node.lineno, node.value


def unsaid(text: str) -> list[str]:
    """Phrases of a text that are not said on the page, with what is said instead."""
    return [
        f"“{found[0]}”: say {better}"
        for pattern, better in (BANNED | TRADE).items()
        if (found := re.search(pattern, text, re.IGNORECASE))
    ]


def slips(text: str) -> list[str]:
    """What is wrong with a finished sentence."""
    text = text.replace("\u00a0", " ")
    found = [f"{what}: “{hit[0]}”" for pattern, what in SLIPS.items() if (hit := re.search(pattern, text))]
    found += [f"{mark} without its pair" for mark in ("(", "“") if text.count(mark) != text.count(_PAIR[mark])]
    return found + (["a bold mark without its pair"] if text.count("**") % 2 else [])


_PAIR = {"(": ")", "“": "”"}
