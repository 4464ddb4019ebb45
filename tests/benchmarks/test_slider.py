"""From a move of the drift slider to the repainted floor, on the examples that a winding feeds.

Aim on two cores: 33 ms with three boards.
"""

from typing import Any

import pytest
from PySide6.QtCore import QSettings
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QApplication

import railmap as rm
from railmap.resources import data_dir
from railmap.ui import theme
from railmap.ui.bridge import Bridge
from railmap.ui.canvas.view import FloorView

Bench = Any


@pytest.fixture(autouse=True)
def own_settings(tmp_path: Any) -> None:
    QSettings.setPath(QSettings.Format.IniFormat, QSettings.Scope.UserScope, str(tmp_path))


@pytest.mark.parametrize("name", ["small_receiver", "portable_tape_recorder", "mixing_console"])
def test_slider(benchmark: Bench, qapp: QApplication, name: str) -> None:
    bridge = Bridge()
    view = FloorView(bridge, theme.light())
    view.resize(1100, 700)
    view.show()
    bridge.open_map(rm.load(data_dir("example_boards") / f"{name}.railmap"), None)
    bridge.solve_now()
    view.fit()
    ref = "R1" if "R1" in bridge.map.parts else "R101"
    ohms = bridge.map.parts[ref].now() or 1.0
    image = QImage(view.viewport().size(), QImage.Format.Format_RGB32)
    turn = iter(range(10**9))

    def follow() -> None:
        bridge.set_drift(ref, ohms * (1 + 0.02 * (next(turn) % 7)))
        bridge.solve_now()
        view.viewport().render(image)

    benchmark(follow)
    view.close()
