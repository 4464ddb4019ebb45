"""Reads everything that a window says, for the tests of the decimal sign."""

import re
from collections.abc import Callable, Iterator
from typing import Any

from PySide6.QtCore import QAbstractListModel, QModelIndex, Qt
from PySide6.QtGui import QAction
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QAbstractSpinBox,
    QComboBox,
    QGraphicsItem,
    QLabel,
    QLineEdit,
    QWidget,
)

from railmap.ui.ladder import words
from railmap.ui.settings import Preferences, Settings
from railmap.ui.window import Window

POINTED, COMMAED = re.compile(r"\d\.\d"), re.compile(r"\d,\d")
ROLES = (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole, Qt.ItemDataRole.ToolTipRole)
JSON_COLUMNS = ("Fitted, other", "Found, other")
"""Cells for machines: JSON has a point."""


def with_comma(text: str) -> str:
    return re.sub(r"(?<=\d)\.(?=\d)", ",", text)


class Reader:
    """Reads everything that a window says, and turns its decimal sign."""

    def __init__(self, window: Window, settings: Settings, settle: Callable[[], None]) -> None:
        self.window, self._settings, self._settle = window, settings, settle
        self.painted: list[str] = []

    def turn(self, sign: Any) -> None:
        self._settings.preferences = Preferences(decimal=sign, dark=False)
        self._settle()

    def texts(self, places: tuple[str, ...]) -> dict[str, list[str]]:
        """What is said now at some places."""
        return {place: self._texts_at(place) for place in places}

    def _texts_at(self, place: str) -> list[str]:
        window, scene = self.window, self.window.ladder.scene
        tiles = window.view.floor.parts.values()
        keys = [("rail", node) for node in scene.ladder.rungs]
        keys += [("part", ref) for ref in scene.map.parts]
        match place:
            case "actions":
                return [action.text() for action in window.findChildren(QAction)]
            case "words":
                return [words.about(scene, key) for key in keys]
            case "faces":
                faces = [item.face for item in tiles]
                return [t for face in faces for t in (face.value, face.figure, face.second)]
            case "floor":
                for item in window.view.floor.items():
                    # A cached item would not be painted, and so not be read.
                    item.setCacheMode(QGraphicsItem.CacheMode.NoCache)
        widgets: dict[str, QWidget] = {
            "floor": window.view, "ladder": window.ladder, "card": window.card.page,
            "mains": window.mains, "status": window.statusBar(),
            "sheet": window.drawer.currentWidget(),
        }  # fmt: skip
        return self._of(widgets[place])

    def _of(self, widget: QWidget) -> list[str]:
        self.painted.clear()
        widget.grab()
        found = list(self.painted)
        for one in (widget, *widget.findChildren(QWidget)):
            found += [one.accessibleName(), one.accessibleDescription(), one.toolTip()]
            if isinstance(one, QLabel | QLineEdit | QAbstractButton | QAbstractSpinBox):
                found.append(one.text())
            if isinstance(one, QComboBox):
                found += [one.itemText(i) for i in range(one.count())]
            if isinstance(one, QAbstractItemView):
                found += _cells(one)
        return found


def _cells(view: QAbstractItemView) -> Iterator[str]:
    model, root = view.model(), QModelIndex()
    # A list has one column, and no title for it.
    count = 1 if isinstance(model, QAbstractListModel) else model.columnCount(root)
    for column in range(count):
        if model.headerData(column, Qt.Orientation.Horizontal) in JSON_COLUMNS:
            continue
        for row in range(model.rowCount(root)):
            for role in ROLES:
                yield str(model.index(row, column).data(role) or "")
