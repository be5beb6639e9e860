"""Messages and the one question, in the window and never in front of it."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAccessible, QAccessibleAnnouncementEvent
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from firingend_gui.parts.marks import Triangle
from firingend_gui.parts.picture import PictureButton, PictureStore
from firingend_gui.parts.plain import BigButton, Panel, Words, WrappingRow, empty
from firingend_gui.states import ChoiceState, NoticeState, OfferState, QuestionState
from firingend_gui.wording import sentence


class NoticePanel(QWidget):
    """Shows messages one under the other, each with a button to put it away."""

    put_away = Signal(int)

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Messages")
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(6)
        self._known: set[int] = set()
        self.hide()

    @property
    def first(self) -> QWidget | None:
        """What takes the focus when one comes here by key."""
        return self.findChild(BigButton)

    def show_notices(self, notices: tuple[NoticeState, ...]) -> None:
        """Show these messages and read new ones out."""
        empty(self._column)
        for notice in notices:
            self._column.addWidget(self._row(notice))
            if notice.number not in self._known:
                self._known.add(notice.number)
                words = f"{notice.text}. {notice.remedy}"
                QAccessible.updateAccessibility(QAccessibleAnnouncementEvent(self, words))
        self.setVisible(bool(notices))

    def _row(self, notice: NoticeState) -> Panel:
        panel = Panel("Problem" if notice.kind == "error" else "Message", margin=8)
        line = QHBoxLayout()
        line.setSpacing(10)
        if notice.kind == "error":
            line.addWidget(Triangle(), 0, Qt.AlignmentFlag.AlignVCenter)
        text = QVBoxLayout()
        text.setSpacing(0)
        text.addWidget(Words(sentence(notice.text), bold=True))
        if notice.remedy:
            text.addWidget(Words(sentence(notice.remedy)))
        line.addLayout(text, 1)
        away = BigButton("Put away", f"Put away the message: {notice.text}")
        away.clicked.connect(lambda: self.put_away.emit(notice.number))
        line.addWidget(away)
        panel.column.addLayout(line)
        panel.setAccessibleDescription(f"{notice.text}. {notice.remedy}")
        return panel


class ChoicePanel(Panel):
    """Asks what must be decided before work on a job card goes on."""

    answered = Signal(str)

    def __init__(self) -> None:
        super().__init__("Decision about the job", heavy=True)
        line = QHBoxLayout()
        line.setSpacing(14)
        line.addWidget(Triangle(), 0, Qt.AlignmentFlag.AlignTop)
        column = QVBoxLayout()
        self._text = Words(scale=1.15, bold=True)
        self._detail = Words()
        column.addWidget(self._text)
        column.addWidget(self._detail)
        line.addLayout(column, 1)
        self._answers = QHBoxLayout()
        line.addLayout(self._answers)
        self.column.addLayout(line)
        self.buttons: dict[str, BigButton] = {}
        self.hide()

    def show_choice(self, choice: ChoiceState | None) -> None:
        """Ask this, or nothing."""
        empty(self._answers)
        self.buttons = {}
        self.setVisible(choice is not None)
        if choice is None:
            return
        self._text.say(sentence(choice.text))
        self._detail.say(sentence(choice.detail))
        said = f"{sentence(choice.text)} {sentence(choice.detail)}"
        self.setAccessibleDescription(said)
        for key, words in choice.answers:
            button = BigButton(words, f"{words}: {choice.text}")
            button.clicked.connect(lambda _=False, key=key: self.answered.emit(key))
            self.buttons[key] = button
            self._answers.addWidget(button)
        QAccessible.updateAccessibility(QAccessibleAnnouncementEvent(self, said))


class OfferPanel(Panel):
    """Offers photographs that came into the watched folder; never in front of anything, and never twice."""

    accepted = Signal()
    declined = Signal()

    def __init__(self, store: PictureStore) -> None:
        super().__init__("Photos that came in", margin=8)
        line = QHBoxLayout()
        line.setSpacing(14)
        self._picture = PictureButton(store)
        self._picture.setFixedSize(120, 80)
        self._picture.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._picture.setAccessibleName("The first photo that came in")
        line.addWidget(self._picture)
        column = QVBoxLayout()
        self._text = Words(scale=1.15, bold=True)
        self._detail = Words()
        column.addWidget(self._text)
        column.addWidget(self._detail)
        column.addStretch(1)
        line.addLayout(column, 1)
        self.add = BigButton("Add them", "Add the photos that came in", strong=True)
        self.add.clicked.connect(self.accepted)
        self.leave = BigButton("Leave them out", "Leave out the photos that came in")
        self.leave.clicked.connect(self.declined)
        line.addWidget(self.add)
        line.addWidget(self.leave)
        self.column.addLayout(line)
        self.hide()

    def show_offer(self, offer: OfferState | None) -> None:
        """Offer these, or nothing."""
        self.setVisible(offer is not None)
        if offer is None:
            return
        self._text.say(offer.text)
        self._detail.say(offer.detail)
        self.setAccessibleDescription(f"{offer.text} {offer.detail}")
        self._picture.show_ref(offer.picture, "")
        QAccessible.updateAccessibility(QAccessibleAnnouncementEvent(self, offer.text))


class QuestionPanel(Panel):
    """Asks which firing end of a photograph belongs where."""

    answered = Signal(str)

    def __init__(self, store: PictureStore) -> None:
        super().__init__("Question about a photo")
        line = QHBoxLayout()
        line.setSpacing(14)
        self._picture = PictureButton(store)
        self._picture.setFixedSize(300, 150)
        self._picture.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._picture.setAccessibleName("The photo in question")
        line.addWidget(self._picture)
        side = QVBoxLayout()
        self._text = Words(scale=1.25, bold=True)
        side.addWidget(self._text)
        self._answers = WrappingRow()
        side.addLayout(self._answers)
        side.addStretch(1)
        line.addLayout(side, 1)
        self.column.addLayout(line)
        self.buttons: dict[str, BigButton] = {}
        self.hide()

    def show_question(self, question: QuestionState | None) -> None:
        """Ask this, or nothing."""
        empty(self._answers)
        self.buttons = {}
        self.setVisible(question is not None)
        if question is None:
            return
        self._text.say(question.text)
        self.setAccessibleDescription(question.text)
        self._picture.show_ref(question.picture, "")
        for key, words in question.answers:
            button = BigButton(words, f"{question.text} {words}")
            button.clicked.connect(lambda _=False, key=key: self.answered.emit(key))
            self.buttons[key] = button
            self._answers.addWidget(button)
        QAccessible.updateAccessibility(QAccessibleAnnouncementEvent(self, question.text))
        next(iter(self.buttons.values())).setFocus(Qt.FocusReason.OtherFocusReason)
