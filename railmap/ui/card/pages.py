"""The pages of the card: one for a part, a rail, a board, and the map itself."""

from __future__ import annotations

import math
from typing import Any

import msgspec
from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QComboBox, QFormLayout, QLabel, QVBoxLayout

from railmap.bench import edits
from railmap.bench.joining import joined, taken_off
from railmap.bench.known import with_known
from railmap.bench.part_columns import KIND_WORDS
from railmap.bench.revisions import present
from railmap.errors import MapError
from railmap.model import kinds
from railmap.model.part import Known, Part, Stage
from railmap.model.rail import Rail
from railmap.model.railmap import About, Change
from railmap.solve.solution import PARTLY, SOLVED, Check
from railmap.ui.bridge import Bridge, Picked, sentence
from railmap.ui.card.choice import ChoiceBox
from railmap.ui.card.drift import DriftPanel
from railmap.ui.card.fields import Field, fields_of, part_fields
from railmap.ui.card.figures import Figures, StressBar
from railmap.ui.card.form import Form, write_into
from railmap.ui.card.knownform import KnownForm
from railmap.ui.card.page import Page
from railmap.ui.card.revised import revision_lines
from railmap.ui.card.surging import SurgeBox, Surging
from railmap.ui.card.sweeping import SweepBox
from railmap.ui.faces import percent, shift_text, value_text, volts_text
from railmap.ui.theme import Theme

LEAST_AMPS = 1e-7
"""Less than this flows into a rail's parts only in rounding."""


class PartPage(Page):
    """One part: its figures, its drift, its values, and what it joins."""

    def __init__(self, bridge: Bridge, theme: Theme, ref: str, surging: Surging) -> None:
        super().__init__(bridge, theme)
        self.ref = ref
        part = bridge.map.parts[ref]
        self._kind = part.kind
        self.figures = Figures(theme)
        self.column.addWidget(self.figures)
        self.bars: list[StressBar] = []
        self._bars = QVBoxLayout()
        self.column.addLayout(self._bars)
        self.surge: SurgeBox | None = None
        if isinstance(part, kinds.Diode | kinds.Bridge):
            self.surge = SurgeBox(bridge, surging, theme, ref)
            self.column.addWidget(self.surge)
        self.drift = self._drift_panel(part)
        self.section("Values as drawn")
        reference = Field("ref", "Reference", "", "text")
        self.form = Form([reference, *part_fields(type(part))], self._give, theme)
        self.column.addWidget(self.form)
        self.section("As fitted and as found")
        self.known = KnownForm(part, self._give_known, theme)
        self.column.addWidget(self.known)
        self.section("Joins")
        self.pins = self._pin_boxes(part)
        self.column.addStretch(1)
        self.refresh()

    @property
    def about(self) -> Picked:
        """See :class:`Page`."""
        return Picked("part", self.ref)

    def stands(self) -> bool:
        """See :class:`Page`."""
        part = self.bridge.map.parts.get(self.ref)
        return part is not None and part.kind == self._kind

    def _drift_panel(self, part: Part) -> DriftPanel | None:
        if not part.now() or isinstance(part, kinds.Switch | kinds.Fuse):
            return None
        panel = DriftPanel(self.theme)
        panel.tried.connect(self._try)
        self.section("Drift")
        self.column.addWidget(panel)
        self.sweep = SweepBox(self.bridge, self.theme, self.ref)
        self.column.addWidget(self.sweep)
        return panel

    def _pin_boxes(self, part: Part) -> dict[str, QComboBox]:
        form = QFormLayout()
        form.setContentsMargins(0, 0, 0, 0)
        boxes: dict[str, QComboBox] = {}
        for pin in (*part.pins, "board"):
            box = ChoiceBox(editable=pin != "board")
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
        if not self.stands():
            return
        part = self.bridge.map.parts[self.ref]
        self.heading.setText(f"{part.ref}   {value_text(part, self.theme.figures)}")
        where = f"on {part.board}" if part.board else "on no board"
        self.below.setText(f"{KIND_WORDS[part.kind]} {where}")
        self.form.show_values(part)
        revised = revision_lines(self.bridge.map, self.ref, self.theme.figures)
        self.known.show_part(part, revised)
        for pin, box in self.pins.items():
            self._fill(box, pin, part)
        value = part.now()
        if self.drift is not None and value is not None:
            self.drift.show_part(value, part.unit, self.bridge.drift.get(self.ref), self.theme)
            self.sweep.show_part(self.ref)
        if self.surge is not None:
            self.surge.show_part(self.ref)
        self._show_figures()

    def _fill(self, box: QComboBox, pin: str, part: Part) -> None:
        m = self.bridge.map
        names = ["", *m.boards] if pin == "board" else list(dict.fromkeys(["0V", *m.nodes]))
        if [box.itemText(i) for i in range(box.count())] != names:
            box.clear()
            box.addItems(names)
        line = box.lineEdit()
        if line is None:
            box.setCurrentText(getattr(part, pin))
        elif not (line.hasFocus() and line.isModified()):
            write_into(line, getattr(part, pin))

    def _show_figures(self) -> None:
        solution, calm = self.bridge.solution, self.bridge.calm
        if solution is None or self.ref not in solution.network.part_index:
            self.figures.show_rows([], self.theme)
            self._show_checks(())
            return
        now = solution.part(self.ref)
        was = calm.part(self.ref) if calm is not None and self.bridge.drift else now
        style = self.theme.figures
        rows = [[
            ("across it", style.show(abs(now.volts), "V"), style.show(abs(was.volts), "V")),
            ("through it", style.show(abs(now.amps), "A"), style.show(abs(was.amps), "A")),
            ("heat", style.show(now.watts, "W"), style.show(was.watts, "W")),
        ]]  # fmt: skip
        pins = [
            (pin, volts_text(volts, style), volts_text(was.pin_volts[pin], style))
            for pin, volts in now.pin_volts.items()
        ]
        rows.append(pins[:3])
        self.figures.show_rows(rows, self.theme)
        self._show_checks(now.checks)

    def _show_checks(self, checks: tuple[Check, ...]) -> None:
        while len(self.bars) < len(checks):
            self.bars.append(StressBar(self.theme))
            self._bars.addWidget(self.bars[-1])
        for bar in self.bars[len(checks) :]:
            bar.setVisible(False)
        show = self.theme.figures.show
        for bar, check in zip(self.bars, checks, strict=False):
            text = f"{show(check.value, check.unit)} of {show(check.allowed, check.unit)}"
            title = f"{check.what.capitalize()}  {percent(check.ratio)}"
            bar.setVisible(True)
            bar.show_check(title, text, check.ratio, self.theme)

    def _give(self, name: str, value: Any) -> str:
        part = self.bridge.map.parts.get(self.ref)
        if part is None:
            # It was deleted while something was being typed; there is nothing to give it to.
            return ""
        if name == "ref":
            return self._rename(str(value))
        try:
            changed = self._with(part, name, value)
        except (MapError, msgspec.ValidationError) as error:
            return str(error).removeprefix(f"{self.ref}: ")
        return self.edit(f"Change {self.ref}", [Change("parts", self.ref, changed)])

    def _give_known(self, stage: Stage, name: str, known: Known | None) -> str:
        part = self.bridge.map.parts.get(self.ref)
        if part is None:
            return ""
        try:
            changed = with_known(part, stage, name, known)
        except MapError as error:
            return str(error).removeprefix(f"{self.ref}: ")
        name = f"Change {stage} value of {self.ref}"
        return self.edit(name, [Change("parts", self.ref, changed)])

    def complaint(self) -> str:
        """See :class:`Page`."""
        reason = self.known.complaint()
        return super().complaint() or (f"{self.ref}: {reason}" if reason else "")

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
        reason = self.rename(f"Rename {old} to {new}", changes)
        if reason:
            self.ref = old
        return reason

    @Slot(object)
    def _try(self, value: float | None) -> None:
        if not self.bridge.set_drift(self.ref, value):
            self.refresh()

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
        m, name = self.bridge.map, name.strip()
        part = m.parts.get(self.ref)
        if part is None or getattr(part, pin) == name:
            return
        what = f"Join {self.ref} to {name}" if name else f"Take {self.ref} {pin} off"
        try:
            if pin == "board":
                what = f"Move {self.ref} to {name or 'no board'}"
                changes = [Change("parts", self.ref, part.changed(board=name, place=None))]
            elif name:
                changes = joined(m, self.ref, pin, name)
            else:
                changes = taken_off(m, self.ref, pin)
        except MapError as error:
            self.bridge.trouble.emit(sentence(error))
            self.pins[pin].setCurrentText(getattr(part, pin))
            return
        self.bridge.do(what, changes)
        self.pins[pin].setCurrentText(getattr(m.parts[self.ref], pin))


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
        self.form = Form(fields, self._give, theme)
        self.column.addWidget(self.form)
        self.section("On it")
        self.parts = QLabel()
        self.parts.setWordWrap(True)
        self.parts.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.column.addWidget(self.parts)
        self.column.addStretch(1)
        self.refresh()

    @property
    def about(self) -> Picked:
        """See :class:`Page`."""
        return Picked("rail", self.node)

    def stands(self) -> bool:
        """See :class:`Page`."""
        return self.node in self.bridge.map.nodes or self.node in self.bridge.map.rails

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
        text = f"{part.ref}  {value_text(part, self.theme.figures)}"
        if solution is None or part.ref not in solution.network.part_index:
            return text
        amps = solution.part(part.ref).pin_amps
        pin = part.pins[part.nodes.index(self.node)]
        flow = amps[pin]
        if not math.isfinite(flow) or abs(flow) < LEAST_AMPS:
            return text
        verb = "takes" if flow > 0 else "gives"
        return f"{text}   {verb} {self.theme.figures.show(abs(flow), 'A')}"

    def _show_figures(self, rail: Rail) -> None:
        solution, calm = self.bridge.solution, self.bridge.calm
        if solution is None or self.node not in self.bridge.map.nodes:
            self.figures.show_rows([], self.theme)
            self.bar.setVisible(False)
            return
        now = solution.volts(self.node)
        was = calm.volts(self.node) if calm is not None and self.bridge.drift else now
        style = self.theme.figures
        row = [("forecast", volts_text(now, style), volts_text(was, style))]
        if rail.label_volts is not None:
            row.append(("label", volts_text(rail.label_volts, style), ""))
            if rail.label_volts and math.isfinite(now):
                off = 100 * (now / rail.label_volts - 1)
                row.append(("from the label", shift_text(off, style), ""))
        self.figures.show_rows([row, *self._ripple_row()], self.theme)
        self.bar.setVisible(rail.max_volts is not None)
        if rail.max_volts is not None:
            text = f"{style.show(abs(now), 'V')} of {style.show(rail.max_volts, 'V')}"
            ratio = abs(now) / rail.max_volts
            self.bar.show_check(f"Limit  {percent(ratio)}", text, ratio, self.theme)

    def _ripple_row(self) -> list[list[tuple[str, str, str]]]:
        """Return a row about the ripple, where a winding feeds the map."""
        solution = self.bridge.solution
        if solution is None or solution.turn is None:
            return []
        ripple = solution.ripple(self.node)
        style = self.theme.figures
        often = "–" if math.isnan(ripple.hertz) else style.show(ripple.hertz, "Hz")
        return [[
            ("ripple pp", style.show(ripple.volts_pp, "V"), ""), ("how often", often, ""),
            ("lowest", volts_text(ripple.low_volts, style), ""),
        ]]  # fmt: skip

    def _give(self, name: str, value: Any) -> str:
        rail = self._rail()
        old = self.node if self.node in self.bridge.map.rails else None
        try:
            changed = msgspec.structs.replace(rail, **{name: value})
        except MapError as error:
            return str(error)
        return self.edit(f"Change rail {rail.title}", [Change("rails", old, changed)])


def _counted(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


class MapPage(Page):
    """The map itself, shown while nothing is selected."""

    def __init__(self, bridge: Bridge, theme: Theme) -> None:
        super().__init__(bridge, theme)
        self.figures = Figures(theme)
        self.column.addWidget(self.figures)
        self.section("The map")
        self.form = Form(fields_of(About, frozenset()), self._give, theme)
        self.column.addWidget(self.form)
        note = QLabel(
            "Select a part, a rail or a board to see and change it. Drag from a pin to another "
            "pin or to a rail to join them. Drag a frame on a board to select several parts; with "
            "Shift it begins anywhere, and a click with Shift adds a part. A board is moved by "
            "its name. The right button shows what else can be done."
        )
        note.setWordWrap(True)
        self.column.addWidget(note)
        self.column.addStretch(1)
        self.refresh()

    def refresh(self) -> None:
        """See :class:`Page`."""
        m = self.bridge.map
        self.heading.setText(m.title or "New map")
        counts = ((m.boards, "board"), (m.parts, "part"), (m.rails, "rail"))
        fitted = present(m)
        end = f"; fitted as revision {fitted}" if fitted else ""
        self.below.setText(", ".join(_counted(len(found), word) for found, word in counts) + end)
        self.form.show_values(m.about)
        self.figures.show_rows(self._power(), self.theme)

    def _power(self) -> list[list[tuple[str, str, str]]]:
        solution = self.bridge.solution
        if solution is None or solution.status not in (SOLVED, PARTLY):
            return []
        figures = ("power in", solution.power_in), ("power out", solution.power_out)
        show = self.theme.figures.show
        return [[(caption, show(watts, "W"), "") for caption, watts in figures]]

    def _give(self, name: str, value: Any) -> str:
        about = self.bridge.map.about
        try:
            changed = msgspec.structs.replace(about, **{name: value})
        except MapError as error:
            return str(error)
        return self.edit("Change the map", [Change("about", None, changed)])
