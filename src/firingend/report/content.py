"""What a report says, as strings and pictures, before anything decides how it looks."""

from __future__ import annotations

from dataclasses import dataclass

from firingend.report.figures import Chance


@dataclass(frozen=True, slots=True)
class Fact:
    """A name and what stands beside it."""

    name: str
    value: str


@dataclass(frozen=True, slots=True)
class Doubt:
    """Why a reading was refused or should be doubted, and what to do about it."""

    text: str
    remedy: str


Point = tuple[float, float]
"""(x, y) as shares of a picture's side, from its upper left corner; right and down."""


@dataclass(frozen=True, slots=True)
class Outlined:
    """One part drawn on a picture.

    Attributes
    ----------
    letter, name
        What stands for the part on the picture, and the part in words.
    loops
        A polygon for every patch of it, largest first.
    anchor, place
        A point inside the part, and where its letter stands.
    """

    letter: str
    name: str
    loops: tuple[tuple[Point, ...], ...]
    anchor: Point
    place: Point


@dataclass(frozen=True, slots=True)
class Swatch:
    """Colour of one part.

    Attributes
    ----------
    name
        The part.
    lab, numbers
        L*, a*, b* with their names, and the three numbers alone.
    rgb
        0..255, to paint it with.
    """

    name: str
    lab: str
    numbers: str
    rgb: tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class ColourRow:
    """One part over all plugs, in their order; None where a plug shows no colour of it."""

    name: str
    swatches: tuple[Swatch | None, ...]


@dataclass(frozen=True, slots=True)
class Plug:
    """One cylinder's plug.

    Attributes
    ----------
    cylinder
        "Cylinder 3".
    picture
        Square JPEG of the firing end, or None.
    picture_words
        What the picture shows, or why there is none.
    label
        The label in words.
    chance
        Its probability; None for a label given by hand and for a plug that cannot be read.
    chance_words
        What stands in the place of a probability where there is none.
    runner_up
        The second most likely label with its probability, as a sentence; may be empty.
    stands_out
        True where the comparison names this cylinder as the odd one.
    signs
        What else was seen.
    doubts
        Why the reading was refused or should be doubted.
    reach
        How far soot or oil climbs, as a sentence; may be empty.
    could_be
        What else it could be, as a sentence; may be empty.
    outlines, swatches
        The parts on the picture, and their colours, the nose first; empty for a label given by hand.
    """

    cylinder: str
    picture: bytes | None
    picture_words: str
    label: str
    chance: Chance | None
    chance_words: str
    runner_up: str
    stands_out: bool
    signs: tuple[str, ...]
    doubts: tuple[Doubt, ...]
    reach: str = ""
    could_be: str = ""
    outlines: tuple[Outlined, ...] = ()
    swatches: tuple[Swatch, ...] = ()


@dataclass(frozen=True, slots=True)
class Step:
    """One check worth doing next."""

    number: int
    name: str
    where: str
    why: str
    how: tuple[str, ...]
    minutes: str
    parts: str
    expected: str
    cautions: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True)
class Cause:
    """One possible cause."""

    name: str
    where: str
    chance: Chance
    repair: str


@dataclass(frozen=True, slots=True)
class Done:
    """A check already done and what came out of it."""

    name: str
    where: str
    outcome: str


@dataclass(frozen=True, slots=True)
class Measured:
    """One measured value.

    Attributes
    ----------
    name, where, value
        What was measured.
    limits
        What the manual asks for, as the technician wrote it; may be empty.
    verdict, reason
        What it says and by which rule; may be empty.
    """

    name: str
    where: str
    value: str
    limits: str = ""
    verdict: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Shot:
    """One plug at one time.

    Attributes
    ----------
    when
        "Before the repair".
    picture, picture_words
        Square JPEG or None, and what it shows or why there is none.
    label
        The label in words.
    """

    when: str
    picture: bytes | None
    picture_words: str
    label: str


@dataclass(frozen=True, slots=True)
class Pair:
    """One cylinder's plug before the repair and after it, in order of time."""

    cylinder: str
    shots: tuple[Shot, ...]


@dataclass(frozen=True, slots=True)
class Cost:
    """One line of what a job cost: what it was, how much of it, and the amount."""

    what: str
    how_much: str
    amount: str


@dataclass(frozen=True, slots=True)
class Repair:
    """What was found and done.

    Attributes
    ----------
    causes
        Name and place of each cause found.
    done
        What was repaired, in the technician's words; may be empty.
    costs, total
        Working time and parts, and the sum; may be empty.
    after
        What the plugs showed at each later time: when and sentence.
    pairs
        Plugs before and after; empty where they were not looked at again.
    proof
        Whether the repair is proved, as a sentence.
    notes
        What else was written down.
    """

    causes: tuple[Fact, ...]
    done: str
    costs: tuple[Cost, ...]
    total: str
    after: tuple[Fact, ...]
    pairs: tuple[Pair, ...]
    proof: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Content:
    """Everything a report shows, in the order it shows it.

    Attributes
    ----------
    sentence, sentence_more
        What the comparison says: its first sentence, and any that follow.
    columns
        How many plugs lie side by side in one row.
    meanings
        What each label seen points to: label and meaning.
    order_words
        What the order of the checks means.
    no_steps
        Stands in the place of the checks where there is none.
    more_steps, more_causes
        How many were left off, as a sentence; may be empty.
    ruled_out
        Causes that what was seen and checked leaves hardly any chance, as one sentence; may be empty.
    made
        When, by which version of the program and of its networks.
    colours
        How the noses that stand out differ in colour; may be empty.
    colour_rows
        Colours of the parts besides the nose.
    legend
        What the letters on the pictures stand for; may be empty.
    neutral
        What was taken for neutral behind the swatches; may be empty.
    repair
        What was found and done; None for a case that is no job.
    ruled_out_by_hand
        Causes that the technician ruled out, as one sentence; may be empty.
    """

    title: str
    facts: tuple[Fact, ...]
    sentence: str
    sentence_more: str
    pattern: str
    plugs: tuple[Plug, ...]
    columns: int
    meanings: tuple[Fact, ...]
    safety: tuple[str, ...]
    order_words: str
    steps: tuple[Step, ...]
    no_steps: str
    more_steps: str
    causes: tuple[Cause, ...]
    more_causes: str
    done: tuple[Done, ...]
    ruled_out: str
    measured: tuple[Measured, ...]
    notes: tuple[str, ...]
    standing: tuple[str, ...]
    signatures: tuple[str, ...]
    made: str
    colours: str = ""
    colour_rows: tuple[ColourRow, ...] = ()
    legend: str = ""
    neutral: str = ""
    repair: Repair | None = None
    ruled_out_by_hand: str = ""
