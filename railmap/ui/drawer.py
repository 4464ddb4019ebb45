"""The drawer below the floor: one tab for each worksheet."""

from __future__ import annotations

from PySide6.QtCore import QSize
from PySide6.QtWidgets import QTabWidget, QWidget

from railmap.ui.bridge import Bridge
from railmap.ui.theme import Theme
from railmap.ui.worksheets.notes import CautionList
from railmap.ui.worksheets.parts import PartsSheet
from railmap.ui.worksheets.ripple import RippleSheet
from railmap.ui.worksheets.several import SeveralRows
from railmap.ui.worksheets.tables import hot_sheet, rail_sheet

SHEETS = ("Hot list", "Rails", "Parts", "Ripple", "Cautions")
"""Titles of the worksheets, in the order of their tabs."""

LEAST = QSize(180, 120)


class Drawer(QTabWidget):
    """The worksheets.

    Parameters
    ----------
    bridge : Bridge
        The map, its solutions and what is selected.
    theme : Theme
        Colours.
    """

    def __init__(self, bridge: Bridge, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setDocumentMode(True)
        self.setAccessibleName("Worksheets")
        self.hot = hot_sheet(bridge, theme)
        self.rails = rail_sheet(bridge, theme)
        self.parts = PartsSheet(bridge, theme)
        self.several = SeveralRows(bridge, self.parts.grid)
        self.ripple = RippleSheet(bridge, theme)
        self.cautions = CautionList(bridge, theme)
        sheets = (self.hot, self.rails, self.parts, self.ripple, self.cautions)
        for title, sheet in zip(SHEETS, sheets, strict=True):
            self.addTab(sheet, title)

    def set_theme(self, theme: Theme) -> None:
        """Paint in another theme."""
        for sheet in (self.hot, self.rails):
            sheet.rows.theme = theme
            sheet.viewport().update()
        for sheet in (self.parts, self.ripple, self.cautions):
            sheet.set_theme(theme)

    @property
    def title(self) -> str:
        """Title of the worksheet that is seen."""
        return SHEETS[self.currentIndex()]

    def show_sheet(self, title: str) -> None:
        """Show a worksheet; an unknown title changes nothing."""
        if title in SHEETS:
            self.setCurrentIndex(SHEETS.index(title))

    def go_to(self, title: str) -> None:
        """Show a worksheet and give it the keyboard."""
        self.show_sheet(title)
        self.currentWidget().setFocus()

    def count_cautions(self) -> int:
        """Write the number of cautions on their tab, and return it."""
        count = self.cautions.count_now
        title = SHEETS[-1]
        at = self.indexOf(self.cautions)
        self.setTabText(at, f"{title} ({count})" if count else title)
        return count

    def minimumSizeHint(self) -> QSize:
        """See Qt; the widest worksheet does not decide how narrow the window may be."""
        return LEAST
