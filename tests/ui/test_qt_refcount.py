"""Qt for Python keeps count of None and True.

PySide6 6.12.0 on Python 3.11 drops a reference to None with each void call, and one to True with
each signal, until the process aborts. From Python 3.12 on both are immortal and this cannot fail.
"""

import sys
from collections.abc import Callable

import pytest
from PySide6.QtCore import QObject, QRectF, Signal
from PySide6.QtGui import QBrush, QColor, QImage, QPainter
from PySide6.QtWidgets import QApplication, QGraphicsRectItem, QWidget

CALLS = 1000
SLACK = 50
"""What other parts of the process may add or drop meanwhile."""


class Sender(QObject):
    said = Signal(object)


@pytest.fixture
def calls(plain_app: QApplication) -> Callable[[], None]:
    """One of each void call that the window makes most."""
    item, widget, sender = QGraphicsRectItem(QRectF(0, 0, 1, 1)), QWidget(), Sender()
    image = QImage(4, 4, QImage.Format.Format_RGB32)
    brush = QBrush(QColor("#102030"))
    heard: list[object] = []
    sender.said.connect(heard.append)

    def make() -> None:
        item.setBrush(brush)
        item.setPos(1, 2)
        item.update()
        widget.setToolTip("tip")
        widget.update()
        painter = QPainter(image)
        painter.setBrush(brush)
        painter.fillRect(0, 0, 2, 2, brush)
        painter.end()
        sender.said.emit(heard)
        plain_app.processEvents()

    return make


@pytest.mark.parametrize("thing", [None, True], ids=repr)
def test_void_calls_leave_the_count_alone(calls: Callable[[], None], thing: object) -> None:
    calls()
    before = sys.getrefcount(thing)
    for _ in range(CALLS):
        calls()
    assert abs(sys.getrefcount(thing) - before) < SLACK


def test_the_count_would_show_a_loss() -> None:
    if sys.version_info >= (3, 12):
        pytest.skip("None is immortal")
    before = sys.getrefcount(None)
    held = [None] * CALLS
    assert sys.getrefcount(None) - before > CALLS - SLACK
    assert len(held) == CALLS
