"""Evaluate the reader on a set: read it, judge it, score it."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

from firingend.evaluation.bootstrap import REPEATS
from firingend.evaluation.corrupt_set import Spoilt, try_spoilt
from firingend.evaluation.photo_set import PhotoSet
from firingend.evaluation.run import WORKERS, Progress, ReadPhoto, Trial, try_set
from firingend.evaluation.scores import Scores, score


@dataclass(frozen=True, slots=True)
class Evaluation:
    """Everything that came out of evaluating one set.

    Attributes
    ----------
    photo_set
        What was evaluated.
    trial
        Every photograph, judged.
    scores
        Every measure.
    spoilt
        How the photographs were read when spoilt step by step; empty when that was not asked for.
    seconds
        Wall-clock time of reading the set once.
    seed
        Of resampling and spoiling.
    """

    photo_set: PhotoSet
    trial: Trial
    scores: Scores
    spoilt: tuple[Spoilt, ...]
    seconds: float
    seed: int


def evaluate(
    photo_set: PhotoSet,
    read: ReadPhoto,
    *,
    corrupt: int = 0,
    workers: int = WORKERS,
    repeats: int = REPEATS,
    seed: int = 0,
    progress: Callable[[str], Progress] | None = None,
) -> Evaluation:
    """Evaluate a reader on a set.

    Parameters
    ----------
    photo_set
        From `load_set.load_set`.
    read
        Reads one photograph; `run.reader_of` gives the public reader.
    corrupt
        Photographs to spoil for the corruption curve; 0 leaves it out, ``corrupt_set.LIMIT`` is a good number.
    workers
        Photographs read at a time.
    repeats, seed
        Of the bootstrap; the seed also of the spoiling.
    progress
        Given the name of a task, returns what is told how far it is.

    Raises
    ------
    UserError
        When the networks cannot be used.
    """
    begun = time.perf_counter()
    trial = try_set(photo_set, read, workers=workers, progress=progress and progress("reading"))
    seconds = time.perf_counter() - begun
    spoilt: tuple[Spoilt, ...] = ()
    if corrupt:
        told = progress and progress("reading spoilt photographs")
        spoilt = try_spoilt(photo_set, read, limit=corrupt, seed=seed, workers=workers, progress=told)
    scores = score(trial.judged, repeats=repeats, seed=seed)
    return Evaluation(photo_set, trial, scores, spoilt, seconds, seed)
