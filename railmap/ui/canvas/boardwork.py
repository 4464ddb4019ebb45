"""Photo and marks of a board, by menu and mouse; each is one edit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec.structs import replace
from PySide6.QtCore import QObject, QPoint, QPointF, QRectF, Qt
from PySide6.QtGui import QPen
from PySide6.QtWidgets import QFileDialog, QGraphicsLineItem

from railmap.bench import boards
from railmap.errors import RailmapError
from railmap.model.board import Mark, MarkKind, Photo
from railmap.ui.bridge import Picked, sentence
from railmap.ui.canvas.asking import Question
from railmap.ui.canvas.marks import MARK_WORDS, MarkItem
from railmap.ui.canvas.photos import photo_from

if TYPE_CHECKING:
    from railmap.ui.canvas.view import FloorView

FILTER = "Pictures (*.png *.jpg *.jpeg)"
DIM_STEP = 20.0
APART_MM = 9.0
"""Marks that are not put at a point by hand lie so far apart."""


@dataclass(frozen=True)
class BoardCommand:
    """Something that can be done with the photo of a board, by menu or button.

    Attributes
    ----------
    name : str
        Its name in code.
    text : str
        What it is called, with the letter of its key in a menu.
    run : callable
        Does it.
    needs_photo : bool
        True if the board has to have a photo for it.
    """

    name: str
    text: str
    run: Callable[[], None]
    needs_photo: bool = True


class BoardWork(QObject):
    """What the floor does with photo and marks of boards.

    Parameters
    ----------
    view : FloorView
        The floor.
    """

    def __init__(self, view: FloorView) -> None:
        super().__init__(view)
        self._view, self._bridge = view, view.bridge

    def photo_commands(self, name: str) -> tuple[BoardCommand, ...]:
        """Return what can be done with the photo of a board."""
        return (
            BoardCommand(
                "put", f"Put a photo under {name}…", lambda: self.choose_photo(name), False
            ),
            BoardCommand("scale", "&Scale by two points…", lambda: self.start_scaling(name)),
            BoardCommand("turn", "&Turn right", lambda: self.turn_photo(name)),
            BoardCommand("fade", "&Fade", lambda: self.dim_photo(name, 1)),
            BoardCommand("bring_out", "&Bring out", lambda: self.dim_photo(name, -1)),
            BoardCommand("remove", "&Remove", lambda: self.remove_photo(name)),
        )

    def choose_photo(self, name: str) -> None:
        """Ask for a picture file and put it under a board."""
        chosen, _ = QFileDialog.getOpenFileName(self._view, f"Photo of {name}", "", FILTER)
        if chosen:
            self.put_photo(name, Path(chosen))

    def put_photo(self, name: str, path: Path) -> None:
        """Put the picture of a file under a board."""
        try:
            photo = photo_from(path, self._bridge.map.boards[name])
        except RailmapError as error:
            self._bridge.trouble.emit(sentence(error))
            return
        self._change(f"Put photo under {name}", name, photo)

    def turn_photo(self, name: str) -> None:
        """Turn a board's photo by a quarter clockwise; its corner stays."""
        photo = self._photo(name)
        self._change(f"Turn photo of {name}", name, replace(photo, turn=(photo.turn + 90) % 360))

    def dim_photo(self, name: str, more: int) -> None:
        """Fade a board's photo by a step, or bring it out again."""
        photo = self._photo(name)
        dim = min(max(photo.dim_pct + more * DIM_STEP, 0.0), 100.0)
        self._change(f"Fade photo of {name}", name, replace(photo, dim_pct=dim))

    def remove_photo(self, name: str) -> None:
        """Take a board's photo away."""
        self._change(f"Remove photo of {name}", name, None)

    def start_scaling(self, name: str) -> None:
        """Ask for two points of a board's photo, then for their distance."""
        self._view.carry(ScalePhoto(self._view, self, name))

    def scale_photo(self, name: str, one: QPointF, other: QPointF, length: str) -> str:
        """Give a photo its scale by two points of the floor; return the reason why not."""
        board = self._bridge.map.boards[name]
        origin = QPointF(board.x_mm, board.y_mm)
        one, other = one - origin, other - origin
        try:
            length_mm = self._view.floor.theme.figures.parse(length, "mm")
            photo = boards.scaled(
                self._photo(name), (one.x(), one.y()), (other.x(), other.y()), length_mm
            )
        except RailmapError as error:
            return str(error)
        self._change(f"Scale photo of {name}", name, photo)
        return ""

    def add_mark(self, name: str, kind: MarkKind, at: QPointF) -> None:
        """Put a mark on a board at a point of the floor, and ask what there is to say of it."""
        board = self._bridge.map.boards[name]
        today = date.today().isoformat()
        mark = Mark(kind, at.x() - board.x_mm, at.y() - board.y_mm, today)
        word = MARK_WORDS[kind]
        if self._bridge.do(f"Mark {name}", boards.marked(self._bridge.map, name, mark)):
            self._bridge.pick(Picked("board", name))
            number = len(self._bridge.map.boards[name].marks) - 1
            self.ask_text(name, number, word, at)

    def add_mark_in_sight(self, name: str, kind: MarkKind) -> None:
        """Put a mark where the board is seen and no other mark is, to be dragged to its place."""
        board, view = self._view.floor.layout.boards[name], self._view
        seen = self._seen(board)
        if min(seen.width(), seen.height()) < 2 * APART_MM:
            view.zoom_to(Picked("board", name))
            seen = self._seen(board)
        middle, marks = seen.center(), [mark.pos() for mark in view.floor.marks]
        steps = [QPointF(x * APART_MM, y * APART_MM) for x in range(8) for y in range(8)]
        spots = [middle + step for step in steps if seen.contains(middle + step)]
        free = (s for s in spots if all((s - m).manhattanLength() >= APART_MM for m in marks))
        self.add_mark(name, kind, next(free, middle))

    def _seen(self, board: QRectF) -> QRectF:
        port = self._view.viewport().rect()
        return board & self._view.mapToScene(port).boundingRect()

    def ask_text(self, name: str, number: int, word: str, at: QPointF) -> None:
        """Ask what there is to say of a mark."""
        text = self._bridge.map.boards[name].marks[number].text
        question = Question(word, text, lambda said: self._say(name, number, said))
        self._view.ask(question, at)

    def _say(self, name: str, number: int, text: str) -> str:
        mark = self._bridge.map.boards[name].marks[number]
        self.change_mark(name, number, replace(mark, text=text.strip()))
        return ""

    def change_mark(self, name: str, number: int, mark: Mark | None) -> None:
        """Put another mark in place of one, or take it away."""
        verb = "Remove mark of" if mark is None else "Change mark of"
        try:
            changes = boards.remarked(self._bridge.map, name, number, mark)
        except RailmapError as error:
            self._bridge.trouble.emit(sentence(error))
            return
        self._bridge.do(f"{verb} {name}", changes)

    def _photo(self, name: str) -> Photo:
        photo = self._bridge.map.boards[name].photo
        assert photo is not None, f"{name} has no photo"
        return photo

    def _change(self, what: str, name: str, photo: Photo | None) -> None:
        self._bridge.do(what, boards.photo_edit(self._bridge.map, name, photo))


class MoveMark:
    """Drag a mark; one edit, made on release."""

    def __init__(self, view: FloorView, item: MarkItem, point: QPointF) -> None:
        self._view, self._item, self._start = view, item, point
        self._home, self._moved = item.pos(), False

    def move(self, point: QPointF, pixel: QPoint) -> None:
        """See :class:`railmap.ui.canvas.gestures.Gesture`."""
        step = point - self._start
        if self._moved or not self._view.shaky(step):
            self._moved = True
            self._item.setPos(self._home + step)

    def end(self, point: QPointF) -> None:
        """See :class:`railmap.ui.canvas.gestures.Gesture`."""
        if not self._moved:
            return
        name, number = self._item.board, self._item.number
        board = self._view.bridge.map.boards[name]
        at = self._item.pos() - QPointF(board.x_mm, board.y_mm)
        mark = replace(board.marks[number], x_mm=at.x(), y_mm=at.y())
        self._view.boards.change_mark(name, number, mark)

    def cancel(self) -> None:
        """See :class:`railmap.ui.canvas.gestures.Gesture`."""
        self._item.setPos(self._home)


class ScalePhoto:
    """Click two points of a photo; then their distance is asked for."""

    def __init__(self, view: FloorView, work: BoardWork, name: str) -> None:
        self._view, self._work, self._name = view, work, name
        self._first: QPointF | None = None
        self._line: QGraphicsLineItem | None = None
        view.show_hint("Click a point of the photo; Escape to leave it")

    def move(self, point: QPointF, pixel: QPoint) -> None:
        """See :class:`railmap.ui.canvas.gestures.Gesture`."""
        if self._first is None:
            return
        if self._line is None:
            pen = QPen(self._view.floor.theme.accent, 1.6, Qt.PenStyle.DashLine)
            pen.setCosmetic(True)
            self._line = self._view.floor.addLine(0, 0, 0, 0, pen)
            self._line.setZValue(40)
        self._line.setLine(self._first.x(), self._first.y(), point.x(), point.y())

    def end(self, point: QPointF) -> None:
        """See :class:`railmap.ui.canvas.gestures.Gesture`."""
        if self._first is None:
            self._first = point
            self._view.carry(self)
            self._view.show_hint("Click another point whose distance you know")
            return
        self.cancel()
        first = self._first
        question = Question(
            "Distance in mm", "",
            lambda text: self._work.scale_photo(self._name, first, point, text),
        )  # fmt: skip
        self._view.ask(question, point)

    def cancel(self) -> None:
        """See :class:`railmap.ui.canvas.gestures.Gesture`."""
        if self._line is not None:
            self._view.floor.removeItem(self._line)
            self._line = None
