"""Everything in a picture that is not a plug and not the ground: hands, clutter and parts to be told apart."""

from __future__ import annotations

from firingend_training.scenes.clutter import clutter
from firingend_training.scenes.hands import hand
from firingend_training.scenes.near_misses import OTHER_PARTS, other_part

__all__ = ["OTHER_PARTS", "clutter", "hand", "other_part"]
