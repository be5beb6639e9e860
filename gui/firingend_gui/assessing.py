"""Comparison and diagnosis of the session in hand, worked out elsewhere; only the newest answer counts."""

from __future__ import annotations

from collections.abc import Callable

from firingend_gui.running import Runner
from firingend_gui.services import Assessment, Services
from firingend_gui.session import Session


class Assessing:
    """Keeps the newest assessment and the question whether a newer one is on its way.

    Parameters
    ----------
    services, runner
        The library, and what runs it elsewhere.
    changed
        Called when ``latest`` or ``working`` changed.
    tell
        Called with an exception that came back instead of an answer.
    """

    def __init__(
        self,
        services: Services,
        runner: Runner,
        changed: Callable[[], None],
        tell: Callable[[Exception], None],
    ) -> None:
        self._services = services
        self._runner = runner
        self._changed = changed
        self._tell = tell
        self._generation = 0
        self._requested: Session | None = None
        self._waiting: list[Callable[[Assessment | None], None]] = []
        self.latest: Assessment | None = None
        self.working = False

    def request(self, session: Session) -> None:
        """Work out a newer assessment, unless this session has one; the last one stays up until it comes."""
        if session is self._requested:
            return
        self._requested = session
        self._generation += 1
        generation = self._generation
        self.working = True
        self._runner.submit(
            lambda: self._services.assess(session),
            lambda answer: self._settle(generation, answer, None),
            lambda error: self._settle(generation, None, error),
        )

    def forget(self) -> None:
        """Drop the assessment and whatever is on its way."""
        self._generation += 1
        self._requested = None
        self.latest = None
        self.working = False
        self._call_waiting()

    def when_settled(self, act: Callable[[Assessment | None], None]) -> None:
        """Call with the newest assessment, at once or as soon as it is there."""
        if self.working:
            self._waiting.append(act)
        else:
            act(self.latest)

    def _settle(self, generation: int, answer: Assessment | None, error: Exception | None) -> None:
        if generation != self._generation:
            return
        self.working = False
        if error is not None:
            # What was shown belongs to an older session: showing it on would be wrong.
            self.latest = None
            self._tell(error)
        else:
            self.latest = answer
        self._changed()
        self._call_waiting()

    def _call_waiting(self) -> None:
        waiting, self._waiting = self._waiting, []
        for act in waiting:
            act(self.latest)
