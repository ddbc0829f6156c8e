"""JSON files of our own, read whoever wrote them: size, text, schema and version, each fault a plain sentence."""

from __future__ import annotations

import json
from collections import Counter
from typing import Any

from explorer.inputs.spec import quoted

MOST_SENTENCES = 8


class RefusedError(ValueError):
    """A file of which nothing can be used; its text is a sentence that says why."""


def content_of(data: bytes, schema: str, version: int, kind: str, largest: int) -> tuple[dict[str, Any], list[str]]:
    """The table in a file.

    Parameters
    ----------
    data : bytes
        The file.
    schema : str
        Name under which the version stands.
    version : int
        The one that is read.
    kind : str
        What the file is called, as in "build file".
    largest : int
        Bytes.

    Returns
    -------
    (dict, list of str)
        And a sentence for each key that stands twice in one place.

    Raises
    ------
    RefusedError
        Where nothing in it can be used.
    """
    if len(data) > largest:
        raise RefusedError(f"The file is larger than {largest // 1000} kB, which no {kind} is.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise RefusedError(f"The file is not text in UTF-8, as a {kind} is.") from None
    twice: list[str] = []
    try:
        content = json.loads(text, object_pairs_hook=lambda pairs: _told(pairs, twice))
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, character {error.colno}"
        raise RefusedError(f"The file is not JSON: it breaks at {where}.") from None
    except (ValueError, RecursionError):
        raise RefusedError(f"The file is not JSON that a {kind} could hold.") from None
    if not isinstance(content, dict) or schema not in content:
        raise RefusedError(f"The file is not a {kind} of this page: it holds no “{schema}”.")
    found = content[schema]
    if found is None:
        raise RefusedError(
            f"The file does not say for which version of {kind}s it was written; this page reads version {version}."
        )
    if found != version or isinstance(found, bool):
        raise RefusedError(
            f"The file was written as version {in_words(found)} of {kind}s; this page reads version {version}."
        )
    return content, [f"The file holds {quoted(key)} more than once in one place. The last counts." for key in twice]


def items_of(content: dict[str, Any], name: str, most: int) -> tuple[list[Any], list[str]]:
    """What the table of a file lists.

    Parameters
    ----------
    content : dict
        As `content_of` gives it.
    name : str
        Of the list; what it holds, in the plural.
    most : int
        How many of them are looked at.

    Returns
    -------
    (list, list of str)
        And a sentence where there are more.

    Raises
    ------
    RefusedError
        Where there is no list, or it is empty.
    """
    listed = content.get(name)
    if not isinstance(listed, list) or not listed:
        raise RefusedError(f"The file holds no list of {name}.")
    more = f"The file holds {len(listed)} {name}; the first {most} were looked at."
    return listed[:most], [more] if len(listed) > most else []


def _told(pairs: list[tuple[str, Any]], twice: list[str]) -> dict[str, Any]:
    """A table of the file; the keys that stand in it more than once are noted."""
    table = dict(pairs)
    if len(table) < len(pairs):
        counts = Counter(key for key, _ in pairs)
        twice += [key for key, count in counts.items() if count > 1 and key not in twice]
    return table


def is_number(value: Any) -> bool:
    """Whether a value of a file is a number that a float holds."""
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e300


def in_words(value: Any) -> str:
    """A value of a file in a sentence."""
    if isinstance(value, list | dict):
        return "a list" if isinstance(value, list) else "a table"
    return "nothing" if value is None else quoted(str(value).lower() if isinstance(value, bool) else value)


def few(sentences: list[str]) -> list[str]:
    """The first sentences, and how many more there are."""
    if len(sentences) <= MOST_SENTENCES:
        return sentences
    more = len(sentences) - MOST_SENTENCES
    return [*sentences[:MOST_SENTENCES], f"And {more} more things in the file could not be used as they were."]
