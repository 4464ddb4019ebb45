"""How long the floor takes with 1,000 parts.

Aim on two cores: 16 ms for a full repaint.
"""

from collections.abc import Iterator
from typing import Any

import pytest
from PySide6.QtGui import QImage, QPainter
from PySide6.QtWidgets import QApplication, QGraphicsView

import railmap as rm
from railmap.ui import theme
from railmap.ui.bridge import Bridge
from railmap.ui.canvas.layout import lay_out
from railmap.ui.canvas.routing import Router
from railmap.ui.canvas.scene import FloorScene

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


def test_find_all_runs(benchmark: Bench, thousand: rm.RailMap) -> None:
    layout = lay_out(thousand)
    runs = benchmark.pedantic(lambda: Router(layout).route(), rounds=2)
    assert runs
