"""A form of fields: every value is read as typed, and a bad one says why where it stands."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QPalette
from PySide6.QtWidgets import QCheckBox, QComboBox, QGridLayout, QLabel, QLineEdit, QWidget

from railmap.errors import RailmapError
from railmap.ui.bridge import sentence
from railmap.ui.card.choice import ChoiceBox
from railmap.ui.card.fields import Field
from railmap.ui.theme import Theme

Give = Callable[[str, Any], str]
"""Takes a field's name and value; returns an empty text, or the reason why it was refused."""


def write_into(editor: QLineEdit, text: str) -> None:
    """Show a text in an editor; one that shows it already keeps what is selected in it."""
    if editor.text() != text:
        editor.setText(text)
        editor.setCursorPosition(0)


class Form(QWidget):
    """Fields of one item.

    Parameters
    ----------
    fields : list of Field
        What to show.
    give : callable
        Called with name and value when one has been changed.
    theme : Theme
        Ink of a reason, and how figures are written and read.
    """

    def __init__(
        self, fields: list[Field], give: Give, theme: Theme, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._give = give
        self._theme = theme
        self._fields = {f.name: f for f in fields}
        self.editors: dict[str, QWidget] = {}
        self._reasons: dict[str, QLabel] = {}
        self._values: dict[str, Any] = {}
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(10)
        grid.setVerticalSpacing(4)
        grid.setColumnStretch(1, 1)
        for row, field in enumerate(fields):
            self._add_row(grid, 2 * row, field)

    def show_values(self, item: object) -> None:
        """Show an item's values; a field that is being typed in keeps its text."""
        for name, field in self._fields.items():
            value = getattr(item, name)
            editor = self.editors[name]
            if isinstance(editor, QLineEdit) and editor.hasFocus() and editor.isModified():
                continue
            self._values[name] = value
            self._show(editor, field, value)
            self._say(name, "")

    def complaint(self) -> str:
        """Return the first reason that stands under a field, or nothing."""
        return next((r.text() for r in self._reasons.values() if r.text()), "")

    def _add_row(self, grid: QGridLayout, row: int, field: Field) -> None:
        label = QLabel(field.label)
        editor = self._editor(field)
        editor.setAccessibleName(field.label)
        label.setBuddy(editor)
        reason = QLabel()
        reason.setWordWrap(True)
        reason.setVisible(False)
        colours = reason.palette()
        colours.setColor(QPalette.ColorRole.WindowText, self._theme.warn)
        reason.setPalette(colours)
        grid.addWidget(label, row, 0, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        grid.addWidget(editor, row, 1)
        grid.addWidget(reason, row + 1, 0, 1, 2)
        self.editors[field.name] = editor
        self._reasons[field.name] = reason

    def _editor(self, field: Field) -> QWidget:
        """Return the widget of a field; it carries the field's name, which its signals need."""
        editor: QWidget
        if field.form == "yes":
            editor = QCheckBox()
            editor.clicked.connect(self._ticked)
        elif field.form == "choice":
            editor = ChoiceBox()
            for choice in field.choices:
                editor.addItem(field.say(choice), choice)
            editor.activated.connect(self._chosen)
        else:
            editor = QLineEdit()
            editor.setPlaceholderText("not given" if field.optional else "")
            editor.editingFinished.connect(self._typed)
        editor.setObjectName(field.name)
        return editor

    @Slot(bool)
    def _ticked(self, on: bool) -> None:
        self._take(self.sender().objectName(), on)

    @Slot(int)
    def _chosen(self, _: int) -> None:
        combo = self.sender()
        assert isinstance(combo, QComboBox)
        self._take(combo.objectName(), combo.currentData())

    @Slot()
    def _typed(self) -> None:
        self._read(self.sender().objectName())

    def _show(self, editor: QWidget, field: Field, value: Any) -> None:
        if isinstance(editor, QCheckBox):
            editor.setChecked(bool(value))
        elif isinstance(editor, QComboBox):
            editor.setCurrentIndex(editor.findData(value))
        elif isinstance(editor, QLineEdit):
            write_into(editor, field.write(value, self._theme.figures))

    def _read(self, name: str) -> None:
        field, editor = self._fields[name], self.editors[name]
        assert isinstance(editor, QLineEdit)
        if not editor.isModified():
            return
        editor.setModified(False)
        figures = self._theme.figures
        if editor.text() == field.write(self._values.get(name), figures):
            self._say(name, "")
            return
        try:
            value = field.read(editor.text(), figures)
        except RailmapError as error:
            self._say(name, str(error))
            return
        self._take(name, value)

    def _take(self, name: str, value: Any) -> None:
        if value != self._values.get(name):
            self._say(name, self._give(name, value))

    def _say(self, name: str, reason: str) -> None:
        label = self._reasons[name]
        label.setText(self._theme.figures.words(sentence(reason)) if reason else "")
        label.setVisible(bool(reason))
