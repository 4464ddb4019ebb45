"""Values as fitted and as found on a part: each with its date and where it comes from."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from PySide6.QtCore import Slot
from PySide6.QtGui import QPalette
from PySide6.QtWidgets import QGridLayout, QLabel, QLineEdit, QWidget

from railmap.bench.known import value_fields
from railmap.errors import RailmapError
from railmap.model.part import Known, Part, Stage
from railmap.ui.bridge import sentence
from railmap.ui.card.choice import ChoiceBox
from railmap.ui.card.fields import Field, part_fields
from railmap.ui.card.form import write_into
from railmap.ui.theme import Theme

Give = Callable[[Stage, str, Known | None], str]
"""Takes stage, field and value; returns an empty text, or the reason why it was refused."""
STAGES: tuple[Stage, ...] = ("fitted", "found")
COLUMNS = ("value", "date", "source")
HINTS = {"value": "not known", "date": "date", "source": "where from"}


@dataclass(frozen=True)
class _Row:
    """One value: its stage, its field, and the lines that show it."""

    stage: Stage
    field: Field
    lines: dict[str, QLineEdit]


class KnownForm(QWidget):
    """The fitted and found values of one part, and its history.

    Parameters
    ----------
    part : Part
        The part; one of another kind needs another form.
    give : callable
        Called when a value has been changed.
    theme : Theme
        Ink of a reason, and how figures are written and read.
    """

    def __init__(self, part: Part, give: Give, theme: Theme) -> None:
        super().__init__()
        self._part, self._give, self._figures = part, give, theme.figures
        fields = {f.name: f for f in part_fields(type(part))}
        self._fields = {name: fields[name] for name in value_fields(part)}
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setColumnStretch(3, 1)
        self.rows: dict[tuple[str, str], _Row] = {}
        self.more = ChoiceBox()
        self.more.setAccessibleName("Another value that is fitted or found")
        self.more.activated.connect(self._add)
        self.reason, self.history = QLabel(), QLabel()
        colours = self.reason.palette()
        colours.setColor(QPalette.ColorRole.WindowText, theme.warn)
        self.reason.setPalette(colours)
        for label in (self.reason, self.history):
            label.setWordWrap(True)
            label.setVisible(False)
        for place, widget in enumerate((self.more, self.reason, self.history), 900):
            self._grid.addWidget(widget, place, 0, 1, 4)
        self.show_part(part)

    def show_part(self, part: Part, revised: Sequence[str] = ()) -> None:
        """Show the values of a part; a line that is being typed in keeps its text.

        Parameters
        ----------
        part : Part
            The part.
        revised : sequence of str
            A line for each revision that says something of it.
        """
        self._part = part
        for stage in STAGES:
            self._row(stage, part.main_field)
            for name in getattr(part, stage):
                self._row(stage, name)
        for row in self.rows.values():
            known = getattr(part, row.stage).get(row.field.name)
            self._show(row, known)
        self._fill_more()
        lines = [self._said(entry.stage, entry.field, entry) for entry in reversed(part.earlier)]
        lines = [
            *(["By revision:", *revised] * bool(revised)),
            *(["Before:", *lines] * bool(lines)),
        ]
        self.history.setText("\n".join(lines))
        self.history.setVisible(bool(lines))

    def complaint(self) -> str:
        """Return the reason that stands under the values, or nothing."""
        return self.reason.text()

    def _said(self, stage: str, name: str, known: object) -> str:
        value = getattr(known, "value", 0.0)
        field = self._fields.get(name)
        text = field.write(value, self._figures) if field else self._figures.code(value, "")
        more = " ".join(t for t in (getattr(known, "date", ""), getattr(known, "source", "")) if t)
        label = "" if name == self._part.main_field or field is None else f" {field.label.lower()}"
        return f"{stage}{label} {text}" + (f" ({more})" if more else "")

    def _row(self, stage: Stage, name: str) -> None:
        """Make the lines of a value, unless they are there."""
        if (stage, name) in self.rows or name not in self._fields:
            return
        field, place = self._fields[name], len(self.rows)
        main = name == self._part.main_field
        title = stage.capitalize() if main else f"{stage.capitalize()}: {field.label.lower()}"
        self._grid.addWidget(QLabel(title), place, 0)
        lines: dict[str, QLineEdit] = {}
        for column, what in enumerate(COLUMNS, 1):
            line = lines[what] = QLineEdit()
            line.setObjectName(f"{stage}/{name}")
            line.setPlaceholderText(HINTS[what])
            line.setAccessibleName(f"{title}, {HINTS[what] if what != 'value' else 'value'}")
            line.setMinimumWidth(54)
            line.editingFinished.connect(self._typed)
            self._grid.addWidget(line, place, column)
        self.rows[stage, name] = _Row(stage, field, lines)

    def _show(self, row: _Row, known: Known | None) -> None:
        texts = ("", "", "")
        if known is not None:
            texts = (row.field.write(known.value, self._figures), known.date, known.source)
        for line, text in zip(row.lines.values(), texts, strict=True):
            if not (line.hasFocus() and line.isModified()):
                write_into(line, text)
                line.setToolTip(text)

    def _fill_more(self) -> None:
        self.more.clear()
        self.more.addItem("Another value …", "")
        for stage in STAGES:
            for name, field in self._fields.items():
                if (stage, name) not in self.rows:
                    title = f"{stage.capitalize()}: {field.label.lower()}"
                    self.more.addItem(title, f"{stage}/{name}")
        self.more.setVisible(self.more.count() > 1)

    @Slot(int)
    def _add(self, place: int) -> None:
        stage, _, name = str(self.more.itemData(place)).partition("/")
        for wanted in STAGES:
            if wanted == stage:
                self._row(wanted, name)
                self.rows[wanted, name].lines["value"].setFocus()
        self._fill_more()

    @Slot()
    def _typed(self) -> None:
        line = self.sender()
        assert isinstance(line, QLineEdit)
        if not line.isModified():
            return
        line.setModified(False)
        stage, _, name = line.objectName().partition("/")
        row = self.rows[stage, name]
        try:
            known = self._read(row)
        except RailmapError as error:
            self._say(str(error))
            return
        if known != getattr(self._part, stage).get(name):
            self._say(self._give(row.stage, name, known))
        else:
            self._say("")

    def _read(self, row: _Row) -> Known | None:
        texts = {what: line.text().strip() for what, line in row.lines.items()}
        if not texts["value"]:
            return None
        held: Known | None = getattr(self._part, row.stage).get(row.field.name)
        value = row.field.read(texts["value"], self._figures)
        if held is not None and row.field.write(held.value, self._figures) == texts["value"]:
            value = held.value
        if held is None and not texts["date"]:
            texts["date"] = date.today().isoformat()
        return Known(float(value), texts["date"], texts["source"])

    def _say(self, reason: str) -> None:
        self.reason.setText(self._figures.words(sentence(reason)) if reason else "")
        self.reason.setVisible(bool(reason))
