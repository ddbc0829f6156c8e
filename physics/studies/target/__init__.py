"""What change makes a build reach a target: single changes, pairs of them, and the levers they move."""

from physics.studies.target.levers import Lever, default_levers
from physics.studies.target.outcome import Goal, Outcome
from physics.studies.target.pair_change import PairChange, best_pairs
from physics.studies.target.single_change import Change, TargetResult, reach_target

__all__ = [
    "Change",
    "Goal",
    "Lever",
    "Outcome",
    "PairChange",
    "TargetResult",
    "best_pairs",
    "default_levers",
    "reach_target",
]
