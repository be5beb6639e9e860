"""What each part of the window shows, as frozen data that knows nothing of Qt."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from firingend.reading.reading import Box, Outline

CardStatus = Literal["empty", "waiting", "asked", "read", "doubted", "refused", "marked"]
Page = Literal["start", "plugs"]


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

    ``status`` and ``stage`` are keys; ``kept`` says in words whether everything is in the store.
    """

    number: int
    head: str
    status: str
    stage: str
    kept: str


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
    """Ranked checks, causes, what was done and ruled out; ``hint`` says what is missing when there is nothing."""

    steps: tuple[StepState, ...]
    causes: tuple[CauseState, ...]
    ruled_out: tuple[CauseState, ...]
    done: tuple[DoneState, ...]
    notes: tuple[str, ...]
    hint: str
    working: bool


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
