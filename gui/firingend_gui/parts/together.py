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
        self._sentence = Words(scale=1.5, bold=True)
        self._strength = Words()
        self.column.addWidget(self._sentence)
        self.column.addWidget(self._strength)

    def show_state(self, state: ComparisonState) -> None:
        """Show this state."""
        self._sentence.say(state.sentence)
        strength = state.strength
        if state.working and strength:
            strength += " · a newer answer is being worked out"
        self._strength.say(strength)
        self.setAccessibleDescription(f"{state.sentence} {strength}".strip())
