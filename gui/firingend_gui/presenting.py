"""From a session and what the library makes of it to what the window shows."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from firingend.comparison.plug_words import PART_WORDS, colour_sentence, could_also_be, severity_words
from firingend.diagnosis.diagnosis import Diagnosis, RankedCause, RankedStep
from firingend.engine.engine import Engine
from firingend.labels import UNREADABLE
from firingend.reading.reading import PhotoReading, Reading, Reason
from firingend.reading.zone_colour import FROM_PATCH, FROM_PICTURE
from firingend.report.words import SIGN_WORDS, label_words
from firingend.report.zones import srgb
from firingend_gui import wording
from firingend_gui.services import Assessment, Choice
from firingend_gui.session import Plug, Session
from firingend_gui.states import (
    CardState,
    CardStatus,
    CauseState,
    ComparisonState,
    DoneState,
    DoubtState,
    FollowUpState,
    HeaderState,
    JobState,
    OutcomeState,
    PartState,
    PictureRef,
    StepState,
    SwatchState,
)

SIGN_SHOWN_FROM = 0.5
"""Signs at least this probable are mentioned on the card."""

CAUSES_SHOWN = 8
"""Causes beyond this rank are too improbable to fill the window with."""


def cards(
    session: Session,
    waiting: tuple[int, ...],
    assessment: Assessment | None,
    asked: tuple[int, ...] = (),
) -> tuple[CardState, ...]:
    """Every cylinder's card, in physical order; ``asked`` are the ones a question must be answered for first."""
    odd = _odd_cylinders(session, assessment)
    return tuple(
        _card(session, number, _under_way(number, waiting, asked), stands_out=number in odd)
        for number in session.engine.cylinders
    )


def _odd_cylinders(session: Session, assessment: Assessment | None) -> tuple[int, ...]:
    if assessment is None:
        return ()
    named = assessment.comparison.cylinders
    return () if len(named) == len(session.engine.cylinders) else named


def _under_way(number: int, waiting: tuple[int, ...], asked: tuple[int, ...]) -> CardStatus | None:
    if number in asked:
        return "asked"
    return "waiting" if number in waiting else None


def _card(session: Session, number: int, under_way: CardStatus | None, *, stands_out: bool) -> CardState:
    plug = session.plugs.get(number, Plug())
    reading = plug.seen
    status = under_way or _status(plug)
    waiting = under_way is not None
    label, seen = _label(plug, status)
    probability = None
    second = ""
    if reading is not None and status in ("read", "doubted") and plug.mark is None:
        probability = reading.probabilities.get(reading.label)
        second = _second(reading)
    doubts = () if waiting or plug.mark else _doubts(plug)
    flags = () if waiting else _flags(plug)
    if plug.trouble and plug.failure is None:
        doubts = (DoubtState(f"{plug.trouble}.", "What was read off it before is shown."), *doubts)
    colour = swatch_of(reading) if reading is not None and not waiting else None
    severity = severity_words(reading) if reading is not None and not waiting and plug.mark is None else ""
    title = f"Cylinder {number}"
    words = _status_words(status, label)
    probability_words = "" if probability is None else wording.percent(probability)
    return CardState(
        cylinder=number,
        title=title,
        shares=_shares(session.engine, number),
        status=status,
        picture=None if waiting or plug.trouble else _picture(plug),
        label=label,
        label_words=words,
        seen_words=seen,
        probability=probability,
        probability_words=probability_words,
        second_words=second,
        signs_words=_signs(reading) if reading is not None and not waiting else "",
        doubts=doubts,
        flags=flags,
        stands_out=stands_out,
        spoken=_spoken(title, words, probability_words, (severity, second), doubts, flags, stands_out),
        severity_words=severity,
        swatch=colour,
        picture_words=f"{plug.trouble}.\nfiringend store check\nsays how to mend it" if plug.trouble else "",
    )


def _status(plug: Plug) -> CardStatus:
    if plug.mark is not None:
        return "marked"
    if plug.failure is not None or (plug.photo is not None and plug.index is None):
        return "refused"
    reading = plug.seen
    if reading is None:
        return "empty"
    if reading.label == UNREADABLE:
        return "refused"
    return "doubted" if reading.reasons else "read"


def _label(plug: Plug, status: CardStatus) -> tuple[str, str]:
    """Label key and what one sees, both empty while nothing is known."""
    if status in ("empty", "waiting", "asked"):
        return "", ""
    label = UNREADABLE
    if plug.mark is not None:
        label = plug.mark
    elif plug.seen is not None:
        label = plug.seen.label
    return label, wording.SEEN_WORDS.get(label, "")


def _status_words(status: CardStatus, label: str) -> str:
    if status == "empty":
        return "No photo yet"
    if status == "waiting":
        return "Reading…"
    if status == "asked":
        return "Which plug is it?"
    return label_words(label)


def _second(reading: Reading) -> str:
    """What else it could be: all that the limit of the reader leaves; without a limit, the next likeliest."""
    if could_be := could_also_be(reading):
        return wording.capital(could_be)
    if len(reading.label_set) == 1:
        return ""
    rest = {k: p for k, p in reading.probabilities.items() if k != reading.label}
    if not rest:
        return ""
    label = max(rest, key=lambda k: rest[k])
    return f"Next likeliest: {label_words(label)} ({wording.percent(rest[label])})"


def _doubts(plug: Plug) -> tuple[DoubtState, ...]:
    reasons: tuple[Reason, ...] = ()
    if plug.failure is not None:
        reasons = (plug.failure,)
    elif plug.seen is not None:
        reasons = plug.seen.reasons
    elif plug.photo is not None:
        reasons = plug.photo.reasons or (NO_FIRING_END,)
    return tuple(DoubtState(wording.sentence(r.text), wording.sentence(r.remedy)) for r in reasons)


NO_FIRING_END = Reason("no-firing-end", "no firing end found", "photograph the firing end close up and in the light")


def _flags(plug: Plug) -> tuple[str, ...]:
    quality = plug.seen.quality if plug.seen is not None else None
    if quality is None and plug.photo is not None:
        quality = plug.photo.quality
    if quality is None:
        return ()
    # What a doubt already says need not be said twice.
    said = " ".join(d.text.lower() for d in _doubts(plug))
    return tuple(flag for flag in quality.flags if flag not in said)


def _signs(reading: Reading) -> str:
    seen = [SIGN_WORDS.get(s, s) for s, p in reading.signs.items() if p >= SIGN_SHOWN_FROM]
    return "Also seen: " + ", ".join(seen) if seen else ""


def _picture(plug: Plug) -> PictureRef | None:
    if plug.photo is None:
        return PictureRef(plug.file, None) if plug.file is not None and plug.failure is None else None
    boxes = tuple(r.firing_end.box for r in plug.photo.readings if r.firing_end is not None)
    reading = plug.seen
    box = reading.firing_end.box if reading is not None and reading.firing_end is not None else None
    parts = tuple(PartState(z.part, z.outlines) for z in reading.zones if z.part in PART_WORDS) if reading else ()
    others = tuple(b for b in boxes if b != box)
    return PictureRef(plug.photo.file, box, others, plug.photo.width, plug.photo.height, parts)


def swatch_of(reading: Reading) -> SwatchState | None:
    """Colour of the nose; None where no nose was made out."""
    nose = next((zone for zone in reading.zones if zone.part == "nose"), None)
    if nose is None:
        return None
    if nose.lab is None:
        return SwatchState(None, "Nose: glare hides its colour", "", "")
    sure = f"{wording.percent(nose.neutral_sure)} sure"
    long, short = f"Neutral: {nose.neutral}, {sure}", f"Neutral {_NEUTRAL.get(nose.neutral, nose.neutral)}, {sure}"
    return SwatchState(srgb(nose.lab), f"Nose {wording.lab(nose.lab)}", long, short)


_NEUTRAL = {FROM_PICTURE: "estimated", FROM_PATCH: "from grey"}


def whole_photo(photo: PhotoReading) -> PictureRef:
    """The whole photograph with every firing end in it."""
    boxes = tuple(r.firing_end.box for r in photo.readings if r.firing_end is not None)
    return PictureRef(photo.file, None, boxes, photo.width, photo.height)


def _shares(engine: Engine, number: int) -> str:
    # A part that every cylinder shares tells none of them apart.
    telling = (part for part in engine.shared if len(part.cylinders) < len(engine.cylinders))
    names = [part.name for part in telling if number in part.cylinders and part.kind not in ("fuel-rail", "head")]
    bank = next((b.name for b in engine.banks if b.name and number in b.cylinders), "")
    return " · ".join(dict.fromkeys(n for n in (bank, *names) if n))


def _spoken(
    title: str,
    words: str,
    probability: str,
    more: tuple[str, ...],
    doubts: tuple[DoubtState, ...],
    flags: tuple[str, ...],
    stands_out: bool,
) -> str:
    parts = [f"{title}: {words}" + (f", {probability}" if probability else "")]
    if stands_out:
        parts.append("It stands out from the others")
    parts += [p for p in (*(wording.capital(m) for m in more), *(f"{d.text} {d.remedy}" for d in doubts)) if p]
    if flags:
        parts.append("Photo: " + ", ".join(flags))
    return ". ".join(p.rstrip(".") for p in parts) + "."


def header(
    session: Session | None, symptom_words: Mapping[str, str], undo: str, waiting: int, job: JobState | None = None
) -> HeaderState:
    """Engine, complaint and what can be done."""
    if session is None:
        return HeaderState("No engine yet", "", "", "", False, "", "")
    progress = ""
    if waiting:
        progress = f"Reading {waiting} photo" + ("s" if waiting > 1 else "")
    return HeaderState(
        title=session.name or session.engine.name,
        engine=wording.engine_words(session.engine),
        complaint=session.complaint,
        symptoms=" · ".join(symptom_words.get(s, s) for s, there in session.symptoms.items() if there),
        can_save=True,
        undo_words=undo,
        progress=progress,
        job=job,
    )


def comparison(session: Session, assessment: Assessment | None, working: bool) -> ComparisonState:
    """What the cylinders say together, or what is still missing."""
    if assessment is None:
        text = "Reading…" if working else "Add photos of the plugs to see what the cylinders say together."
        return ComparisonState(text, "", "", working)
    said = assessment.comparison
    headline, detail = _headline(wording.sentence(said.sentence))
    pattern = wording.PATTERN_WORDS.get(said.pattern, said.pattern)
    settled = "%" in said.sentence or said.pattern == "too-few-readable"
    strength = "" if settled else f"{pattern}, {wording.percent(said.probability)} sure"
    return ComparisonState(headline, detail, strength, working, _colours(session, assessment))


APART = "They were photographed apart, so this may be the light."


def _colours(session: Session, assessment: Assessment) -> tuple[str, ...]:
    """The noses that stand out against those that do not: on the same photograph if that shows one."""
    odd = _odd_cylinders(session, assessment)
    seen = {n: plug.seen for n, plug in session.plugs.items() if plug.seen is not None and plug.mark is None}
    said = []
    for cylinder in odd:
        rest = {n: reading for n, reading in seen.items() if n not in odd}
        beside = {n: reading for n, reading in rest.items() if _file(session, n) == _file(session, cylinder)}
        readings = dict(sorted({**(beside or rest), **{n: r for n, r in seen.items() if n == cylinder}}.items()))
        words = colour_sentence(readings, cylinder)
        if words:
            said.append(words if beside else f"{words} {APART}")
    return tuple(said)


def _file(session: Session, cylinder: int) -> Path | None:
    photo = session.plugs[cylinder].photo if cylinder in session.plugs else None
    return photo.file if photo is not None else None


def _headline(sentence: str) -> tuple[str, str]:
    """Split what was seen from what follows from it, at the first semicolon or full stop."""
    first = re.match(r"(.+?)(?:;|\.)\s+(?=\S)", sentence)
    if first is None:
        return sentence, ""
    return first.group(1) + ".", wording.capital(sentence[first.end() :])


AFTERWARDS = (
    "These plugs were looked at after the repair. Checks are ranked by the plugs as the engine came in: choose"
    " “Plugs: before repair” above. “Over time” sets both side by side."
)


def follow_up(session: Session, assessment: Assessment | None, working: bool, stage: str = "before") -> FollowUpState:
    """Checks and causes, best first; none for plugs that were looked at after the repair."""
    if stage != "before":
        return FollowUpState((), (), (), (), (), AFTERWARDS, working)
    done = tuple(DoneState(_done_words(c.name, c.where, c.outcome_words)) for c in session.checks)
    if assessment is None:
        hint = "" if working else "The checks worth doing next appear here once plugs have been read."
        return FollowUpState((), (), (), done, (), hint, working)
    found = assessment.diagnosis
    hint = "" if found.next else "No check is left that would change what to do."
    return FollowUpState(
        steps=tuple(
            _step(rank, step, found, assessment.outcomes.get(step.id, ())) for rank, step in enumerate(found.next, 1)
        ),
        causes=tuple(_cause(c) for c in found.causes[:CAUSES_SHOWN]),
        ruled_out=tuple(_cause(c) for c in found.ruled_out[:CAUSES_SHOWN]),
        done=done,
        notes=tuple(wording.sentence(n) for n in found.notes),
        hint=hint,
        working=working,
    )


def _done_words(name: str, where: str, outcome: str) -> str:
    return f"{name}{_at(where)}: {outcome}"


def _at(where: str) -> str:
    return "" if where in ("", "engine") else f", {where}"


def _step(rank: int, step: RankedStep, found: Diagnosis, outcomes: tuple[Choice, ...]) -> StepState:
    return StepState(
        rank=rank,
        id=step.id,
        name=step.name,
        where=step.where,
        why=wording.sentence(step.why),
        how=tuple(wording.sentence(line) for line in step.how),
        minutes=wording.duration(step.minutes),
        parts=wording.money(step.parts_cost, found.currency),
        expected=wording.money(step.expected_cost, found.currency),
        cautions=tuple(wording.sentence(c) for c in step.cautions),
        source=step.source,
        outcomes=tuple(OutcomeState(o.id, wording.capital(o.words)) for o in outcomes),
    )


def _cause(cause: RankedCause) -> CauseState:
    return CauseState(
        cause.name, cause.where, cause.probability, wording.percent(cause.probability), wording.sentence(cause.repair)
    )
