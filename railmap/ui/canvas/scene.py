"""The floor as a scene: a projection of the map. Items never change the map."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from typing import Any

from PySide6.QtCore import QLineF, QObject, QPointF, QRectF, Slot
from PySide6.QtGui import QBrush, QPainter, QPen
from PySide6.QtWidgets import QGraphicsScene

from railmap.bench.feeds import NOTHING, Feed
from railmap.model.board import Board
from railmap.model.kinds import Winding
from railmap.model.part import ZERO_NODE, Part
from railmap.model.railmap import RailMap
from railmap.solve.solution import Solution
from railmap.ui.bridge import Bridge, Picked
from railmap.ui.canvas.boxes import around_all, corners
from railmap.ui.canvas.group import feed_of, refs_of
from railmap.ui.canvas.items import Face, RailTag, TagMetrics
from railmap.ui.canvas.layout import Layout, Pin, lay_out, pins_on_floor
from railmap.ui.canvas.marks import MarkItem
from railmap.ui.canvas.routing import Router, Run
from railmap.ui.canvas.runs import RunsItem
from railmap.ui.canvas.sheet import HANDLES, RIM_MM, STRIP_MM, BoardItem, handle_point
from railmap.ui.canvas.spots import Spots, Want
from railmap.ui.canvas.symbols import tile_of
from railmap.ui.canvas.tiles import PartItem, TilePaints, Tint
from railmap.ui.faces import Shades, part_face, rail_texts
from railmap.ui.theme import Theme

EDGE_MM = 16.0
DRAGGED = 20.0
"""Height of a part that is dragged: over everything that lies."""
GRID_MM = 50
USUAL_VOLTS, USUAL_AC_VOLTS = "  −88.88 V", "  88.8 V AC"
"""What a label has room for before the volts are known."""


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
        self.marks: list[MarkItem] = []
        self.tags: list[RailTag] = []
        self.runs = RunsItem([], [], theme)
        self.addItem(self.runs)
        self._paints = TilePaints(theme)
        self._metrics = TagMetrics()
        self._router = Router(self.layout)
        self._routes: list[Run] = []
        self._spots: Spots | None = None
        self._solution: Solution | None = None
        self._drift: frozenset[str] = frozenset()
        self._shades = Shades(None)
        self._dragged: set[str] = set()
        self._selection = Picked()
        self._fed: tuple[Picked, list[Part], Feed] = (Picked(), [], NOTHING)
        self.setBackgroundBrush(theme.floor)

    def follow(self, bridge: Bridge) -> None:
        """Show the map of a bridge from now on."""
        self._bridge = bridge
        bridge.map_changed.connect(self._rebuild)
        bridge.solved.connect(self._solved)
        bridge.unsolved.connect(self._unsolved)
        bridge.picked.connect(self.pick)
        bridge.coloured.connect(self._coloured)
        self.show_map(bridge.map)

    def show_map(self, m: RailMap) -> None:
        """Build the items of a map."""
        self._drop(self.parts)
        self._drop(self.boards)
        self._drop_marks()
        while self.tags:
            self.removeItem(self.tags.pop())
        self._solution, self._spots = None, None
        self.layout = lay_out(RailMap())
        self._router = Router(self.layout)
        self.map = m
        self._follow_map()

    def show_solution(
        self, solution: Solution, drift: frozenset[str] = frozenset(), shades: Shades | None = None
    ) -> None:
        """Put the figures of a solution on tiles and labels, coloured by stress by default."""
        self._solution, self._drift = solution, drift
        self._shades = (shades or Shades(solution)).written(self.theme.figures)
        at, faults = solution.network.part_index, solution.network.circuit.faults
        sight = self._sight()
        for ref, item in self.parts.items():
            number = at.get(ref)
            if number is not None:
                shade = self._shades.of_part(ref)
                tint = Tint(shade.step, shade.over, ref in faults)
                item.look_again(tint, item.worded and _meet(sight, item.sceneBoundingRect()))
        self._colour_runs()
        self._write_tags()

    def _colour_runs(self) -> None:
        """Give every rail the colour of its shade, or its own where it has none."""
        self.runs.set_steps(self._shades.rail_steps(self.layout.pins))
        for tag in self.tags:
            tag.set_colours(self.runs.colour(tag.node), self.theme)

    def set_theme(self, theme: Theme) -> None:
        """Paint and write everything in another theme."""
        rewritten = theme.figures != self.theme.figures
        self.theme = theme
        self.setBackgroundBrush(QBrush(theme.floor))
        self._paints = TilePaints(theme)
        for board in self.boards.values():
            board.set_theme(theme)
        for mark in self.marks:
            mark.set_theme(theme)
        for part in self.parts.values():
            part.set_paints(self._paints)
        self.runs.set_theme(theme)
        if rewritten:
            self._show_anew()
        self._lay_tags()

    def drag(self, middles: Mapping[str, QPointF]) -> None:
        """Draw some parts elsewhere, with what hangs on them, until the map is shown again.

        Parameters
        ----------
        middles : dict of str to QPointF
            Where the middle of each part is; none to put everything back.
        """
        tiles: dict[str, QRectF] = {}
        pins: list[Pin] = []
        self._put_back(self._dragged - middles.keys())
        for ref, middle in middles.items():
            turn = self.layout.places[ref].turn
            self.parts[ref].setPos(middle)
            self.parts[ref].setZValue(DRAGGED)
            tiles[ref] = tile_of(turn).translated(middle)
            pins += pins_on_floor(self.map.parts[ref], self.board_at(middle), turn, middle)
        self._dragged = set(middles)
        runs = self._router.trial(tiles, pins) if tiles else {}
        self.runs.lift(runs, [pin for pin in pins if pin.node == ZERO_NODE])

    def _put_back(self, refs: Iterable[str]) -> None:
        """Put tiles where their parts are on the map."""
        for ref in refs:
            self.parts[ref].place(self.layout.places[ref].turn, self.layout.tiles[ref].center())

    def extent(self) -> QRectF:
        """Return what there is to see, with an edge around it."""
        box = around_all(self.layout.boxes)
        for rect in self.layout.boards.values():
            box = box.united(rect)
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
        pins = self._all_pins()
        near = [(abs(p.x - point.x()) + abs(p.y - point.y()), p.ref, p.pin) for p in pins]
        far, ref, pin = min(near, default=(reach_mm + 1, "", ""))
        return (ref, pin) if far <= reach_mm else ("", "")

    def pin_point(self, ref: str, pin: str) -> QPointF:
        """Return where a pin is."""
        found = next(p for p in self.layout.of_part[ref][1] if p.pin == pin)
        return QPointF(found.x, found.y)

    def mark_at(self, point: QPointF) -> MarkItem | None:
        """Return the mark under a point."""
        return next((mark for mark in reversed(self.marks) if mark.holds(point)), None)

    def handle_at(self, point: QPointF, reach_mm: float) -> tuple[str, tuple[int, int]] | None:
        """Return the board that is selected and the handle of it that is under a point."""
        what = self._selection
        rect = self.layout.boards.get(what.key) if what.kind == "board" else None
        if rect is None:
            return None
        for handle in HANDLES:
            if (handle_point(rect, handle) - point).manhattanLength() <= reach_mm:
                return what.key, handle
        return None

    def grip_at(self, point: QPointF) -> str:
        """Return the board whose name or rim, by which it is moved, is under a point."""
        name = self.board_at(point)
        if not name:
            return ""
        inner = self.layout.boards[name].adjusted(RIM_MM, STRIP_MM, -RIM_MM, -RIM_MM)
        return "" if inner.contains(point) else name

    def _all_pins(self) -> list[Pin]:
        return [p for some in self.layout.pins.values() for p in some] + self.layout.grounds

    def rail_at(self, point: QPointF, reach_mm: float) -> str:
        """Return the rail whose label or line is under a point, or nothing."""
        for tag in self.tags:
            if tag.sceneBoundingRect().contains(point):
                return tag.node
        return self.runs.node_at(point, reach_mm)

    @Slot(object)
    def pick(self, what: Picked) -> None:
        """Mark what is selected, its feed path and what it feeds."""
        self._selection = what
        self._mark()

    def _mark(self) -> None:
        what = self._selection
        feed = self._feed(what)
        node = what.key if what.kind == "rail" else ""
        picked = frozenset(refs_of(what))
        for ref, item in self.parts.items():
            lit = 1 if ref in feed.path_refs else 2 if ref in feed.fed_refs else 0
            item.set_marks(ref in picked, lit)
        for name, board in self.boards.items():
            board.set_picked(what == Picked("board", name))
        for tag in self.tags:
            tag.set_picked(tag.node == node)
        self.runs.set_marks(node, feed.path_nodes, feed.fed_nodes)

    def _feed(self, what: Picked) -> Feed:
        """Return the feed of what is selected; worked out anew only if the wiring has changed."""
        about, held, feed = self._fed
        parts = [*self.map.parts.values()] if what.kind else []
        if about != what or not _wired_alike(held, parts):
            feed = feed_of(self.map, what)
        self._fed = what, parts, feed
        return feed

    @Slot(object)
    def _rebuild(self, changes: object) -> None:
        if changes and self._bridge.map is self.map:
            self._follow_map()
        else:
            self.show_map(self._bridge.map)

    @Slot(object)
    def _solved(self, solution: Solution) -> None:
        self.show_solution(solution, frozenset(self._bridge.drift), self._bridge.shades())

    @Slot()
    def _coloured(self) -> None:
        if self._bridge.solution is not None:
            self._solved(self._bridge.solution)

    def _show_anew(self) -> None:
        """Write all figures once more."""
        if self._solution is None:
            self._unsolved()
        else:
            self.show_solution(self._solution, self._drift, self._shades)

    @Slot()
    def _unsolved(self) -> None:
        self._solution = None
        sight = self._sight()
        for item in self.parts.values():
            item.look_again(Tint(), item.worded and _meet(sight, item.sceneBoundingRect()))
        self._write_tags()

    def _follow_map(self) -> None:
        """Bring the items in line with the map; they keep their figures until it is solved."""
        before, self.layout = self.layout.tiles, lay_out(self.map, self.layout)
        self._match_boards()
        self._match_parts(before)
        self._router = Router(self.layout, self._router)
        self._routes = self._router.route()
        by_node = {run.node: run for run in self._routes}
        # Their colours go by the order of the map, which stays when a part is moved.
        self.runs.set_runs([by_node[node] for node in self.layout.pins], self.layout.grounds)
        self._lay_tags()
        self.setSceneRect(self.extent())

    def _match_boards(self) -> None:
        self._drop(self.boards, self.layout.boards)
        for name, board in self.map.boards.items():
            item = self.boards.get(name)
            if item is None:
                item = self.boards[name] = BoardItem(board, self.theme)
                self.addItem(item)
            item.show_board(board)
        wanted = [(b, i) for b in self.map.boards.values() for i in range(len(b.marks))]
        if self.marks or wanted:
            self._match_marks(wanted)

    def _match_marks(self, wanted: list[tuple[Board, int]]) -> None:
        self._drop_marks()
        for board, number in wanted:
            mark = board.marks[number]
            at = QPointF(board.x_mm + mark.x_mm, board.y_mm + mark.y_mm)
            self.marks.append(MarkItem(board.name, number, mark, at, self.theme))
            self.addItem(self.marks[-1])

    def _drop_marks(self) -> None:
        while self.marks:
            self.removeItem(self.marks.pop())

    def _match_parts(self, before: Mapping[str, QRectF]) -> None:
        """Make and move tiles; one whose part is another now says nothing until it is solved."""
        self._drop(self.parts, self.map.parts)
        tiles = self.layout.tiles
        for ref in self.map.parts:
            if ref not in self.parts:
                turn, middle = self.layout.places[ref].turn, tiles[ref].center()
                item = self.parts[ref] = PartItem(ref, self._face, turn, middle, self._paints)
                self.addItem(item)
        self._put_back(ref for ref, tile in tiles.items() if before.get(ref) is not tile)
        self._put_back(self._dragged & tiles.keys())
        self._dragged = set()

    def _drop(self, table: dict[str, Any], wanted: Mapping[str, object] | None = None) -> None:
        """Take out items that are not wanted any more; all of them if the order has changed."""
        order = list(wanted or ())
        kept = [key for key in table if wanted is not None and key in wanted]
        rest = frozenset(kept if kept == order[: len(kept)] else ())
        for key in [key for key in table if key not in rest]:
            self.removeItem(table.pop(key))

    def _face(self, ref: str) -> Face:
        """Return what the tile of a part says now."""
        part, solution = self.map.parts[ref], self._solution
        number = None if solution is None else solution.network.part_index.get(ref)
        if number is None:
            return part_face(part, None, 0, False, self.theme.figures)
        shade = self._shades.of_part(ref)
        return part_face(part, solution, number, ref in self._drift, self.theme.figures, shade)

    def _sight(self) -> list[QRectF]:
        """Return what the views show of the floor."""
        return [v.mapToScene(v.viewport().rect()).boundingRect() for v in self.views()]

    def _lay_tags(self) -> None:
        """Label every rail once on each board it reaches."""
        held = {(tag.node, tag.board): tag for tag in self.tags}
        sheets = {name: corners(rect) for name, rect in self.layout.boards.items()}
        wound = {n for p in self.map.parts.values() if isinstance(p, Winding) for n in p.nodes}
        wants: dict[Hashable, Want] = {}
        extents = self._router.extents
        self.tags = []
        for node, board, x, y in ((run.node, *tag) for run in self._routes for tag in run.tags):
            tag = held.pop((node, board), None) or self._new_tag(node, board)
            tag.set_colours(self.runs.colour(node), self.theme)
            tag.usual_mm = self._usual_width(node, node in wound)
            tag.room_mm = tag.needed_mm()
            wants[node, board] = Want(
                extents[node], x, y, tag.room_mm, RailTag.TALL, sheets.get(board, ())
            )
            self.tags.append(tag)
        self._spots = Spots(self.layout.boxes, wants, self._spots)
        for tag in self.tags:
            tag.place(self._spots.boxes[tag.node, tag.board])
        for tag in held.values():
            self.removeItem(tag)
        self._mark()

    def _new_tag(self, node: str, board: str) -> RailTag:
        tag = RailTag(node, board, self.theme, self._metrics)
        self._write(tag, None)
        self.addItem(tag)
        return tag

    def _write(self, tag: RailTag, solution: Solution | None) -> None:
        shade = self._shades.of_rail(tag.node)
        title, figures = self._title(tag.node), self.theme.figures
        tag.set_text(*rail_texts(solution, tag.node, title, figures, shade))

    def _write_tags(self) -> None:
        """Put the volts on the labels; they get other places if their room does not fit them."""
        for tag in self.tags:
            self._write(tag, self._solution)
        if any(tag.room_mm != tag.needed_mm() for tag in self.tags):
            self._lay_tags()

    def _usual_width(self, node: str, wound: bool) -> float:
        """Return the width of a rail's label with volts of the usual size."""
        volts = USUAL_AC_VOLTS if wound else USUAL_VOLTS
        return self._metrics.usual_mm(self._title(node) + volts)

    def _title(self, node: str) -> str:
        rail = self.map.rails.get(node)
        return rail.title if rail else node

    def drawBackground(self, painter: QPainter, rect: QRectF) -> None:
        """Paint the floor with a grid."""
        painter.fillRect(rect, self.theme.floor)
        painter.setPen(QPen(self.theme.grid, 0))
        # Level and upright lines are sharper without, and far quicker.
        smooth = painter.testRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        across = range(_grid_from(rect.left()), int(rect.right()) + 1, GRID_MM)
        down = range(_grid_from(rect.top()), int(rect.bottom()) + 1, GRID_MM)
        lines = [QLineF(x, rect.top(), x, rect.bottom()) for x in across]
        lines += [QLineF(rect.left(), y, rect.right(), y) for y in down]
        painter.drawLines(lines)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, smooth)


def _grid_from(edge: float) -> int:
    """Return the last place of a grid line before an edge."""
    return int(edge // GRID_MM) * GRID_MM


def _wired_alike(some: list[Part], others: list[Part]) -> bool:
    """Tell whether parts are the same in all that decides who feeds whom."""
    return len(some) == len(others) and all(
        one is other or (one.ref, one.kind, one.nodes) == (other.ref, other.kind, other.nodes)
        for one, other in zip(some, others, strict=True)
    )


def _meet(some: list[QRectF], rect: QRectF) -> bool:
    return any(one.intersects(rect) for one in some)
