"""What would it take: the smallest single changes that reach the target, and the best pairs, one click each."""

from explorer.questions.what_gets_me_there.section import TITLE, ahead, draw

__all__ = ["TITLE", "ahead", "draw"]
