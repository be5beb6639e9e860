"""A case from its photographs to the next check."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from firingend.cases.case import Case, CaseResult, PlacedPhoto, TypedPlug
from firingend.comparison.compare import compare
from firingend.engine.build import list_cylinders
from firingend.errors import BugError, CaseError
from firingend.labels import LABELS, UNREADABLE
from firingend.reading.reading import PhotoReading, Reading, Reason

SIGN_SEEN = 0.95
"""Probability of a sign that a person wrote down."""

NO_PLUG = 0.5
"""Probability from which something found is taken to be no plug where too much was found."""


def run_case(case: Case, read: Callable[[Path], PhotoReading] | None = None) -> CaseResult:
    """Read the photographs of a case, compare the cylinders and rank causes and checks.

    Parameters
    ----------
    case
        The case.
    read
        Reads one photograph; the shipped reader when not given.

    Raises
    ------
    PhotoError
        A photograph cannot be read.
    CaseError
        A photograph shows more or fewer firing ends than cylinders are written down for it.
    """
    if read is None and case.photos:
        from firingend.reading.reader import read_photo

        read = read_photo
    photo_readings = tuple(read(photo.file) for photo in case.photos) if read else ()
    return assess(case, photo_readings)


def assess(case: Case, photo_readings: Sequence[PhotoReading]) -> CaseResult:
    """As `run_case`, with photographs that were read already: one for each of ``case.photos``, in order."""
    from firingend.diagnosis.diagnose import diagnose

    if len(photo_readings) != len(case.photos):
        raise BugError(f"{len(photo_readings)} photo readings for {len(case.photos)} photographs")
    readings = place_readings(case, photo_readings)
    comparison = compare(case.engine, readings)
    diagnosis = diagnose(case.evidence(readings))
    return CaseResult(case, tuple(photo_readings), readings, comparison, diagnosis)


def place_readings(case: Case, photo_readings: Sequence[PhotoReading]) -> Mapping[int, Reading]:
    """Reading of each plug by cylinder number, in the engine's order."""
    placed = {cylinder: typed_reading(plug) for cylinder, plug in case.typed.items()}
    for photo, photo_reading in zip(case.photos, photo_readings, strict=True):
        placed.update(_match(photo, photo_reading))
    return {cylinder: placed[cylinder] for cylinder in case.engine.cylinders if cylinder in placed}


def typed_reading(plug: TypedPlug) -> Reading:
    """The reading that stands for a label typed in by hand.

    Examples
    --------
    >>> typed_reading(TypedPlug("wet", sure=0.8)).probabilities["lean-white"]
    0.05
    """
    signs = dict.fromkeys(plug.signs, SIGN_SEEN)
    if plug.label == UNREADABLE:
        reason = Reason("typed-unreadable", "written down as unreadable", "photograph it, or write a label down")
        even = dict.fromkeys(LABELS, 1 / len(LABELS))
        return Reading(None, UNREADABLE, even, (reason,), signs=signs)
    rest = round((1 - plug.sure) / (len(LABELS) - 1), 12)
    probabilities = {label: plug.sure if label == plug.label else rest for label in LABELS}
    return Reading(None, plug.label, probabilities, signs=signs)


def _match(photo: PlacedPhoto, photo_reading: PhotoReading) -> Mapping[int, Reading]:
    expected = len(photo.cylinders)
    readings = _firing_ends(photo_reading, expected)
    found = len(readings)
    if expected == 1 and not found:
        return {photo.cylinders[0]: _nothing_found(photo_reading)}
    if found != expected:
        ends = "1 firing end was" if found == 1 else f"{found or 'no'} firing ends were"
        cylinders = f"cylinder{'s' if expected > 1 else ''} {list_cylinders(photo.cylinders)}"
        raise CaseError(
            f"{ends} found in {photo.file.name} but it is written down for {cylinders}",
            "photograph the plugs again with all of them, and nothing else, in the frame, "
            "or list the cylinders the photograph shows",
        )
    if expected > 1 and _runs_across(readings) != photo.across:
        runs, ends = ("top to bottom", '"top" or "bottom"') if photo.across else ("left to right", '"left" or "right"')
        raise CaseError(
            f"the row in {photo.file.name} runs {runs}, which does not fit the end named as first",
            f"write first = {ends}",
        )
    return dict(zip(photo.cylinders, readings, strict=True))


def _firing_ends(photo_reading: PhotoReading, expected: int) -> tuple[Reading, ...]:
    """The readings to match: those that are plausibly plugs, or all where only that gives the number expected."""
    plugs = tuple(reading for reading in photo_reading.readings if reading.not_a_plug < NO_PLUG)
    if len(plugs) != expected and len(photo_reading.readings) == expected:
        return photo_reading.readings
    return plugs or photo_reading.readings


def _nothing_found(photo_reading: PhotoReading) -> Reading:
    reasons = photo_reading.reasons or (
        Reason("no-firing-end", "no firing end was found", "photograph the plug closer and in focus"),
    )
    even = dict.fromkeys(LABELS, 1 / len(LABELS))
    return Reading(None, UNREADABLE, even, reasons, quality=photo_reading.quality)


def _runs_across(readings: tuple[Reading, ...]) -> bool:
    boxes = [reading.firing_end.box for reading in readings if reading.firing_end]
    across = [x0 + x1 for x0, _, x1, _ in boxes]
    down = [y0 + y1 for _, y0, _, y1 in boxes]
    return not boxes or max(across) - min(across) >= max(down) - min(down)
