"""What change makes a build reach a target: single changes, pairs of them, and the levers
they move; and what keeps a pull from a cut-out."""

from physics.studies.target.levers import Lever, default_levers, saving_levers
from physics.studies.target.outcome import Goal, Outcome
from physics.studies.target.pair_change import PairChange, best_pairs
from physics.studies.target.single_change import Change, TargetResult, reach_target
from physics.studies.target.survival import Saving, Survival, what_saves

__all__ = [
    "Change",
    "Goal",
    "Lever",
    "Outcome",
    "PairChange",
    "Saving",
    "Survival",
    "TargetResult",
    "best_pairs",
    "default_levers",
    "reach_target",
    "saving_levers",
    "what_saves",
]
