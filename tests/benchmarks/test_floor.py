"""How long the floor takes with 1,000 parts.

Aim on two cores: 16 ms for a full repaint.
"""

from collections.abc import Iterator
from typing import Any

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QImage, QPainter
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QGraphicsView

import railmap as rm
from railmap.ui import theme
from railmap.ui.bridge import Bridge
from railmap.ui.canvas.layout import lay_out
from railmap.ui.canvas.routing import Router
from railmap.ui.canvas.scene import FloorScene
from railmap.ui.canvas.view import FloorView

Bench = Any


@pytest.fixture
def floor(qapp: QApplication, thousand: rm.RailMap) -> Iterator[FloorScene]:
    scene = FloorScene(theme.light(), qapp)
    scene.show_map(thousand)
    scene.show_solution(rm.solve(thousand))
    yield scene
    scene.deleteLater()


@pytest.mark.parametrize("scale", [0.45, 1.3], ids=["all of it", "a board"])
def test_full_repaint(benchmark: Bench, floor: FloorScene, scale: float) -> None:
    """All tiles, runs and labels in sight, painted into an image as the window would show it."""
    view = QGraphicsView(floor)
    view.setRenderHint(QPainter.RenderHint.Antialiasing)
    view.resize(1600, 1000)
    view.scale(scale, scale)
    view.show()
    image = QImage(view.viewport().size(), QImage.Format.Format_RGB32)
    view.viewport().render(image)
    benchmark(view.viewport().render, image)
    view.close()


def test_other_figures_on_every_tile(benchmark: Bench, floor: FloorScene) -> None:
    solutions = [rm.solve(floor.map, mains_volts=v) for v in (200.0, 238.0)]
    turn = iter(range(10**9))
    benchmark(lambda: floor.show_solution(solutions[next(turn) % 2]))


def test_open_the_map(benchmark: Bench, floor: FloorScene) -> None:
    benchmark.pedantic(floor.show_map, (floor.map,), rounds=2)


def test_open_and_paint(benchmark: Bench, qapp: QApplication, thousand: rm.RailMap) -> None:
    """From a map with its solution to the picture of all of it, with nothing kept from before."""
    solution = rm.solve(thousand)
    image = QImage(1600, 1000, QImage.Format.Format_RGB32)

    def open_it() -> None:
        scene = FloorScene(theme.light(), qapp)
        scene.show_map(thousand)
        scene.show_solution(solution)
        painter = QPainter(image)
        scene.render(painter)
        painter.end()
        scene.deleteLater()

    benchmark.pedantic(open_it, rounds=5, warmup_rounds=1)


def test_move_a_part(benchmark: Bench, floor: FloorScene) -> None:
    """What the floor does when a part is set down: only what hangs on it is routed anew."""
    bridge = Bridge()
    bridge.open_map(floor.map, None)
    floor.follow(bridge)
    part, place = floor.map.parts["R143"], floor.layout.places["R143"]
    turn = iter(range(10**9))

    def move() -> None:
        at = rm.Place(place.x_mm + next(turn) % 5, place.y_mm)
        bridge.change_part("Move R143", part.changed(place=at))

    try:
        benchmark.pedantic(move, rounds=20, warmup_rounds=1)
    finally:
        floor.map.parts["R143"] = part


@pytest.fixture
def view(qapp: QApplication, thousand: rm.RailMap) -> Iterator[FloorView]:
    """The floor as it stands in the window, with nothing else that listens to the map."""
    bridge = Bridge()
    bridge.open_map(thousand.copy(), None)
    found = FloorView(bridge, theme.light())
    found.resize(1600, 1000)
    found.show()
    qapp.processEvents()
    yield found
    found.close()
    found.deleteLater()


class Drag:
    """A hand that drags R143 to and fro."""

    def __init__(self, view: FloorView) -> None:
        self.view, self.port = view, view.viewport()
        self.step = 0

    def at(self, dx_mm: float) -> QPoint:
        middle = self.view.floor.layout.tiles["R143"].center()
        return self.view.mapFromScene(middle + QPointF(dx_mm, dx_mm / 2))

    def lift(self) -> None:
        self.step += 1
        QTest.mousePress(self.port, Qt.MouseButton.LeftButton, pos=self.at(0))
        self.move()
        QApplication.sendPostedEvents()

    def move(self) -> None:
        self.end = self.at(24 if self.step % 2 else -24)
        QTest.mouseMove(self.port, self.end)

    def put_down(self) -> None:
        """Let go; what has changed is painted, and solved after that."""
        QTest.mouseRelease(self.port, Qt.MouseButton.LeftButton, pos=self.end)
        QApplication.sendPostedEvents()


def test_set_a_part_down(benchmark: Bench, view: FloorView) -> None:
    """From letting go of a part to the picture with it in its new place."""
    drag = Drag(view)
    benchmark.pedantic(drag.put_down, setup=drag.lift, rounds=20, warmup_rounds=1)


def test_drag_a_part(benchmark: Bench, view: FloorView) -> None:
    """A move of the pointer with a part, with its runs, and the picture of that."""
    drag = Drag(view)
    drag.lift()

    def move() -> None:
        drag.step += 1
        drag.move()
        QApplication.sendPostedEvents()

    benchmark.pedantic(move, rounds=40, warmup_rounds=2)


def test_find_all_runs(benchmark: Bench, thousand: rm.RailMap) -> None:
    layout = lay_out(thousand)
    runs = benchmark.pedantic(lambda: Router(layout).route(), rounds=2)
    assert runs
