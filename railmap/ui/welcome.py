"""The first page: example maps, recent files, a new map, a file; it lies over the floor."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from PySide6.QtCore import QEvent, QObject, Qt, Signal, Slot
from PySide6.QtGui import QIcon, QKeySequence, QPalette, QShortcut
from PySide6.QtWidgets import (
    QAbstractButton,
    QCommandLinkButton,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from railmap.errors import FileError
from railmap.resources import example_paths
from railmap.store.files import load
from railmap.ui.icons import icon
from railmap.ui.settings import Settings

MOST_RECENT = 5
PURPOSE = (
    "Which rail is made where, from what, and for whom; what it will read at today's mains; and "
    "which part will be hottest."
)
CAUTION = (
    "A forecast, not a permission: local codes and the judgement of a licensed practitioner come "
    "first."
)


class Welcome(QScrollArea):
    """What one can begin with.

    Parameters
    ----------
    settings : Settings
        Knows the recent files.
    over : QWidget
        What it lies over.

    Attributes
    ----------
    file_wanted : Signal(object)
        A path was chosen.
    new_wanted, open_wanted, help_wanted, back_wanted : Signal()
        A new map, a file to be asked for, help, or the map that is open.
    """

    file_wanted = Signal(object)
    new_wanted = Signal()
    open_wanted = Signal()
    help_wanted = Signal()
    back_wanted = Signal()

    def __init__(self, settings: Settings, over: QWidget) -> None:
        super().__init__(over)
        self._settings, self._over = settings, over
        self._paths: dict[QAbstractButton, Path] = {}
        self.buttons: list[QPushButton] = []
        self.setWidgetResizable(True)
        self.setFrameShape(QScrollArea.Shape.NoFrame)
        self.setAccessibleName("First page")
        self.setVisible(False)
        over.installEventFilter(self)
        self.back_wanted.connect(self.put_away)
        QShortcut(
            QKeySequence("Esc"), self, self.put_away,
            context=Qt.ShortcutContext.WidgetWithChildrenShortcut,
        )  # fmt: skip

    @Slot()
    def open_up(self) -> None:
        """Show the page with what is recent now."""
        self._paths.clear()
        self.buttons.clear()
        self.setWidget(self._body())
        self.setGeometry(self._over.rect())
        self.show()
        self.raise_()
        self.buttons[0].setFocus()

    def _body(self) -> QWidget:
        body = QWidget()
        column = QVBoxLayout(body)
        column.setContentsMargins(36, 24, 36, 24)
        column.addWidget(_title("railmap", 2.0))
        column.addWidget(_text(PURPOSE))
        column.addSpacing(8)
        column.addLayout(self._begin())
        column.addSpacing(14)
        examples = example_paths()
        recent = [path for path in self._settings.recent if path not in examples]
        row = QHBoxLayout()
        row.setSpacing(24)
        row.addLayout(self._list("Example maps", [(p, _about(p)) for p in examples]), 1)
        shown = [(path, str(path.parent)) for path in recent[:MOST_RECENT]]
        row.addLayout(self._list("Recent files", shown), 1)
        column.addLayout(row)
        column.addStretch(1)
        column.addWidget(_text(CAUTION))
        return body

    def _begin(self) -> QHBoxLayout:
        row = QHBoxLayout()
        for text, signal in (
            ("&New map", self.new_wanted), ("&Open a file…", self.open_wanted),
            ("Five &minutes of help", self.help_wanted), ("&Back to the map", self.back_wanted),
        ):  # fmt: skip
            button = QPushButton(text)
            button.clicked.connect(signal)
            row.addWidget(button)
            self.buttons.append(button)
        row.addStretch(1)
        return row

    def _list(self, heading: str, found: Iterable[tuple[Path, str]]) -> QVBoxLayout:
        column = QVBoxLayout()
        column.setSpacing(2)
        column.addWidget(_title(heading, 1.2))
        for path, below in found:
            column.addWidget(self._choice(path, below))
        if column.count() == 1:
            column.addWidget(_text("None yet."))
        column.addStretch(1)
        return column

    def _choice(self, path: Path, below: str) -> QCommandLinkButton:
        name = path.stem.replace("_", " ").capitalize()
        button = QCommandLinkButton(name, below)
        button.setIcon(self._icon())
        button.setAccessibleName(f"Open {name}")
        button.setAccessibleDescription(below)
        button.setToolTip(str(path))
        button.clicked.connect(self._clicked)
        self._paths[button] = path
        self.buttons.append(button)
        return button

    def _icon(self) -> QIcon:
        ink = self.palette().color(QPalette.ColorRole.Link)
        return icon("open", ink, ink)

    @Slot()
    def _clicked(self) -> None:
        button = self.sender()
        assert isinstance(button, QAbstractButton)
        self.file_wanted.emit(self._paths[button])

    @Slot(object)
    def follow(self, _: object) -> None:
        """Make room once there is something to see on the floor."""
        self.put_away()

    @Slot()
    def put_away(self) -> None:
        """Show what is below."""
        if not self.isHidden():
            self.setVisible(False)
            self._over.setFocus()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """See Qt."""
        if event.type() == QEvent.Type.Resize and not self.isHidden():
            self.setGeometry(self._over.rect())
        return super().eventFilter(watched, event)

    def changeEvent(self, event: QEvent) -> None:
        """See Qt."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange:
            for button in self._paths:
                button.setIcon(self._icon())


def _about(path: Path) -> str:
    """Return in a line what an example holds."""
    try:
        m = load(path)
    except FileError as error:
        return f"{error}."
    counts = ((len(m.boards), "board"), (len(m.parts), "part"), (len(m.rails), "rail"))
    return ", ".join(f"{count} {word}{'' if count == 1 else 's'}" for count, word in counts)


def _title(text: str, size: float) -> QLabel:
    label = QLabel(text)
    font = label.font()
    font.setPointSizeF(font.pointSizeF() * size)
    font.setBold(True)
    label.setFont(font)
    return label


def _text(text: str) -> QLabel:
    label = QLabel(text)
    label.setWordWrap(True)
    return label
