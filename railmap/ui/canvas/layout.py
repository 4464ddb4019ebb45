"""Where everything lies on the floor, in millimetres: boards, tiles, pins."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QTransform

from railmap.bench.placing import place_parts
from railmap.model.part import ZERO_NODE, Part, Place
from railmap.model.railmap import RailMap
from railmap.ui.canvas.symbols import HEIGHT, WIDTH, pins_of


@dataclass(frozen=True)
class Pin:
    """One pin of a part on the floor; ``out`` is -1 if it points to the left, else 1."""

    ref: str
    pin: str
    node: str
    board: str
    x: float
    y: float
    out: int


@dataclass(frozen=True)
class Layout:
    """Places of one map.

    Attributes
    ----------
    boards : dict of str to QRectF
        Board outlines by name.
    places : dict of str to Place
        Place of every part on its board, given or found.
    tiles : dict of str to QRectF
        Tile of every part on the floor, by reference.
    pins : dict of str to list of Pin
        Pins by node, 0 V left out.
    grounds : list of Pin
        Pins on 0 V.
    """

    boards: dict[str, QRectF]
    places: dict[str, Place]
    tiles: dict[str, QRectF]
    pins: dict[str, list[Pin]]
    grounds: list[Pin]


def lay_out(m: RailMap) -> Layout:
    """Return where everything of a map lies."""
    boards = {n: QRectF(b.x_mm, b.y_mm, b.width_mm, b.height_mm) for n, b in m.boards.items()}
    places = {ref: p.place for ref, p in m.parts.items() if p.place is not None}
    if len(places) < len(m.parts):
        places.update(place_parts(m))
    tiles: dict[str, QRectF] = {}
    pins: dict[str, list[Pin]] = {}
    grounds: list[Pin] = []
    for ref, part in m.parts.items():
        middle = floor_point(m, part, places[ref])
        tiles[ref] = QRectF(middle.x() - WIDTH / 2, middle.y() - HEIGHT / 2, WIDTH, HEIGHT)
        for pin in pins_on_floor(part, places[ref].turn, middle):
            (grounds if pin.node == ZERO_NODE else pins.setdefault(pin.node, [])).append(pin)
    return Layout(boards, places, tiles, pins, grounds)


def floor_point(m: RailMap, part: Part, place: Place) -> QPointF:
    """Return the middle of a part on the floor."""
    board = m.boards.get(part.board)
    origin = QPointF(board.x_mm, board.y_mm) if board else QPointF(0, 0)
    return origin + QPointF(place.x_mm, place.y_mm)


def turned(turn: int) -> QTransform:
    """Return how a turn moves the symbol and its pins; half a turn mirrors, so text stays."""
    return QTransform().scale(-1.0, 1.0) if turn % 360 == 180 else QTransform()


def pins_on_floor(part: Part, turn: int, middle: QPointF) -> list[Pin]:
    """Return the pins of a part whose tile has its middle at a point."""
    found: list[Pin] = []
    for name, node, at in zip(part.pins, part.nodes, pins_of(part.kind), strict=True):
        point = turned(turn).map(at)
        out = -1 if point.x() < -0.1 else 1
        where = middle + point
        found.append(Pin(part.ref, name, node, part.board, where.x(), where.y(), out))
    return found
