"""From remembered facts to the bike that gives them: samples of the unknowns, run under each fact's conditions."""

from physics.studies.recollection.next_fact import NextFact, next_fact
from physics.studies.recollection.predict import Unknowns, predictions, unknowns_of
from physics.studies.recollection.recollect import recollect

__all__ = ["NextFact", "Unknowns", "next_fact", "predictions", "recollect", "unknowns_of"]
