"""Which tiles are painted anew when the figures change: only those that look different."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from PySide6.QtWidgets import QGraphicsView

from railmap.model.railmap import Change
from railmap.ui.bridge import Bridge
from railmap.ui.canvas.scene import FloorScene
from railmap.ui.canvas.tiles import PartItem

Render = Callable[..., np.ndarray]


@pytest.fixture
def painted(
    floor: FloorScene, settle: Callable[[], None], monkeypatch: pytest.MonkeyPatch, qtbot: Any
) -> Callable[..., set[str]]:
    """Show the floor at a scale, do something, and tell which tiles that paints anew."""
    view = QGraphicsView(floor)
    view.resize(1200, 700)
    view.show()
    qtbot.addWidget(view)
    found: set[str] = set()
    whole = PartItem.paint

    def paint(self: PartItem, *given: Any) -> None:
        found.add(self.ref)
        whole(self, *given)

    monkeypatch.setattr(PartItem, "paint", paint)

    def act(scale: float, what: Callable[[], object]) -> set[str]:
        view.resetTransform()
        view.scale(scale, scale)
        settle()
        view.grab()
        found.clear()
        what()
        settle()
        view.grab()
        return set(found)

    return act


def test_only_tiles_with_other_words_are_painted_anew(
    floor: FloorScene, bridge: Bridge, painted: Callable[..., set[str]]
) -> None:
    assert painted(1.5, bridge.solve_now) == set()
    # Less than a percent of its rating, and only on R2: everything else says the same.
    m = bridge.map
    other = m.parts["R2"].changed(rated_watts=0.15)

    def rate() -> None:
        assert bridge.do("Edit", [Change("parts", "R2", other)])

    assert painted(1.5, rate) == {"R2"}


def test_where_no_words_are_seen_only_other_colours_are_painted_anew(
    floor: FloorScene, bridge: Bridge, painted: Callable[..., set[str]], render: Render
) -> None:
    step = floor.parts["R1"].face.step
    # R1 takes 37 instead of 36 %: the same colour.
    assert "R1" not in painted(0.5, lambda: bridge.set_mains(233))
    assert floor.parts["R1"].face.step == step
    assert floor.parts["R1"].face.figure == "37 %"
    assert "R1" in painted(0.5, lambda: bridge.set_mains(300))
    assert floor.parts["R1"].face.step > step


def test_words_are_right_when_they_come_into_sight_again(
    floor: FloorScene, bridge: Bridge, painted: Callable[..., set[str]], render: Render
) -> None:
    painted(6.0, lambda: None)
    painted(0.5, lambda: bridge.set_mains(233))
    fresh = FloorScene(floor.theme, bridge)
    fresh.show_map(bridge.map)
    assert bridge.solution is not None
    fresh.show_solution(bridge.solution)
    box = floor.extent()
    assert np.array_equal(render(floor, box, 6.0), render(fresh, box, 6.0))
