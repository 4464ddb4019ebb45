"""What the floor does by key and menu with the parts that are selected; each is one edit."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from msgspec.structs import replace
from PySide6.QtCore import QMimeData, QObject, QPointF, Qt, Signal, Slot
from PySide6.QtGui import QAction, QActionGroup, QCursor, QGuiApplication, QKeySequence

from railmap.bench import clips, edits, groups, joining
from railmap.errors import MapError, RailmapError
from railmap.model.part import ZERO_NODE
from railmap.model.railmap import Change
from railmap.ui.bridge import Picked, sentence
from railmap.ui.canvas.asking import Question
from railmap.ui.canvas.group import picked_of, refs_of
from railmap.ui.theme import Theme

if TYPE_CHECKING:
    from railmap.ui.canvas.view import FloorView

CLIP_TYPE: Final = "application/x-railmap-parts+json"
"""What the clipboard calls parts that were copied here."""
MOST_CLIP: Final = 64 * 2**20
GRIDS_MM: Final = (0.5, 1.0, 2.0, 2.54, 5.0, 10.0)
"""Grids to choose from; 2.54 mm, a tenth of an inch, is the usual pitch of holes."""
MOST_TOLD: Final = 3
"""Pins told of a node that a pin would join."""
Keys = QKeySequence.StandardKey


@dataclass(frozen=True)
class Entry:
    """A command: its name in code, text, keys, and least number of parts that it needs."""

    name: str
    text: str
    keys: str | QKeySequence.StandardKey | None = None
    least: int = 1


ENTRIES: Final = (
    Entry("cut", "C&ut", Keys.Cut),
    Entry("copy", "&Copy", Keys.Copy),
    Entry("paste", "&Paste", Keys.Paste, 0),
    Entry("repeat", "&Repeat beside", "Ctrl+Shift+R"),
    Entry("select_all", "Select &all parts", Keys.SelectAll, 0),
    Entry("turn_right", "&Turn right", "Ctrl+R"),
    Entry("turn_left", "Turn &left", "Ctrl+Shift+T"),
    Entry("name_node", "&Name the node at a pin…", "F2"),
    Entry("line_left", "Line up &left edges", "Alt+Left", 2),
    Entry("line_right", "Line up &right edges", "Alt+Right", 2),
    Entry("line_top", "Line up &upper edges", "Alt+Up", 2),
    Entry("line_bottom", "Line up &lower edges", "Alt+Down", 2),
    Entry("line_column", "Middles in a &column", "Alt+Home", 2),
    Entry("line_row", "Middles in a ro&w", "Alt+End", 2),
    Entry("spread_across", "Space out &across", "Alt+PgDown", 3),
    Entry("spread_down", "Space out &down", "Alt+PgUp", 3),
)


class FloorCommands(QObject):
    """The commands of one floor.

    Parameters
    ----------
    view : FloorView
        The floor.

    Attributes
    ----------
    actions : dict of str to QAction
        By name; they have their keys while the floor has the focus.
    grids : QActionGroup
        The grids to choose from.
    grid_chosen : Signal(float)
        A person has chosen a grid, in millimetres.
    """

    grid_chosen = Signal(float)

    def __init__(self, view: FloorView) -> None:
        super().__init__(view)
        self._view, self._bridge = view, view.bridge
        self.actions: dict[str, QAction] = {}
        self._least = {entry.name: entry.least for entry in ENTRIES}
        for entry in ENTRIES:
            action = QAction(entry.text, self)
            if entry.keys:
                action.setShortcut(QKeySequence(entry.keys))
            action.setShortcutContext(Qt.ShortcutContext.WidgetShortcut)
            action.setObjectName(entry.name)
            action.triggered.connect(self._run)
            view.addAction(action)
            self.actions[entry.name] = action
        self.grids = QActionGroup(self)
        for grid in GRIDS_MM:
            action = QAction(self.grids)
            action.setCheckable(True)
            action.setData(grid)
            action.setChecked(grid == view.grid_mm)
        self.set_theme(view.floor.theme)
        self.grids.triggered.connect(self._choose_grid)
        self._bridge.picked.connect(self._show_use)
        self._show_use(self._bridge.selection)

    def set_theme(self, theme: Theme) -> None:
        """Write figures as another theme does."""
        for action in self.grids.actions():
            action.setText(theme.figures.sign(f"{action.data():g} mm"))

    @property
    def refs(self) -> tuple[str, ...]:
        """The parts that are selected and that the map has."""
        return tuple(r for r in refs_of(self._bridge.selection) if r in self._bridge.map.parts)

    @Slot(object)
    def _show_use(self, what: Picked) -> None:
        count = len(refs_of(what))
        for name, action in self.actions.items():
            action.setEnabled(count >= self._least[name])

    @Slot()
    def _run(self) -> None:
        name = self.sender().objectName()
        way, _, rest = name.partition("_")
        refs = self.refs
        if len(refs) < self._least[name]:
            return
        runs: dict[str, Callable[[], None]] = {
            "cut": self.cut, "copy": self.copy, "paste": self.paste, "repeat": self.repeat,
            "select_all": self.select_all, "name_node": self.name_node,
            "turn_right": lambda: self.turn(1), "turn_left": lambda: self.turn(-1),
        }  # fmt: skip
        if name in runs:
            runs[name]()
        elif way == "line":
            self._rearrange("Line up", lambda m, p: groups.aligned(m, p, refs, rest))  # type: ignore[arg-type]
        else:
            across = rest == "across"
            self._rearrange("Space out", lambda m, p: groups.spread(m, p, refs, across))

    @Slot(QAction)
    def _choose_grid(self, action: QAction) -> None:
        self._view.grid_mm = float(action.data())
        self.grid_chosen.emit(self._view.grid_mm)

    def set_grid(self, grid_mm: float | None) -> None:
        """Choose a grid; one that there is not to choose changes nothing."""
        for action in self.grids.actions():
            if action.data() == grid_mm:
                action.setChecked(True)
                self._view.grid_mm = float(action.data())

    def delete(self) -> None:
        """Take what is selected out of the map."""
        what, m = self._bridge.selection, self._bridge.map
        try:
            if refs_of(what):
                name = f"Delete {self._said()}"
                self._bridge.do(name, edits.remove_parts(m, self.refs))
            elif what.kind == "board":
                self._bridge.do(f"Delete board {what.key}", edits.remove_board(m, what.key))
            elif what.kind == "rail" and what.key in m.rails:
                name = f"Forget rail {m.rails[what.key].title}"
                self._bridge.do(name, [Change("rails", what.key, None)])
        except MapError as error:
            self._bridge.trouble.emit(sentence(error))

    def turn(self, quarters: int) -> None:
        """Turn the parts that are selected clockwise, or the one that is being placed."""
        if not self._view.turn_placed(90 * quarters) and self.refs:
            refs = self.refs
            self._rearrange("Turn", lambda m, p: groups.rotated(m, p, refs, quarters))

    def nudge(self, dx_mm: float, dy_mm: float) -> None:
        """Move what is selected a little."""
        what, refs = self._bridge.selection, self.refs
        if refs:
            self._rearrange("Move", lambda m, p: groups.shifted(m, p, refs, dx_mm, dy_mm))
        elif what.kind == "board":
            board = self._bridge.map.boards[what.key]
            moved = replace(board, x_mm=board.x_mm + dx_mm, y_mm=board.y_mm + dy_mm)
            self._bridge.do(f"Move board {what.key}", [Change("boards", what.key, moved)])

    def select_all(self) -> None:
        """Select every part: those of the selected board, or all."""
        what, m = self._bridge.selection, self._bridge.map
        here = [r for r, p in m.parts.items() if what.kind != "board" or p.board == what.key]
        self._bridge.pick(picked_of(here))

    def repeat(self) -> None:
        """Put parts like those that are selected beside them."""
        m, places = self._bridge.map, self._view.floor.layout.places
        said, step = self._said(), self._view.grid_mm * round(10 / self._view.grid_mm)
        changes, names = groups.repeated(m, places, self.refs, (step, step))
        if self._bridge.do(f"Repeat {said}", changes):
            self._bridge.pick(picked_of(names))

    def copy(self) -> None:
        """Put the parts that are selected on the clipboard."""
        clip = clips.clip_of(self._bridge.map, self._view.floor.layout.places, self.refs)
        data = QMimeData()
        data.setData(CLIP_TYPE, clips.clip_bytes(clip))
        data.setText(clips.clip_text(clip, self._view.floor.theme.figures))
        QGuiApplication.clipboard().setMimeData(data)

    def cut(self) -> None:
        """Put the parts that are selected on the clipboard, and take them out of the map."""
        self.copy()
        self.delete()

    def paste(self) -> None:
        """Put what is on the clipboard where the pointer is, or beside where it was."""
        data = QGuiApplication.clipboard().mimeData()
        m, places = self._bridge.map, self._view.floor.layout.places
        try:
            if data.hasFormat(CLIP_TYPE):
                clip = clips.clip_from_bytes(_held(bytes(data.data(CLIP_TYPE).data())))
            else:
                clip = clips.clip_from_text(data.text(), self._view.floor.theme.figures)
            changes, names = clips.pasted(m, places, clip, self._pointed(), self._view.grid_mm)
        except RailmapError as error:
            self._bridge.trouble.emit(sentence(error))
            return
        count = f"{len(names)} parts" if len(names) > 1 else names[0]
        if self._bridge.do(f"Paste {count}", changes):
            self._bridge.pick(picked_of(names))

    def name_node(self, ref: str = "", pin: str = "") -> None:
        """Ask for the node of a pin, by default the first of the part that is selected."""
        part = self._bridge.map.parts.get(ref or (self.refs[0] if self.refs else ""))
        if part is None:
            return
        pin = pin or part.pins[0]
        after = part.pins[(part.pins.index(pin) + 1) % len(part.pins)]
        m = self._bridge.map
        titles = [rail.title for rail in m.rails.values()]
        question = Question(
            f"{part.ref} {pin} on", getattr(part, pin),
            lambda text: self._join(part.ref, pin, text.strip()),
            list(dict.fromkeys(["0V", *m.nodes, *titles])),
            lambda: self.name_node(part.ref, after),
            lambda text: self._meaning(part.ref, pin, text.strip()),
        )  # fmt: skip
        self._view.ask(question, self._view.floor.pin_point(part.ref, pin))

    def _meaning(self, ref: str, pin: str, name: str) -> str:
        """Tell what a name would join a pin to: it may be that of a node far away."""
        m = self._bridge.map
        if not name:
            return "on a node of its own"
        with suppress(MapError):
            name = m.node_of(name)
        if name == ZERO_NODE:
            return ""
        found = [
            f"{part.ref} {end}" for part in m.parts.values() for end in part.pins
            if getattr(part, end) == name and (part.ref, end) != (ref, pin)
        ]  # fmt: skip
        if not found:
            return "" if name in m.nodes else "a new node"
        more = len(found) - MOST_TOLD
        return f"with {', '.join(found[:MOST_TOLD])}{f' and {more} more' if more > 0 else ''}"

    def take_off(self, ref: str, pin: str) -> None:
        """Take a pin off its node."""
        self._join(ref, pin, "")

    def _join(self, ref: str, pin: str, node: str) -> str:
        """Put a pin on a node, or on none; return the reason why not."""
        m = self._bridge.map
        if node:
            return self._bridge.refusal_of(
                f"Join {ref} to {node}", lambda: joining.joined(m, ref, pin, node)
            )
        return self._bridge.refusal_of(
            f"Take {ref} {pin} off", lambda: joining.taken_off(m, ref, pin)
        )

    def _rearrange(self, verb: str, make: Callable[..., list[Change]]) -> None:
        m, places = self._bridge.map, self._view.floor.layout.places
        self._bridge.do(f"{verb} {self._said()}", lambda: make(m, places))

    def _said(self) -> str:
        refs = self.refs
        return refs[0] if len(refs) == 1 else f"{len(refs)} parts"

    def _pointed(self) -> tuple[float, float] | None:
        """Return the point of the floor that the pointer is at; None if it is elsewhere."""
        port = self._view.viewport()
        pixel = port.mapFromGlobal(QCursor.pos())
        if not (port.underMouse() and port.rect().contains(pixel)):
            return None
        at: QPointF = self._view.on_grid(self._view.mapToScene(pixel))
        return at.x(), at.y()


def _held(data: bytes) -> bytes:
    if len(data) > MOST_CLIP:
        raise MapError(f"what was copied is larger than {MOST_CLIP // 2**20} MiB")
    return data
