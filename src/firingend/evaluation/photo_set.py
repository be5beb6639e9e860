"""A set of photographs with the truth about each: what every way of writing one down is turned into."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from firingend.errors import UserError
from firingend.labels import LABELS
from firingend.reading.reading import Box

UNUSED: Final = "unused"
ASH: Final = "ash"
COOLANT_CLEAN: Final = "coolant-clean"
NOT_A_PLUG: Final = "not-a-plug"

OFF_LABEL: Final = (UNUSED, ASH, COOLANT_CLEAN)
"""Plugs that carry none of the five labels: pale plugs that are not lean, above all."""

TRUTHS: Final = (*LABELS, *OFF_LABEL, NOT_A_PLUG)
"""Everything a set may say is in a photograph."""

_ALSO_WRITTEN: Final = {"other-part": NOT_A_PLUG, "no-plug": NOT_A_PLUG, "new": UNUSED}

Nuisance = Mapping[str, float | str | tuple[str, ...]]
"""What must not matter, by name: a number, a word, or several words that all apply."""


class SetError(UserError):
    """A set of photographs that does not say what it must; names the file, line or folder."""


@dataclass(frozen=True, slots=True)
class TruePlug:
    """One plug that is in a photograph.

    Attributes
    ----------
    label
        One of ``TRUTHS`` but ``not-a-plug``.
    box
        Around the firing end, px of the upright photograph; None when the set does not say.
    readable
        Whether anybody could read it; unreadable ones count for the finder alone.
    visible
        Whether anybody could so much as make out that it is there and where it ends.
    nuisance
        What is known of this very plug.
    """

    label: str
    box: Box | None = None
    readable: bool = True
    visible: bool = True
    nuisance: Nuisance = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class TruePicture:
    """One photograph of a set.

    Attributes
    ----------
    file
        Where it is.
    group
        Engine or scene it belongs to: photographs of one group are alike, so intervals resample whole groups.
    plugs
        In row order; empty when no plug is in it.
    nuisance
        What is known of the whole photograph.
    """

    file: Path
    group: str
    plugs: tuple[TruePlug, ...]
    nuisance: Nuisance = field(default_factory=dict)

    @property
    def boxes_known(self) -> bool:
        """Whether everything the finder finds can be called right or wrong."""
        return all(plug.box is not None for plug in self.plugs)


@dataclass(frozen=True, slots=True)
class PhotoSet:
    """Photographs with their truth.

    Attributes
    ----------
    name
        What to call it in a report.
    kind
        ``folder``, ``csv`` or ``rendered``.
    pictures
        In a fixed order.
    """

    name: str
    kind: str
    pictures: tuple[TruePicture, ...]


def known_truth(text: str) -> str | None:
    """The truth meant by a folder's or a column's wording, or None.

    Examples
    --------
    >>> known_truth("Lean white"), known_truth("other-part"), known_truth("holiday")
    ('lean-white', 'not-a-plug', None)
    """
    plain = "-".join(text.strip().lower().replace("_", " ").replace("-", " ").split())
    plain = _ALSO_WRITTEN.get(plain, plain)
    return plain if plain in TRUTHS else None
