"""Text logs: encoding, delimiter, decimal mark, header and the chunked reading of rows into numbers."""

from __future__ import annotations

import codecs
import csv
import io
import re
import warnings
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from physics.arrays import Floats
from physics.ridelog.columns import THOUSANDS, numbers_of, short_cells
from physics.ridelog.quantities import TIME_TEXT, UNIT_OF_SPELLING
from physics.ridelog.report import LogError

ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "latin-1")
SPREADSHEETS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
"""How the files of spreadsheet programs begin: ZIP archives, and compound files before them."""
OVERFLOW = "\x00overflow"
"""The column of fields too many; no column of a text file can be called so."""
DELIMITERS = (";", "\t", "|", ",", " ")
LONGEST_LINE = 20_000
MOST_COLUMNS = 256
CHUNK_ROWS = 20_000
SAMPLE_LINES = 200

_NUMBER = re.compile(r"^\s*[-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d+)?\s*$")
_DECIMAL = re.compile(r"^[-+]?\d[\d\s']*([.,])\d+(?:[eE][-+]?\d+)?\s*[^\d\s.,:;/\-]{0,6}$")
_BLANK_LINES = re.compile(r"\n\s*\n")
_TIME_PART = re.compile(r"\d:\d{2}")
_CLOCK_PARTS = r"(\d{1,3}):(\d{2})(?::(\d{2}))?(?:[.,](\d{1,9}))?\s*([AaPp])?"


@dataclass(frozen=True)
class Layout:
    """How a text log is laid out.

    Parameters
    ----------
    encoding, delimiter, decimal : str
        As found or given.
    columns : tuple of str
        Column names, units from a second header row put behind them in brackets.
    body : str
        The text from the first data row on.
    note : str
        What was assumed of the decimal mark; empty where the file says it.
    """

    encoding: str
    delimiter: str
    decimal: str
    columns: tuple[str, ...]
    body: str
    note: str = ""


def decode(data: bytes, encoding: str | None = None) -> tuple[str, str]:
    """Turn bytes into text.

    A byte-order mark decides; without one, UTF-8 is tried and then Latin-1, in which every byte is a character.

    Parameters
    ----------
    data : bytes
        The file.
    encoding : str, optional
        One of `ENCODINGS`.

    Returns
    -------
    (text, encoding) : str, str

    Raises
    ------
    LogError
        When the file is not text, or not in the encoding asked for.

    Examples
    --------
    >>> decode("Höhe".encode("latin-1"))
    ('Höhe', 'latin-1')
    """
    if encoding is not None and encoding not in ENCODINGS:
        raise LogError(f"The encoding is {encoding!r}; accepted are {', '.join(ENCODINGS)}.")
    if data.startswith(SPREADSHEETS):
        raise LogError(
            "This is a spreadsheet's own file, not text. Open it in the spreadsheet program, save it as CSV, and "
            "open that here."
        )
    if encoding is None:
        if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            encoding = "utf-16"
        elif data.startswith(codecs.BOM_UTF8):
            encoding = "utf-8-sig"
    tries = (encoding,) if encoding else ("utf-8", "latin-1")
    for name in tries:
        try:
            text = data.decode(name)
        except UnicodeDecodeError:
            continue
        if "\x00" in text:
            raise LogError("The file holds zero bytes, so it is not a text log; accepted are CSV, TSV and GPX 1.1.")
        return text.lstrip("\ufeff"), name
    raise LogError(f"The file is not text in {encoding}; accepted are {', '.join(ENCODINGS)}.")


def _rows(lines: Iterable[str], delimiter: str) -> list[list[str]]:
    try:
        if delimiter == " ":
            return [line.split() for line in lines]
        return list(csv.reader(lines, delimiter=delimiter))
    except csv.Error as error:
        raise LogError(f"The rows cannot be split at {delimiter!r}: {error}.") from None


def _usual_width(rows: list[list[str]]) -> tuple[int, float]:
    widths = Counter(len(row) for row in rows if len(row) > 1)
    if not widths:
        return 0, 0.0
    width, count = widths.most_common(1)[0]
    return width, count / len(rows)


def _is_value(cell: str) -> bool:
    return bool(_NUMBER.match(cell) or _TIME_PART.search(cell))


def find_layout(
    text: str, encoding: str = "utf-8", delimiter: str | None = None, decimal: str | None = None
) -> Layout:
    """Find delimiter, decimal mark, header and first data row from the first 200 lines.

    Parameters
    ----------
    text : str
        The whole file.
    encoding : str
        Passed through.
    delimiter : str, optional
        One of `DELIMITERS`; found if not given.
    decimal : {".", ","}, optional
        Found if not given.

    Returns
    -------
    Layout

    Raises
    ------
    LogError
        When there are no rows, no delimiter splits them, or there are too many columns.

    Examples
    --------
    >>> layout = find_layout("time;speed\\n0,0;1,5\\n0,1;1,7\\n")
    >>> layout.delimiter, layout.decimal, layout.columns
    (';', ',', ('time', 'speed'))
    """
    if delimiter is not None and delimiter not in DELIMITERS:
        raise LogError(f"The delimiter is {delimiter!r}; accepted are {', '.join(map(repr, DELIMITERS))}.")
    if decimal not in (None, ".", ","):
        raise LogError(f"The decimal mark is {decimal!r}; accepted are '.' and ','.")
    text = _BLANK_LINES.sub("\n", text.replace("\r\n", "\n").replace("\r", "\n"))
    stream = io.StringIO(text)
    lines: list[str] = []
    starts: list[int] = []
    position = 0
    for line in iter(lambda: stream.readline(LONGEST_LINE + 1), ""):
        if len(line) > LONGEST_LINE:
            raise LogError(
                f"Line {len(lines) + 1} is longer than {LONGEST_LINE} characters; a ride log has one row a line."
            )
        if line.strip():
            lines.append(line.rstrip("\r\n"))
            starts.append(position)
        position += len(line)
        if len(lines) >= SAMPLE_LINES:
            break
    if len(lines) < 2:
        raise LogError("The file has fewer than two lines; a ride log needs a header and rows.")
    best: tuple[str, int, float, list[list[str]]] | None = None
    for candidate in DELIMITERS if delimiter is None else (delimiter,):
        rows = _rows(lines, candidate)
        width, fraction = _usual_width(rows)
        # The first delimiter that splits nearly all lines alike wins; else the one that does best.
        if width and (best is None or (best[2] < 0.8 and fraction > best[2])):
            best = (candidate, width, fraction, rows)
    if best is None or best[2] < 0.3:
        raise LogError(
            "No delimiter splits the lines into columns; accepted are comma, semicolon, tab, | and space."
        )
    split_at, width, _, rows = best
    if width > MOST_COLUMNS:
        raise LogError(f"There are {width} columns; up to {MOST_COLUMNS} are accepted.")
    first = next(i for i, row in enumerate(rows) if len(row) == width)
    cells = [c.strip() for c in rows[first]]
    filled = [c for c in cells if c]
    start = first
    if filled and sum(map(_is_value, filled)) < 0.5 * len(filled):
        names, start = cells, first + 1
        second = [c.strip() for c in rows[start]] if start < len(rows) else []
        units = [c.strip("()[] ").lower().replace(" ", "") for c in second]
        if (
            len(second) == width
            and any(units)
            and all(u in UNIT_OF_SPELLING or u in ("", "-") for u in units)
            and not any(map(_is_value, filter(None, second)))
        ):
            names = [f"{n} ({u})" if u not in ("", "-") else n for n, u in zip(names, units, strict=True)]
            start += 1
    else:
        names = [""] * width
    if start >= len(rows):
        raise LogError("The file has a header but no rows.")
    note = ""
    if decimal is None:
        marked = [match for row in rows[start:] for c in row if (match := _DECIMAL.match(c.strip()))]
        commas = [match.group() for match in marked if match.group(1) == ","]
        decimal = "," if 2 * len(commas) > len(marked) else "."
        if decimal == "," and all(map(THOUSANDS.match, commas)):
            decimal = "," if split_at == ";" else "."
            note = f"Commas are taken as decimal marks: {commas[0]} is {commas[0].replace(',', '.')}."
            if decimal == ".":
                note = f"Commas are taken as marks between thousands: {commas[0]} is {commas[0].replace(',', '')}."
    return Layout(encoding, split_at, decimal, _told_apart(names), text[starts[start] :], note)


def _told_apart(names: list[str]) -> tuple[str, ...]:
    """Names of columns, each once: those without one by their place, those that come again with a number."""
    columns: dict[str, None] = {}
    counts: Counter[str] = Counter()
    for i, name in enumerate(names):
        label = once = name or f"column {i + 1}"
        counts[once] += 1
        while label in columns:
            label = f"{once} #{counts[once]}"
            counts[once] += label in columns
        columns[label] = None
    return tuple(columns)


def count_rows(layout: Layout) -> int:
    """Return the number of lines in the body that are not blank.

    The table reader leaves out a line with more than one field too many without a word; the difference between this
    count and the rows it gives is how many.

    Parameters
    ----------
    layout : Layout
        From `find_layout`.

    Returns
    -------
    int
        Lines, the header not among them.

    Examples
    --------
    >>> count_rows(Layout("utf-8", ",", ".", ("a", "b"), "1,2\\n\\n3,4,5,6\\n"))
    2
    """
    blank = " " if layout.delimiter == "\t" else None
    return sum(1 for line in io.StringIO(layout.body) if line.rstrip("\n").strip(blank))


def read_chunks(layout: Layout, rows: int | None = None) -> Iterator[pd.DataFrame]:
    """Yield the data rows as frames of text, a bounded number at a time.

    Parameters
    ----------
    layout : Layout
        From `find_layout`.
    rows : int, optional
        Stop after so many.

    Yields
    ------
    DataFrame
        One column a name in the file, and last `OVERFLOW`, filled where a row has too many fields.

    Raises
    ------
    LogError
        When the rows cannot be read as a table.
    """
    options: dict[str, Any] = {
        "sep": r"\s+" if layout.delimiter == " " else layout.delimiter,
        "header": None,
        "names": [*layout.columns, OVERFLOW],
        "index_col": False,
        "dtype": "str",
        "nrows": rows,
        "chunksize": min(CHUNK_ROWS, rows or CHUNK_ROWS),
        "skip_blank_lines": True,
        "on_bad_lines": "skip",
        "quoting": csv.QUOTE_MINIMAL if layout.body.count('"') % 2 == 0 else csv.QUOTE_NONE,
    }
    try:
        with warnings.catch_warnings():
            # A row with too many fields is counted through the overflow column.
            warnings.simplefilter("ignore", pd.errors.ParserWarning)
            with pd.read_csv(io.StringIO(layout.body), **options) as reader:
                yield from reader
    except (pd.errors.ParserError, pd.errors.EmptyDataError, ValueError, OverflowError) as error:
        raise LogError(f"The rows cannot be read as a table: {str(error)[:200]}") from None


def times_of(values: ArrayLike, unit: str, decimal: str = ".") -> Floats:
    """Turn a column of times into seconds; nan where there is none.

    Parameters
    ----------
    values : Series
        Cells.
    unit : str
        "ISO 8601", "clock" (hh:mm:ss, mm:ss, with am or pm; anything before it is left out), "hhmmss" (140559.5)
        or a unit of time.
    decimal : str
        "." or ",".

    Returns
    -------
    array of float, shape (n,), s
        Since 1970 for ISO 8601, since midnight for a clock and hhmmss, else since the log's own zero.

    Examples
    --------
    >>> times_of(pd.Series(["0:59.5", "1:00.0"]), "clock").tolist()
    [59.5, 60.0]
    """
    if unit not in TIME_TEXT:
        return numbers_of(values, decimal)
    if unit == "hhmmss":
        numbers = numbers_of(values, decimal)
        hours, minutes, rest = numbers // 10_000, numbers // 100 % 100, numbers % 100
        fine = (numbers >= 0) & (hours < 24) & (minutes < 60) & (rest < 60)
        return np.where(fine, hours * 3600.0 + minutes * 60.0 + rest, np.nan)
    series = short_cells(values)
    if unit == "ISO 8601":
        text = series.str.replace(",", ".", regex=False)
        when = pd.to_datetime(text, errors="coerce", utc=True, format="ISO8601")
        origin = pd.Timestamp("1970-01-01", tz="UTC")
        seconds = ((when - origin) / pd.Timedelta(seconds=1)).to_numpy(float, na_value=np.nan)
    else:
        parts = series.str.extract(_CLOCK_PARTS)
        one, two, three = (
            pd.to_numeric(parts[i], errors="coerce").to_numpy(float, na_value=np.nan) for i in range(3)
        )
        behind = pd.to_numeric("0." + parts[3].fillna("0"), errors="coerce").to_numpy(float, na_value=np.nan)
        half = parts[4].fillna("").str.lower().to_numpy()
        hours = np.where(half == "", one, one % 12 + 12.0 * (half == "p"))
        seconds = np.where(np.isnan(three), one * 60.0 + two, hours * 3600.0 + two * 60.0 + three)
        seconds = seconds + behind
    return np.asarray(seconds, float)
