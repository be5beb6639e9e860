"""What is written down on a card by hand, from the fields of a window to wants."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from firingend.errors import UserError
from firingend.jobs.card import Cause, JobCard, Note, Part, Work, new_key, to_json
from firingend_gui.jobwork.wants import SetField, Want

if TYPE_CHECKING:
    from collections.abc import Iterator

    from firingend.bench.measurement import Measurement


@dataclass(frozen=True, slots=True)
class Entries:
    """The fields as typed; empty where nothing was.

    ``found`` and ``ruled_out`` are a cause's id or words; ``cause_where`` is where it sits.
    """

    note: str = ""
    what: str = ""
    where: str = "engine"
    value: str = ""
    unit: str = ""
    condition: str = ""
    found: str = ""
    ruled_out: str = ""
    cause_where: str = "engine"
    fixed: str = ""
    minutes: float = 0.0
    work: str = ""
    part: str = ""
    cost: float = 0.0
    customer: str = ""
    mark: str = ""


def wants_of(entries: Entries, card: JobCard) -> tuple[tuple[Want, ...], str]:
    """Wants, and words for all of them together.

    Raises
    ------
    UserError
        A number is none, a unit does not fit, or there is nothing to write down.
    """
    made = list(_made(entries, card))
    if not made:
        raise UserError("there is nothing to write down", "fill in a field")
    words = ", ".join(dict.fromkeys(words for words, _ in made))
    return tuple(want for _, want in made), words


def _made(entries: Entries, card: JobCard) -> Iterator[tuple[str, Want]]:
    from firingend.jobs.currencies import minor

    if entries.note.strip():
        yield _added("note", "notes", Note(entries.note.strip()))
    if entries.value.strip():
        yield _added("measurement", "measurements", _measured(entries))
    for name, cause in (("found", entries.found), ("ruled_out", entries.ruled_out)):
        if cause.strip():
            yield _added(name.replace("_", " "), name, Cause(cause.strip(), entries.cause_where))
    if entries.minutes > 0:
        yield _added("time", "work", Work(entries.work.strip() or "work", entries.minutes))
    if entries.part.strip():
        cost = minor(entries.cost, card.rates.currency)
        yield _added("part", "parts", Part(entries.part.strip(), 1, cost))
    for name in ("fixed", "customer", "mark"):
        text = getattr(entries, name).strip()
        if text != getattr(card, name):
            words = "repair" if name == "fixed" else name
            yield words, SetField(name, text or None)


def _added(words: str, name: str, value: object) -> tuple[str, Want]:
    return words, SetField(f"{name}/{new_key()}", to_json(f"{name}/a", value))


def _measured(entries: Entries) -> Measurement:
    from firingend.bench.judge import judge
    from firingend.bench.measurement import Measurement

    try:
        value = float(entries.value.strip().replace(",", "."))
    except ValueError as error:
        raise UserError(f'"{entries.value}" is no number', "write it with a point, such as 0.75") from error
    taken = Measurement(entries.what, entries.where, value, entries.unit.strip(), entries.condition.strip())
    judge((taken,))  # a unit that does not fit is told now, not when the causes are ranked
    return taken
