"""One sentence about what could not be done, above the floor; it blocks nothing."""

from __future__ import annotations

from PySide6.QtCore import Slot
from PySide6.QtGui import QPalette
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QToolButton, QWidget

from railmap.ui.icons import icon
from railmap.ui.theme import Theme


class MessageBar(QFrame):
    """A line of text with a button that puts it away."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.text, self._said = QLabel(), ""
        self.text.setWordWrap(True)
        self._mark = QLabel()
        self._close = QToolButton()
        self._close.setAutoRaise(True)
        self._close.setToolTip("Put this away")
        self._close.clicked.connect(self.clear)
        row = QHBoxLayout(self)
        row.setContentsMargins(12, 6, 8, 6)
        row.addWidget(self._mark)
        row.addWidget(self.text, 1)
        row.addWidget(self._close)
        self.setAutoFillBackground(True)
        self.setVisible(False)
        self.set_theme(theme)

    def set_theme(self, theme: Theme) -> None:
        """Paint in another theme."""
        colours = self.palette()
        colours.setColor(QPalette.ColorRole.Window, theme.panel)
        colours.setColor(QPalette.ColorRole.WindowText, theme.warn)
        self.setPalette(colours)
        self._figures = theme.figures
        self._write()
        self._mark.setPixmap(icon("caution", theme.warn, theme.warn).pixmap(18, 18))
        self._close.setIcon(icon("close", theme.ink, theme.soft_ink))

    @Slot(str)
    def say(self, sentence: str) -> None:
        """Show a sentence."""
        self._said = sentence
        self._write()
        self.setVisible(True)

    def _write(self) -> None:
        text = self._figures.words(self._said)
        self.text.setText(text)
        self.text.setAccessibleName(text)

    @Slot()
    def clear(self) -> None:
        """Put the sentence away."""
        self.setVisible(False)
