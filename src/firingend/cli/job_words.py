"""Jobs as tables on the terminal, and as plain data for ``--json``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from firingend.cli.tables import make_console
from firingend.jobs.currencies import major
from firingend.jobs.over_time import work_of
from firingend.report.figures import chance, minutes, money
from firingend.report.words import label_words

if TYPE_CHECKING:
    from firingend.diagnosis.fixed_order import OrderOfWork
    from firingend.jobs.card import Cause, JobCard, Stage
    from firingend.jobs.change import Change
    from firingend.jobs.job import Job, JobLine
    from firingend.jobs.over_time import Seen, Visit
    from firingend.jobs.store import KeptPhoto, Store


def print_lines(lines: Sequence[JobLine]) -> None:
    """Print a list of jobs."""
    console = make_console()
    if not lines:
        console.print("no job matches")
        return
    table = _table("job", "opened", "status", "name", "engine", "customer", "photos")
    for line in lines:
        day = f"{line.opened_at:%Y-%m-%d}"
        table.add_row(*_texts(line.number, day, line.status, line.name, line.engine, line.customer, line.photos))
    console.print(table)


def print_card(store: Store, job: Job) -> None:
    """Print a card."""
    console, card = make_console(), job.card
    console.print(Text(f"Job {job.number}: {card.name}", style="bold"))
    for name, value in _heads(job, card):
        if value:
            console.print(f"  {name}: {value}")
    _print_photos(console, card, store.photos_looked_at(job))
    _print_entries(console, card)
    if card.work or card.parts:
        spent = money(major(card.spent_minor, card.rates.currency), card.rates.currency)
        console.print(f"  together: {minutes(card.minutes)}, {spent}")
    if work := work_of(store, job):
        console.print(f"  looking for the cause: {_against_fixed_order(work, card.rates.currency)}")


def _against_fixed_order(work: OrderOfWork, currency: str) -> str:
    """By the knowledge's minutes and parts: what looking took, and what the fixed order would have."""
    looked, fixed = (f"{minutes(each.minutes)}, {money(each.money, currency)}" for each in (work.looked, work.fixed))
    return f"{looked} as the knowledge reckons; the same order on every engine: {fixed}; {_saved(work, currency)}"


def _saved(work: OrderOfWork, currency: str) -> str:
    time, amount = work.saved.minutes, work.saved.money
    parts = (time, minutes(abs(time))), (amount, money(abs(amount), currency))
    return ", ".join(f"{text} {'saved' if value >= 0 else 'more'}" for value, text in parts)


def _heads(job: Job, card: JobCard) -> list[tuple[str, str]]:
    present, absent = (
        ", ".join(name for name, there in card.symptoms.items() if there == wanted) for wanted in (True, False)
    )
    return [
        ("status", card.status),
        ("opened", f"{job.opened_at:%Y-%m-%d %H:%M} UTC, state {job.revision}"),
        ("customer", card.customer),
        ("engine", f"{card.engine.name}, {len(card.engine.cylinders)} cylinders" if card.engine else ""),
        ("mark", card.mark),
        ("complaint", card.complaint),
        ("symptoms", present),
        ("not present", absent),
        ("found", _causes(card.found.values())),
        ("ruled out", _causes(card.ruled_out.values())),
        ("fixed", card.fixed),
    ]


def _print_photos(console: Console, card: JobCard, kept: Mapping[str, KeptPhoto]) -> None:
    for key, photo in card.photos.items():
        state = kept[key].state if key in kept else "missing"
        said = "" if state == "there" else f"  [{state}: firingend store check says what to do]"
        whose = f"cylinders {', '.join(map(str, photo.cylinders))}" if photo.cylinders else "no cylinder named"
        console.print(f"  photo: {photo.name}, {photo.stage}, {whose}{said}")
        if key in card.readings:
            labels = ", ".join(label_words(each.label) for each in card.readings[key].reading.readings)
            console.print(f"    reads: {labels or 'no firing end found'}")


def _print_entries(console: Console, card: JobCard) -> None:
    for typed in card.typed.values():
        console.print(f"  plug: cylinder {typed.cylinder}, {typed.stage}: {label_words(typed.label)} (by hand)")
    for outcome in card.outcomes.values():
        console.print(f"  check: {outcome.check}, {outcome.where}: {outcome.outcome}")
    for taken in card.measurements.values():
        console.print(
            f"  measured: {taken.what}, {taken.where}: {taken.value:g} {taken.unit} {taken.condition}".rstrip()
        )
    for work in card.work.values():
        console.print(f"  work: {work.what}, {minutes(work.minutes)}")
    for part in card.parts.values():
        cost = money(major(part.cost_minor, card.rates.currency), card.rates.currency)
        console.print(f"  part: {part.count} × {part.name}, {cost}")
    for note in card.notes.values():
        console.print(f"  note: {note.text}")


def print_history(changes: Sequence[Change]) -> None:
    """Print every change."""
    table = _table("state", "when (UTC)", "who", "what")
    for change in changes:
        table.add_row(*_texts(change.revision, f"{change.at:%Y-%m-%d %H:%M:%S}", change.who, change.what))
    make_console().print(table)


def print_side_by_side(cylinders: Mapping[int, Mapping[Stage, Seen]]) -> None:
    """Print each cylinder's plug before and after the repair, and later."""
    table = _table("cylinder", "before", "after", "later")
    for cylinder, stages in cylinders.items():
        cells = [_seen(stages.get("before")), _seen(stages.get("after")), _seen(stages.get("later"))]
        table.add_row(*_texts(cylinder, *cells))
    make_console().print(table)


def print_visits(visits: Sequence[Visit]) -> None:
    """Print an engine's jobs, oldest first."""
    console = make_console()
    if not visits:
        console.print("no job of this engine")
        return
    table = _table("job", "opened", "status", "plugs", "found", "fixed", "time", "cost", "against the fixed order")
    for visit in visits:
        plugs = ", ".join(f"{cylinder} {label}" for cylinder, label in visit.labels.items())
        cost = money(major(visit.spent_minor, visit.currency), visit.currency)
        day = f"{visit.opened_at:%Y-%m-%d}"
        cells = (
            visit.number,
            day,
            visit.status,
            plugs,
            _causes(visit.found),
            visit.fixed,
            minutes(visit.minutes),
            cost,
            _saved(visit.work, visit.currency) if visit.work else "",
        )
        table.add_row(*_texts(*cells))
    console.print(table)


def line_as_json(line: JobLine) -> dict[str, Any]:
    """One line of a list as plain data."""
    return {
        "job": line.number,
        "id": line.id,
        "state": line.revision,
        "opened_at": line.opened_at.isoformat(),
        "changed_at": line.changed_at.isoformat(),
        "status": line.status,
        "name": line.name,
        "customer": line.customer,
        "engine": line.engine,
        "photos": line.photos,
    }


def job_as_json(store: Store, job: Job) -> dict[str, Any]:
    """A card as plain data, with where each photograph lies and whether it is there."""
    photos = {
        key: {"file": str(kept.file), "state": kept.state, "sha256": kept.sha256}
        for key, kept in store.photos_looked_at(job).items()
    }
    work = work_of(store, job)
    return {
        "job": job.number,
        "id": job.id,
        "state": job.revision,
        "opened_at": job.opened_at.isoformat(),
        "changed_at": job.changed_at.isoformat(),
        "fields": dict(job.fields),
        "photos": photos,
        "minutes": job.card.minutes,
        "spent_minor": job.card.spent_minor,
        "currency": job.card.rates.currency,
        "looking": asdict(work) | {"saved": asdict(work.saved)} if work else None,
    }


def _seen(seen: Seen | None) -> str:
    if seen is None:
        return ""
    label = seen.reading.label
    probability = seen.reading.probabilities.get(label)
    return label_words(label) + (f", {chance(probability).text}" if probability is not None else "")


def _causes(causes: Any) -> str:  # noqa: ANN401 - any iterable of causes
    found: list[Cause] = list(causes)
    return "; ".join(f"{each.cause} ({each.where})" for each in found)


def _table(*heads: str) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for head in heads:
        table.add_column(head, overflow="fold")
    return table


def _texts(*cells: object) -> list[Text]:
    """Cells as they are: nothing in them is taken for markup, and no control character reaches the terminal."""
    return [Text("".join(c if c.isprintable() or c in "\n\u00a0" else "�" for c in str(cell))) for cell in cells]
