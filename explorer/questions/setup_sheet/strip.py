"""The tank sticker in words: what stands on it, rounded to the safe side. Text only; `sticker` sets it."""

from __future__ import annotations

import math

import numpy as np

from explorer.inputs.origins import GIVEN, origin
from explorer.page.page import Page
from explorer.page.regen import FLAT
from explorer.questions.line_limit.words import cell_text
from explorer.questions.setup_sheet.results import Bands, bands_of
from explorer.questions.setup_sheet.sticker import Sticker
from physics.build.batch import Batch

SAVE = "Save the tank sticker"
SAVE_HELP = "50 × 150 mm, to cut out: what each band of rest voltage allows today. Print at 100 %."
CAUTION = (
    "A prediction is not permission to ride. The brakes alone must stop the bike. A cut-out takes the drive away."
)
LEGEND = {np.inf: "Line “free”: no limit needed.", 0.0: "Line “none”: even the lowest limit cuts out."}
BACK = "turn back at {}"


def gather(page: Page, when: str) -> Sticker:
    """The sticker of the page as it stands.

    Parameters
    ----------
    page : Page
        Build and inputs.
    when : str
        Date and time.

    Returns
    -------
    Sticker
    """
    bands, fmt = bands_of(page), page.fmt
    flat = page.build.pack.chemistry in FLAT
    temperature = fmt("temperature", float(Batch.of(page.build)["conditions.pack_temperature"][0]))
    target = fmt.entered("speed", page.target_speed)
    notes = [text for bound, text in LEGEND.items() if (bands.line == bound).any()] + [
        "Pulls: with the limits as set" + (", keeping enough to get home." if bands.turn_back is not None else "."),
    ]
    if bands.turn_back is not None and not math.isfinite(bands.turn_back):
        notes.append("Today no charge is enough for a safe ride home.")
    return Sticker(
        name=page.build.name,
        when=when,
        holds_for=f"Pack at {temperature} or a little warmer. Pulls to {target}.",
        heads=["charge" if flat else "rest, V", "line, A", "regen, A", "pulls"],
        rows=_rows(page, bands, flat),
        notes=notes,
        blanks=_blanks(page, bands),
        caution=CAUTION,
    )


def _rows(page: Page, bands: Bands, flat: bool) -> list[list[str]]:
    """The bands, and a line where the way home begins to need what is left."""
    back = bands.turn_back
    mark = back if back is not None and math.isfinite(back) else None
    rows = []
    for index in range(bands.upper.size):
        if mark is not None and bands.lower[index] < mark:
            rows.append([BACK.format(page.fmt.at_least("voltage", mark))])
            mark = None
        regen = math.floor(bands.regen[index] + 1e-9)
        rows.append(
            [
                _band(page, bands, index, flat),
                cell_text(bands.line[index]),
                f"{regen}" if regen else "none",
                f"{bands.pulls[index]}",
            ]
        )
    return rows


def _band(page: Page, bands: Bands, index: int, flat: bool) -> str:
    if flat:
        return f"{100 * bands.upper_charge[index]:.0f} to {math.ceil(100 * bands.lower_charge[index])} %"
    upper, lower = bands.upper[index], bands.lower[index]
    digits = 0 if np.isclose(upper, round(upper)) else 1
    return f"{upper:.{digits}f} to {lower:.0f}"


def _blanks(page: Page, bands: Bands) -> list[str]:
    """What the day needs and is not known."""
    lines = ["Pack, measured"]
    if bands.turn_back is None:
        lines.append("Turn back at, V")
    if origin(page.inputs, "pack_resistance") != GIVEN:
        lines.append("Sag, and at what current")
    return [*lines, "Rest voltage at start, V"]
