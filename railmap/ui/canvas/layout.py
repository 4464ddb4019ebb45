"""Where everything lies on the floor, in millimetres: boards, tiles, pins."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF

from railmap.bench.placing import place_parts
from railmap.model.part import ZERO_NODE, Part, Place
from railmap.model.railmap import RailMap
from railmap.ui.canvas.boxes import Floats, boxes_of, corners
from railmap.ui.canvas.symbols import pins_of, tile_of

LEAD_MM = 3.0
"""A pin that points up or down is led away from its tile this far before its line turns."""


@dataclass(frozen=True)
class Pin:
    """One pin of a part on the floor.

    ``out`` is -1 if it points to the left and 1 to the right; ``down`` is -1 if it points up and
    1 if it points down; the other one is 0.
    """

    ref: str
    pin: str
    node: str
    board: str
    x: float
    y: float
    out: int
    down: int = 0

    @property
    def lead_y(self) -> float:
        """Height at which its line may turn."""
        return self.y + LEAD_MM * self.down


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
    of_part : dict of str to tuple
        Every part with its pins, by reference.
    boxes : numpy.ndarray
        The tiles as rows of left, top, right and bottom.
    """

    boards: dict[str, QRectF]
    places: dict[str, Place]
    tiles: dict[str, QRectF]
    pins: dict[str, list[Pin]]
    grounds: list[Pin]
    of_part: dict[str, tuple[Part, list[Pin]]]
    boxes: Floats


def lay_out(m: RailMap, before: Layout | None = None) -> Layout:
    """Return where everything of a map lies.

    Parameters
    ----------
    m : RailMap
        The map.
    before : Layout, optional
        The layout before a change: what has stayed the same is taken over from it, and so are
        the places that were found for parts without one.
    """
    boards = {n: QRectF(b.x_mm, b.y_mm, b.width_mm, b.height_mm) for n, b in m.boards.items()}
    places = _places(m, before)
    held = before if before is not None and before.boards == boards else None
    tiles: dict[str, QRectF] = {}
    of_part: dict[str, tuple[Part, list[Pin]]] = {}
    pins: dict[str, list[Pin]] = {}
    for ref, part in m.parts.items():
        same = held is not None and held.places.get(ref) == places[ref]
        if held is not None and same and held.of_part[ref][0] is part:
            tiles[ref], of_part[ref] = held.tiles[ref], held.of_part[ref]
        else:
            turn, middle = places[ref].turn, floor_point(m, part, places[ref])
            tiles[ref] = tile_of(turn).translated(middle)
            of_part[ref] = part, pins_on_floor(part, part.board, turn, middle)
        for pin in of_part[ref][1]:
            pins.setdefault(pin.node, []).append(pin)
    grounds = pins.pop(ZERO_NODE, [])
    return Layout(boards, places, tiles, pins, grounds, of_part, _boxes(tiles, held))


def _boxes(tiles: dict[str, QRectF], held: Layout | None) -> Floats:
    """Return tiles as rows, taken over where they are the same."""
    if held is None or list(held.tiles) != list(tiles):
        return boxes_of(tiles.values())
    boxes = held.boxes.copy()
    for row, (rect, before) in enumerate(zip(tiles.values(), held.tiles.values(), strict=True)):
        if rect is not before:
            boxes[row] = corners(rect)
    return boxes


def _places(m: RailMap, before: Layout | None) -> dict[str, Place]:
    """Return the place of every part; one that was found before is kept, so that nothing jumps."""
    places = {ref: p.place for ref, p in m.parts.items() if p.place is not None}
    if len(places) == len(m.parts):
        return places
    held = {} if before is None else _held(m, before)
    places |= held
    if len(places) < len(m.parts):
        places |= place_parts(m, held)
    return places


def _held(m: RailMap, before: Layout) -> dict[str, Place]:
    """Return the places of parts that had none before either, and are on the same board."""
    held: dict[str, Place] = {}
    for ref, part in m.parts.items():
        if part.place is None and ref in before.of_part:
            was = before.of_part[ref][0]
            if was.place is None and was.board == part.board:
                held[ref] = before.places[ref]
    return held


def floor_point(m: RailMap, part: Part, place: Place) -> QPointF:
    """Return the middle of a part on the floor."""
    board = m.boards.get(part.board)
    origin = QPointF(board.x_mm, board.y_mm) if board else QPointF(0, 0)
    return origin + QPointF(place.x_mm, place.y_mm)


def pins_on_floor(part: Part, board: str, turn: int, middle: QPointF) -> list[Pin]:
    """Return the pins of a part whose tile has its middle at a point over a board."""
    found: list[Pin] = []
    for name, node, pin in zip(part.pins, part.nodes, pins_of(part.kind, turn), strict=True):
        where, way = middle + pin[0], pin[1]
        found.append(Pin(part.ref, name, node, board, where.x(), where.y(), way.x(), way.y()))
    return found
