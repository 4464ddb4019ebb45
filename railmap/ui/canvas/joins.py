"""Gestures that join pins, and that set new parts down."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

from PySide6.QtCore import QLineF, QPoint, QPointF, QRectF, Qt
from PySide6.QtGui import QPainterPath, QPen
from PySide6.QtWidgets import QGraphicsEllipseItem, QGraphicsLineItem, QGraphicsPathItem

from railmap.bench.joining import alone, join_pins, joined, linked, needs_link
from railmap.model.checks import MAX_NAME
from railmap.model.part import Place
from railmap.model.railmap import Change
from railmap.ui.canvas.symbols import WIDTH, symbol, tile_of, turned

if TYPE_CHECKING:
    from railmap.ui.canvas.view import FloorView

AUTOMATIC = re.compile("N[0-9]+")
"""Names of nodes that nobody has named."""
RING_MM = 2.6
STEP_MM = 20.0
"""A link that finds its place taken goes this far down."""


class Join:
    """Drag from a pin to another pin or to a rail: the pin then belongs to that rail.

    A pin on another board is joined by a link between the boards, unless Alt is held.
    """

    def __init__(self, view: FloorView, ref: str, pin: str, point: QPointF) -> None:
        self._view, self._ref, self._pin = view, ref, pin
        pen = QPen(view.floor.theme.accent, 1.2, Qt.PenStyle.DashLine)
        self._line: QGraphicsLineItem | None = view.floor.addLine(QLineF(point, point), pen)
        self._line.setZValue(30)
        ring = QRectF(-RING_MM, -RING_MM, 2 * RING_MM, 2 * RING_MM)
        self._ring: QGraphicsEllipseItem = view.floor.addEllipse(
            ring, QPen(view.floor.theme.accent, 1.0)
        )
        self._ring.setZValue(30)
        self._ring.setVisible(False)
        self._from = point

    def move(self, point: QPointF, pixel: QPoint) -> None:
        """See :class:`railmap.ui.canvas.gestures.Gesture`."""
        node, pin = self._target(point)
        if self._line is not None:
            end = point
            if pin is not None:
                end = self._view.floor.pin_point(*pin)
                self._ring.setPos(end)
            self._ring.setVisible(pin is not None)
            self._line.setLine(QLineF(self._from, end))
        self._view.show_hint(self._hint(node, pin))

    def _target(self, point: QPointF) -> tuple[str, tuple[str, str] | None]:
        """Return the node under a point and its pin there; nothing on a bare spot."""
        scene, reach = self._view.floor, self._view.reach_mm()
        if (point - self._from).manhattanLength() < reach:
            return "", None  # a click, not a drag
        ref, pin = scene.pin_at(point, reach)
        if ref and (ref, pin) != (self._ref, self._pin):
            return getattr(self._view.bridge.map.parts[ref], pin), (ref, pin)
        return scene.rail_at(point, reach), None

    def _by_link(self, node: str) -> bool:
        held = self._view.held & Qt.KeyboardModifier.AltModifier
        return not held and needs_link(self._view.bridge.map, self._ref, node)

    def _hint(self, node: str, pin: tuple[str, str] | None) -> str:
        if not node:
            return "Drop on a pin or a rail"
        if self._by_link(node):
            return f"Join {self._ref} {self._pin} to {node} by a new link; hold Alt for none"
        m, own = self._view.bridge.map, (self._ref, self._pin)
        if pin is not None and not alone(m, *own) and alone(m, *pin):
            return f"Join {pin[0]} {pin[1]} to {getattr(m.parts[self._ref], self._pin)}"
        return f"Join {self._ref} {self._pin} to {node}"

    def end(self, point: QPointF) -> None:
        """See :class:`railmap.ui.canvas.gestures.Gesture`."""
        self.cancel()
        node, pin = self._target(point)
        m = self._view.bridge.map
        if not node or node == getattr(m.parts[self._ref], self._pin):
            return
        if self._by_link(node):
            changes = self._link(node, self._place_of_link(point))
        elif pin is not None:
            changes = join_pins(m, (self._ref, self._pin), pin)
        else:
            changes = joined(m, self._ref, self._pin, node)
        self._view.bridge.do(_name_of(changes, node), changes)

    def _link(self, node: str, place: Place) -> list[Change]:
        """Return a link to another board; behind it the rail has its name with the board's."""
        m, part = self._view.bridge.map, self._view.bridge.map.parts[self._ref]
        own, behind = getattr(part, self._pin), f"{node} {part.board}"
        given = alone(m, self._ref, self._pin) and not AUTOMATIC.fullmatch(own)
        if given or behind in m.nodes or behind in m.rails or len(behind) > MAX_NAME:
            return linked(m, self._ref, self._pin, node, place)
        changes, trial = joined(m, self._ref, self._pin, behind), m.copy()
        trial.change(changes)
        return [*changes, *linked(trial, self._ref, self._pin, node, place)]

    def _place_of_link(self, point: QPointF) -> Place:
        """Return a free spot between the two boards, beside the own one and level with the pin."""
        layout, m = self._view.floor.layout, self._view.bridge.map
        here = layout.boards[m.parts[self._ref].board]
        name = self._view.floor.board_at(point)
        there = layout.boards.get(name, QRectF(point, point))
        middle = QPointF(self._from + point) / 2
        gap = _gap(here, there, layout.boards.values())
        if gap is not None:
            middle = QPointF(sum(gap) / 2, self._from.y())
        wide = gap is not None and gap[1] - gap[0] > WIDTH
        taken = [*layout.tiles.values(), *(layout.boards.values() if wide else ())]
        box = tile_of(0).translated(self._view.on_grid(middle))
        while any(box.intersects(rect) for rect in taken):
            box.translate(0, STEP_MM)
        return Place(box.center().x(), box.center().y())

    def cancel(self) -> None:
        """See :class:`railmap.ui.canvas.gestures.Gesture`."""
        if self._line is not None:
            self._view.floor.removeItem(self._line)
            self._view.floor.removeItem(self._ring)
            self._line = None
        self._view.show_hint("")


def _gap(here: QRectF, there: QRectF, boards: Iterable[QRectF]) -> tuple[float, float] | None:
    """Return left and right of the gap beside a board on the side of another; None if none."""
    if here.right() <= there.left():
        ends = [rect.left() for rect in (*boards, there) if rect.left() >= here.right()]
        return here.right(), min(ends)
    if there.right() <= here.left():
        ends = [rect.right() for rect in (*boards, there) if rect.right() <= here.left()]
        return max(ends), here.left()
    return None


def _name_of(changes: list[Change], node: str) -> str:
    """Return the name of the edit that joins something."""
    refs = [change.key for change in changes if change.key is not None]
    links = [change.item.ref for change in changes if change.key is None]  # type: ignore[union-attr]
    if links:
        return f"Join to {node} by {links[0]}"
    return f"Join {refs[0]} to {node}" if refs else "Join"


class PlacePart:
    """Carry a new part over the floor and set it down; its first pin joins a rail it is set on.

    Attributes
    ----------
    kind : str
        Kind of part.
    turn : int
        How it is turned, degrees.
    at : QPointF
        Where it is.
    """

    def __init__(self, view: FloorView, kind: str, at: QPointF) -> None:
        self._view, self.kind, self.turn, self.at = view, kind, 0, view.on_grid(at)
        self._ghost: QGraphicsPathItem | None = QGraphicsPathItem()
        self._ghost.setPen(QPen(view.floor.theme.accent, 0.8))
        self._ghost.setZValue(30)
        self._ghost.setPos(self.at)
        view.floor.addItem(self._ghost)
        self.turn_by(0)

    def turn_by(self, degrees: int) -> None:
        """Turn it."""
        self.turn = (self.turn + degrees) % 360
        path = QPainterPath()
        path.addRect(tile_of(self.turn))
        path.addPath(turned(self.turn).map(symbol(self.kind)))
        if self._ghost is not None:
            self._ghost.setPath(path)

    def shift(self, step: QPointF) -> None:
        """Carry it a little further."""
        self.at = self._view.on_grid(self.at + step)
        if self._ghost is not None:
            self._ghost.setPos(self.at)

    def move(self, point: QPointF, pixel: QPoint) -> None:
        """See :class:`railmap.ui.canvas.gestures.Gesture`."""
        self.shift(point - self.at)

    def end(self, point: QPointF) -> None:
        """See :class:`railmap.ui.canvas.gestures.Gesture`."""
        self.shift(point - self.at)
        self.cancel()
        self._view.place_part(self.kind, self.at, self.turn)

    def cancel(self) -> None:
        """See :class:`railmap.ui.canvas.gestures.Gesture`."""
        if self._ghost is not None:
            self._view.floor.removeItem(self._ghost)
            self._ghost = None
