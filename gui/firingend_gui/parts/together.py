"""What the cylinders say together, in one large sentence."""

from __future__ import annotations

from PySide6.QtCore import Qt

from firingend_gui.parts.plain import Panel, Words
from firingend_gui.states import ComparisonState


class TogetherPanel(Panel):
    """Shows a `ComparisonState`; can have the focus so that a screen reader reads it."""

    def __init__(self) -> None:
        super().__init__("What the cylinders say together", margin=14, spacing=4)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._headline = Words(scale=1.5, bold=True)
        self._detail = Words(scale=1.1)
        self._colours = Words()
        self._strength = Words()
        for words in (self._headline, self._detail, self._colours, self._strength):
            self.column.addWidget(words)

    def show_state(self, state: ComparisonState) -> None:
        """Show this state."""
        self._headline.say(state.headline)
        self._detail.say(state.detail)
        colours = "\n".join(state.colours)
        self._colours.say(colours)
        strength = state.strength
        if state.working and state.detail:
            strength = f"{strength} · a newer answer is being worked out".removeprefix(" · ")
        self._strength.say(strength)
        self.setAccessibleDescription(
            " ".join(part for part in (state.headline, state.detail, colours, strength) if part)
        )
