"""Prose for keeping and sharing builds."""

from __future__ import annotations

from explorer.state.share_link import MOST_BUILDS

SWITCH = "The inputs and the whole page belong to this build. The others stay as they are."
COPY = "This build stays as it is; from here on you change a copy of it. The two stand side by side further down."
REMOVE = "Takes away the build that is being edited. Undo brings it back."
OPEN = "A file that was saved here. Its builds are put beside yours; nothing of yours is lost."
LINK = (
    "Or copy this link: it holds all your builds and the baseline. It works where this page runs at the same "
    "address; elsewhere, put the part from the question mark on behind that page's address."
)


def taken_in(names: list[str], count: int) -> str:
    """What was opened, in a sentence."""
    if not names:
        return f"There is room for {MOST_BUILDS} builds. Remove one first; nothing was opened."
    listed = ", ".join(f"“{name}”" for name in names)
    text = f"Opened {listed}; undo takes {'it' if len(names) == 1 else 'them'} away again."
    if len(names) < count:
        text += f" {count - len(names)} more did not fit: there is room for {MOST_BUILDS} builds."
    return text
