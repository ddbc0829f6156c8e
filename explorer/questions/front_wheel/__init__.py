"""Front wheel and power levels: where the front goes light and lifts, feel in numbers, the levels side by side."""

from explorer.questions.front_wheel.results import front_answer_of as work_out
from explorer.questions.front_wheel.section import TITLE, draw

__all__ = ["TITLE", "draw", "work_out"]
