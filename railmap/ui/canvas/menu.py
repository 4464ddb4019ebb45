"""The menu of the floor: what can be done with what is under the pointer or selected."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, Slot
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QMenu

from railmap.ui.bridge import Picked
from railmap.ui.canvas.group import refs_of
from railmap.ui.canvas.marks import MARK_WORDS

if TYPE_CHECKING:
    from railmap.ui.canvas.view import FloorView


class FloorMenu(QMenu):
    """The menu at one point of the floor; what is there is selected first.

    Parameters
    ----------
    view : FloorView
        The floor.
    point : QPointF
        The point.
    """

    def __init__(self, view: FloorView, point: QPointF) -> None:
        super().__init__(view)
        self._view, self._point = view, point
        self._runs: dict[QAction, Callable[[], None]] = {}
        self.triggered.connect(self._chosen)
        ref, pin = view.floor.pin_at(point, view.reach_mm())
        self._pick(ref or view.floor.part_at(point))
        if ref:
            self._fill_for_pin(ref, pin)
        mark = view.floor.mark_at(point)
        if mark is not None:
            self._fill_for_mark(mark.board, mark.number)
        board = view.floor.board_at(point)
        self._fill_for_parts()
        if board:
            self._fill_for_board(board)
        self.addSeparator()
        grids = self.addMenu("&Grid")
        grids.addActions(view.commands.grids.actions())

    def _pick(self, ref: str) -> None:
        """Select the part under the pointer, unless it is among those that are selected."""
        bridge = self._view.bridge
        if ref and ref not in refs_of(bridge.selection):
            bridge.pick(Picked("part", ref))
        elif not ref and not refs_of(bridge.selection):
            board = self._view.floor.board_at(self._point)
            bridge.pick(Picked("board", board) if board else Picked())

    def _put(self, menu: QMenu, text: str, run: Callable[[], None]) -> QAction:
        action = menu.addAction(text)
        self._runs[action] = run
        return action

    @Slot(QAction)
    def _chosen(self, action: QAction) -> None:
        run = self._runs.get(action)
        if run is not None:
            run()

    def _fill_for_pin(self, ref: str, pin: str) -> None:
        commands = self._view.commands
        node = getattr(self._view.bridge.map.parts[ref], pin)
        self._put(self, f"Name the node at {ref} {pin}…", lambda: commands.name_node(ref, pin))
        self._put(self, f"Take {ref} {pin} off {node}", lambda: commands.take_off(ref, pin))
        self.addSeparator()

    def _fill_for_mark(self, board: str, number: int) -> None:
        work = self._view.boards
        word = MARK_WORDS[self._view.bridge.map.boards[board].marks[number].kind]
        self._put(
            self, "Say more of this mark…",
            lambda: work.ask_text(board, number, word, self._point),
        )  # fmt: skip
        self._put(self, "Remove this mark", lambda: work.change_mark(board, number, None))
        self.addSeparator()

    def _fill_for_parts(self) -> None:
        actions = self._view.commands.actions
        for name in ("cut", "copy", "paste", "repeat"):
            self.addAction(actions[name])
        self._put(self, "&Delete", self._view.commands.delete)
        self.addSeparator()
        for name in ("select_all", "turn_right", "turn_left"):
            self.addAction(actions[name])
        lines = self.addMenu("&Line up")
        for name, action in actions.items():
            if name.startswith(("line_", "spread_")):
                lines.addAction(action)
        lines.setEnabled(len(refs_of(self._view.bridge.selection)) > 1)

    def _fill_for_board(self, board: str) -> None:
        work = self._view.boards
        photo = self._view.bridge.map.boards[board].photo
        menu = self.addMenu("P&hoto")
        for one in work.photo_commands(board):
            self._put(menu, one.text, one.run).setEnabled(photo is not None or not one.needs_photo)
        marks = self.addMenu("&Mark here")
        for kind, word in MARK_WORDS.items():
            self._put(marks, word, self._marking(board, kind))

    def _marking(self, board: str, kind: str) -> Callable[[], None]:
        return lambda: self._view.boards.add_mark(board, kind, self._point)  # type: ignore[arg-type]
