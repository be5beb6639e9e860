"""The ImageNet networks a reader or finder can stand on, and where its heads tap them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Body:
    """An ImageNet network to be cut into a body.

    Attributes
    ----------
    name
        What ``efficientnet-lite-pytorch`` calls it.
    taps
        {stride: (blocks run so far, channels)} at the places where the heads tap it.
    """

    name: str
    taps: Mapping[int, tuple[int, int]]

    @property
    def channels(self) -> dict[int, int]:
        """{stride: channels}."""
        return {stride: channels for stride, (_, channels) in self.taps.items()}


_LITE0: Final = {4: (3, 24), 8: (5, 40), 16: (11, 112), 32: (16, 320)}
BODIES: Final = {
    "lite0": Body("efficientnet-lite0", _LITE0),
    "lite0-to-stride-16": Body("efficientnet-lite0", {s: tap for s, tap in _LITE0.items() if s <= 16}),
    "lite0-9-blocks": Body("efficientnet-lite0", {4: _LITE0[4], 8: _LITE0[8], 16: (9, 112)}),
    "lite1": Body("efficientnet-lite1", {4: (4, 24), 8: (7, 40), 16: (15, 112), 32: (21, 320)}),
}
"""Bodies by the name that ``ReaderSettings.body`` gives them."""
