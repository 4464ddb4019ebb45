"""The card beside the floor: everything about what is selected."""

from __future__ import annotations

from PySide6.QtCore import Qt, QTimer, Slot
from PySide6.QtWidgets import QApplication, QFrame, QLineEdit, QScrollArea, QWidget

from railmap.ui.bridge import Bridge, Picked
from railmap.ui.canvas.boardwork import BoardWork
from railmap.ui.canvas.group import Group
from railmap.ui.card.boardpage import BoardPage
from railmap.ui.card.grouppage import GroupPage
from railmap.ui.card.page import Page
from railmap.ui.card.pages import MapPage, PartPage, RailPage
from railmap.ui.card.surging import Surging
from railmap.ui.theme import Theme


class Card(QScrollArea):
    """Shows the page of what is selected, and keeps its figures up to date.

    Parameters
    ----------
    bridge : Bridge
        The map, its solutions and what is selected.
    theme : Theme
        Colours.
    boards : BoardWork
        What can be done with photo and marks of a board.
    """

    def __init__(
        self, bridge: Bridge, theme: Theme, boards: BoardWork, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._bridge, self._theme, self._boards = bridge, theme, boards
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName("Card of what is selected")
        self.surging = Surging(bridge, self)
        self.page: Page = MapPage(bridge, theme)
        self.setWidget(self.page)
        self._turn = QTimer(self)
        self._turn.setSingleShot(True)
        self._turn.setInterval(0)
        self._turn.timeout.connect(self._turn_page)
        bridge.picked.connect(self._picked)
        bridge.solved.connect(self._refresh)
        bridge.unsolved.connect(self._refresh)
        bridge.map_changed.connect(self._map_changed)

    def set_theme(self, theme: Theme) -> None:
        """Paint in another theme."""
        self._theme = theme
        self._turn_page()

    @Slot(str)
    def ask(self, ref: str) -> None:
        """Give the keyboard to the main value of a part that has just been placed."""
        self._turn.stop()
        self._turn_page()
        part = self._bridge.map.parts.get(ref)
        if part is None or self.page.about != Picked("part", ref):
            return
        editor = self.page.form.editors.get(part.main_field)
        if isinstance(editor, QLineEdit):
            self.ensureWidgetVisible(editor)
            editor.setFocus()
            editor.selectAll()

    @Slot()
    def take_keyboard(self) -> None:
        """Give the keyboard to the first thing on the page that takes it."""
        # The next child by Qt would be one elsewhere: a new page stands last in its chain.
        tab = Qt.FocusPolicy.TabFocus
        for child in self.page.findChildren(QWidget):
            if child.focusPolicy() & tab == tab and child.isVisible() and child.isEnabled():
                child.setFocus()
                self.ensureWidgetVisible(child)
                return
        self.setFocus()

    @Slot(object)
    def _picked(self, what: Picked) -> None:
        # A rename comes out of the page itself, which stays: there is more to be typed on it.
        if what != self.page.about:
            self._turn.start()

    @Slot()
    def _turn_page(self) -> None:
        before, held = self.page.about, self._end_typing()
        place = self.verticalScrollBar().value()
        self.page = self._page_of(self._bridge.selection)
        self.setWidget(self.page)
        if before.kind == self._bridge.selection.kind:
            self.verticalScrollBar().setValue(place)
        if held and before == self.page.about:
            self._give_keyboard(held)

    def _give_keyboard(self, name: str) -> None:
        """Go on where the keyboard was on the page before, or at the first thing there is."""
        found = self.page.findChild(QWidget, name)
        if isinstance(found, QWidget):
            found.setFocus()
        else:
            self.take_keyboard()

    def _end_typing(self) -> str:
        """Take what is being typed; a reason why it is refused would go with the page.

        Returns
        -------
        str
            What had the keyboard, by its name; empty if it was nothing on the page.
        """
        editor = QApplication.focusWidget()
        held = ""
        if editor is not None and self.page.isAncestorOf(editor):
            held = editor.objectName()
            editor.clearFocus()
        reason = self.page.complaint()
        if reason:
            self._bridge.trouble.emit(reason)
        return held

    def _page_of(self, what: Picked) -> Page:
        m = self._bridge.map
        if isinstance(what, Group) and all(ref in m.parts for ref in what.refs):
            return GroupPage(self._bridge, self._theme, what)
        if what.kind == "part" and what.key in m.parts:
            return PartPage(self._bridge, self._theme, what.key, self.surging)
        if what.kind == "rail":
            return RailPage(self._bridge, self._theme, what.key)
        if what.kind == "board" and what.key in m.boards:
            return BoardPage(self._bridge, self._theme, what.key, self._boards)
        return MapPage(self._bridge, self._theme)

    @Slot()
    def _refresh(self) -> None:
        self.page.refresh()

    @Slot(object)
    def _map_changed(self, _: object) -> None:
        if self.page.stands():
            self.page.refresh()
        else:
            self._turn.start()
