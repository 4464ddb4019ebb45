"""Finds the runs of every rail: right-angled lines from pin to pin, and from board to board.

On each board a rail is one upright run, with a level run to every pin. Rails that span boards
leave each board at an edge, by a plug, and meet in an upright run between the boards. Every line
takes the way with the fewest crossings of tiles and of other rails' lines. Lengths are in
millimetres on the floor.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from railmap.ui.canvas.layout import Layout, Pin

TRACK = 2.4
"""Distance between neighbouring runs."""
FIRST_TRACK = 3.0
CORNER_MM = 4.0
"""A plug keeps this far from the corners of its board."""
NEAR = 1.7
"""Runs closer than this are taken to lie on each other."""
TILE_COST, OVERLAP_COST, CROSS_COST = 60.0, 45.0, 1.5

EXIT_STEPS = np.array([0.0, -6.5, 14.5, -8.9, 16.9, -11.3, 19.3, -13.7, 21.7])
"""Heights to leave a board at, from a pin of the rail: level with it, or in the rows' gaps."""
MOST_TRIED = 12
"""Of a rail with many pins, so many are tried as places for its runs."""

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
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
        self._gaps = _tracks_beside(self._boards)
        self._number = {node: i for i, node in enumerate(layout.pins)}
        self._laid = np.zeros((256, 4))
        self._owner = np.zeros(256, dtype=np.intp)
        self._count = 0

    def route(self) -> list[Run]:
        """Return the runs of all nodes but 0 V."""
        order = sorted(self.layout.pins.items(), key=lambda item: (-self._extent(item[1]), item[0]))
        return [self._run(node, pins) for node, pins in order]

    @staticmethod
    def _extent(pins: Sequence[Pin]) -> float:
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
        if self._count == len(self._laid):
            self._laid = np.concatenate((self._laid, np.zeros_like(self._laid)))
            self._owner = np.concatenate((self._owner, np.zeros_like(self._owner)))
        x0, y0, x1, y1 = line
        self._laid[self._count] = min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)
        self._owner[self._count] = self._number[run.node]
        self._count += 1

    def _upright(self, node: str, pins: list[Pin], lane: float | None) -> float:
        """Choose where the upright run of a board goes."""
        at = np.array([(p.x, p.y, p.out) for p in pins])
        tracks = FIRST_TRACK + TRACK * np.arange(7)
        asked = at[_spread(len(pins))]
        x = (asked[:, :1] + asked[:, 2:] * tracks).ravel()
        ends = at[:, 0] if lane is None else np.append(at[:, 0], lane)
        cost = 0.5 * np.abs(x[:, None] - ends).sum(axis=1)
        cost += 12.0 * ((x[:, None] - at[:, 0]) * at[:, 2] < 0).sum(axis=1)
        top, bottom = np.full(len(x), at[:, 1].min()), np.full(len(x), at[:, 1].max())
        cost += self._costs(node, np.stack((x, top, x, bottom), axis=1))
        for pin_x, pin_y, _ in at:
            level, start = np.full(len(x), pin_y), np.full(len(x), pin_x)
            cost += self._costs(node, np.stack((start, level, x, level), axis=1))
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
        heights = np.array([p.y for p in pins])
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

    def _costs(self, node: str, lines: NDArray[Any]) -> Floats:
        """Return what each of some level or upright lines would cross and lie on."""
        low = np.minimum(lines[:, :2], lines[:, 2:])[:, None]
        high = np.maximum(lines[:, :2], lines[:, 2:])[:, None]
        t = self._tiles
        # A level line of a pin begins at its own tile's edge: that touch costs the same for all.
        hit = np.all((t[:, :2] < high) & (low < t[:, 2:]), axis=2)
        cost = TILE_COST * hit.sum(axis=1)
        others = self._laid[: self._count][self._owner[: self._count] != self._number[node]]
        if len(others):
            meet = np.all((others[:, :2] < high + NEAR) & (low - NEAR < others[:, 2:]), axis=2)
            upright = others[:, 0] == others[:, 2]
            alike = upright == (lines[:, :1] == lines[:, 2:3])
            cost = cost + OVERLAP_COST * (meet & alike).sum(axis=1)
            cost = cost + CROSS_COST * (meet & ~alike).sum(axis=1)
        return cost


def _spread(count: int) -> Ints:
    """Return which of so many pins to try places at: all of a few, some of many."""
    return np.unique(np.linspace(0, count - 1, min(count, MOST_TRIED)).round().astype(np.intp))


def _tracks_beside(boards: Floats) -> Floats:
    """Return the tracks beside every board."""
    tracks = 5.0 + TRACK * np.arange(8)
    found = np.concatenate(
        [np.concatenate((right + tracks, left - tracks)) for left, _, right, _ in boards]
        or [np.zeros(1)]
    )
    return np.unique(found)
