"""Read every photograph of a set, several at a time, and judge it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Final, TypeVar

from firingend.errors import PhotoError
from firingend.evaluation.judging import Judged, judge
from firingend.evaluation.photo_set import PhotoSet, TruePicture
from firingend.reading.finder import Finder
from firingend.reading.reader import Reader, read_photo
from firingend.reading.reading import PhotoReading

ReadPhoto = Callable[[Path], PhotoReading]
"""Reads one photograph; must bear being called from several threads."""

Progress = Callable[[int, int], None]
"""Told how many photographs of how many are done."""

WORKERS: Final = 2

ItemT = TypeVar("ItemT")
ResultT = TypeVar("ResultT")


@dataclass(frozen=True, slots=True)
class Trial:
    """Every photograph of a set, judged.

    Attributes
    ----------
    judged
        In the order of the set.
    unopened
        File name and what is wrong with it, for files that could not be read; their plugs count as not found.
    """

    judged: tuple[Judged, ...]
    unopened: tuple[tuple[str, str], ...]


def reader_of(models: Path | None = None) -> ReadPhoto:
    """The public reader with the networks in a folder, the shipped ones by default."""
    return partial(read_photo, finder=Finder(models, 1), reader=Reader(models, 1))


def try_set(photo_set: PhotoSet, read: ReadPhoto, *, workers: int = WORKERS, progress: Progress | None = None) -> Trial:
    """Read and judge a set.

    Raises
    ------
    UserError
        When the networks cannot be used; a photograph that cannot be read is no error but counts as not found.
    """
    jobs = in_threads(partial(_try_picture, read=read), photo_set.pictures, workers)
    judged, unopened = [], []
    for done, (one, problem) in enumerate(jobs, 1):
        judged.append(one)
        if problem:
            unopened.append(problem)
        if progress:
            progress(done, len(photo_set.pictures))
    return Trial(tuple(judged), tuple(unopened))


def in_threads(work: Callable[[ItemT], ResultT], items: Sequence[ItemT], workers: int) -> Iterator[ResultT]:
    """Results in the order of the items; decoding and inference release Python's lock, so threads do.

    After an error, work not yet begun is dropped.
    """
    with ThreadPoolExecutor(workers) as pool:
        results: Iterable[ResultT] = pool.map(work, items)
        try:
            yield from results
        except BaseException:
            pool.shutdown(cancel_futures=True)
            raise


def _try_picture(truth: TruePicture, read: ReadPhoto) -> tuple[Judged, tuple[str, str] | None]:
    try:
        return judge(truth, read(truth.file)), None
    except PhotoError as error:
        return judge(truth, None), (truth.file.name, str(error))
