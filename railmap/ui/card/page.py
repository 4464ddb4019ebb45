"""What the pages of the card share."""

from __future__ import annotations

from PySide6.QtWidgets import QFrame, QLabel, QVBoxLayout, QWidget

from railmap.model.railmap import Change
from railmap.ui.bridge import Bridge, Picked
from railmap.ui.card.form import Form
from railmap.ui.theme import Theme


class Page(QWidget):
    """What the pages share: a heading, a line below it, a form, and the way an edit is made."""

    form: Form

    def __init__(self, bridge: Bridge, theme: Theme) -> None:
        super().__init__()
        self.bridge, self.theme = bridge, theme
        self.heading, self.below = QLabel(), QLabel()
        font = self.heading.font()
        font.setPointSizeF(font.pointSizeF() * 1.5)
        font.setBold(True)
        self.heading.setFont(font)
        for label in (self.heading, self.below):
            label.setWordWrap(True)
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(14, 12, 14, 12)
        self.column.setSpacing(8)
        self.column.addWidget(self.heading)
        self.column.addWidget(self.below)

    @property
    def about(self) -> Picked:
        """What it shows."""
        return Picked()

    def stands(self) -> bool:
        """Tell whether the map still has what it shows."""
        return True

    def complaint(self) -> str:
        """Return what was typed and refused, in one sentence; nothing if all was taken."""
        reason = self.form.complaint()
        name = self.about.key
        return f"{name}: {reason}" if reason and name else reason

    def section(self, title: str) -> None:
        """Add a line and a title."""
        line = QFrame()
        line.setFrameShape(QFrame.Shape.HLine)
        line.setForegroundRole(line.backgroundRole())
        label = QLabel(title)
        font = label.font()
        font.setBold(True)
        label.setFont(font)
        self.column.addSpacing(2)
        self.column.addWidget(line)
        self.column.addWidget(label)

    def edit(self, name: str, changes: list[Change]) -> str:
        """Carry out an edit; return the reason if it was refused."""
        return self.bridge.refusal_of(name, changes)

    def rename(self, name: str, changes: list[Change]) -> str:
        """Carry out an edit after which ``about`` has another name, and keep it selected."""
        before, self.bridge.selection = self.bridge.selection, self.about
        reason = self.edit(name, changes)
        if reason:
            self.bridge.selection = before
        self.bridge.picked.emit(self.bridge.selection)
        return reason

    def refresh(self) -> None:
        """Show the present figures."""
