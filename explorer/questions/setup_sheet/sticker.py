"""The tank sticker: a strip of 50 x 150 mm to cut out, as HTML that loads nothing. No Streamlit here.

Everything that goes in is text and is escaped here, once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from explorer.questions.setup_sheet.sheet import ALONE

WIDTH, HEIGHT = 50, 150
"""Of the strip, mm."""


@dataclass(frozen=True)
class Sticker:
    """What stands on it.

    Attributes
    ----------
    name, when : str
        The build, and date and time.
    holds_for : str
        The conditions.
    heads : sequence of str
        Of the columns.
    rows : sequence of sequence of str
        One for each band of rest voltage, fullest first; a row of one text goes over the whole width.
    notes : sequence of str
        How to read it.
    blanks : sequence of str
        What is filled in by hand.
    caution : str
        One sentence.
    """

    name: str
    when: str
    holds_for: str
    heads: Sequence[str]
    rows: Sequence[Sequence[str]]
    notes: Sequence[str]
    blanks: Sequence[str]
    caution: str


_STYLE = f"""
@page {{ margin: 10mm; }}
:root {{ color-scheme: light; }}
* {{ box-sizing: border-box; }}
body {{ margin: 0; padding: 10mm; background: #fff; color: #111;
  font: 7pt/1.2 Arial, "Liberation Sans", Helvetica, sans-serif; overflow-wrap: anywhere; }}
main {{ width: {WIDTH}mm; height: {HEIGHT}mm; padding: 2.5mm; border: .6pt dashed #555; overflow: hidden;
  display: flex; flex-direction: column; gap: 1.2mm; }}
h1 {{ font-size: 9pt; line-height: 1.1; margin: 0; max-height: 2.2em; overflow: hidden; }}
p {{ margin: 0; }}
table {{ border-collapse: collapse; width: 100%; }}
th, td {{ border: .5pt solid #777; padding: .9mm .4mm; text-align: center; font-size: 8.2pt; white-space: nowrap; }}
th {{ font-weight: 400; font-size: 6.2pt; }}
td:first-child {{ font-weight: 700; }}
.mark {{ border: 1.6pt solid #111; font-weight: 700; }}
.blanks p {{ display: flex; gap: 1mm; padding-top: 1.6mm; }}
.blanks span {{ flex: 1; border-bottom: .6pt solid #111; }}
.caution {{ margin-top: auto; }}
@media print {{ body {{ padding: 0; }} }}
"""


def as_html(sticker: Sticker) -> str:
    """The sticker as one HTML document.

    Parameters
    ----------
    sticker : Sticker
        Plain text throughout.

    Returns
    -------
    str

    Examples
    --------
    >>> text = as_html(Sticker("<b>", "", "", ["V"], [["84 to 82"], ["back"]], [], ["Pack"], "Brake."))
    >>> "<h1>&lt;b&gt;</h1>" in text, "<p>Pack<span></span></p>" in text
    (True, True)
    """
    heads = "".join(f'<th scope="col">{escape(head)}</th>' for head in sticker.heads)
    return "\n".join(
        [
            "<!DOCTYPE html>",
            '<html lang="en"><head><meta charset="utf-8">',
            ALONE,
            f"<title>Tank sticker: {escape(sticker.name)}</title><style>{_STYLE}</style></head><body><main>",
            f"<h1>{escape(sticker.name)}</h1><p>{escape(sticker.when)}</p><p>{escape(sticker.holds_for)}</p>",
            f"<table><thead><tr>{heads}</tr></thead><tbody>",
            *(_row(row, len(sticker.heads)) for row in sticker.rows),
            "</tbody></table>",
            *(f"<p>{escape(note)}</p>" for note in sticker.notes),
            '<div class="blanks">'
            + "".join(f"<p>{escape(one)}<span></span></p>" for one in sticker.blanks)
            + "</div>",
            f'<p class="caution">{escape(sticker.caution)}</p></main></body></html>',
        ]
    )


def _row(row: Sequence[str], columns: int) -> str:
    if len(row) == 1 < columns:
        return f'<tr><td class="mark" colspan="{columns}">{escape(row[0])}</td></tr>'
    return "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>"
