"""A job card as a case that can be compared, diagnosed and reported on."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

from firingend.cases.case import Case, CaseResult, PlacedPhoto
from firingend.cases.run import assess, place_readings
from firingend.errors import CaseError, PhotoError
from firingend.jobs.card import JobCard, JobReading, Rates, Stage, TypedLabel, new_key, to_json
from firingend.jobs.currencies import major, minor
from firingend.jobs.job import Job
from firingend.jobs.store import KeptPhoto, Store
from firingend.reading.reading import PhotoReading


def case_of(card: JobCard, kept: Mapping[str, KeptPhoto], stage: Stage) -> tuple[Case, tuple[str, ...]]:
    """The card's plugs at one stage as a case, and the key of each of its photographs.

    Of two photographs or labels of one cylinder the one written down last counts; what an older photograph of a row
    shows of the other cylinders counts on.

    Raises
    ------
    CaseError
        Nobody has said which engine it is.
    """
    if card.engine is None:
        raise CaseError("the card says nothing about the engine", "open the job with --engine or from a case file")
    photos, typed, keys, seen = [], {}, [], set[int]()
    entries: list[tuple[str, object]] = [*card.photos.items(), *card.typed.items()]
    for key, entry in sorted(entries, key=lambda item: item[0], reverse=True):
        if isinstance(entry, TypedLabel):
            if entry.stage == stage and entry.cylinder not in seen and entry.cylinder in card.engine.cylinders:
                typed[entry.cylinder] = entry.as_plug()
                seen.add(entry.cylinder)
            continue
        photo = card.photos[key]
        counting = tuple(cylinder for cylinder in photo.cylinders if cylinder not in seen)
        usable = counting and set(photo.cylinders) <= set(card.engine.cylinders) and key in kept
        if photo.stage == stage and usable and (kept[key].state == "there" or key in card.readings):
            photos.append(PlacedPhoto(kept[key].file, counting, photo.across))
            keys.append(key)
            seen |= set(counting)
    case = Case(
        name=card.name,
        engine=card.engine,
        complaint=card.complaint,
        symptoms=card.symptoms,
        photos=tuple(photos[::-1]),
        typed=typed,
        # Checks and numbers were taken on the engine as it came in.
        outcomes=tuple(card.outcomes.values()) if stage == "before" else (),
        measurements=tuple(card.measurements.values()) if stage == "before" else (),
        run=card.run,
        rate_per_hour=major(card.rates.hour_minor, card.rates.currency),
        currency=card.rates.currency,
    )
    return case, tuple(keys[::-1])


def assess_job(
    store: Store, job: Job, stage: Stage = "before", read: Callable[[Path], PhotoReading] | None = None
) -> CaseResult:
    """What the plugs of a job say together, from the readings kept; photographs not read yet are read now.

    One that was damaged before it was read is left out.

    Raises
    ------
    CaseError
        The card says nothing about the engine, or a photograph does not show what is written about it.
    """
    card = job.card
    case, keys = case_of(card, store.photos_of(job), stage)
    photos, readings = [], []
    for key, photo in zip(keys, case.photos, strict=True):
        if key in card.readings:
            reading = replace(card.readings[key].reading, file=photo.file)
        else:
            try:
                reading = (read or _reader())(photo.file)
            except PhotoError:
                continue  # damaged since it was kept: the card says so, and the other plugs are still worth a report
        readings.append(narrowed(card, key, reading, photo.cylinders))
        photos.append(photo)
    return assess(replace(case, photos=tuple(photos)), readings)


def narrowed(card: JobCard, key: str, reading: PhotoReading, cylinders: tuple[int, ...]) -> PhotoReading:
    """What was read off a photograph, of these of its cylinders only.

    Raises
    ------
    CaseError
        It does not show what is written about it.
    """
    photo = card.photos[key]
    if card.engine is None or cylinders == photo.cylinders:
        return reading
    placed = PlacedPhoto(Path(photo.name), photo.cylinders, photo.across)
    seen = place_readings(Case(name="", engine=card.engine, photos=(placed,)), [reading])
    return replace(reading, readings=tuple(seen[cylinder] for cylinder in cylinders))


def what_does_not_fit(card: JobCard, key: str) -> str:
    """Why what was read off a photograph cannot be told apart by cylinder; empty where it can."""
    photo = card.photos[key]
    if card.engine is None or not photo.cylinders or key not in card.readings:
        return ""
    placed = PlacedPhoto(Path(photo.name), photo.cylinders, photo.across)
    try:
        place_readings(Case(name="", engine=card.engine, photos=(placed,)), [card.readings[key].reading])
    except CaseError as error:
        return str(error)
    return ""


def reading_field(key: str, reading: PhotoReading, name: str, networks: str = "") -> tuple[str, object]:
    """Path and plain value of a reading on a card; the outlines of its zones are left out."""
    ends = tuple(
        replace(end, zones=tuple(replace(zone, outlines=()) for zone in end.zones)) for end in reading.readings
    )
    kept = JobReading(replace(reading, file=Path(name), readings=ends), networks)
    return f"readings/{key}", to_json("readings/a", kept)


def fields_of(case: Case) -> dict[str, object]:
    """What a case file says, as the first fields of a card; its photographs are added one by one."""
    fields: dict[str, object] = {
        "name": case.name[:500],
        "engine": to_json("engine", case.engine),
        "complaint": case.complaint,
        "run": to_json("run", case.run),
        "rates": to_json("rates", Rates(minor(case.rate_per_hour, case.currency), case.currency)),
    }
    fields.update({f"symptoms/{name}": there for name, there in case.symptoms.items()})
    for cylinder, plug in case.typed.items():
        label = TypedLabel(cylinder, plug.label, plug.sure, plug.signs)
        fields[f"typed/{new_key()}"] = to_json("typed/a", label)
    for outcome in case.outcomes:
        fields[f"outcomes/{new_key()}"] = to_json("outcomes/a", outcome)
    for measurement in case.measurements:
        fields[f"measurements/{new_key()}"] = to_json("measurements/a", measurement)
    return fields


def _reader() -> Callable[[Path], PhotoReading]:
    from firingend.reading import reader

    return reader.read_photo
