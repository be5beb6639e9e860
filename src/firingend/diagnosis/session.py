"""A job worked through step by step: answers, skips, pins, each of which can be taken back."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

from firingend.diagnosis.diagnose import diagnose
from firingend.diagnosis.diagnosis import Diagnosis
from firingend.diagnosis.evidence import Evidence, Measurement, Outcome
from firingend.diagnosis.knowledge import Knowledge
from firingend.errors import UserError

Kind = Literal["symptom", "outcome", "measurement", "skip", "pin"]
FORMAT: Final = 1
_FIELDS: Final[Mapping[str, int]] = {"symptom": 2, "outcome": 3, "measurement": 5, "skip": 1, "pin": 1}


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing the technician said.

    ``words`` are, by kind: symptom id and ``present`` or ``absent``; check, where and outcome; the five fields of
    a measurement; the check that is skipped or pinned.
    """

    kind: Kind
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Session:
    """What was known at the start and everything said since; immutable, every step gives a new one.

    The state is nothing but ``start`` and ``entries``, so taking the last entry back gives exactly what was there
    before it, to the last bit of every probability.
    """

    start: Evidence
    entries: tuple[Entry, ...] = ()
    undone: tuple[Entry, ...] = ()

    def symptom(self, symptom: str, present: bool) -> Session:
        """A symptom was asked for."""
        return self._say("symptom", symptom, "present" if present else "absent")

    def outcome(self, check: str, where: str, outcome: str) -> Session:
        """A check was done, or a repair was tried (``repair:`` and the cause)."""
        return self._say("outcome", check, where, outcome)

    def measurement(self, given: Measurement) -> Session:
        """A number was taken."""
        return self._say("measurement", given.what, given.where, repr(given.value), given.unit, given.condition)

    def skip(self, check: str) -> Session:
        """A check cannot be done here; it is not offered again."""
        return self._say("skip", check)

    def pin(self, check: str) -> Session:
        """A check is wanted first, whatever it costs."""
        return self._say("pin", check)

    def undo(self, which: int = -1) -> Session:
        """Take one entry back, the last one unless said otherwise.

        Raises
        ------
        UserError
            There is no such entry.
        """
        if not self.entries or not -len(self.entries) <= which < len(self.entries):
            raise UserError("there is nothing to take back", "answer something first")
        which %= len(self.entries)
        gone = self.entries[which]
        return Session(self.start, self.entries[:which] + self.entries[which + 1 :], (*self.undone, gone))

    def redo(self) -> Session:
        """Say again what was taken back last."""
        if not self.undone:
            raise UserError("there is nothing to say again", "take something back first")
        return Session(self.start, (*self.entries, self.undone[-1]), self.undone[:-1])

    def evidence(self) -> Evidence:
        """Everything known now."""
        symptoms = dict(self.start.symptoms)
        outcomes, measurements = list(self.start.outcomes), list(self.start.measurements)
        for entry in self.entries:
            if entry.kind == "symptom":
                symptoms[entry.words[0]] = entry.words[1] == "present"
            elif entry.kind == "outcome":
                outcomes.append(Outcome(*entry.words))
            elif entry.kind == "measurement":
                what, where, value, unit, condition = entry.words
                measurements.append(Measurement(what, where, float(value), unit, condition))
        return replace(self.start, symptoms=symptoms, outcomes=tuple(outcomes), measurements=tuple(measurements))

    def skipped(self) -> frozenset[str]:
        """Checks that cannot be done."""
        return frozenset(entry.words[0] for entry in self.entries if entry.kind == "skip")

    def pinned(self) -> tuple[str, ...]:
        """Checks that are wanted first, in the order they were asked for."""
        return tuple(dict.fromkeys(entry.words[0] for entry in self.entries if entry.kind == "pin"))

    def diagnosis(self, knowledge: Knowledge | None = None) -> Diagnosis:
        """The diagnosis as things stand."""
        return diagnose(self.evidence(), knowledge, skipped=self.skipped(), pinned=self.pinned())

    def dumps(self) -> str:
        """What was said since the start, as JSON; the start is the case file's business."""
        content = {
            "format": FORMAT,
            "entries": [[entry.kind, *entry.words] for entry in self.entries],
            "undone": [[entry.kind, *entry.words] for entry in self.undone],
        }
        return json.dumps(content, ensure_ascii=False, indent=1) + "\n"

    @classmethod
    def loads(cls, text: str, start: Evidence) -> Session:
        """Take a session up again.

        Raises
        ------
        UserError
            The text is not what `dumps` writes; names what is wrong.
        """
        try:
            content = json.loads(text)
        except json.JSONDecodeError as error:
            raise UserError(f"the saved session is not JSON: {error}", "start afresh") from error
        if not isinstance(content, dict) or content.get("format") != FORMAT:
            raise UserError("the saved session has an unknown format", "start afresh")
        return cls(start, _entries(content.get("entries")), _entries(content.get("undone")))

    def _say(self, kind: Kind, *words: str) -> Session:
        return Session(self.start, (*self.entries, Entry(kind, words)), ())


def _entries(content: Any) -> tuple[Entry, ...]:  # noqa: ANN401
    if not isinstance(content, list):
        raise UserError("the saved session lists no entries", "start afresh")
    entries = []
    for item in content:
        good = isinstance(item, list) and item and all(isinstance(word, str) for word in item)
        if not good or len(item) != 1 + _FIELDS.get(item[0], -1):
            raise UserError(f"the saved session has an entry that says nothing: {item}", "start afresh")
        entries.append(Entry(item[0], tuple(item[1:])))
    return tuple(entries)
