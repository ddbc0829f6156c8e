"""Which pack, and how much power can it give: packs on offer side by side, and what the present one gives."""

from explorer.questions.packs_on_offer.results import ahead
from explorer.questions.packs_on_offer.results import burst_of as work_out
from explorer.questions.packs_on_offer.section import TITLE, draw

__all__ = ["TITLE", "ahead", "draw", "work_out"]
