"""Finds the runs of every rail: right-angled lines from pin to pin, and from board to board.

On each board a rail is one upright run, with a level run to every pin. Rails that span boards
leave each board at an edge, by a plug, and meet in an upright run between the boards. Every line
takes the way with the fewest crossings of tiles and of other rails' lines. Lengths are in
millimetres on the floor.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from railmap.ui.canvas.layout import Layout, Pin

TRACK = 2.4
"""Distance between neighbouring runs."""
FIRST_TRACK = 3.0
CORNER_MM = 4.0
"""A plug keeps this far from the corners of its board."""
NEAR = 1.7
"""Runs closer than this are taken to lie on each other."""
TILE_COST, OVERLAP_COST, CROSS_COST = 60.0, 45.0, 1.5

Segment = tuple[float, float, float, float]


@dataclass
class Run:
    """The lines of one rail.

    Attributes
    ----------
    node : str
        The rail's node.
    lines : list of tuple
        Right-angled lines (x0, y0, x1, y1) on the floor.
    dots : list of tuple
        Where lines meet.
    plugs : list of tuple
        Where it crosses a board's edge.
    tags : list of tuple
        A good place for its label on each board: (board, x, y).
    """

    node: str
    lines: list[Segment] = field(default_factory=list[Segment])
    dots: list[tuple[float, float]] = field(default_factory=list[tuple[float, float]])
    plugs: list[tuple[float, float]] = field(default_factory=list[tuple[float, float]])
    tags: list[tuple[str, float, float]] = field(default_factory=list[tuple[str, float, float]])


class Router:
    """Lays the runs of a layout one after the other, the busiest rails first."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        tiles = [
            (r.left() - 0.8, r.top() - 0.8, r.right() + 0.8, r.bottom() + 0.8)
            for r in layout.tiles.values()
        ]
        self._tiles = np.array(tiles).reshape(-1, 4)
        sheets = [(r.left(), r.top(), r.right(), r.bottom()) for r in layout.boards.values()]
        self._boards = np.array(sheets).reshape(-1, 4)
        self._lines: list[Segment] = []
        self._owner: list[str] = []

    def route(self) -> list[Run]:
        """Return the runs of all nodes but 0 V."""
        order = sorted(self.layout.pins.items(), key=lambda item: (-self._spread(item[1]), item[0]))
        return [self._run(node, pins) for node, pins in order]

    @staticmethod
    def _spread(pins: Sequence[Pin]) -> float:
        xs, ys = [p.x for p in pins], [p.y for p in pins]
        boards = len({p.board for p in pins})
        return (boards > 1) * 1e6 + max(xs) - min(xs) + max(ys) - min(ys)

    def _run(self, node: str, pins: Sequence[Pin]) -> Run:
        run = Run(node)
        boards: dict[str, list[Pin]] = {}
        for pin in pins:
            boards.setdefault(pin.board, []).append(pin)
        lane = self._lane(node, boards) if len(boards) > 1 else None
        meeting: list[float] = []
        for board, here in boards.items():
            exit_y = self._board_run(run, board, here, lane)
            if exit_y is not None:
                meeting.append(exit_y)
        if lane is not None and meeting:
            self._add(run, (lane, min(meeting), lane, max(meeting)))
            run.dots += [(lane, y) for y in sorted(meeting)[1:-1]]
        return run

    def _board_run(self, run: Run, board: str, pins: list[Pin], lane: float | None) -> float | None:
        """Lay the run of one board; return the height at which it leaves, if it does."""
        if len(pins) == 1 and lane is None:
            self._stub(run, board, pins[0])
            return None
        x = self._upright(run.node, pins, lane)
        heights = [p.y for p in pins]
        exit_y = None
        if lane is not None:
            exit_y = self._exit_height(run.node, pins, x, lane, self._edges(board))
            self._leave(run, board, x, exit_y, lane)
            heights.append(exit_y)
        for pin in pins:
            self._add(run, (pin.x, pin.y, x, pin.y))
        if max(heights) > min(heights):
            self._add(run, (x, min(heights), x, max(heights)))
        inner = sorted(heights)[1:-1]
        run.dots += [(x, y) for y in inner]
        run.tags.append((board, x, min(heights)))
        return exit_y

    def _stub(self, run: Run, board: str, pin: Pin) -> None:
        end = pin.x + 5.0 * pin.out
        self._add(run, (pin.x, pin.y, end, pin.y))
        run.tags.append((board, end, pin.y))

    def _leave(self, run: Run, board: str, x: float, y: float, lane: float) -> None:
        """Go level from the upright run out to the lane, through a plug at the board's edge."""
        self._add(run, (x, y, lane, y))
        sheet = self.layout.boards.get(board)
        if sheet is not None:
            edge = sheet.right() if lane > x else sheet.left()
            if min(x, lane) <= edge <= max(x, lane):
                run.plugs.append((edge, y))

    def _add(self, run: Run, line: Segment) -> None:
        run.lines.append(line)
        self._lines.append(line)
        self._owner.append(run.node)

    def _upright(self, node: str, pins: list[Pin], lane: float | None) -> float:
        """Choose where the upright run of a board goes."""
        top, bottom = min(p.y for p in pins), max(p.y for p in pins)
        ends = [p.x for p in pins] + ([] if lane is None else [lane])
        best, choice = np.inf, pins[0].x
        for pin in pins:
            for track in range(7):
                x = pin.x + pin.out * (FIRST_TRACK + track * TRACK)
                cost = sum(abs(x - e) for e in ends) * 0.5
                cost += 12.0 * sum((x - p.x) * p.out < 0 for p in pins)
                cost += self._cost(node, [(x, top, x, bottom)])
                if cost < best:
                    cost += self._cost(node, [(p.x, p.y, x, p.y) for p in pins])
                if cost < best:
                    best, choice = cost, x
        return choice

    def _edges(self, board: str) -> tuple[float, float]:
        """Return the highest and the lowest place at which a run may leave a board."""
        sheet = self.layout.boards.get(board)
        if sheet is None:
            return -np.inf, np.inf
        return sheet.top() + CORNER_MM, sheet.bottom() - CORNER_MM

    def _exit_height(
        self, node: str, pins: list[Pin], x: float, lane: float, edges: tuple[float, float]
    ) -> float:
        """Choose the height at which a run leaves its board."""
        best, choice = np.inf, min(max(pins[0].y, edges[0]), edges[1])
        top, bottom = min(p.y for p in pins), max(p.y for p in pins)
        for pin in pins:
            for step in (0.0, -6.5, 14.5, -8.9, 16.9, -11.3, 19.3, -13.7, 21.7):
                y = min(max(pin.y + step, edges[0]), edges[1])
                cost = self._cost(node, [(x, y, lane, y)]) + abs(step) * 0.2
                cost += 0.5 * (max(top - y, 0) + max(y - bottom, 0))
                if cost < best:
                    best, choice = cost, y
        return choice

    def _lane(self, node: str, boards: dict[str, list[Pin]]) -> float:
        """Choose where a rail that spans boards runs upright between them."""
        pins = [p for here in boards.values() for p in here]
        top, bottom = min(p.y for p in pins), max(p.y for p in pins)
        best, choice = np.inf, 0.0
        for x in self._gaps():
            cost = sum(abs(x - p.x) for p in pins) * 0.5
            cost += self._cost(node, [(x, top, x, bottom)])
            cost += 200.0 * self._inside_boards(x, top, bottom)
            if cost < best:
                best, choice = cost, x
        return choice

    def _gaps(self) -> Iterable[float]:
        """Yield the tracks beside every board."""
        for left, _, right, _ in self._boards:
            for track in range(8):
                yield right + 5.0 + track * TRACK
                yield left - 5.0 - track * TRACK
        if not len(self._boards):
            yield 0.0

    def _inside_boards(self, x: float, top: float, bottom: float) -> int:
        b = self._boards
        hit = (b[:, 0] - 3 < x) & (x < b[:, 2] + 3) & (b[:, 1] < bottom) & (top < b[:, 3])
        return int(hit.sum())

    def _cost(self, node: str, lines: Iterable[Segment]) -> float:
        return sum(self._tile_cost(line) + self._line_cost(node, line) for line in lines)

    def _tile_cost(self, line: Segment) -> float:
        x0, x1 = sorted((line[0], line[2]))
        y0, y1 = sorted((line[1], line[3]))
        t = self._tiles
        hit = (t[:, 0] < x1) & (x0 < t[:, 2]) & (t[:, 1] < y1) & (y0 < t[:, 3])
        # A level line of a pin begins at its own tile's edge: that touch costs the same for all.
        return TILE_COST * float(hit.sum())

    def _line_cost(self, node: str, line: Segment) -> float:
        if not self._lines:
            return 0.0
        other = np.array([s for s, o in zip(self._lines, self._owner, strict=True) if o != node])
        if not len(other):
            return 0.0
        low = np.minimum(other[:, :2], other[:, 2:])
        high = np.maximum(other[:, :2], other[:, 2:])
        a = np.minimum(line[:2], line[2:])
        b = np.maximum(line[:2], line[2:])
        meet = np.all((low < b + NEAR) & (a - NEAR < high), axis=1)
        upright = other[:, 0] == other[:, 2]
        alike = upright == (line[0] == line[2])
        return float(OVERLAP_COST * np.sum(meet & alike) + CROSS_COST * np.sum(meet & ~alike))
