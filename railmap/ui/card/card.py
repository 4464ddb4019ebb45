"""The card beside the floor: everything about what is selected."""

from __future__ import annotations

from PySide6.QtCore import QTimer, Qt, Slot
from PySide6.QtWidgets import QFrame, QScrollArea, QWidget

from railmap.ui.bridge import Bridge, Picked
from railmap.ui.card.pages import BoardPage, MapPage, Page, PartPage, RailPage
from railmap.ui.theme import Theme


class Card(QScrollArea):
    """Shows the page of what is selected, and keeps its figures up to date."""

    def __init__(self, bridge: Bridge, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._bridge, self._theme = bridge, theme
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName("Card of what is selected")
        self.page: Page = MapPage(bridge, theme)
        self.setWidget(self.page)
        self._turn = QTimer(self)
        self._turn.setSingleShot(True)
        self._turn.setInterval(0)
        self._turn.timeout.connect(self._turn_page)
        bridge.picked.connect(self._picked)
        bridge.solved.connect(self._refresh)
        bridge.map_changed.connect(self._map_changed)

    def set_theme(self, theme: Theme) -> None:
        """Paint in another theme."""
        self._theme = theme
        self._turn_page()

    @Slot(object)
    def _picked(self, _: Picked) -> None:
        # The page may be in the middle of an edit that renamed what it shows: turn it afterwards.
        self._turn.start()

    @Slot()
    def _turn_page(self) -> None:
        place = self.verticalScrollBar().value()
        same = self._same_kind()
        self.page = self._page_of(self._bridge.selection)
        self.setWidget(self.page)
        if same:
            self.verticalScrollBar().setValue(place)

    def _same_kind(self) -> bool:
        shown = {PartPage: "part", RailPage: "rail", BoardPage: "board"}.get(type(self.page), "")
        return shown == self._bridge.selection.kind

    def _page_of(self, what: Picked) -> Page:
        m = self._bridge.map
        if what.kind == "part" and what.key in m.parts:
            return PartPage(self._bridge, self._theme, what.key)
        if what.kind == "rail":
            return RailPage(self._bridge, self._theme, what.key)
        if what.kind == "board" and what.key in m.boards:
            return BoardPage(self._bridge, self._theme, what.key)
        return MapPage(self._bridge, self._theme)

    @Slot(object)
    def _refresh(self, _: object) -> None:
        self.page.refresh()

    @Slot(object)
    def _map_changed(self, _: object) -> None:
        page, m = self.page, self._bridge.map
        kind_changed = isinstance(page, PartPage) and page.ref not in m.parts
        if kind_changed:
            self._turn.start()
        else:
            page.refresh()
