"""Names that riders give to builds: made safe once, shown as text everywhere. No Streamlit here."""

from __future__ import annotations

import html
import re
from collections.abc import Collection

LONGEST_NAME = 40
_ADDRESS = re.compile(r"(\\[:.@])")
_MARKDOWN = re.compile(r"([\\`*_{}\[\]()<>#+\-!|~$:.&^@/])")


def clean_name(text: object, otherwise: str = "", longest: int = LONGEST_NAME) -> str:
    """A name from outside: one line of printable text, cut short, never a spreadsheet's formula.

    Markup is left in: it is a name like any other and is shown as it was written.

    Examples
    --------
    >>> clean_name("  13 tooth\\n(wet) ")
    '13 tooth (wet)'
    >>> clean_name("=1+1")
    '1+1'
    >>> clean_name("\\x00", "Build")
    'Build'
    """
    if not isinstance(text, str):
        return otherwise
    printable = "".join(" " if sign.isspace() else sign for sign in text if sign.isprintable() or sign.isspace())
    line = " ".join(printable[: 20 * longest].split()).lstrip("=+-@ ")
    return line[:longest].strip() or otherwise


def free_name(name: str, taken: Collection[str]) -> str:
    """The name, or with a number behind it where it is taken.

    Examples
    --------
    >>> free_name("Wet", ["Wet", "Wet (2)"])
    'Wet (3)'
    """
    free, count = name, 2
    while free in taken:
        end = f" ({count})"
        free, count = name[: LONGEST_NAME - len(end)].rstrip() + end, count + 1
    return free


def as_markdown(name: str) -> str:
    """A name for text that is read as Markdown: every sign that could be markup is escaped.

    An unseen joiner keeps addresses from being made into links.

    Examples
    --------
    >>> as_markdown("<b>13</b>")
    '\\\\<b\\\\>13\\\\<\\\\/b\\\\>'
    """
    return _ADDRESS.sub("\u2060\\1", _MARKDOWN.sub(r"\\\1", name))


def as_chart_text(name: str) -> str:
    """A name for a legend or a label of a chart, which read a few tags of HTML.

    Examples
    --------
    >>> as_chart_text("<b>13</b>")
    '&lt;b&gt;13&lt;/b&gt;'
    """
    return html.escape(name, quote=False)


def as_file_name(name: str, otherwise: str = "build") -> str:
    """A name for a file: letters, digits and dashes only.

    Examples
    --------
    >>> as_file_name("../13 tooth <b>")
    '13-tooth-b'
    """
    return re.sub(r"[^\w]+", "-", name).strip("-_").lower() or otherwise
