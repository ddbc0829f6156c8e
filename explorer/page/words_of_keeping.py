"""Prose for keeping and sharing builds."""

from __future__ import annotations

from explorer.state.share_link import MOST_BUILDS

SWITCH = "The inputs and the whole page are for this build. The others stay as they are."
COPY = "Keeps this build as it is and lets you edit a copy. The two are compared further down."
REMOVE = "Removes the build you are editing. Undo brings it back."
OPEN = "A file saved from this page. Its builds are added to yours; nothing of yours is lost."
LINK = (
    "Or copy this link: it holds all your builds and the baseline. It works wherever this page runs at the same "
    "address; elsewhere, add everything from the question mark on to that page's address."
)


def taken_in(names: list[str], count: int) -> str:
    """What was opened, in a sentence."""
    if not names:
        return f"There is room for {MOST_BUILDS} builds. Remove one first; nothing was opened."
    listed = ", ".join(f"“{name}”" for name in names)
    text = f"Opened {listed}; undo removes {'it' if len(names) == 1 else 'them'} again."
    if len(names) < count:
        text += f" {count - len(names)} more did not fit: there is room for {MOST_BUILDS} builds."
    return text
