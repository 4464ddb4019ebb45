"""Symbols of the kinds of part, in the manner of IEC 60617, drawn in millimetres.

Each is drawn between its pins on a strip 30 mm by 10 mm around the origin; a part that is turned
has it turned about its middle; see ``turned`` and ``pins_of``.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

from PySide6.QtCore import QPoint, QPointF, QRectF
from PySide6.QtGui import QPainterPath, QTransform

WIDTH, HEIGHT = 30.0, 18.0
"""Size of a tile in millimetres."""
AXIS = -4.4
"""Height of the pin axis from the tile's middle."""
HALF = WIDTH / 2


def tile_of(turn: int) -> QRectF:
    """Return the tile of a part that is turned, about its middle: a quarter turn stands it up."""
    wide, high = (HEIGHT, WIDTH) if turn % 180 else (WIDTH, HEIGHT)
    return QRectF(-wide / 2, -high / 2, wide, high)


def turned(turn: int) -> QTransform:
    """Return how a turn moves the symbol of a tile.

    It turns about its own middle, and words keep their place beside it: below it where it lies,
    to its right where it stands.
    """
    middle = QPointF(AXIS, 0.0) if turn % 180 else QPointF(0.0, AXIS)
    found = QTransform().translate(middle.x(), middle.y())
    return found.rotate(turn % 360).translate(0.0, -AXIS)


def pins_of(kind: str, turn: int = 0) -> tuple[tuple[QPointF, QPoint], ...]:
    """Return where the pins of a kind are, from the middle of its tile, and where they point."""
    box, about = tile_of(turn), turned(turn)
    only_turned = QTransform().rotate(turn % 360)
    found: list[tuple[QPointF, QPoint]] = []
    for at, outwards in _pins(kind):
        way, point = only_turned.map(outwards), about.map(at)
        if way.x():
            point.setX(box.right() if way.x() > 0 else box.left())
        else:
            point.setY(box.bottom() if way.y() > 0 else box.top())
        found.append((point, way))
    return tuple(found)


def _pins(kind: str) -> tuple[tuple[QPointF, QPoint], ...]:
    """Return the pins of a part that is not turned."""
    left = QPointF(-HALF, AXIS), QPoint(-1, 0)
    right = QPointF(HALF, AXIS), QPoint(1, 0)
    below = QPointF(0.0, HEIGHT / 2), QPoint(0, 1)
    if kind == "PassTransistor":
        return left, below, right
    if kind in ("Regulator", "Converter"):
        return left, right, below
    if kind == "Bridge":
        return tuple(
            (QPointF(side * HALF, AXIS + dy), QPoint(side, 0)) for side in (-1, 1) for dy in (-3, 3)
        )
    return left, right


@cache
def symbol(kind: str, flag: bool = False) -> QPainterPath:
    """Return the outline of a kind; ``flag`` is its other state (an open switch, a pnp)."""
    path = QPainterPath()
    _DRAW[kind](path, flag)
    path.translate(0.0, AXIS)
    return path


def _line(path: QPainterPath, *points: tuple[float, float]) -> None:
    path.moveTo(*points[0])
    for point in points[1:]:
        path.lineTo(*point)


def _leads(path: QPainterPath, half: float) -> None:
    _line(path, (-HALF, 0), (-half, 0))
    _line(path, (half, 0), (HALF, 0))


def _resistor(path: QPainterPath, _: bool) -> None:
    _leads(path, 7)
    path.addRect(QRectF(-7, -2.4, 14, 4.8))


def _fuse(path: QPainterPath, _: bool) -> None:
    _resistor(path, False)
    _line(path, (-7, 0), (7, 0))


def _source(path: QPainterPath, _: bool) -> None:
    _leads(path, 4)
    path.addEllipse(QPointF(0, 0), 4, 4)
    _line(path, (-4, 0), (4, 0))
    _line(path, (-8.5, -3), (-5.9, -3))
    _line(path, (-7.2, -4.3), (-7.2, -1.7))


def _winding(path: QPainterPath, _: bool) -> None:
    _leads(path, 8)
    path.moveTo(-8, 0)
    for k in range(4):
        path.arcTo(QRectF(-8 + 4 * k, -2, 4, 4), 180, -180)


def _choke(path: QPainterPath, _: bool) -> None:
    _winding(path, False)
    _line(path, (-8, -3.4), (8, -3.4))


def _triangle(path: QPainterPath) -> None:
    _line(path, (-3.5, -3.5), (-3.5, 3.5), (3.5, 0), (-3.5, -3.5))


def _diode(path: QPainterPath, _: bool) -> None:
    _line(path, (-HALF, 0), (HALF, 0))
    _triangle(path)
    _line(path, (3.5, -3.5), (3.5, 3.5))


def _zener(path: QPainterPath, _: bool) -> None:
    """Draw it with the cathode on the left, where the supply is."""
    _line(path, (-HALF, 0), (HALF, 0))
    _line(path, (3.5, -3.5), (3.5, 3.5), (-3.5, 0), (3.5, -3.5))
    _line(path, (-1.8, -3.5), (-3.5, -3.5), (-3.5, 3.5))


def _bridge(path: QPainterPath, _: bool) -> None:
    _line(path, (0, -5), (6, 0), (0, 5), (-6, 0), (0, -5))
    _line(path, (-2.2, -1.8), (-2.2, 1.8), (1.6, 0), (-2.2, -1.8))
    _line(path, (1.6, -1.8), (1.6, 1.8))
    for y in (-3, 3):
        _line(path, (-HALF, y), (-2.4, y))
        _line(path, (HALF, y), (2.4, y))


def _capacitor(path: QPainterPath, _: bool) -> None:
    _leads(path, 1.2)
    _line(path, (1.2, -3.8), (1.2, 3.8))
    path.addRect(QRectF(-2.6, -3.8, 1.4, 7.6))
    _line(path, (-6.6, -2.6), (-4.4, -2.6))
    _line(path, (-5.5, -3.7), (-5.5, -1.5))
    _line(path, (-1.2, 0), (-2.6, 0))


def _load(path: QPainterPath, _: bool) -> None:
    _leads(path, 6)
    path.addRoundedRect(QRectF(-6, -3.8, 12, 7.6), 1.2, 1.2)
    _line(path, (-3.4, 0), (3.0, 0))
    _line(path, (0.8, -1.9), (3.2, 0), (0.8, 1.9))


def _three(path: QPainterPath) -> None:
    _leads(path, 7)
    path.addRect(QRectF(-7, -4, 14, 8))
    _line(path, (0, 4), (0, 6))


def _regulator(path: QPainterPath, _: bool) -> None:
    _three(path)
    _line(path, (-4.5, 2.2), (-1.5, -1.6), (4.5, -1.6))


def _converter(path: QPainterPath, _: bool) -> None:
    _three(path)
    _line(path, (-7, 4), (7, -4))
    _line(path, (-5.4, -2), (-2.4, -2))
    _line(path, (2.4, 2), (5.4, 2))


def _transistor(path: QPainterPath, pnp: bool) -> None:
    _line(path, (-HALF, 0), (-6, 0), (-2.2, 2.2))
    _line(path, (HALF, 0), (6, 0), (2.2, 2.2))
    _line(path, (-4.5, 2.4), (4.5, 2.4))
    _line(path, (0, 2.4), (0, 6))
    tip, back = ((2.6, 2.0), (4.4, 1.0)) if pnp else ((5.4, 0.4), (3.6, 1.3))
    _line(path, (back[0] - 0.5, back[1] - 1.3), tip, (back[0] + 0.6, back[1] + 1.1))


def _link(path: QPainterPath, _: bool) -> None:
    _leads(path, 3)
    path.addEllipse(QPointF(-3, 0), 1.4, 1.4)
    path.moveTo(6, 0)
    path.arcTo(QRectF(0, -3, 6, 6), 90, 180)


def _switch(path: QPainterPath, closed: bool) -> None:
    _leads(path, 6)
    path.addEllipse(QPointF(-6, 0), 0.8, 0.8)
    path.addEllipse(QPointF(6, 0), 0.8, 0.8)
    _line(path, (-5.2, -0.3), (5.4, -0.8) if closed else (4.6, -4.4))


_DRAW: dict[str, Callable[[QPainterPath, bool], None]] = {
    "Source": _source, "Winding": _winding, "Diode": _diode, "Bridge": _bridge,
    "Resistor": _resistor, "Capacitor": _capacitor, "Choke": _choke, "Load": _load,
    "Zener": _zener, "Regulator": _regulator, "Converter": _converter,
    "PassTransistor": _transistor, "Link": _link, "Switch": _switch, "Fuse": _fuse,
}  # fmt: skip
