"""The pages of the card: one for a part, a rail, a board, and the map itself."""

from __future__ import annotations

import math
from typing import Any

import msgspec
from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QComboBox, QFormLayout, QFrame, QLabel, QVBoxLayout, QWidget

from railmap.bench import edits
from railmap.errors import MapError
from railmap.model import kinds
from railmap.model.board import Board
from railmap.model.part import Part
from railmap.model.rail import Rail
from railmap.model.railmap import About, Change
from railmap.ui.bridge import Bridge, Picked
from railmap.ui.card.drift import DriftPanel
from railmap.ui.card.fields import Field, fields_of, part_fields
from railmap.ui.card.figures import Figures, StressBar
from railmap.ui.card.form import Form
from railmap.ui.faces import percent, value_text, volts_text
from railmap.ui.theme import Theme
from railmap.units import show

KIND_WORDS = {
    "Source": "Source", "Winding": "Winding", "Diode": "Diode", "Bridge": "Bridge rectifier",
    "Resistor": "Resistor", "Capacitor": "Capacitor", "Choke": "Choke", "Load": "Load",
    "Zener": "Zener diode", "Regulator": "Linear regulator", "Converter": "Switching converter",
    "PassTransistor": "Pass transistor", "Link": "Link", "Switch": "Switch", "Fuse": "Fuse",
}  # fmt: skip


class Page(QWidget):
    """What the pages share: a heading, a line below it, and the way an edit is made."""

    def __init__(self, bridge: Bridge, theme: Theme) -> None:
        super().__init__()
        self.bridge, self.theme = bridge, theme
        self.heading, self.below = QLabel(), QLabel()
        font = self.heading.font()
        font.setPointSizeF(font.pointSizeF() * 1.5)
        font.setBold(True)
        self.heading.setFont(font)
        self.below.setWordWrap(True)
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(14, 12, 14, 12)
        self.column.setSpacing(8)
        self.column.addWidget(self.heading)
        self.column.addWidget(self.below)

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
        try:
            self.bridge.history.do(name, changes)
        except MapError as error:
            return str(error)
        self.bridge.state_changed.emit()
        return ""

    def refresh(self) -> None:
        """Show the present figures."""


class PartPage(Page):
    """One part: its figures, its drift, its values, and what it joins."""

    def __init__(self, bridge: Bridge, theme: Theme, ref: str) -> None:
        super().__init__(bridge, theme)
        self.ref = ref
        part = bridge.map.parts[ref]
        self.figures = Figures(theme)
        self.column.addWidget(self.figures)
        self.bars: list[StressBar] = []
        self._bars = QVBoxLayout()
        self.column.addLayout(self._bars)
        self.drift = self._drift_panel(part)
        self.section("Values as drawn")
        reference = Field("ref", "Reference", "", "text")
        self.form = Form([reference, *part_fields(type(part))], self._give, theme.warn)
        self.column.addWidget(self.form)
        self.known = QLabel()
        self.known.setWordWrap(True)
        self.column.addWidget(self.known)
        self.section("Joins")
        self.pins = self._pin_boxes(part)
        self.column.addStretch(1)
        self.refresh()

    def _drift_panel(self, part: Part) -> DriftPanel | None:
        value = part.now()
        if value is None or value <= 0 or isinstance(part, kinds.Switch | kinds.Fuse):
            return None
        panel = DriftPanel(self.theme)
        panel.tried.connect(self._try)
        self.section("Drift")
        self.column.addWidget(panel)
        return panel

    def _pin_boxes(self, part: Part) -> dict[str, QComboBox]:
        form = QFormLayout()
        form.setContentsMargins(0, 0, 0, 0)
        boxes: dict[str, QComboBox] = {}
        for pin in (*part.pins, "board"):
            box = QComboBox()
            box.setEditable(pin != "board")
            box.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
            box.setObjectName(pin)
            box.setAccessibleName(f"Node of pin {pin}" if pin != "board" else "Board")
            box.activated.connect(self._joined)
            line = box.lineEdit()
            if line is not None:
                line.editingFinished.connect(self._join_typed)
                line.setObjectName(pin)
            form.addRow(pin.replace("_", " ").capitalize(), box)
            boxes[pin] = box
        self.column.addLayout(form)
        return boxes

    def refresh(self) -> None:
        """See :class:`Page`."""
        m = self.bridge.map
        part = m.parts.get(self.ref)
        if part is None:
            return
        self.heading.setText(f"{part.ref}   {value_text(part)}")
        where = f"on {part.board}" if part.board else "on no board"
        self.below.setText(f"{KIND_WORDS[part.kind]} {where}")
        self.form.show_values(part)
        self._show_known(part)
        for pin, box in self.pins.items():
            self._fill(box, pin, part)
        value = part.now()
        if self.drift is not None and value is not None:
            self.drift.show_part(value, part.unit, self.bridge.drift.get(self.ref), self.theme)
        self._show_figures()

    def _show_known(self, part: Part) -> None:
        lines = [
            f"{stage} {name}: {known.value:g}" + (f" ({known.source})" if known.source else "")
            for stage, values in (("Fitted", part.fitted), ("Found", part.found))
            for name, known in values.items()
        ]
        self.known.setText("\n".join(lines))
        self.known.setVisible(bool(lines))

    def _fill(self, box: QComboBox, pin: str, part: Part) -> None:
        m = self.bridge.map
        names = ["", *m.boards] if pin == "board" else list(dict.fromkeys(["0V", *m.nodes]))
        if [box.itemText(i) for i in range(box.count())] != names:
            box.clear()
            box.addItems(names)
        line = box.lineEdit()
        if line is None or not (line.hasFocus() and line.isModified()):
            box.setCurrentText(getattr(part, pin))

    def _show_figures(self) -> None:
        solution, calm = self.bridge.solution, self.bridge.calm
        if solution is None or self.ref not in solution.network.part_index:
            return
        now = solution.part(self.ref)
        was = calm.part(self.ref) if calm is not None and self.bridge.drift else now
        rows = [[
            ("across it", show(abs(now.volts), "V"), show(abs(was.volts), "V")),
            ("through it", show(abs(now.amps), "A"), show(abs(was.amps), "A")),
            ("heat", show(now.watts, "W"), show(was.watts, "W")),
        ]]  # fmt: skip
        pins = [(p, volts_text(v), volts_text(was.pin_volts[p])) for p, v in now.pin_volts.items()]
        rows.append(pins[:3])
        self.figures.show_rows(rows, self.theme)
        while len(self.bars) < len(now.checks):
            self.bars.append(StressBar(self.theme))
            self._bars.addWidget(self.bars[-1])
        for bar in self.bars[len(now.checks) :]:
            bar.setVisible(False)
        for bar, check in zip(self.bars, now.checks, strict=False):
            text = f"{show(check.value, check.unit)} of {show(check.allowed, check.unit)}"
            title = f"{check.what.capitalize()}  {percent(check.ratio)}"
            bar.setVisible(True)
            bar.show_check(title, text, check.ratio, self.theme)

    def _give(self, name: str, value: Any) -> str:
        part = self.bridge.map.parts[self.ref]
        if name == "ref":
            return self._rename(str(value))
        try:
            changed = self._with(part, name, value)
        except (MapError, msgspec.ValidationError) as error:
            return str(error).removeprefix(f"{self.ref}: ")
        return self.edit(f"Change {self.ref}", [Change("parts", self.ref, changed)])

    @staticmethod
    def _with(part: Part, name: str, value: Any) -> Part:
        """Return the part with one field changed; a load is given by one value at a time."""
        fields = {name: value}
        if isinstance(part, kinds.Load) and name in ("amps", "ohms", "watts") and value:
            fields = {"amps": None, "ohms": None, "watts": None, name: value}
        return part.changed(**fields)

    def _rename(self, new: str) -> str:
        try:
            changes = edits.rename_part(self.bridge.map, self.ref, new)
        except MapError as error:
            return str(error)
        old, self.ref = self.ref, new
        self.bridge.selection = Picked("part", new)
        reason = self.edit(f"Rename {old} to {new}", changes)
        if reason:
            self.ref = old
        self.bridge.picked.emit(self.bridge.selection)
        return reason

    @Slot(object)
    def _try(self, value: float | None) -> None:
        self.bridge.set_drift(self.ref, value)

    @Slot(int)
    def _joined(self, _: int) -> None:
        box = self.sender()
        assert isinstance(box, QComboBox)
        self._join(box.objectName(), box.currentText())

    @Slot()
    def _join_typed(self) -> None:
        pin = self.sender().objectName()
        self._join(pin, self.pins[pin].currentText())

    def _join(self, pin: str, name: str) -> None:
        part = self.bridge.map.parts.get(self.ref)
        if part is None or getattr(part, pin) == name.strip():
            return
        fields: dict[str, Any] = {pin: name.strip()}
        if pin == "board":
            fields["place"] = None
        try:
            changed = part.changed(**fields)
        except MapError as error:
            self.bridge.trouble.emit(f"{error}.")
            self.pins[pin].setCurrentText(getattr(part, pin))
            return
        what = f"Move {self.ref} to {name}" if pin == "board" else f"Join {self.ref} to {name}"
        self.bridge.change_part(what, changed)


class RailPage(Page):
    """One rail: its volts, its label and limits, and what is on it."""

    def __init__(self, bridge: Bridge, theme: Theme, node: str) -> None:
        super().__init__(bridge, theme)
        self.node = node
        self.figures = Figures(theme)
        self.column.addWidget(self.figures)
        self.bar = StressBar(theme)
        self.column.addWidget(self.bar)
        self.section("The rail")
        fields = fields_of(Rail, frozenset({"node"}))
        self.form = Form(fields, self._give, theme.warn)
        self.column.addWidget(self.form)
        self.section("On it")
        self.parts = QLabel()
        self.parts.setWordWrap(True)
        self.parts.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.column.addWidget(self.parts)
        self.column.addStretch(1)
        self.refresh()

    def _rail(self) -> Rail:
        return self.bridge.map.rails.get(self.node, Rail(self.node))

    def refresh(self) -> None:
        """See :class:`Page`."""
        m, rail = self.bridge.map, self._rail()
        self.heading.setText(rail.title)
        on = [p for p in m.parts.values() if self.node in p.nodes]
        boards = list(dict.fromkeys(p.board for p in on if p.board))
        known = "Rail" if self.node in m.rails else "Node without a rail's name"
        self.below.setText(f"{known} {self.node} on {', '.join(boards) or 'no board'}")
        self.form.show_values(rail)
        self.parts.setText("\n".join(self._line(p) for p in on))
        self._show_figures(rail)

    def _line(self, part: Part) -> str:
        solution = self.bridge.solution
        text = f"{part.ref}  {value_text(part)}"
        if solution is None or part.ref not in solution.network.part_index:
            return text
        amps = solution.part(part.ref).pin_amps
        pin = part.pins[part.nodes.index(self.node)]
        flow = amps[pin]
        if not math.isfinite(flow) or flow == 0:
            return text
        return f"{text}   {'takes' if flow > 0 else 'gives'} {show(abs(flow), 'A')}"

    def _show_figures(self, rail: Rail) -> None:
        solution, calm = self.bridge.solution, self.bridge.calm
        if solution is None or self.node not in self.bridge.map.nodes:
            return
        now = solution.volts(self.node)
        was = calm.volts(self.node) if calm is not None and self.bridge.drift else now
        row = [("forecast", volts_text(now), volts_text(was))]
        if rail.label_volts is not None:
            row.append(("label", volts_text(rail.label_volts), ""))
            if rail.label_volts:
                off = 100 * (now / rail.label_volts - 1)
                row.append(("from the label", f"{off:+.1f} %", ""))
        self.figures.show_rows([row], self.theme)
        self.bar.setVisible(rail.max_volts is not None)
        if rail.max_volts is not None:
            text = f"{show(abs(now), 'V')} of {show(rail.max_volts, 'V')}"
            ratio = abs(now) / rail.max_volts
            self.bar.show_check(f"Limit  {percent(ratio)}", text, ratio, self.theme)

    def _give(self, name: str, value: Any) -> str:
        rail = self._rail()
        old = self.node if self.node in self.bridge.map.rails else None
        try:
            changed = msgspec.structs.replace(rail, **{name: value})
        except MapError as error:
            return str(error)
        return self.edit(f"Change rail {rail.title}", [Change("rails", old, changed)])


class BoardPage(Page):
    """One board: its name, size and air."""

    def __init__(self, bridge: Bridge, theme: Theme, name: str) -> None:
        super().__init__(bridge, theme)
        self.name = name
        self.figures = Figures(theme)
        self.column.addWidget(self.figures)
        self.section("The board")
        self.form = Form(fields_of(Board, frozenset()), self._give, theme.warn)
        self.column.addWidget(self.form)
        self.column.addStretch(1)
        self.refresh()

    def refresh(self) -> None:
        """See :class:`Page`."""
        board = self.bridge.map.boards.get(self.name)
        if board is None:
            return
        on = [p for p in self.bridge.map.parts.values() if p.board == self.name]
        self.heading.setText(board.name)
        self.below.setText(f"Board with {len(on)} parts")
        self.form.show_values(board)
        solution = self.bridge.solution
        if solution is not None:
            at = solution.network.part_index
            heat = sum(
                float(solution.watts[at[p.ref]]) for p in on
                if p.ref in at and not isinstance(p, kinds.Load)
            )  # fmt: skip
            self.figures.show_rows([[("heat in its parts, loads apart", show(heat, "W"), "")]],
                                   self.theme)  # fmt: skip

    def _give(self, name: str, value: Any) -> str:
        board = self.bridge.map.boards[self.name]
        try:
            if name == "name":
                changes = edits.rename_board(self.bridge.map, self.name, str(value))
            else:
                changed = msgspec.structs.replace(board, **{name: value})
                changes = [Change("boards", self.name, changed)]
        except MapError as error:
            return str(error)
        if name == "name":
            self.name = str(value)
            self.bridge.selection = Picked("board", self.name)
        return self.edit(f"Change board {board.name}", changes)


class MapPage(Page):
    """The map itself, shown while nothing is selected."""

    def __init__(self, bridge: Bridge, theme: Theme) -> None:
        super().__init__(bridge, theme)
        self.figures = Figures(theme)
        self.column.addWidget(self.figures)
        self.section("The map")
        self.form = Form(fields_of(About, frozenset()), self._give, theme.warn)
        self.column.addWidget(self.form)
        note = QLabel(
            "Select a part, a rail or a board to see and change it. Drag from a pin to another "
            "pin or to a rail to join them."
        )
        note.setWordWrap(True)
        self.column.addWidget(note)
        self.column.addStretch(1)
        self.refresh()

    def refresh(self) -> None:
        """See :class:`Page`."""
        m = self.bridge.map
        self.heading.setText(m.title or "New map")
        self.below.setText(
            f"{len(m.boards)} boards, {len(m.parts)} parts, {len(m.rails)} rails"
        )
        self.form.show_values(m.about)
        solution = self.bridge.solution
        if solution is not None:
            self.figures.show_rows([[
                ("power in", show(solution.power_in, "W"), ""),
                ("power out", show(solution.power_out, "W"), ""),
            ]], self.theme)  # fmt: skip

    def _give(self, name: str, value: Any) -> str:
        about = self.bridge.map.about
        try:
            changed = msgspec.structs.replace(about, **{name: value})
        except MapError as error:
            return str(error)
        return self.edit("Change the map", [Change("about", None, changed)])
