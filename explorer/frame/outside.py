"""What the page asks of other machines: nothing."""

from __future__ import annotations

from streamlit import net_util

THIS_MACHINE = "127.0.0.1"


def ask_nobody() -> None:
    """Keep Streamlit from asking an outside service for this machine's address when a foreign page calls.

    It asks once and keeps the answer. There is no setting for that, so the answer is given beforehand: this machine
    alone, whose pages it lets in anyway.
    """
    for kept in ("_external_ip", "_internal_ip"):
        setattr(net_util, kept, THIS_MACHINE)
