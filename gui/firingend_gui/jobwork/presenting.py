"""From jobs in the store to what the window shows."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Final

from firingend_gui import wording
from firingend_gui.presenting import swatch_of
from firingend_gui.states import (
    CylinderTimeState,
    DoneState,
    JobLineState,
    JobListState,
    JobState,
    OfferState,
    OverTimeState,
    PictureRef,
    StagePlugState,
    VisitState,
)

if TYPE_CHECKING:
    from pathlib import Path

    from firingend.jobs.card import Cause, JobCard, Stage
    from firingend.jobs.job import JobLine
    from firingend.jobs.over_time import Seen, Visit
    from firingend.jobs.watch import Offered
    from firingend_gui.jobwork.keeper import Keeper
    from firingend_gui.jobwork.shelf import OverTime

CHANGES_SHOWN: Final = 40
SIDE: Final = 4.0
"""Steps of L* from which lighter and darker are worth saying; common practice, no source."""

STAGES: Final[tuple[Stage, ...]] = ("before", "after", "later")


def head(keeper: Keeper) -> JobState:
    """The open job for the head of the window."""
    job = keeper.job
    assert job is not None
    card = job.card
    facts = [f"Job {job.number}", card.customer, card.mark]
    kept = "Not kept yet" if keeper.not_kept else f"Kept, state {job.revision}"
    said = " · ".join(fact for fact in facts if fact)
    return JobState(job.number, said, card.status, keeper.stage, kept, keeper.not_kept)


def on_the_card(card: JobCard) -> tuple[DoneState, ...]:
    """What is on a card beside plugs and checks."""
    return tuple(DoneState(words) for words in _card_lines(card))


def _card_lines(card: JobCard) -> Iterator[str]:
    from firingend.jobs.currencies import major

    currency = card.rates.currency
    for measured in card.measurements.values():
        said = f" ({measured.condition})" if measured.condition else ""
        what = wording.capital(measured.what.replace("-", " "))
        yield f"{what}, {measured.where}: {measured.value:g} {measured.unit}{said}"
    for cause in card.found.values():
        yield f"Found: {_cause(cause)}"
    for cause in card.ruled_out.values():
        yield f"Ruled out: {_cause(cause)}"
    if card.fixed:
        yield f"Repaired: {card.fixed}"
    for part in card.parts.values():
        cost = wording.money(major(part.cost_minor, currency), currency)
        yield f"Part: {part.count} × {part.name}, {cost}"
    for work in card.work.values():
        yield f"Time: {wording.duration(work.minutes)} on {work.what}"
    if card.work or card.parts:
        spent = wording.money(major(card.spent_minor, currency), currency)
        yield f"Together: {wording.duration(card.minutes)}, {spent}"
    for note in card.notes.values():
        yield f"Note: {note.text}"


def job_list(lines: tuple[JobLine, ...], more: bool, searched: bool) -> JobListState:
    """The list of jobs."""
    hint = ""
    if not lines:
        hint = "No job matches." if searched else "No job yet. Describe an engine, then press “Keep as job…”."
    return JobListState(tuple(_line(line) for line in lines), more, hint)


def _line(line: JobLine) -> JobLineState:
    opened, photos = wording.day(line.opened_at), str(line.photos)
    status = wording.STATUS_WORDS.get(line.status, line.status)
    spoken = f"Job {line.number}, {status}, {line.name}, {line.engine}, {line.customer or 'no customer'}, {opened}"
    return JobLineState(line.number, opened, status, line.name, line.engine, line.customer, photos, spoken)


def over_time(told: OverTime) -> OverTimeState:
    """Before beside after, the engine's jobs, and every change."""
    card = told.job.card
    sizes = {
        photo.sha256: (card.readings[key].reading.width, card.readings[key].reading.height)
        for key, photo in card.photos.items()
        if key in card.readings
    }
    engine = " · ".join(fact for fact in (card.engine.name if card.engine else "", card.mark) if fact)
    from firingend_gui.jobwork.keeper import change_words

    return OverTimeState(
        f"Job {told.job.number} over time: {engine}",
        tuple(_cylinder(cylinder, stages, sizes) for cylinder, stages in told.plugs.items()),
        tuple(_visit(visit, visit.number == told.job.number) for visit in reversed(told.visits)),
        tuple(wording.capital(change_words(change)) for change in told.changes[: -CHANGES_SHOWN - 1 : -1]),
    )


def _cylinder(cylinder: int, stages: Mapping[Stage, Seen], sizes: Mapping[str, tuple[int, int]]) -> CylinderTimeState:
    before = stages.get("before")
    plugs = tuple(
        _plug(stage, stages.get(stage), before, sizes) for stage in STAGES if stage != "later" or stage in stages
    )
    said = "; ".join(f"{plug.stage_words}: {plug.label_words or plug.words}" for plug in plugs)
    return CylinderTimeState(f"Cylinder {cylinder}", plugs, f"Cylinder {cylinder}: {said}")


def _plug(stage: str, seen: Seen | None, before: Seen | None, sizes: Mapping[str, tuple[int, int]]) -> StagePlugState:
    from firingend.report.words import label_words

    stage_words = wording.capital(wording.STAGE_WORDS[stage])
    if seen is None:
        return StagePlugState(stage_words, None, "No plug yet", "", "", "", None, "")
    reading, kept = seen.reading, seen.photo
    picture, words = None, "Label given by hand"
    if kept is not None and kept.state == "there":
        width, height = sizes.get(kept.sha256, (0, 0))
        box = reading.firing_end.box if reading.firing_end is not None else None
        picture, words = PictureRef(kept.file, box, (), width, height), ""
    elif kept is not None:
        words = f"Photo {kept.state}: firingend store check says how to mend it"
    chance = reading.probabilities.get(reading.label)
    shown = "" if chance is None or kept is None else wording.percent(chance)
    change = "" if seen is before or before is None else _change(before, seen)
    return StagePlugState(
        stage_words, picture, words, reading.label, label_words(reading.label), shown, swatch_of(reading), change
    )


def _change(before: Seen, after: Seen) -> str:
    """What became of the colour of the nose."""
    from firingend.photo.colour import ciede2000
    from firingend.reading.zone_colour import part_lab

    one, other = part_lab(before.reading.zones), part_lab(after.reading.zones)
    if one is None or other is None:
        return ""
    lighter = other[0] - one[0]
    side = "lighter than" if lighter >= SIDE else "darker than" if lighter <= -SIDE else "about as light as"
    difference = float(ciede2000(one, other))
    return f"Nose {side} before (colour difference {difference:.0f} by CIEDE2000); it may be the light"


def _visit(visit: Visit, here: bool) -> VisitState:
    from firingend.jobs.currencies import major
    from firingend.report.words import label_words

    status = wording.STATUS_WORDS.get(visit.status, visit.status)
    name = f"Job {visit.number}, {wording.when(visit.opened_at)}: {status}"
    lines = [f"Complaint: {visit.complaint}"] if visit.complaint else []
    if visit.labels:
        lines.append(" · ".join(f"{cylinder} {label_words(label)}" for cylinder, label in visit.labels.items()))
    if visit.found:
        lines.append("Found: " + "; ".join(_cause(cause) for cause in visit.found))
    if visit.fixed:
        lines.append(f"Repaired: {visit.fixed}")
    if visit.minutes or visit.spent_minor:
        spent = wording.money(major(visit.spent_minor, visit.currency), visit.currency)
        lines.append(f"It took {wording.duration(visit.minutes)}, {spent}")
    if visit.work is not None:
        lines.append(_saved(visit.work.saved.minutes, visit.work.saved.money, visit.currency))
    return VisitState(visit.number, name, tuple(lines), here)


def _saved(minutes: float, money: float, currency: str) -> str:
    """Looking for the cause against the fixed order, by the knowledge's minutes."""
    if abs(minutes) < 1 and abs(money) < 1:
        return "Looking took as long as the same order on every engine would have"
    spared = f"{wording.duration(abs(minutes))} and {wording.money(abs(money), currency)}"
    return f"Looking took {spared} {'less' if money >= 0 else 'more'} than the same order on every engine"


def _cause(cause: Cause) -> str:
    name = wording.capital(cause.cause.replace("-", " "))
    return name if cause.where in ("", "engine") else f"{name} ({cause.where})"


def offer(folder: Path, photos: tuple[Offered, ...], stage: str) -> OfferState:
    """Photographs of the watched folder."""
    count = len(photos)
    named = ", ".join(f"{each.file.name} ({each.taken:%H:%M})" for each in photos[:4])
    more = f" and {count - 4} more" if count > 4 else ""
    came = "1 photo came" if count == 1 else f"{count} photos came"
    return OfferState(
        f"{came} into {folder.name}. Add to this job, plugs {wording.STAGE_WORDS[stage]}?",
        f"In the order they were taken: {named}{more}",
        PictureRef(photos[0].file, None),
    )
