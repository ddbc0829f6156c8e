"""The setup sheet: one page of HTML for the garage wall, self-contained, for A4 and Letter. No Streamlit here.

`explorer.questions.setup_sheet.content` gathers what stands on it. Everything that goes in is text and is escaped
here, once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from html import escape

Rows = Sequence[tuple[str, str]]


@dataclass(frozen=True)
class Block:
    """A titled list of things with their values.

    Attributes
    ----------
    title : str
        Its heading.
    rows : sequence of (label, value)
        In their order. A label of "" goes over the whole width.
    strong : bool
        Whether it holds what is set and read on the day.
    """

    title: str
    rows: Rows
    strong: bool = False


@dataclass(frozen=True)
class Table:
    """A small table.

    Attributes
    ----------
    title, note : str
        What it says.
    heads : sequence of str
        Of all columns, that of the row names first.
    rows : sequence of sequence of str
        The row's name first.
    """

    title: str
    heads: Sequence[str]
    rows: Sequence[Sequence[str]]
    note: str = ""


@dataclass(frozen=True)
class Sheet:
    """What stands on the sheet.

    Attributes
    ----------
    name, when : str
        The build, and date and time.
    answer : str
        The page's answer in a sentence or two.
    blocks : sequence of Block
        Set in two columns.
    tables : sequence of Table
        Across the page.
    blanks : sequence of str
        What is filled in by hand.
    cautions : sequence of str
        One line each.
    link : str
        The share link, whole.
    """

    name: str
    when: str
    answer: str
    blocks: Sequence[Block]
    tables: Sequence[Table] = field(default_factory=list)
    blanks: Sequence[str] = field(default_factory=list)
    cautions: Sequence[str] = field(default_factory=list)
    link: str = ""


_STYLE = """
@page { margin: 10mm 11mm; }
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 1.2rem; max-width: 194mm; background: #fff; color: #111;
  font: 8.5pt/1.18 Arial, "Liberation Sans", Helvetica, sans-serif; overflow-wrap: anywhere; }
header { display: flex; justify-content: space-between; align-items: baseline; gap: 1rem; flex-wrap: wrap;
  border-bottom: 1.6pt solid #111; padding-bottom: .25rem; }
h1 { font-size: 15pt; line-height: 1.15; margin: 0; }
h1 small { display: block; font-size: 8.6pt; font-weight: 400; }
header p { margin: 0; }
.answer { font-size: 10pt; font-weight: 600; margin: .35rem 0 .4rem; }
.blocks { columns: 2; column-gap: 6mm; }
section { break-inside: avoid; margin: 0 0 .3rem; }
h2 { font-size: 9.6pt; margin: 0 0 .1rem; border-bottom: .6pt solid #555; }
.strong { border: 1.2pt solid #111; padding: .25rem .45rem; }
.strong th + td { font-weight: 600; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; vertical-align: top; padding: .06rem .35rem .06rem 0; font-weight: 400; }
.rows th { width: 42%; color: #333; }
.grid th, .grid td { border: .5pt solid #777; padding: .08rem .35rem; text-align: center; }
.grid td.now { font-weight: 700; outline: 1.6pt solid #111; outline-offset: -1.6pt; }
.note { font-size: 8pt; margin: .05rem 0 .15rem; }
.blanks { display: grid; grid-template-columns: 1fr 1fr; gap: .1rem 6mm; }
.blanks p { display: flex; gap: .3rem; margin: .25rem 0 0; }
.blanks span { flex: 1; border-bottom: .6pt solid #111; }
ul { margin: .1rem 0; padding-left: 1.1rem; font-size: 8.3pt; }
.link { font-size: 7.6pt; font-family: ui-monospace, "Liberation Mono", monospace; word-break: break-all;
  margin: 0; }
a { color: inherit; }
@media print { body { padding: 0; max-width: none; } }
@media screen and (max-width: 620px) { .blocks { columns: 1; } .blanks { grid-template-columns: 1fr; }
  .wide { overflow-x: auto; } }
"""
ALONE = "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">"
"""So that a document loads and runs nothing."""
LONGEST_LINK = 700
"""Signs of a link that are printed; more would not fit on the page, and nobody would type them."""
TODAY = " (today)"
"""Behind the name of a row and of a column of a table: the cell where they meet is marked."""


def as_html(sheet: Sheet) -> str:
    """The sheet as one HTML document that loads nothing from anywhere.

    Parameters
    ----------
    sheet : Sheet
        What stands on it; plain text throughout.

    Returns
    -------
    str

    Examples
    --------
    >>> page = as_html(Sheet("<b>Wet</b>", "1 April 2030", "Reaches 90 km/h.", [Block("Today", [("Air", "6 °C")])]))
    >>> "<h1>&lt;b&gt;Wet&lt;/b&gt;" in page
    True
    """
    parts = [
        "<!DOCTYPE html>",
        '<html lang="en"><head><meta charset="utf-8">',
        ALONE,
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>Setup sheet: {escape(sheet.name)}</title><style>{_STYLE}</style></head><body>",
        f"<header><h1>{escape(sheet.name)}<small>Setup sheet, Headroom</small></h1>",
        f"<p>{escape(sheet.when)}</p></header>",
        f'<main><p class="answer">{escape(sheet.answer)}</p>',
        '<div class="blocks">' + "".join(map(_block, sheet.blocks)) + "</div>",
        *map(_table, sheet.tables),
        _blanks(sheet.blanks),
        _cautions(sheet.cautions),
        _link(sheet.link),
        "</main></body></html>",
    ]
    return "\n".join(part for part in parts if part)


def _block(block: Block) -> str:
    rows = "".join(
        f'<tr><th scope="row">{escape(label)}</th><td>{escape(value)}</td></tr>'
        if label
        else f'<tr><td colspan="2">{escape(value)}</td></tr>'
        for label, value in block.rows
    )
    look = ' class="strong"' if block.strong else ""
    return f'<section{look}><h2>{escape(block.title)}</h2><table class="rows">{rows}</table></section>'


def _table(table: Table) -> str:
    heads = "".join(f'<th scope="col">{escape(head)}</th>' for head in table.heads)
    rows = ""
    for name, *cells in table.rows:
        row = ""
        for head, cell in zip(table.heads[1:], cells, strict=True):
            now = ' class="now"' if head.endswith(TODAY) and name.endswith(TODAY) else ""
            row += f"<td{now}>{escape(cell)}</td>"
        rows += f'<tr><th scope="row">{escape(name)}</th>{row}</tr>'
    note = f'<p class="note">{escape(table.note)}</p>' if table.note else ""
    return (
        f'<section><h2>{escape(table.title)}</h2>{note}<div class="wide"><table class="grid">'
        f"<thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table></div></section>"
    )


def _blanks(blanks: Sequence[str]) -> str:
    if not blanks:
        return ""
    lines = "".join(f"<p>{escape(label)}<span></span></p>" for label in blanks)
    return f'<section><h2>Measured on the day</h2><div class="blanks">{lines}</div></section>'


def _cautions(cautions: Sequence[str]) -> str:
    if not cautions:
        return ""
    lines = "".join(f"<li>{escape(one)}</li>" for one in cautions)
    return f"<section><h2>Cautions</h2><ul>{lines}</ul></section>"


def _link(link: str) -> str:
    """The link as text, to be typed or followed; followed only where it leads to a page."""
    if not link:
        return ""
    cut = len(link) > LONGEST_LINK
    shown = escape(link[:LONGEST_LINK]) + (" … (the full link is on screen)" if cut else "")
    if link.startswith(("http://", "https://")):
        shown = f'<a href="{escape(link)}">{shown}</a>'
    return f'<section><h2>This build again</h2><p class="link">{shown}</p></section>'
