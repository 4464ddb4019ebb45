"""Finds the runs of every rail: right-angled lines from pin to pin, and from board to board.

On each board a rail is one upright run, with a level run to every pin. Rails that span boards
leave each board at an edge, by a plug, and meet in an upright run between the boards. Every line
takes the way with the fewest crossings of tiles and of other rails' lines. Lengths are in
millimetres on the floor.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from railmap.ui.canvas.boxes import Floats, Ints, boxes_of, meets, touched
from railmap.ui.canvas.layout import Layout, Pin

TRACK = 2.4
"""Distance between neighbouring runs."""
FIRST_TRACK = 3.0
STUB_MM = 5.0
"""Length of the line of a pin that hangs on nothing else."""
CORNER_MM = 4.0
"""A plug keeps this far from the corners of its board."""
NEAR = 1.7
"""Runs closer than this are taken to lie on each other."""
TILE_EDGE = np.array([-0.8, -0.8, 0.8, 0.8])
"""What is kept free around a tile."""
TILE_COST, OVERLAP_COST, CROSS_COST = 60.0, 45.0, 1.5

EXIT_STEPS = np.array([0.0, -6.5, 14.5, -8.9, 16.9, -11.3, 19.3, -13.7, 21.7])
"""Heights to leave a board at, from a pin of the rail: level with it, or in the rows' gaps."""
LEADS_TRIED = 3
"""Heights tried for the line of a pin that points up or down."""
MOST_TRIED = 12
"""Of a rail with many pins, so many are tried as places for its runs."""
AT_ONCE = 512
"""So many lines are compared at once with what lies near them."""

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


class Laid:
    """Lines that lie already, each with the rank of its rail: a rail minds only earlier ones."""

    def __init__(self) -> None:
        self._boxes = np.zeros((256, 4))
        self._ranks = np.zeros(256, dtype=np.intp)
        self._count = 0

    def add(self, rank: int, boxes: Floats) -> None:
        """Lay more lines of a rail."""
        end = self._count + len(boxes)
        while end > len(self._boxes):
            self._boxes = np.concatenate((self._boxes, np.zeros_like(self._boxes)))
            self._ranks = np.concatenate((self._ranks, np.zeros_like(self._ranks)))
        self._boxes[self._count : end] = boxes
        self._ranks[self._count : end] = rank
        self._count = end

    def take_up(self, rank: int) -> None:
        """Take up all lines of a rail."""
        kept = self._ranks[: self._count] != rank
        left = int(kept.sum())
        self._boxes[:left] = self._boxes[: self._count][kept]
        self._ranks[:left] = self._ranks[: self._count][kept]
        self._count = left

    def before(self, rank: int) -> Floats:
        """Return the lines of all earlier rails."""
        return self._boxes[: self._count][self._ranks[: self._count] < rank]


class Router:
    """Lays the runs of a layout one after the other, the busiest rails first.

    Parameters
    ----------
    layout : Layout
        Where everything lies.
    before : Router, optional
        The router of the layout before a change, with its runs. They are kept wherever nothing
        has changed that they depend on: the result is the same as without them.

    Attributes
    ----------
    laid_anew : list of str
        Nodes whose runs were not kept.
    """

    def __init__(self, layout: Layout, before: Router | None = None) -> None:
        self.layout = layout
        self.laid_anew: list[str] = []
        self._tiles = boxes_of(layout.tiles.values()) + TILE_EDGE
        self._boards = boxes_of(layout.boards.values())
        self._gaps = _tracks_beside(self._boards)
        order = sorted(layout.pins.items(), key=lambda item: (-_extent(item[1]), item[0]))
        self._rank = {node: rank for rank, (node, _) in enumerate(order)}
        self._laid = Laid()
        self._runs: dict[str, Run] = {}
        self._looked: dict[str, Floats] = {}
        self._kept = Kept({})
        if before is not None and before.layout.boards == layout.boards:
            self._keep(before)

    def route(self) -> list[Run]:
        """Return the runs of all nodes but 0 V."""
        for node, rank in self._rank.items():
            if node in self._kept.nodes:
                continue
            before = self._runs.get(node)
            if before is not None:
                self._laid.take_up(rank)
            self._looked[node] = np.empty((0, 4))
            self._runs[node] = run = self._run(node, self.layout.pins[node])
            self._kept.upset(_other_lines(before, run))
            self.laid_anew.append(node)
        return [self._runs[node] for node in self._rank]

    def _keep(self, before: Router) -> None:
        """Take over the runs of another layout with the same boards, as far as they hold."""
        pins, had = self.layout.pins, before.layout.pins
        same = [n for n in self._rank if n in before._runs and had[n] == pins[n]]
        self._runs = {node: before._runs[node] for node in same}
        self._looked = {node: before._looked[node] for node in same}
        for node, run in self._runs.items():
            self._laid.add(self._rank[node], _boxes(run.lines))
        self._kept = Kept(self._looked)
        gone = [
            line for n, run in before._runs.items() if n not in self._runs for line in run.lines
        ]
        self._kept.upset(_boxes(gone))
        self._kept.upset(_moved_tiles(before.layout, self.layout))

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
        levels = [self._level(run.node, pin, x) for pin in pins]
        heights = list(levels)
        exit_y = None
        if lane is not None:
            exit_y = self._exit_height(run.node, pins, x, lane, self._edges(board))
            self._leave(run, board, x, exit_y, lane)
            heights.append(exit_y)
        for pin, y in zip(pins, levels, strict=True):
            if y != pin.y:
                self._add(run, (pin.x, pin.y, pin.x, y))
            if x != pin.x:
                self._add(run, (pin.x, y, x, y))
        if max(heights) > min(heights):
            self._add(run, (x, min(heights), x, max(heights)))
        inner = sorted(heights)[1:-1]
        run.dots += [(x, y) for y in inner]
        run.tags.append((board, x, min(heights)))
        return exit_y

    def _stub(self, run: Run, board: str, pin: Pin) -> None:
        x, y = pin.x + STUB_MM * pin.out, pin.y + STUB_MM * pin.down
        self._add(run, (pin.x, pin.y, x, y))
        run.tags.append((board, x, y))

    def _level(self, node: str, pin: Pin, x: float) -> float:
        """Choose the height at which a pin goes level to the upright run."""
        if not pin.down or pin.x == x:
            return pin.lead_y
        y = pin.lead_y + pin.down * TRACK * np.arange(LEADS_TRIED)
        start, end = np.full(len(y), pin.x), np.full(len(y), x)
        cost = 0.5 * np.abs(y - pin.lead_y)
        cost += self._costs(node, np.stack((start, y, end, y), axis=1))
        return float(y[int(np.argmin(cost))])

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
        self._laid.add(self._rank[run.node], _boxes([line]))

    def _upright(self, node: str, pins: list[Pin], lane: float | None) -> float:
        """Choose where the upright run of a board goes."""
        at = np.array([(p.x, p.lead_y, p.out) for p in pins], dtype=np.float64)
        x = _tracks_from(at[_spread(len(pins))])
        ends = at[:, 0] if lane is None else np.append(at[:, 0], lane)
        cost = 0.5 * np.abs(x[:, None] - ends).sum(axis=1)
        cost += 12.0 * ((x[:, None] - at[:, 0]) * at[:, 2] < 0).sum(axis=1)
        cost += self._costs(node, _tree(at, x)).reshape(-1, len(x)).sum(axis=0)
        return float(x[int(np.argmin(cost))])

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
        heights = np.array([p.lead_y for p in pins])
        asked = heights[_spread(len(pins))]
        y = np.clip((asked[:, None] + EXIT_STEPS).ravel(), *edges)
        cost = 0.2 * np.abs(np.tile(EXIT_STEPS, len(asked)))
        cost += 0.5 * (np.maximum(heights.min() - y, 0) + np.maximum(y - heights.max(), 0))
        start, end = np.full(len(y), x), np.full(len(y), lane)
        cost += self._costs(node, np.stack((start, y, end, y), axis=1))
        return float(y[int(np.argmin(cost))])

    def _lane(self, node: str, boards: dict[str, list[Pin]]) -> float:
        """Choose where a rail that spans boards runs upright between them."""
        at = np.array([(p.x, p.y) for here in boards.values() for p in here])
        x = self._gaps
        top, bottom = np.full(len(x), at[:, 1].min()), np.full(len(x), at[:, 1].max())
        cost = 0.5 * np.abs(x[:, None] - at[:, 0]).sum(axis=1)
        cost += self._costs(node, np.stack((x, top, x, bottom), axis=1))
        b = self._boards
        inside = (b[:, 0] - 3 < x[:, None]) & (x[:, None] < b[:, 2] + 3)
        inside &= (b[:, 1] < bottom[:, None]) & (top[:, None] < b[:, 3])
        return float(x[int(np.argmin(cost + 200.0 * inside.sum(axis=1)))])

    def _costs(self, node: str, lines: Floats) -> Floats:
        """Return what each of some level or upright lines would cross and lie on."""
        low = np.minimum(lines[:, :2], lines[:, 2:])
        high = np.maximum(lines[:, :2], lines[:, 2:])
        around = np.concatenate((low.min(axis=0) - NEAR, high.max(axis=0) + NEAR))
        self._looked[node] = np.concatenate((self._looked[node], around[None]))
        upright = lines[:, 0] == lines[:, 2]
        tiles = self._tiles[meets(self._tiles, around)]
        others = self._laid.before(self._rank[node])
        others = others[meets(others, around)]
        across = others[:, 0] != others[:, 2]
        rows, stems = others[across], others[~across]
        cost = np.empty(len(lines))
        for start in range(0, len(lines), AT_ONCE):
            some = slice(start, start + AT_ONCE)
            # A level line of a pin begins at its own tile's edge: that touch is the same for all.
            cost[some] = TILE_COST * touched(tiles, low[some], high[some])
            on_rows = touched(rows, low[some] - NEAR, high[some] + NEAR)
            on_stems = touched(stems, low[some] - NEAR, high[some] + NEAR)
            cost[some] += OVERLAP_COST * np.where(upright[some], on_stems, on_rows)
            cost[some] += CROSS_COST * np.where(upright[some], on_rows, on_stems)
        return cost


class Kept:
    """Runs taken over from another layout, until something they depend on turns out changed."""

    def __init__(self, looked: dict[str, Floats]) -> None:
        self.nodes = set(looked)
        self._boxes = np.concatenate((np.empty((0, 4)), *looked.values()))
        self._owners = [node for node, boxes in looked.items() for _ in boxes]

    def upset(self, changed: Floats) -> None:
        """Give up the runs that looked at a place where something has changed."""
        for box in changed if self._owners else ():
            self.nodes.difference_update(
                self._owners[i] for i in np.flatnonzero(meets(self._boxes, box))
            )


def _tracks_from(pins: Floats) -> Floats:
    """Return where uprights may go: beside a pin, on the side that it points to, or over it."""
    tracks = FIRST_TRACK + TRACK * np.arange(7)
    level, upright = pins[pins[:, 2] != 0], pins[pins[:, 2] == 0]
    both = np.concatenate((np.zeros(1), tracks[:4], -tracks[:4]))
    beside = (level[:, :1] + level[:, 2:] * tracks).ravel()
    return np.concatenate((beside, (upright[:, :1] + both).ravel()))


def _tree(pins: Floats, x: Floats) -> Floats:
    """Return the lines of a board's run for each place of its upright: that, and one a pin."""
    lines = np.empty((len(pins) + 1, len(x), 4))
    lines[0, :, 0] = lines[0, :, 2] = x
    lines[0, :, 1], lines[0, :, 3] = pins[:, 1].min(), pins[:, 1].max()
    lines[1:, :, 0], lines[1:, :, 2] = pins[:, :1], x
    lines[1:, :, 1] = lines[1:, :, 3] = pins[:, 1:2]
    return lines.reshape(-1, 4)


def _extent(pins: Sequence[Pin]) -> float:
    """Return how far a rail reaches; one that spans boards goes before all others."""
    xs, ys = [p.x for p in pins], [p.y for p in pins]
    boards = len({p.board for p in pins})
    return (boards > 1) * 1e6 + max(xs) - min(xs) + max(ys) - min(ys)


def _boxes(lines: Sequence[Segment]) -> Floats:
    """Return lines with their ends in order."""
    ends = np.array(lines).reshape(-1, 2, 2)
    return np.concatenate((ends.min(axis=1), ends.max(axis=1)), axis=1)


def _other_lines(before: Run | None, run: Run) -> Floats:
    """Return the lines that only one of two runs has."""
    had: set[Segment] = set() if before is None else set(before.lines)
    return _boxes(sorted(had.symmetric_difference(run.lines)))


def _moved_tiles(before: Layout, now: Layout) -> Floats:
    """Return the tiles that only one of two layouts has."""
    moved = [
        rect
        for one, other in ((before.tiles, now.tiles), (now.tiles, before.tiles))
        for ref, rect in one.items()
        if other.get(ref) != rect
    ]
    return boxes_of(moved)


def _spread(count: int) -> Ints:
    """Return which of so many pins to try places at: all of a few, some of many."""
    if count <= MOST_TRIED:
        return np.arange(count)
    return np.linspace(0, count - 1, MOST_TRIED).round().astype(np.intp)


def _tracks_beside(boards: Floats) -> Floats:
    """Return the tracks beside every board."""
    tracks = 5.0 + TRACK * np.arange(8)
    found = np.concatenate(
        [np.concatenate((right + tracks, left - tracks)) for left, _, right, _ in boards]
        or [np.zeros(1)]
    )
    return np.unique(found)
