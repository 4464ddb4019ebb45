"""A line to type in, right on the floor: for a node's name or a length."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QEvent, QObject, QPoint, QStringListModel, Qt, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QCompleter, QFrame, QHBoxLayout, QLabel, QLineEdit, QWidget

from railmap.ui.bridge import sentence
from railmap.ui.theme import Theme


@dataclass(frozen=True)
class Question:
    """What is asked.

    Attributes
    ----------
    label, text : str
        What stands before the line, and in it.
    answer : callable
        Takes what was typed; returns an empty text, or the reason why it was refused.
    words : sequence of str
        What may be meant.
    onwards : callable, optional
        Called when the tabulator key has given the answer.
    tell : callable, optional
        Takes what stands in the line while it is typed; returns what that would mean.
    """

    label: str
    text: str
    answer: Callable[[str], str]
    words: Sequence[str] = ()
    onwards: Callable[[], None] | None = None
    tell: Callable[[str], str] | None = None


class FloorEditor(QFrame):
    """The line; Return takes what was typed, Escape leaves everything as it was."""

    def __init__(self, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self._owner = parent
        self.set_theme(theme)
        self.setAutoFillBackground(True)
        self.setFrameShape(QFrame.Shape.StyledPanel)
        self._label, self.line, self.reason = QLabel(), QLineEdit(), QLabel()
        self.line.setMinimumWidth(110)
        self.line.installEventFilter(self)
        # The list of what may be meant hands this key on to the line alone.
        self.line.returnPressed.connect(self._answered)
        self.line.textChanged.connect(self._typed)
        row = QHBoxLayout(self)
        row.setContentsMargins(8, 4, 8, 4)
        for widget in (self._label, self.line, self.reason):
            row.addWidget(widget)
        self._words = QStringListModel(self)
        self._names = QCompleter(self._words, self.line)
        self._names.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        self.line.setCompleter(self._names)
        self._question: Question | None = None
        self.setVisible(False)

    def set_theme(self, theme: Theme) -> None:
        """Write figures as another theme does."""
        self._figures = theme.figures

    def ask(self, question: Question, at: QPoint) -> None:
        """Ask something at a point of the view."""
        self._question = None
        self._label.setText(question.label)
        self.line.setAccessibleName(question.label)
        self.line.setText(question.text)
        self._words.setStringList(list(question.words))
        self._question = question
        self._typed(question.text)
        room = self._owner.rect().size() - self.size()
        self.move(max(0, min(at.x(), room.width())), max(0, min(at.y(), room.height())))
        self.setVisible(True)
        self.raise_()
        self.line.selectAll()
        self.line.setFocus()

    def leave(self) -> None:
        """Put the line away."""
        if self._question is not None:
            self._question = None
            popup = self._names.popup()
            if popup is not None:
                popup.hide()
            self.setVisible(False)
            self._owner.setFocus()

    @Slot()
    def _answered(self) -> None:
        self._take(onwards=False)

    @Slot(str)
    def _typed(self, text: str) -> None:
        tell = None if self._question is None else self._question.tell
        self._say("" if tell is None else tell(text))

    def _take(self, onwards: bool) -> None:
        question = self._question
        if question is None:
            return
        reason = question.answer(self.line.text())
        if reason:
            self._say(self._figures.words(sentence(reason)))
            return
        self.leave()
        if onwards and question.onwards is not None:
            question.onwards()

    def _say(self, reason: str) -> None:
        self.reason.setText(reason)
        self.reason.setVisible(bool(reason))
        self.adjustSize()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """See Qt."""
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            key = event.key()
            if key == Qt.Key.Key_Tab:
                self._take(onwards=True)
                return True
            if key == Qt.Key.Key_Escape:
                self.leave()
                return True
        if event.type() == QEvent.Type.ShortcutOverride:
            # Keys that mean something to the window are for the line while it is open.
            event.accept()
            return True
        return super().eventFilter(watched, event)
