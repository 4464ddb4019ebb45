"""The floor as a scene: a projection of the map. Items never change the map."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QObject, QPointF, QRectF, Slot
from PySide6.QtGui import QBrush, QPainter, QPen
from PySide6.QtWidgets import QGraphicsItem, QGraphicsScene

from railmap.bench.feeds import NOTHING, Feed, feed_of_node, feed_of_part
from railmap.model.railmap import RailMap
from railmap.solve.solution import Solution
from railmap.ui.bridge import Bridge, Picked
from railmap.ui.canvas.items import BoardItem, PartItem, RailTag
from railmap.ui.canvas.layout import Layout, lay_out
from railmap.ui.canvas.routing import Router
from railmap.ui.canvas.runs import RunsItem
from railmap.ui.faces import part_face, rail_texts
from railmap.ui.theme import Theme

EDGE_MM = 16.0
TAG_ROOM_MM = 3.0
"""Room kept beside a label, for its text grows with the volts."""
TAG_ROWS_MM = (-9.1, 0.0, 17.9, -36.1, 44.9, -63.1, 71.9)
"""Where a label may be, from the top of its run: over the top, beside it, in the rows' gaps."""


_TAG_SPOTS = np.array([(5.0 * k, dy) for dy in TAG_ROWS_MM for k in range(-7, 8)])
_TAG_SPOT_COST = 0.5 * np.abs(_TAG_SPOTS[:, 0]) + 0.7 * np.abs(_TAG_SPOTS[:, 1] - TAG_ROWS_MM[0])


class Taken:
    """Boxes that are taken, as left, top, right and bottom; more can be added."""

    def __init__(self, boxes: Sequence[object]) -> None:
        self._boxes = np.array(boxes, dtype=float).reshape(-1, 4)
        self._more: list[NDArray[np.float64]] = []

    def touched(self, boxes: NDArray[np.float64]) -> NDArray[np.intp]:
        """Return how many taken boxes each of some boxes touches."""
        if len(self._more) >= 64:
            self._boxes = np.concatenate((self._boxes, self._more))
            self._more = []
        found = np.zeros(len(boxes), dtype=np.intp)
        for held in (self._boxes, np.array(self._more).reshape(-1, 4)):
            apart = (held[:, 2] <= boxes[:, :1]) | (boxes[:, 2:3] <= held[:, 0])
            apart |= (held[:, 3] <= boxes[:, 1:2]) | (boxes[:, 3:4] <= held[:, 1])
            found += (~apart).sum(axis=1)
        return found

    def add(self, box: NDArray[np.float64]) -> None:
        """Take one more box."""
        self._more.append(box)


class FloorScene(QGraphicsScene):
    """Boards, parts and runs of one map.

    Parameters
    ----------
    theme : Theme
        Colours.
    parent : QObject, optional
        Its owner.
    """

    def __init__(self, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.theme = theme
        self.map = RailMap()
        self.layout: Layout = lay_out(self.map)
        self.parts: dict[str, PartItem] = {}
        self.boards: dict[str, BoardItem] = {}
        self.tags: list[RailTag] = []
        self.runs: RunsItem | None = None
        self._solution: Solution | None = None
        self._selection = Picked()
        self.setBackgroundBrush(theme.floor)

    def follow(self, bridge: Bridge) -> None:
        """Show the map of a bridge from now on."""
        self._bridge = bridge
        bridge.map_changed.connect(self._rebuild)
        bridge.solved.connect(self._solved)
        bridge.picked.connect(self.pick)
        self.show_map(bridge.map)

    def show_map(self, m: RailMap) -> None:
        """Build the items of a map."""
        self._empty()
        self._solution = None
        self.map = m
        self.layout = lay_out(m)
        for name, rect in self.layout.boards.items():
            self._keep(self.boards, name, BoardItem(name, rect, self.theme))
        for number, (ref, part) in enumerate(m.parts.items()):
            face = part_face(part, None, number, changed=False)
            item = PartItem(face, self.layout.places[ref].turn, self._middle(ref), self.theme)
            self._keep(self.parts, ref, item)
        self._lay_runs()
        self.setSceneRect(self.extent())
        self._mark()

    def show_solution(self, solution: Solution, drift: frozenset[str] = frozenset()) -> None:
        """Put the figures of a solution on tiles and labels."""
        self._solution = solution
        at = solution.network.part_index
        for ref, item in self.parts.items():
            if ref in at:
                item.set_face(part_face(self.map.parts[ref], solution, at[ref], ref in drift))
        for tag in self.tags:
            tag.set_text(*rail_texts(solution, tag.node, self._title(tag.node)))

    def set_theme(self, theme: Theme) -> None:
        """Paint everything in another theme."""
        self.theme = theme
        self.setBackgroundBrush(QBrush(theme.floor))
        for item in (*self.boards.values(), *self.parts.values()):
            item.set_theme(theme)
        if self.runs is not None:
            self.runs.set_theme(theme)
        self._lay_tags()

    def extent(self) -> QRectF:
        """Return what there is to see, with an edge around it."""
        box = QRectF()
        for rect in (*self.layout.boards.values(), *self.layout.tiles.values()):
            box = box.united(rect)
        if self.runs is not None:
            box = box.united(self.runs.boundingRect())
        if box.isEmpty():
            box = QRectF(0, 0, 200, 120)
        return box.adjusted(-EDGE_MM, -EDGE_MM, EDGE_MM, EDGE_MM)

    def part_at(self, point: QPointF) -> str:
        """Return the part whose tile is under a point, or nothing."""
        for ref, rect in reversed(self.layout.tiles.items()):
            if rect.contains(point):
                return ref
        return ""

    def board_at(self, point: QPointF) -> str:
        """Return the board under a point, or nothing."""
        for name, rect in self.layout.boards.items():
            if rect.contains(point):
                return name
        return ""

    def pin_at(self, point: QPointF, reach_mm: float) -> tuple[str, str]:
        """Return the part and pin nearest to a point and within reach, or nothing."""
        pins = [p for some in self.layout.pins.values() for p in some] + self.layout.grounds
        near = [(abs(p.x - point.x()) + abs(p.y - point.y()), p.ref, p.pin) for p in pins]
        far, ref, pin = min(near, default=(reach_mm + 1, "", ""))
        return (ref, pin) if far <= reach_mm else ("", "")

    def rail_at(self, point: QPointF, reach_mm: float) -> str:
        """Return the rail whose label or line is under a point, or nothing."""
        for tag in self.tags:
            if tag.boundingRect().translated(tag.pos()).contains(point):
                return tag.node
        return self.runs.node_at(point, reach_mm) if self.runs is not None else ""

    @Slot(object)
    def pick(self, what: Picked) -> None:
        """Mark what is selected, its feed path and what it feeds."""
        self._selection = what
        self._mark()

    def _mark(self) -> None:
        what = self._selection
        feed = self._feed(what)
        node = what.key if what.kind == "rail" else ""
        for ref, item in self.parts.items():
            lit = 1 if ref in feed.path_refs else 2 if ref in feed.fed_refs else 0
            item.set_marks(what == Picked("part", ref), lit)
        for name, board in self.boards.items():
            board.set_picked(what == Picked("board", name))
        for tag in self.tags:
            tag.set_picked(tag.node == node)
        if self.runs is not None:
            self.runs.set_marks(node, feed.path_nodes, feed.fed_nodes)

    def _feed(self, what: Picked) -> Feed:
        if what.kind == "part" and what.key in self.map.parts:
            return feed_of_part(self.map, what.key)
        return feed_of_node(self.map, what.key) if what.kind == "rail" else NOTHING

    @Slot(object)
    def _rebuild(self, _: object) -> None:
        self.show_map(self._bridge.map)

    @Slot(object)
    def _solved(self, solution: Solution) -> None:
        self.show_solution(solution, frozenset(self._bridge.drift))

    def _middle(self, ref: str) -> QPointF:
        return self.layout.tiles[ref].center()

    def _keep(self, table: dict[str, Any], key: str, item: QGraphicsItem) -> None:
        self.addItem(item)
        table[key] = item

    def _empty(self) -> None:
        for table in (self.parts, self.boards):
            while table:
                self.removeItem(table.popitem()[1])
        while self.tags:
            self.removeItem(self.tags.pop())
        if self.runs is not None:
            self.removeItem(self.runs)
            self.runs = None

    def _lay_runs(self) -> None:
        self._routes = Router(self.layout).route()
        self.runs = RunsItem(self._routes, self.layout.grounds, self.theme)
        self.addItem(self.runs)
        self._lay_tags()

    def _lay_tags(self) -> None:
        """Label every rail once on each board it reaches."""
        while self.tags:
            self.removeItem(self.tags.pop())
        assert self.runs is not None
        taken = Taken([r.getCoords() for r in self.layout.tiles.values()])
        for run in self._routes:
            for board, x, y in run.tags:
                tag = RailTag(run.node, QPointF(x, y), self.runs.colour(run.node), self.theme)
                tag.set_text(*rail_texts(self._solution, run.node, self._title(run.node)))
                self._settle_tag(tag, board, taken)
                self.addItem(tag)
                self.tags.append(tag)
        self._mark()

    def _settle_tag(self, tag: RailTag, board: str, taken: Taken) -> None:
        """Move a label to the free place nearest to the top of its run."""
        half = tag.boundingRect().size() / 2
        wide, high = half.width() + TAG_ROOM_MM / 2, half.height()
        at = tag.pos()
        x, y = at.x() + _TAG_SPOTS[:, 0], at.y() + _TAG_SPOTS[:, 1]
        boxes = np.stack((x - wide, y - high, x + wide, y + high), axis=1)
        cost = _TAG_SPOT_COST + 90.0 * taken.touched(boxes)
        sheet = self.layout.boards.get(board)
        if sheet is not None:
            outside = (boxes[:, 0] < sheet.left()) | (boxes[:, 2] > sheet.right())
            outside |= (boxes[:, 1] < sheet.top() + 9) | (boxes[:, 3] > sheet.bottom())
            cost = cost + 60.0 * outside
        best = int(np.argmin(cost))
        tag.setPos(float(x[best]), float(y[best]))
        taken.add(boxes[best])

    def _title(self, node: str) -> str:
        rail = self.map.rails.get(node)
        return rail.title if rail else node

    def drawBackground(self, painter: QPainter, rect: QRectF) -> None:
        """Paint the floor with a grid of 50 mm."""
        painter.fillRect(rect, self.theme.floor)
        painter.setPen(QPen(self.theme.grid, 0))
        step = 50
        x = int(rect.left() // step) * step
        while x < rect.right():
            painter.drawLine(QPointF(x, rect.top()), QPointF(x, rect.bottom()))
            x += step
        y = int(rect.top() // step) * step
        while y < rect.bottom():
            painter.drawLine(QPointF(rect.left(), y), QPointF(rect.right(), y))
            y += step
