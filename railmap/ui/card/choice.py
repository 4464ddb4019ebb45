"""A box to choose from that leaves the wheel to the page it stands on."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QComboBox, QCompleter, QWidget

LETTERS = 8
"""So many letters it has room for at least."""


class ChoiceBox(QComboBox):
    """A combo box that scrolling past it does not change, and that never guesses at a name.

    Parameters
    ----------
    editable : bool
        True to take names that are not in its list.
    """

    def __init__(self, editable: bool = False, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.setEditable(editable)
        # A long choice does not make the page wider than the card.
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(LETTERS)
        completer = self.completer()
        if completer is not None:
            # Completing in the line would turn N1 into N10 on the way.
            completer.setCompletionMode(QCompleter.CompletionMode.PopupCompletion)
            completer.setCaseSensitivity(Qt.CaseSensitivity.CaseSensitive)

    def wheelEvent(self, event: QWheelEvent) -> None:
        """See Qt."""
        if self.hasFocus():
            super().wheelEvent(event)
        else:
            event.ignore()
