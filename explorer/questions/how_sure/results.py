"""How sure the prediction is: the longer work beside the page. Numbers only."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from physics.build import Build
from physics.studies.uncertainty import Likely, Sensitivity, Tolerance, likely, sensitivity

SAMPLES, BASE = 1024, 512
"""For the section itself, beside the page: samples of bands and chances, and rows of the ranking's design."""

CHUNK_MEMORY = 2**24
"""Bytes; small chunks leave the page its turn, and a stop is heard soon."""


@dataclass(frozen=True)
class Sure:
    """What was found.

    Attributes
    ----------
    likely : Likely or None
        Bands and chances, None where nothing was run.
    sensitivity : Sensitivity or None
        Which unknown matters most, None where the search was stopped.
    """

    likely: Likely | None
    sensitivity: Sensitivity | None


def search(
    build: Build, known: tuple[Tolerance, ...], target_speed: float, duration: float
) -> Callable[[Callable[[int, int], None], Callable[[], bool]], Sure]:
    """The work of a background job.

    Parameters
    ----------
    build, known, target_speed, duration
        As `physics.studies.uncertainty.bands.likely` takes them.

    Returns
    -------
    callable
        For `explorer.frame.background_job.Job`.
    """

    def work(progress: Callable[[int, int], None], cancelled: Callable[[], bool]) -> Sure:
        whole = SAMPLES + BASE * (len(known) + 2)
        bands = likely(
            build,
            target_speed,
            known,
            duration,
            count=SAMPLES,
            cancelled=cancelled,
            memory=CHUNK_MEMORY,
            progress=lambda done, _: progress(done, whole),
        )
        ranked = None
        if not cancelled():
            ranked = sensitivity(
                build,
                known,
                duration,
                base=BASE,
                cancelled=cancelled,
                memory=CHUNK_MEMORY,
                progress=lambda done, _: progress(SAMPLES + done, whole),
            )
        return Sure(bands, ranked)

    return work
