"""A row of buttons that fits any width: those that have no room stand in a menu at its end."""

from __future__ import annotations

from PySide6.QtCore import QSize, Slot
from PySide6.QtGui import QAction, QResizeEvent
from PySide6.QtWidgets import (
    QHBoxLayout,
    QMenu,
    QPushButton,
    QSizePolicy,
    QToolButton,
    QWidget,
)


class FittingRow(QWidget):
    """Buttons from the left, and what is left of the room for one more widget.

    Parameters
    ----------
    rest : QWidget
        What stands behind the buttons; it gives way before any of them.

    Attributes
    ----------
    more : QToolButton
        Shows the buttons that have no room as a menu; hidden while there are none.
    """

    def __init__(self, rest: QWidget) -> None:
        super().__init__()
        self._buttons: list[QPushButton] = []
        self.more = QToolButton()
        self.more.setText("&More")
        self.more.setAccessibleName("More buttons")
        self.more.setToolTip("What else can be done here")
        self.more.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        menu = QMenu(self.more)
        menu.setToolTipsVisible(True)
        menu.aboutToShow.connect(self._fill)
        self.more.setMenu(menu)
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(8, 4, 10, 4)
        self._row.setSpacing(6)
        self._row.addWidget(self.more)
        self._row.addWidget(rest, 1)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)

    def add(self, button: QPushButton) -> None:
        """Add a button behind those that are there."""
        self._row.insertWidget(len(self._buttons), button)
        self._buttons.append(button)
        self._fit()

    def _fit(self) -> None:
        """Show as many buttons as there is room for."""
        edges = self._row.contentsMargins()
        room = self.width() - edges.left() - edges.right()
        wide = [button.sizeHint().width() + self._row.spacing() for button in self._buttons]
        count = len(wide)
        if sum(wide) > room:
            room -= self.more.sizeHint().width() + self._row.spacing()
            while count and sum(wide[:count]) > room:
                count -= 1
        for number, button in enumerate(self._buttons):
            button.setVisible(number < count)
        self.more.setVisible(count < len(wide))

    @Slot()
    def _fill(self) -> None:
        """Put the buttons that have no room into the menu."""
        menu = self.more.menu()
        menu.clear()
        for button in self._buttons:
            if button.isHidden():
                action = QAction(button.text(), menu)
                action.setToolTip(button.toolTip())
                action.setCheckable(button.isCheckable())
                action.setChecked(button.isChecked())
                action.triggered.connect(button.click)
                menu.addAction(action)

    def minimumSizeHint(self) -> QSize:
        """See Qt; the buttons do not decide how narrow the row may be."""
        edges = self._row.contentsMargins()
        wide = edges.left() + self.more.sizeHint().width() + edges.right()
        return QSize(wide, self.sizeHint().height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._fit()
