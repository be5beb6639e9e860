"""What each part of the window shows, as frozen data that knows nothing of Qt."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from firingend.reading.reading import Box, Outline

CardStatus = Literal["empty", "waiting", "asked", "read", "doubted", "refused", "marked"]
Page = Literal["start", "plugs", "jobs", "over-time"]


@dataclass(frozen=True, slots=True)
class PartState:
    """One part of a firing end as it is drawn over the photograph.

    ``part`` is one of ``labels.PARTS``; ``outlines`` are in pixels of the upright photograph at full size.
    """

    part: str
    outlines: tuple[Outline, ...]


@dataclass(frozen=True, slots=True)
class SwatchState:
    """Colour of the nose.

    ``rgb`` in 0..255 is what is painted, None where glare hides the colour; ``lab_words`` say L*, a* and b*;
    ``neutral_words`` what was taken for neutral and how sure that is, ``neutral_short`` the same where room is scarce.
    """

    rgb: tuple[int, int, int] | None
    lab_words: str
    neutral_words: str
    neutral_short: str


@dataclass(frozen=True, slots=True)
class PictureRef:
    """A piece of a photograph.

    Attributes
    ----------
    file
        The photograph.
    box
        The firing end meant, in pixels of the upright photograph at full size; None means all of it.
    others
        Further firing ends in the same photograph.
    full_width, full_height
        Size of the photograph at full size, 0 when not known.
    parts
        Parts of the firing end meant, to be outlined.
    """

    file: Path
    box: Box | None
    others: tuple[Box, ...] = ()
    full_width: int = 0
    full_height: int = 0
    parts: tuple[PartState, ...] = ()


@dataclass(frozen=True, slots=True)
class DoubtState:
    """Why a reading is refused or doubted, and what to do about it."""

    text: str
    remedy: str


@dataclass(frozen=True, slots=True)
class CardState:
    """One cylinder's card.

    ``label`` is the key (for the mark drawn beside the words), empty when nothing is known yet. ``probability`` is
    in 0..1, None when there is none to show. ``severity_words`` say how far soot or oil climbs. ``spoken`` says the
    whole card in one sentence for screen readers. ``picture_words`` stand where a photograph cannot be shown.
    """

    cylinder: int
    title: str
    shares: str
    status: CardStatus
    picture: PictureRef | None
    label: str
    label_words: str
    seen_words: str
    probability: float | None
    probability_words: str
    second_words: str
    signs_words: str
    doubts: tuple[DoubtState, ...]
    flags: tuple[str, ...]
    stands_out: bool
    spoken: str
    severity_words: str = ""
    swatch: SwatchState | None = None
    picture_words: str = ""


@dataclass(frozen=True, slots=True)
class JobState:
    """The open job, for the head of the window.

    ``status`` and ``stage`` are keys; ``kept`` says in words whether everything is in the store, ``not_kept`` as a
    fact.
    """

    number: int
    head: str
    status: str
    stage: str
    kept: str
    not_kept: bool = False


@dataclass(frozen=True, slots=True)
class HeaderState:
    """Engine and complaint, and what can be done at the moment; ``job`` is None while no job is open."""

    title: str
    engine: str
    complaint: str
    symptoms: str
    can_save: bool
    undo_words: str
    progress: str
    job: JobState | None = None


@dataclass(frozen=True, slots=True)
class ComparisonState:
    """What the cylinders say together.

    ``headline`` is what was seen, ``detail`` the rest of the sentence, ``strength`` how sure it is where the
    sentence does not say so; ``working`` while a newer answer is on its way. ``colours`` say how far the noses of the
    cylinders that stand out differ from the others'.
    """

    headline: str
    detail: str
    strength: str
    working: bool
    colours: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class OutcomeState:
    """One outcome of a check, as a button shows it."""

    id: str
    words: str


@dataclass(frozen=True, slots=True)
class StepState:
    """One ranked check."""

    rank: int
    id: str
    name: str
    where: str
    why: str
    how: tuple[str, ...]
    minutes: str
    parts: str
    expected: str
    cautions: tuple[str, ...]
    source: str
    outcomes: tuple[OutcomeState, ...]


@dataclass(frozen=True, slots=True)
class CauseState:
    """One possible cause with its probability in 0..1 and in words."""

    name: str
    where: str
    probability: float
    probability_words: str
    repair: str


@dataclass(frozen=True, slots=True)
class DoneState:
    """One check that was done, in words."""

    words: str


@dataclass(frozen=True, slots=True)
class FollowUpState:
    """Ranked checks, causes, what was done and ruled out, what else is on the job card.

    ``hint`` says what is missing when there is nothing.
    """

    steps: tuple[StepState, ...]
    causes: tuple[CauseState, ...]
    ruled_out: tuple[CauseState, ...]
    done: tuple[DoneState, ...]
    notes: tuple[str, ...]
    hint: str
    working: bool
    card: tuple[DoneState, ...] = ()


@dataclass(frozen=True, slots=True)
class NoticeState:
    """A message in the window: what happened and what to do; ``kind`` is also said in words."""

    number: int
    kind: Literal["error", "note"]
    text: str
    remedy: str


@dataclass(frozen=True, slots=True)
class QuestionState:
    """A question that must be answered before a photograph's firing ends go to their cylinders."""

    text: str
    picture: PictureRef
    answers: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class ChoiceState:
    """Something that must be decided before work on a job card goes on: what happened, more of it, and the answers."""

    text: str
    detail: str
    answers: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class JobLineState:
    """One job in the list, in words; ``spoken`` says the whole line."""

    number: int
    opened: str
    status: str
    name: str
    engine: str
    customer: str
    photos: str
    spoken: str


@dataclass(frozen=True, slots=True)
class JobListState:
    """Jobs, newest first; ``more`` while older ones are left; ``hint`` says why there is none."""

    lines: tuple[JobLineState, ...]
    more: bool
    hint: str


@dataclass(frozen=True, slots=True)
class StagePlugState:
    """One plug at one stage; ``words`` stand where there is no picture, ``change`` says what became of the colour."""

    stage_words: str
    picture: PictureRef | None
    words: str
    label: str
    label_words: str
    probability_words: str
    swatch: SwatchState | None
    change: str


@dataclass(frozen=True, slots=True)
class CylinderTimeState:
    """One cylinder's plugs before the repair, after it and later, as far as there are any."""

    title: str
    plugs: tuple[StagePlugState, ...]
    spoken: str


@dataclass(frozen=True, slots=True)
class VisitState:
    """One job of the engine: when, what it was called, what was seen, found and done, and what it took."""

    number: int
    head: str
    lines: tuple[str, ...]
    here: bool


@dataclass(frozen=True, slots=True)
class OverTimeState:
    """A job's plugs side by side, its engine's jobs, and every change of its card, newest first."""

    title: str
    cylinders: tuple[CylinderTimeState, ...]
    visits: tuple[VisitState, ...]
    changes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OfferState:
    """Photographs that came into the watched folder, in the order they were taken."""

    text: str
    detail: str
    picture: PictureRef
