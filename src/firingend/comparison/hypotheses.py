"""The patterns a set of plugs can make, each at every place of one engine, with stated priors.

Every number in this file is common practice, no source: what is listed here decides only between patterns that
explain the same plugs, and is small beside what the plugs themselves say.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import product
from typing import Final, NamedTuple

from firingend.comparison.comparison import Pattern
from firingend.engine.engine import Engine, SharedKind, SharedPart
from firingend.labels import LABELS

PATTERN_PRIOR: Final[Mapping[Pattern, float]] = {
    "all-alike": 0.32,
    "one-odd": 0.28,
    "shared-pair": 0.12,
    "bank": 0.07,
    "neighbours": 0.05,
    "ends-against-middle": 0.02,
    "scattered": 0.14,
}
"""How common each pattern is among engines that run badly; patterns an engine cannot show are left out."""

# In the order of LABELS: lean-white, normal-tan, rich-carbon, oil-fouled, wet.
ALL_ALIKE_LABEL: Final = (0.20, 0.30, 0.25, 0.10, 0.15)
"""What all plugs show when they are alike."""

REST_LABEL: Final = (0.15, 0.45, 0.20, 0.10, 0.10)
"""What the other plugs show when some stand out."""

TWO_LABEL_SHARE: Final = 0.7
"""Share of ``scattered`` where the plugs show only two labels between them."""

ONE_ODD_LABEL: Final = (0.20, 0.15, 0.25, 0.15, 0.25)
COIL_LABEL: Final = (0.05, 0.05, 0.35, 0.05, 0.50)
CARBURETTOR_LABEL: Final = (0.30, 0.05, 0.40, 0.05, 0.20)
BANK_LABEL: Final = (0.30, 0.05, 0.35, 0.15, 0.15)
NEIGHBOURS_LABEL: Final = (0.15, 0.05, 0.30, 0.25, 0.25)
ENDS_LABEL: Final = (0.45, 0.05, 0.40, 0.05, 0.05)

_OTHER_FACE: Final[Mapping[int, int]] = {
    LABELS.index("wet"): LABELS.index("rich-carbon"),
    LABELS.index("rich-carbon"): LABELS.index("wet"),
}
OTHER_FACE_SHARE: Final = 0.2
"""Share of plugs on a faulty shared part that are sooty where the others are wet, or the other way round."""

_SHARED_LABEL: Final[Mapping[SharedKind, tuple[float, ...]]] = {
    "coil": COIL_LABEL,
    "carburettor": CARBURETTOR_LABEL,
    "throttle-body": CARBURETTOR_LABEL,
    "fuel-rail": CARBURETTOR_LABEL,
    "head": NEIGHBOURS_LABEL,
}


class Assignment(NamedTuple):
    """One way all readable plugs can look: label that stands out, label of the rest, label of each plug."""

    odd: int
    rest: int
    labels: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Place:
    """One pattern at one place: which cylinders stand out, and what makes them belong together.

    Attributes
    ----------
    pattern
        The pattern.
    cylinders
        Readable cylinders that stand out, in the engine's order; all of them for ``all-alike``.
    where
        The part, bank or pair in words; empty when none explains it.
    prior
        Of the pattern at this place, over every label; the priors of all places and ``scattered`` sum to 1.
    odd_label
        Weight of each label of the cylinders that stand out, in the order of ``LABELS``.
    part
        The shared part, for ``shared-pair``.
    """

    pattern: Pattern
    cylinders: tuple[int, ...]
    where: str
    prior: float
    odd_label: tuple[float, ...]
    part: SharedPart | None = None

    def assignments(self, readable: tuple[int, ...]) -> Iterator[tuple[Assignment, float]]:
        """Every way the readable plugs can look under this pattern, with its prior; labels index ``LABELS``.

        The priors sum to this place's prior. For ``all-alike`` both labels are the same. On a shared part each
        plug may show the other face of unburnt fuel: wet where the pair is sooty, sooty where it is wet.
        """
        for odd, rest, prior in self._labels():
            other_face = _OTHER_FACE.get(odd, rest) if self.pattern == "shared-pair" else rest
            if other_face == rest:
                labels = tuple(odd if cylinder in self.cylinders else rest for cylinder in readable)
                yield Assignment(odd, rest, labels), prior
                continue
            for faces in product((False, True), repeat=len(self.cylinders)):
                turned = dict(zip(self.cylinders, faces, strict=True))
                labels = tuple(
                    rest if cylinder not in turned else other_face if turned[cylinder] else odd for cylinder in readable
                )
                share = OTHER_FACE_SHARE ** sum(faces) * (1 - OTHER_FACE_SHARE) ** (len(faces) - sum(faces))
                yield Assignment(odd, rest, labels), prior * share

    def _labels(self) -> Iterator[tuple[int, int, float]]:
        """Every (label that stands out, label of the rest, prior)."""
        if self.pattern == "all-alike":
            for label, weight in enumerate(self.odd_label):
                yield label, label, self.prior * weight
            return
        for rest, rest_weight in enumerate(REST_LABEL):
            others = sum(self.odd_label) - self.odd_label[rest]
            for odd in range(len(LABELS)):
                if odd != rest:
                    yield odd, rest, self.prior * rest_weight * self.odd_label[odd] / others


def places(engine: Engine, readable: tuple[int, ...]) -> tuple[tuple[Place, ...], float]:
    """Every place of every pattern this engine can show with these readable cylinders.

    A group has to have two readable plugs inside and one outside: with fewer nothing tells it from one odd
    cylinder or from all alike.

    Returns
    -------
    places, scattered_prior
        The places, and the prior left for plugs that fall into no pattern.
    """
    found = [Place("all-alike", readable, "", 1.0, ALL_ALIKE_LABEL)]
    if len(readable) > 1:
        found += [Place("one-odd", (cylinder,), "", 1.0, ONE_ODD_LABEL) for cylinder in readable]
    groups = [*_shared_parts(engine), *_banks(engine), *_neighbours(engine), *_ends_and_middle(engine)]
    for group in groups:
        inside = tuple(cylinder for cylinder in readable if cylinder in group.cylinders)
        if 2 <= len(inside) < len(readable):
            found.append(Place(group.pattern, inside, group.where, 1.0, group.odd_label, group.part))
    counts = Counter(place.pattern for place in found)
    total = PATTERN_PRIOR["scattered"] + sum(PATTERN_PRIOR[pattern] for pattern in counts)
    shared_out = tuple(
        Place(
            place.pattern,
            place.cylinders,
            place.where,
            PATTERN_PRIOR[place.pattern] / total / counts[place.pattern],
            place.odd_label,
            place.part,
        )
        for place in found
    )
    return shared_out, PATTERN_PRIOR["scattered"] / total


def _shared_parts(engine: Engine) -> Iterator[Place]:
    banks = {frozenset(bank.cylinders) for bank in engine.banks}
    for part in engine.shared:
        # A head or rail that serves a whole bank is what the pattern "bank" means already.
        if part.kind in ("head", "fuel-rail") and frozenset(part.cylinders) in banks:
            continue
        if len(part.cylinders) < len(engine.cylinders):
            yield Place("shared-pair", part.cylinders, part.name, 1.0, _SHARED_LABEL[part.kind], part)


def _banks(engine: Engine) -> Iterator[Place]:
    if len(engine.banks) > 1:
        for bank in engine.banks:
            yield Place("bank", bank.cylinders, bank.name, 1.0, BANK_LABEL)


def _neighbours(engine: Engine) -> Iterator[Place]:
    banks = {frozenset(bank.cylinders) for bank in engine.banks}
    for a, b in engine.neighbours():
        if frozenset((a, b)) not in banks:
            yield Place("neighbours", (a, b), f"between cylinders {a} and {b}", 1.0, NEIGHBOURS_LABEL)


def _ends_and_middle(engine: Engine) -> Iterator[Place]:
    rows = [bank.cylinders for bank in engine.banks]
    if len(engine.cylinders) < 4 or min(len(row) for row in rows) < 3:
        return
    ends = tuple(cylinder for row in rows for cylinder in (row[0], row[-1]))
    middle = tuple(cylinder for row in rows for cylinder in row[1:-1])
    yield Place("ends-against-middle", ends, "end cylinders", 1.0, ENDS_LABEL)
    yield Place("ends-against-middle", middle, "middle cylinders", 1.0, ENDS_LABEL)
