"""All runs of the floor in one item, so that a thousand lines cost one repaint."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen
from PySide6.QtWidgets import QGraphicsItem, QStyleOptionGraphicsItem, QWidget

from railmap.ui.canvas.boxes import around_all, corners
from railmap.ui.canvas.items import PLAIN_BELOW, pixels_a_mm
from railmap.ui.canvas.layout import Pin
from railmap.ui.canvas.routing import Run, Segment
from railmap.ui.theme import Theme

_Box = tuple[float, float, float, float]
RETURN_MM = 0.55
"""Width of the lines of a return to 0 V."""
EDGE_MM = 3.5
"""Room around the ends of lines: for their width, and for plugs."""


class Shape(NamedTuple):
    """What is drawn of one run or return: its lines, its joints, and a box around it."""

    of: Run | Pin
    lines: list[QLineF]
    joints: QPainterPath
    box: _Box


Group = tuple[QColor, float, list[Shape]]
"""What is drawn with one pen: its colour, its width, and the shapes."""


class RunsItem(QGraphicsItem):
    """Every rail's lines, plugs and joints, and the returns to 0 V.

    While parts are dragged, what hangs on them is lifted out of the rest and drawn by itself.
    """

    def __init__(self, runs: list[Run], grounds: list[Pin], theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        self._picked = ""
        self._path: frozenset[str] = frozenset()
        self._fed: frozenset[str] = frozenset()
        self._steps: Mapping[str, int] | None = None
        self._shapes: dict[str, Shape] = {}
        self._returns: dict[tuple[str, str], Shape] = {}
        self._lifted: dict[str, Shape] = {}
        self._lifted_returns: dict[tuple[str, str], Shape] = {}
        self._box = QRectF()
        self.set_runs(runs, grounds)
        self.setZValue(-5)
        # Then it is told which part of it is to be painted.
        self.setFlag(QGraphicsItem.GraphicsItemFlag.ItemUsesExtendedStyleOption)

    def set_runs(self, runs: list[Run], grounds: list[Pin]) -> None:
        """Show other runs, coloured in their order; those that are the same are taken over."""
        had: dict[object, Shape] = {**self._shapes, **self._returns}
        order, lifted = list(self._shapes), self._up()
        self._lifted, self._lifted_returns = {}, {}
        self._shapes = {run.node: _kept(had.get(run.node), run) or _shape(run) for run in runs}
        self._returns = {
            key: _kept(had.get(key), pin) or _return_mark(pin)
            for key, pin in (((pin.ref, pin.pin), pin) for pin in grounds)
        }
        self._number = {node: i for i, node in enumerate(self._shapes)}
        self._group()
        has: dict[object, Shape] = {**self._shapes, **self._returns}
        box = _around(shape.box for shape in has.values())
        if box != self._box:
            self.prepareGeometryChange()
            self._box = box
        if order != list(self._shapes):
            self.update()
            return
        keys = [key for key in had.keys() | has.keys() if had.get(key) is not has.get(key)]
        changed = [end for key in keys for end in _difference(had.get(key), has.get(key))]
        self._update(_around([*changed, *(shape.box for shape in lifted)]))

    def _update(self, box: QRectF) -> None:
        """Paint a box anew; an empty one would mean all."""
        if not box.isEmpty():
            self.update(box)

    def lift(self, runs: Mapping[str, Run], grounds: Iterable[Pin]) -> None:
        """Draw other runs for some rails, and other returns to 0 V, until the next runs are set.

        Parameters
        ----------
        runs : dict of str to Run
            The runs by node; nothing to put them all down again.
        grounds : iterable of Pin
            Pins on 0 V that are somewhere else.
        """
        before, nodes = self._up(), self._lifted.keys()
        self._lifted = {node: _shape(run) for node, run in runs.items()}
        self._lifted_returns = {(pin.ref, pin.pin): _return_mark(pin) for pin in grounds}
        now = self._up()
        if nodes != self._lifted.keys() or bool(before) != bool(now):
            before += self._under(nodes) + self._under(runs)
            self._group()
        box = _around(shape.box for shape in (*before, *now))
        if not (box.isEmpty() or self._box.contains(box)):
            self.prepareGeometryChange()
            self._box = self._box.united(box)
        self._update(box)

    def _under(self, nodes: Iterable[str]) -> list[Shape]:
        """Return what is there of rails once nothing of them is lifted."""
        return [self._shapes[node] for node in nodes]

    def _up(self) -> list[Shape]:
        """Return all that is lifted."""
        return [*self._lifted.values(), *self._lifted_returns.values()]

    def set_theme(self, theme: Theme) -> None:
        """Paint in another theme."""
        self._theme = theme
        self._group()
        self.update()

    def set_marks(self, picked: str, path: frozenset[str], fed: frozenset[str]) -> None:
        """Light the selected rail, its feed path, and what it feeds."""
        marks = (picked, path, fed)
        if marks != (self._picked, self._path, self._fed):
            self._picked, self._path, self._fed = marks
            self._group()
            self.update()

    def set_steps(self, steps: Mapping[str, int] | None) -> None:
        """Colour some rails by steps of the theme and the others softly; None: each in its own."""
        if steps != self._steps:
            self._steps = steps
            self._group()
            self.update()

    def colour(self, node: str) -> QColor:
        """Return the colour of a rail."""
        if self._steps is not None:
            step = self._steps.get(node)
            return self._theme.soft_ink if step is None else self._theme.step_colour(step)
        rails = self._theme.rails
        return rails[self._number.get(node, 0) % len(rails)]

    def node_at(self, point: QPointF, reach_mm: float) -> str:
        """Return the rail whose line is nearest to a point and within reach, or nothing."""
        best, found = reach_mm, ""
        for node, shape in self._shapes.items():
            for line in shape.lines:
                far = _distance(line, point)
                if far <= best:
                    best, found = far, node
        return found

    def boundingRect(self) -> QRectF:
        """See Qt."""
        return self._box

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        """See Qt."""
        scale = pixels_a_mm(option, painter)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        seen = corners(option.exposedRect.adjusted(-EDGE_MM, -EDGE_MM, EDGE_MM, EDGE_MM))
        for colour, wide, shapes in (*self._groups, *self._lifted_groups()):
            lines = [line for shape in shapes if _meet(shape.box, seen) for line in shape.lines]
            line = wide if wide == RETURN_MM else max(wide, 0.9 / scale)
            painter.setPen(QPen(colour, line, Qt.PenStyle.SolidLine, Qt.PenCapStyle.SquareCap))
            painter.drawLines(lines)
        if scale >= PLAIN_BELOW:
            self._paint_joints(painter)

    def _paint_joints(self, painter: QPainter) -> None:
        colours, plain = self._theme.rails, self._theme.soft_ink
        painter.setPen(Qt.PenStyle.NoPen)
        for colour, path in zip(colours, self._joints, strict=True):
            painter.setBrush(colour if self._steps is None else plain)
            painter.drawPath(path)
        for node, shape in self._lifted.items():
            colour = colours[self._number[node] % len(colours)]
            painter.setBrush(colour if self._steps is None else plain)
            painter.drawPath(shape.joints)

    def _lifted_groups(self) -> list[Group]:
        groups: list[Group] = [(*self._look(n), [shape]) for n, shape in self._lifted.items()]
        soft, returns = self._theme.soft_ink, [*self._lifted_returns.values()]
        return [*groups, (soft, RETURN_MM, returns)]

    def _group(self) -> None:
        """Put what is drawn alike together, so that each pen and brush is set once."""
        groups: dict[tuple[int, float], Group] = {}
        self._joints = [QPainterPath() for _ in self._theme.rails]
        for path in self._joints:
            path.setFillRule(Qt.FillRule.WindingFill)
        for node, shape in self._shapes.items():
            if node in self._lifted:
                continue
            colour, wide = self._look(node)
            groups.setdefault((colour.rgba(), wide), (colour, wide, []))[2].append(shape)
            self._joints[self._number[node] % len(self._joints)].addPath(shape.joints)
        # Wide lines are those that are lit: they lie on top; returns are below all.
        lying = [s for key, s in self._returns.items() if key not in self._lifted_returns]
        rails = sorted(groups.values(), key=lambda group: group[1])
        self._groups = [(self._theme.soft_ink, RETURN_MM, lying), *rails]

    def _look(self, node: str) -> tuple[QColor, float]:
        """Return colour and width of a rail's lines."""
        if node == self._picked or node in self._path:
            return self._theme.feed, 1.7
        colour = self.colour(node)
        if node in self._fed:
            return colour, 1.3
        if self._picked or self._path:
            colour = QColor(colour)
            colour.setAlpha(120)
        return colour, 0.8


def _meet(one: _Box, other: _Box) -> bool:
    return one[0] <= other[2] and other[0] <= one[2] and one[1] <= other[3] and other[1] <= one[3]


def _kept(shape: Shape | None, of: Run | Pin) -> Shape | None:
    """Return a shape if it is the one of a run or pin."""
    return shape if shape is not None and shape.of is of else None


def _shape(run: Run) -> Shape:
    """Return a run as it is drawn: its joints are where lines meet, and where it leaves boards."""
    joints = QPainterPath()
    for x, y in run.dots:
        joints.addEllipse(QPointF(x, y), 1.1, 1.1)
    for x, y in run.plugs:
        joints.addRoundedRect(QRectF(x - 2.2, y - 1.5, 4.4, 3.0), 0.8, 0.8)
    return Shape(run, [QLineF(*line) for line in run.lines], joints, _ends(run.lines))


def _return_mark(pin: Pin) -> Shape:
    """Return the mark of a pin on 0 V: a short lead and a bar, as for a frame connection."""
    x, y = pin.x, pin.y
    if pin.down:
        end = y + 2.2 * pin.down
        lines = [(x, y, x, end), (x - 2.4, end, x + 2.4, end)]
    else:
        end = x + 2.4 * pin.out
        lines = [(x, y, end, y), (end, y - 2.4, end, y + 2.4)]
    return Shape(pin, [QLineF(*line) for line in lines], QPainterPath(), _ends(lines))


def _ends(lines: list[Segment]) -> _Box:
    """Return the box of level and upright lines."""
    left, top, right, bottom = zip(*lines, strict=True)
    return min(left + right), min(top + bottom), max(left + right), max(top + bottom)


def _difference(one: Shape | None, other: Shape | None) -> list[_Box]:
    """Return boxes around all in which two shapes differ."""
    if one is None or other is None or isinstance(one.of, Pin) or isinstance(other.of, Pin):
        return [shape.box for shape in (one, other) if shape is not None]
    lines = set(one.of.lines) ^ set(other.of.lines)
    joints = {*one.of.dots, *one.of.plugs} ^ {*other.of.dots, *other.of.plugs}
    return [_ends([line]) for line in lines] + [(x, y, x, y) for x, y in joints]


def _around(boxes: Iterable[_Box]) -> QRectF:
    """Return a box around others, with room for the width of their lines."""
    held = np.array([*boxes])
    if not len(held):
        return QRectF()
    return around_all(held).adjusted(-EDGE_MM, -EDGE_MM, EDGE_MM, EDGE_MM)


def _distance(line: QLineF, point: QPointF) -> float:
    """Return the distance of a point from a level or upright line."""
    x0, x1 = sorted((line.x1(), line.x2()))
    y0, y1 = sorted((line.y1(), line.y2()))
    dx = max(x0 - point.x(), 0.0, point.x() - x1)
    dy = max(y0 - point.y(), 0.0, point.y() - y1)
    return float((dx * dx + dy * dy) ** 0.5)
