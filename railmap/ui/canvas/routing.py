"""Finds the runs of every rail: right-angled lines from pin to pin, and from board to board.

On each board a rail is one upright run, with a level run to every pin. Rails that span boards
leave each board at an edge, by a plug, and meet in an upright run between the boards. Every line
takes the way with the fewest crossings of tiles and of other rails' lines. Lengths are in
millimetres on the floor.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from PySide6.QtCore import QRectF

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
REACH = np.array([-NEAR, -NEAR, NEAR, NEAR])
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


class Choice(NamedTuple):
    """One choice on the way of a run.

    Attributes
    ----------
    around : numpy.ndarray
        Box around all that was looked at.
    lines : numpy.ndarray
        Lines that were tried, with their ends in order, so many in turn for each of the places to
        choose from.
    base : numpy.ndarray
        What each place costs but for what the lines cross and lie on.
    best : int
        The place that was taken.
    """

    around: Floats
    lines: Floats
    base: Floats
    best: int


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

    def __init__(self, ranks: Ints | None = None, boxes: Floats | None = None) -> None:
        self._boxes = np.zeros((256, 4)) if boxes is None else boxes
        self._ranks = np.zeros(256, dtype=np.intp) if ranks is None else ranks
        self._count = 0 if ranks is None else len(ranks)

    def add(self, rank: int, boxes: Floats) -> None:
        """Lay more lines of a rail."""
        end = self._count + len(boxes)
        if end > len(self._boxes):
            more = end + len(self._boxes)
            self._boxes = np.concatenate((self._boxes, np.zeros((more, 4))))
            self._ranks = np.concatenate((self._ranks, np.zeros(more, dtype=np.intp)))
        self._boxes[self._count : end] = boxes
        self._ranks[self._count : end] = rank
        self._count = end

    def without(self, ranks: Sequence[int]) -> Laid:
        """Return these lines without those of some rails."""
        kept = ~np.isin(self._ranks[: self._count], ranks)
        return Laid(self._ranks[: self._count][kept], self._boxes[: self._count][kept])

    def near(self, around: Floats, rank: int) -> Floats:
        """Return the lines of all earlier rails that meet a box."""
        boxes, ranks = self._boxes[: self._count], self._ranks[: self._count]
        return boxes[meets(boxes, around) & (ranks < rank)]


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
    extents : dict of str to float
        How far each rail reaches; the farthest go first, and by name where they are alike.
    """

    def __init__(self, layout: Layout, before: Router | None = None) -> None:
        self.layout = layout
        self.laid_anew: list[str] = []
        self._tiles = layout.boxes + TILE_EDGE
        self._boards = boxes_of(layout.boards.values())
        self._gaps = _tracks_beside(self._boards)
        if before is not None and before.layout.boards != layout.boards:
            before = None
        pins = layout.pins
        same = [] if before is None else [n for n in pins if before.layout.pins.get(n) == pins[n]]
        held = {n: before.extents[n] for n in same} if before is not None else {}
        self.extents = {n: held[n] if n in held else _extent(pins[n]) for n in pins}
        order = sorted(pins, key=lambda node: (-self.extents[node], node))
        self._rank = {node: rank for rank, node in enumerate(order)}
        self._laid = Laid()
        self._runs: dict[str, Run] = {}
        self._boxes: dict[str, Floats] = {}
        self._choices: dict[str, list[Choice]] = {}
        self._kept = Kept({})
        if before is not None:
            self._keep(before, same)

    def route(self) -> list[Run]:
        """Return the runs of all nodes but 0 V."""
        for node, rank in self._rank.items():
            before = self._runs.get(node)
            if before is not None and self._stands(node):
                continue
            self._lay(node, self.layout.pins[node])
            other = _other_lines(before, self._runs[node])
            if len(other):
                if before is not None:
                    self._laid = self._laid.without([rank])
                self._laid.add(rank, self._boxes[node])
                self._kept.upset(other)
            self.laid_anew.append(node)
        return [self._runs[node] for node in self._rank]

    def _stands(self, node: str) -> bool:
        """Tell whether every choice of a run would be made once more."""
        return all(
            self._best(node, choice.lines, choice.base) == choice.best
            for choice in self._kept.doubtful.get(node, ())
        )

    def trial(self, tiles: Mapping[str, QRectF], pins: Iterable[Pin]) -> dict[str, Run]:
        """Return the runs of the nodes of parts that are somewhere else; no other gives way.

        A rail that moves as a whole keeps its shape.

        Parameters
        ----------
        tiles : dict of str to QRectF
            Where the tiles of these parts are.
        pins : iterable of Pin
            Where all their pins are.
        """
        moved = {(pin.ref, pin.pin): pin for pin in pins}
        nodes = {pin.node for pin in moved.values()} & self._rank.keys()
        found = copy(self)
        found._tiles = self._tiles.copy()
        rows = {ref: row for row, ref in enumerate(self.layout.tiles)}
        found._tiles[[rows[ref] for ref in tiles]] = boxes_of(tiles.values()) + TILE_EDGE
        found._laid = self._laid.without([self._rank[node] for node in nodes])
        found._runs, found._boxes, found._choices = {}, {}, {}
        for node in sorted(nodes, key=self._rank.__getitem__):
            here = self.layout.pins[node]
            there = [moved.get((pin.ref, pin.pin), pin) for pin in here]
            step = _common_step(here, there)
            if step is not None:
                found._runs[node] = _shifted(self._runs[node], *step)
                continue
            found._lay(node, there)
            found._laid.add(self._rank[node], found._boxes[node])
        return found._runs

    def _keep(self, before: Router, nodes: list[str]) -> None:
        """Take over the runs of another layout with the same boards, as far as they hold."""
        self._runs = {node: before._runs[node] for node in nodes}
        self._boxes = {node: before._boxes[node] for node in nodes}
        self._choices = {node: before._choices[node] for node in nodes}
        if nodes:
            ranks = np.array([self._rank[node] for node in nodes], dtype=np.intp)
            counts = [len(self._boxes[node]) for node in nodes]
            self._laid = Laid(np.repeat(ranks, counts), np.concatenate([*self._boxes.values()]))
        self._kept = Kept(self._choices)
        for node, boxes in before._boxes.items():
            if node not in self._runs:
                self._kept.upset(boxes)
        self._kept.upset(_moved_tiles(before.layout, self.layout))

    def _lay(self, node: str, pins: Sequence[Pin]) -> None:
        self._choices[node] = []
        self._runs[node] = run = self._run(node, pins)
        self._boxes[node] = _boxes(run.lines)

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
            run.lines.append((lane, min(meeting), lane, max(meeting)))
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
                run.lines.append((pin.x, pin.y, pin.x, y))
            if x != pin.x:
                run.lines.append((pin.x, y, x, y))
        if max(heights) > min(heights):
            run.lines.append((x, min(heights), x, max(heights)))
        inner = sorted(heights)[1:-1]
        run.dots += [(x, y) for y in inner]
        run.tags.append((board, x, min(heights)))
        return exit_y

    def _stub(self, run: Run, board: str, pin: Pin) -> None:
        x, y = pin.x + STUB_MM * pin.out, pin.y + STUB_MM * pin.down
        run.lines.append((pin.x, pin.y, x, y))
        run.tags.append((board, x, y))

    def _level(self, node: str, pin: Pin, x: float) -> float:
        """Choose the height at which a pin goes level to the upright run."""
        if not pin.down or pin.x == x:
            return pin.lead_y
        y = pin.lead_y + pin.down * TRACK * np.arange(LEADS_TRIED)
        start, end = np.full(len(y), pin.x), np.full(len(y), x)
        lines = np.stack((start, y, end, y), axis=1)
        return float(y[self._choose(node, lines, 0.5 * np.abs(y - pin.lead_y))])

    def _leave(self, run: Run, board: str, x: float, y: float, lane: float) -> None:
        """Go level from the upright run out to the lane, through a plug at the board's edge."""
        run.lines.append((x, y, lane, y))
        sheet = self.layout.boards.get(board)
        if sheet is not None:
            edge = sheet.right() if lane > x else sheet.left()
            if min(x, lane) <= edge <= max(x, lane):
                run.plugs.append((edge, y))

    def _upright(self, node: str, pins: list[Pin], lane: float | None) -> float:
        """Choose where the upright run of a board goes."""
        at = np.array([(p.x, p.lead_y, p.out) for p in pins], dtype=np.float64)
        x = _tracks_from(at[_spread(len(pins))])
        ends = at[:, 0] if lane is None else np.append(at[:, 0], lane)
        cost = 0.5 * np.abs(x[:, None] - ends).sum(axis=1)
        cost += 12.0 * ((x[:, None] - at[:, 0]) * at[:, 2] < 0).sum(axis=1)
        return float(x[self._choose(node, _tree(at, x), cost)])

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
        return float(y[self._choose(node, np.stack((start, y, end, y), axis=1), cost)])

    def _lane(self, node: str, boards: dict[str, list[Pin]]) -> float:
        """Choose where a rail that spans boards runs upright between them."""
        at = np.array([(p.x, p.y) for here in boards.values() for p in here])
        x = self._gaps
        top, bottom = np.full(len(x), at[:, 1].min()), np.full(len(x), at[:, 1].max())
        cost = 0.5 * np.abs(x[:, None] - at[:, 0]).sum(axis=1)
        b = self._boards
        inside = (b[:, 0] - 3 < x[:, None]) & (x[:, None] < b[:, 2] + 3)
        inside &= (b[:, 1] < bottom[:, None]) & (top[:, None] < b[:, 3])
        cost += 200.0 * inside.sum(axis=1)
        return float(x[self._choose(node, np.stack((x, top, x, bottom), axis=1), cost)])

    def _choose(self, node: str, lines: Floats, base: Floats) -> int:
        """Choose one of some places by what each costs, and by what its lines would meet."""
        low = np.minimum(lines[:, :2], lines[:, 2:])
        high = np.maximum(lines[:, :2], lines[:, 2:])
        lines = np.concatenate((low, high), axis=1)
        best = self._best(node, lines, base)
        around = np.concatenate((low.min(axis=0) - NEAR, high.max(axis=0) + NEAR))
        self._choices[node].append(Choice(around, lines, base, best))
        return best

    def _best(self, node: str, lines: Floats, base: Floats) -> int:
        met = self._costs(node, lines).reshape(-1, len(base)).sum(axis=0)
        return int(np.argmin(base + met))

    def _costs(self, node: str, lines: Floats) -> Floats:
        """Return what each of some level or upright lines would cross and lie on."""
        low, high = lines[:, :2], lines[:, 2:]
        wide = lines + REACH
        around = np.concatenate((wide[:, :2].min(axis=0), wide[:, 2:].max(axis=0)))
        upright = lines[:, 0] == lines[:, 2]
        tiles = self._tiles[meets(self._tiles, around)]
        others = self._laid.near(around, self._rank[node])
        across = others[:, 0] != others[:, 2]
        rows, stems = others[across], others[~across]
        cost = np.empty(len(lines))
        for start in range(0, len(lines), AT_ONCE):
            some = slice(start, start + AT_ONCE)
            # A level line of a pin begins at its own tile's edge: that touch is the same for all.
            cost[some] = TILE_COST * touched(tiles, low[some], high[some])
            on_rows = touched(rows, wide[some, :2], wide[some, 2:])
            on_stems = touched(stems, wide[some, :2], wide[some, 2:])
            cost[some] += OVERLAP_COST * np.where(upright[some], on_stems, on_rows)
            cost[some] += CROSS_COST * np.where(upright[some], on_rows, on_stems)
        return cost


class Kept:
    """Choices of runs taken over from another layout, and which of them are in doubt.

    Attributes
    ----------
    doubtful : dict of str to list of Choice
        By node, the choices that looked at a place where something has changed.
    """

    def __init__(self, choices: Mapping[str, list[Choice]]) -> None:
        self.doubtful: dict[str, list[Choice]] = {}
        self._choices = [(node, one) for node, some in choices.items() for one in some]
        self._around = np.array([one.around for _, one in self._choices]).reshape(-1, 4)
        self._sure = np.ones(len(self._choices), dtype=np.bool_)

    def upset(self, changed: Floats) -> None:
        """Put in doubt what has looked at a place where something has changed."""
        for box in changed if self._choices else ():
            for i in np.flatnonzero(self._sure & meets(self._around, box)):
                node, choice = self._choices[i]
                self.doubtful.setdefault(node, []).append(choice)
                self._sure[i] = False


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


def _common_step(here: Sequence[Pin], there: Sequence[Pin]) -> tuple[float, float] | None:
    """Return how far all pins of a rail on one board have moved; None if not all alike."""
    pairs = list(zip(here, there, strict=True))
    steps = {(round(new.x - old.x, 6), round(new.y - old.y, 6)) for old, new in pairs}
    boards = {pin.board for pin in here}, {pin.board for pin in there}
    return steps.pop() if len(steps) == len(boards[0]) == len(boards[1]) == 1 else None


def _shifted(run: Run, dx: float, dy: float) -> Run:
    """Return a run somewhere else."""
    return Run(
        run.node,
        [(x0 + dx, y0 + dy, x1 + dx, y1 + dy) for x0, y0, x1, y1 in run.lines],
        [(x + dx, y + dy) for x, y in run.dots],
        [(x + dx, y + dy) for x, y in run.plugs],
    )


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
        if other.get(ref) is not rect and other.get(ref) != rect
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
