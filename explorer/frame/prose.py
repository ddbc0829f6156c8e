"""Text as this rider reads it: numbers tied to their units, and US spelling beside US units."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from explorer.format import spelled, tied
from explorer.inputs.spec import InputSpec
from explorer.state.state import current

if TYPE_CHECKING:
    import pandas as pd


def prose(text: str) -> str:
    """A text of the page, ready to be drawn."""
    return spelled(tied(text), current().units)


def as_spelled(spec: InputSpec, units: str) -> InputSpec:
    """An input with its label, help, switch and options in the spelling of these units."""
    if units != "US":
        return spec
    options = tuple((key, spelled(label, units)) for key, label in spec.options)
    label, help, switch = (spelled(text, units) for text in (spec.label, spec.help, spec.switch))
    return replace(spec, label=label, help=help, switch=switch, options=options)


def figure_spelled(part: Any) -> Any:
    """A figure, or a part of one, with its words in the rider's spelling; arrays stay as they are."""
    units = current().units
    if units != "US":
        return part
    if isinstance(part, str):
        return spelled(part, units)
    if isinstance(part, dict):
        return {key: figure_spelled(value) for key, value in part.items()}
    return [figure_spelled(value) for value in part] if isinstance(part, list | tuple) else part


def table_spelled(table: pd.DataFrame) -> pd.DataFrame:
    """A table with its headings and words in the rider's spelling."""
    units = current().units
    if units != "US":
        return table
    cells = table.map(lambda cell: spelled(cell, units) if isinstance(cell, str) else cell)
    return cells.rename(columns=lambda name: spelled(str(name), units))
