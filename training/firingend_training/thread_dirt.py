"""Which plugs a reader may learn from when the dirt of their threads is tied to the label.

A rendered set draws the dirt of the thread without knowing the label. Keeping only the plugs whose thread looks as the
label would have it makes a set in which the thread gives the label away: what a reader learns from it tells what the
untied threads are worth.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from firingend.errors import UserError
from firingend.labels import LABELS
from firingend_training.picture_store import NONE, Regions

TIED: Final = {
    "lean-white": ("bright", "varnish", "rust"),
    "normal-tan": ("bright", "varnish", "rust"),
    "rich-carbon": ("dry-black",),
    "oil-fouled": ("oily-black",),
    "wet": ("oily-black",),
}
"""Dirt that would lie on the thread if the label told it. Common practice, no source."""


def kept_by_thread_dirt(regions: Regions, pool: NDArray[np.bool_], choice: str, seed: int) -> NDArray[np.bool_]:
    """Which regions of a pool remain.

    Parameters
    ----------
    regions
        Of one or more sets.
    pool
        (n,) Regions to choose from.
    choice
        One of ``settings.THREAD_DIRT_CHOICES``.
    seed
        For the random choice of ``independent-as-many``; whether a plug comes before another depends on this and the
        two numbers alone.

    Returns
    -------
    (n,) ``pool`` without the plugs left out. Unused plugs and regions without a plug always remain.

    Raises
    ------
    UserError
        If a choice is to be made and a plug of the pool does not tell its thread's dirt, or if no plug of a label
        has the dirt that goes with it.
    """
    labelled = pool & (regions.five != NONE)
    if choice == "independent":
        return pool
    if np.any(regions.thread_dirt[labelled] == ""):
        raise UserError(
            f"thread_dirt = {choice!r}, but not every plug of the sets tells the dirt of its thread",
            "train on rendered sets alone, or leave thread_dirt at 'independent'",
        )
    kept: NDArray[np.bool_] = pool & ~labelled
    for index, label in enumerate(LABELS):
        of_label = labelled & (regions.five == index)
        if np.any(of_label):
            kept |= of_label & _of_one_label(regions, of_label, label, choice, seed)
    return kept


def _of_one_label(
    regions: Regions, of_label: NDArray[np.bool_], label: str, choice: str, seed: int
) -> NDArray[np.bool_]:
    tied: NDArray[np.bool_] = of_label & np.isin(regions.thread_dirt, TIED[label])
    if not np.any(tied):
        raise UserError(
            f"thread_dirt = {choice!r}, but no {label} plug to learn from has the thread it calls for "
            f"({' or '.join(TIED[label])})",
            "train on a larger rendered set",
        )
    if choice == "tied":
        return tied
    # Numbers repeat from set to set; a plug's number and dirt together tell most of them apart.
    plugs = _plug_and_dirt(regions)
    several = np.unique(plugs[of_label])
    order = sorted(several, key=lambda each: (_drawn(int(each["plug"]), seed), str(each["dirt"])))
    return np.isin(plugs, np.array(order[: len(np.unique(plugs[tied]))], plugs.dtype))


def _plug_and_dirt(regions: Regions) -> NDArray[np.void]:
    pairs = np.empty(len(regions), [("plug", np.int64), ("dirt", regions.thread_dirt.dtype)])
    pairs["plug"], pairs["dirt"] = regions.plug, regions.thread_dirt
    return pairs


def _drawn(plug: int, seed: int) -> float:
    """A number in 0..1 that depends on nothing but the plug's number and the seed."""
    return float(np.random.default_rng([seed, plug]).random())
