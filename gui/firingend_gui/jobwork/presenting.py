"""From jobs in the store to what the window shows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from firingend_gui.states import JobState

if TYPE_CHECKING:
    from firingend_gui.jobwork.keeper import Keeper


def head(keeper: Keeper) -> JobState:
    """The open job for the head of the window."""
    job = keeper.job
    assert job is not None
    card = job.card
    facts = [f"Job {job.number}", card.customer, card.mark]
    kept = "Not kept yet" if keeper.not_kept else f"Kept, state {job.revision}"
    return JobState(job.number, " · ".join(fact for fact in facts if fact), card.status, keeper.stage, kept)
