"""Preferences in a window of their own that blocks nothing; each change acts at once."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from PySide6.QtCore import Signal, Slot
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QLabel,
    QLineEdit,
    QVBoxLayout,
    QWidget,
)

from railmap.errors import MapError, UnitError
from railmap.model.railmap import About
from railmap.ui.bridge import sentence
from railmap.ui.settings import Settings, desktop_sign

NEW_MAPS = (
    ("mains_volts", "&Mains", "V", "Design mains volts of new maps"),
    ("mains_hertz", "&Frequency", "Hz", "Mains frequency of new maps"),
    ("ambient_c", "&Air around parts", "C", "Air inside the equipment, for new maps"),
)
SIGN_WORDS = {".": "point", ",": "comma"}


class FigureEdit(QWidget):
    """A figure of new maps, with the reason below it when it was refused.

    Attributes
    ----------
    told : Signal()
        There is a reason, or none any more.
    """

    told = Signal()

    def __init__(self, settings: Settings, field: str, unit: str, says: str) -> None:
        super().__init__()
        self._settings, self._field, self._unit = settings, field, unit
        self.line, self.reason = QLineEdit(), QLabel()
        self.line.setAccessibleName(says)
        self.line.setToolTip(says)
        self.reason.setWordWrap(True)
        self.reason.setVisible(False)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.line)
        column.addWidget(self.reason)
        self.line.editingFinished.connect(self.take)
        self.show_value()

    @Slot()
    def show_value(self) -> None:
        """Show what is set, as the figures are written now."""
        value = getattr(self._settings.preferences, self._field)
        self.line.setText(self._settings.figures.code(value, self._unit))
        self._say("")

    @Slot()
    def take(self) -> None:
        """Take what was typed; if it cannot be, say why and change nothing."""
        try:
            value = self._settings.figures.parse(self.line.text(), self._unit)
            figure: dict[str, Any] = {self._field: value}
            About(**figure)
        except UnitError as error:
            self._say(sentence(error))
            return
        except MapError:
            self._say("It must be above 0.")
            return
        self._settings.preferences = replace(self._settings.preferences, **figure)
        self.show_value()

    def _say(self, reason: str) -> None:
        self.reason.setText(reason)
        self.reason.setVisible(bool(reason))
        self.line.setAccessibleDescription(reason)
        self.told.emit()


class PreferencesWindow(QDialog):
    """The preferences.

    Parameters
    ----------
    settings : Settings
        What is read and changed.
    parent : QWidget
        The main window.
    """

    def __init__(self, settings: Settings, parent: QWidget) -> None:
        super().__init__(parent)
        self._settings = settings
        self.setWindowTitle("Preferences")
        self.setModal(False)
        self.figures = [FigureEdit(settings, name, unit, says) for name, _, unit, says in NEW_MAPS]
        self.decimal = _choice("Decimal sign", _signs())
        self.theme = _choice("Light or dark", _THEMES)
        self.autosave = QCheckBox("&Keep unsaved work for a crash")
        self.autosave.setToolTip(
            f"Written a moment after each change, to {settings.unsaved_folder}"
        )
        close = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        button = close.button(QDialogButtonBox.StandardButton.Close)
        button.setIcon(QIcon())
        # Enter is for the field that was typed into.
        button.setAutoDefault(False)
        close.rejected.connect(self.close)
        self._column = QVBoxLayout(self)
        self._column.addLayout(self._form())
        self._column.addStretch(1)
        self._column.addWidget(close)
        self.setMinimumWidth(430)
        self._show()
        self._connect()

    @Slot()
    def _fit(self) -> None:
        """Give sentences of several lines the height that they need."""
        self._column.activate()
        self.resize(self.width(), self._column.totalHeightForWidth(self.width()))

    def _form(self) -> QFormLayout:
        form = QFormLayout()
        form.setContentsMargins(8, 8, 8, 8)
        form.setVerticalSpacing(9)
        form.addRow(_heading("New maps"))
        for (_, label, _, _), edit in zip(NEW_MAPS, self.figures, strict=True):
            form.addRow(_label(label, edit.line), edit)
        form.addRow(_heading("Figures and looks"))
        self.decimal.setToolTip("For every figure that is shown; files keep the point")
        form.addRow(_label("&Decimal sign", self.decimal), self.decimal)
        self.note = QLabel()
        self.note.setWordWrap(True)
        form.addRow("", self.note)
        form.addRow(_label("&Light or dark", self.theme), self.theme)
        form.addRow(_heading("Safety of the work"))
        form.addRow(self.autosave)
        return form

    def _connect(self) -> None:
        self.decimal.activated.connect(self._decimal_chosen)
        self.theme.activated.connect(self._theme_chosen)
        self.autosave.clicked.connect(self._autosave_chosen)
        self._settings.changed.connect(self._show)
        for edit in self.figures:
            edit.told.connect(self._fit)

    @Slot()
    def _show(self) -> None:
        now = self._settings.preferences
        self.decimal.setCurrentIndex(self.decimal.findData(now.decimal))
        self.theme.setCurrentIndex(_place(self.theme, now.dark))
        self.autosave.setChecked(now.autosave)
        figures = self._settings.figures
        other = SIGN_WORDS["," if figures.decimal == "." else "."]
        self.note.setText(
            f"Figures are written like {figures.show(12.5, 'V')}. When you type, a {other} is read "
            "too, but not where it may mark thousands."
        )
        for edit in self.figures:
            if not edit.line.hasFocus():
                edit.show_value()
        self._fit()

    @Slot(int)
    def _decimal_chosen(self, place: int) -> None:
        self._set(decimal=self.decimal.itemData(place))

    @Slot(int)
    def _theme_chosen(self, place: int) -> None:
        self._set(dark=self.theme.itemData(place))

    @Slot(bool)
    def _autosave_chosen(self, on: bool) -> None:
        self._set(autosave=on)

    def _set(self, **changes: Any) -> None:
        self._settings.preferences = replace(self._settings.preferences, **changes)


_THEMES: tuple[tuple[str, Any], ...] = (
    ("As on the desktop", None), ("Light", False), ("Dark", True)
)  # fmt: skip


def _signs() -> tuple[tuple[str, Any], ...]:
    return (
        (f"As on the desktop ({SIGN_WORDS[desktop_sign()]})", ""),
        ("Point, 12.5 V", "."),
        ("Comma, 12,5 V", ","),
    )


def _choice(name: str, options: tuple[tuple[str, Any], ...]) -> QComboBox:
    box = QComboBox()
    box.setAccessibleName(name)
    for text, value in options:
        box.addItem(text, value)
    return box


def _place(box: QComboBox, value: object) -> int:
    # Qt's own search takes no value for any value.
    return [box.itemData(i) for i in range(box.count())].index(value)


def _label(text: str, buddy: QWidget) -> QLabel:
    label = QLabel(text)
    label.setBuddy(buddy)
    return label


def _heading(text: str) -> QLabel:
    label = QLabel(text)
    font = label.font()
    font.setBold(True)
    label.setFont(font)
    return label
