"""What the tests of the window share: a small map, a window over it, and hands to work it with."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from parts_typist import Typist, typing_at
from PySide6.QtCore import QEvent, QPoint, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QIcon, QImage, QPainter, QPalette, QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QApplication,
    QGraphicsScene,
    QLineEdit,
    QMessageBox,
    QToolBar,
    QWidget,
)

import railmap as rm
from railmap.ui import actions, icons, message
from railmap.ui import theme as themes
from railmap.ui.bridge import Bridge, Picked
from railmap.ui.canvas.layout import Pin
from railmap.ui.canvas.routing import Router
from railmap.ui.canvas.scene import FloorScene
from railmap.ui.canvas.view import FloorView
from railmap.ui.habits import Habits
from railmap.ui.settings import Settings
from railmap.ui.window import Window

LEFT = Qt.MouseButton.LeftButton


@pytest.fixture(scope="session", autouse=True)
def icons_drawn_once(plain_app: QApplication) -> Iterator[None]:
    """Draw each icon once for all windows of the tests: every new window draws it anew."""
    drawn: dict[tuple[str, str, str], QIcon] = {}

    def kept(name: str, ink: QColor, soft: QColor) -> QIcon:
        key = (name, ink.name(), soft.name())
        if key not in drawn:
            drawn[key] = icons.icon(name, ink, soft)
        return drawn[key]

    with pytest.MonkeyPatch.context() as patch:
        for module in (actions, message):
            patch.setattr(module, "icon", kept)
        yield
    drawn.clear()


@pytest.fixture
def divider() -> rm.RailMap:
    """12 V into 100 ohms, then 200 ohms beside 50 + 150 ohms: 6 V and 4.5 V by Ohm's law.

    R1 takes 0.36 W of 1 W; R2 takes 0.18 W of 0.14 W.
    """
    m = rm.RailMap("Divider", mains_volts=230)
    m.add_board("Main", 160, 100)
    m.add_board("Side", 120, 100)
    place = rm.Place
    m.add(rm.Source("V1", "RAW", "0V", volts=12, follows_mains=True, board="Main",
                    place=place(30, 30)))  # fmt: skip
    m.add(rm.Resistor("R1", "RAW", "A", ohms=100, rated_watts=1, board="Main",
                      place=place(80, 30)))  # fmt: skip
    m.add(rm.Resistor("R2", "A", "0V", ohms=200, rated_watts=0.14, board="Main",
                      place=place(130, 60)))  # fmt: skip
    m.add(rm.Resistor("R3", "A", "B", ohms=50, board="Side", place=place(30, 30)))
    m.add(rm.Load("L1", "B", "0V", ohms=150, board="Side", place=place(90, 60)))
    m.add_rail("RAW", "+12", label_volts=12)
    m.add_rail("A", "+6", label_volts=6, max_volts=9)
    m.add_setup("side out", unplugged=("Side",))
    m.add_setup("high", mains_volts=253)
    return m


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    """Settings in a file of the test's own, with a theme that does not hang on the desktop."""
    found = Settings(tmp_path / "window.ini")
    found.dark = False
    return found


@pytest.fixture
def settle(plain_app: QApplication) -> Callable[[], None]:
    """Let everything happen that waits for the present events to be through."""

    def process() -> None:
        for _ in range(4):
            plain_app.processEvents()

    return process


@pytest.fixture
def bridge(plain_app: QApplication, divider: rm.RailMap) -> Bridge:
    found = Bridge()
    found.open_map(divider, None)
    return found


@pytest.fixture
def make_window(
    plain_app: QApplication, settings: Settings, settle: Callable[[], None]
) -> Iterator[Callable[[], Window]]:
    """Make windows as the program does; they are closed without a question after the test."""
    made: list[Window] = []

    def make() -> Window:
        found = Window(settings)
        made.append(found)
        found.resize(1280, 800)
        found.show()
        settle()
        return found

    yield make
    for window in made:
        window.bridge.history.mark_clean()
        window.close()
        window.deleteLater()
    settle()
    # What is deleted later is not deleted by the events alone.
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    QApplication.setPalette(QPalette())


@pytest.fixture
def window(make_window: Callable[[], Window], divider: rm.RailMap, settle: Any) -> Window:
    """A window with the divider in it."""
    found = make_window()
    found.bridge.open_map(divider, None)
    settle()
    return found


@pytest.fixture
def habits(window: Window) -> Iterator[Habits]:
    """The window with all that the program puts around it; drafts are written without delay."""
    found = Habits(window)
    found.keeper.timer.setInterval(0)
    yield found
    found.end()


@pytest.fixture
def view(window: Window) -> FloorView:
    return window.view


@pytest.fixture
def m(window: Window) -> rm.RailMap:
    return window.bridge.map


@pytest.fixture
def push(window: Window, settle: Callable[[], None]) -> Callable[[str], None]:
    """Click a button of the tool bar."""

    def click(name: str) -> None:
        bar = window.findChild(QToolBar, "tools")
        button = bar.widgetForAction(window.commands[name])
        QTest.mouseClick(button, Qt.MouseButton.LeftButton)
        settle()

    return click


@pytest.fixture
def turn_wheel() -> Callable[..., None]:
    """Turn the wheel over a widget by some notches; away from the hand is above 0."""

    def turn(widget: QWidget, notches: float, pixel: QPoint | None = None) -> None:
        at = QPointF(widget.rect().center() if pixel is None else pixel)
        event = QWheelEvent(
            at, widget.mapToGlobal(at), QPoint(), QPoint(0, round(120 * notches)),
            Qt.MouseButton.NoButton, Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase,
            False,
        )  # fmt: skip
        QApplication.sendEvent(widget, event)

    return turn


class Hand:
    """A mouse and a keyboard on a floor; places are on the floor, in millimetres."""

    def __init__(self, view: FloorView, settle: Callable[[], None]) -> None:
        self.view, self.settle = view, settle

    def pixel(self, x: float, y: float) -> QPoint:
        return self.view.mapFromScene(QPointF(x, y))

    def press(self, x: float, y: float, button: Qt.MouseButton = LEFT) -> None:
        QTest.mousePress(self.view.viewport(), button, pos=self.pixel(x, y))

    def move(self, x: float, y: float) -> None:
        QTest.mouseMove(self.view.viewport(), self.pixel(x, y))

    def release(self, x: float, y: float, button: Qt.MouseButton = LEFT) -> None:
        QTest.mouseRelease(self.view.viewport(), button, pos=self.pixel(x, y))
        self.settle()

    def click(self, x: float, y: float, button: Qt.MouseButton = LEFT) -> None:
        self.press(x, y, button)
        self.release(x, y, button)

    def carry(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        """Press and drag, but hold on."""
        self.press(*start)
        for part in (0.1, 0.6, 1.0):
            self.move(*(a + (b - a) * part for a, b in zip(start, end, strict=True)))

    def drag(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        self.carry(start, end)
        self.release(*end)

    def key(self, key: Any, *modifiers: Qt.KeyboardModifier) -> None:
        held = Qt.KeyboardModifier.NoModifier
        for modifier in modifiers:
            held |= modifier
        QTest.keyClick(self.view, key, held)
        self.settle()

    def pin(self, ref: str, name: str) -> tuple[float, float]:
        """Where a pin is."""
        layout = self.view.floor.layout
        pins: list[Pin] = [p for some in layout.pins.values() for p in some] + layout.grounds
        return next((p.x, p.y) for p in pins if (p.ref, p.pin) == (ref, name))

    def middle(self, ref: str) -> tuple[float, float]:
        point = self.view.floor.layout.tiles[ref].center()
        return point.x(), point.y()

    def on_rail(self, node: str) -> tuple[float, float]:
        """A point of a rail that nothing else is at."""
        floor, reach = self.view.floor, self.view.reach_mm()
        run = next(run for run in Router(floor.layout).route() if run.node == node)
        for x0, y0, x1, y1 in run.lines:
            for part in np.linspace(0.1, 0.9, 33):
                x, y = x0 + part * (x1 - x0), y0 + part * (y1 - y0)
                point = QPointF(x, y)
                free = not floor.part_at(point) and not floor.pin_at(point, reach)[0]
                if free and floor.rail_at(point, reach) == node:
                    return x, y
        raise AssertionError(f"rail {node} is nowhere to be seen")


@pytest.fixture
def hand(window: Window, settle: Callable[[], None]) -> Hand:
    return Hand(window.view, settle)


class Clerk:
    """Reads and fills in the card."""

    def __init__(self, window: Window, settle: Callable[[], None]) -> None:
        self.window, self.settle = window, settle

    def pick(self, kind: str, key: str) -> Any:
        """Select something and return its page."""
        self.window.bridge.pick(Picked(kind, key))
        self.settle()
        return self.page

    @property
    def page(self) -> Any:
        return self.window.card.page

    def write(self, editor: QLineEdit, text: str, key: Any = Qt.Key.Key_Return) -> None:
        editor.setFocus()
        editor.selectAll()
        QTest.keyClicks(editor, text)
        if not text:
            QTest.keyClick(editor, Qt.Key.Key_Delete)
        if key is not None:
            QTest.keyClick(editor, key)
        self.settle()

    def fill(self, name: str, text: str) -> None:
        """Type a value into a field of the present page."""
        self.write(self.page.form.editors[name], text)

    @property
    def figures(self) -> str:
        """The figures of the present page, as a screen reader hears them."""
        return self.page.figures.accessibleName()

    def hot_figure(self, ref: str) -> str:
        """What the hot list says of a part."""
        model = self.window.drawer.hot.model()
        for row in range(model.rowCount()):
            if model.index(row, 0).data() == ref:
                return str(model.index(row, 1).data())
        return ""

    def reason(self, name: str) -> str:
        """What stands under a field; nothing while it is not to be seen."""
        label = self.page.form._reasons[name]
        return label.text() if label.isVisible() else ""


@pytest.fixture
def clerk(window: Window, settle: Callable[[], None]) -> Clerk:
    # A field takes keys only while its window is the active one.
    window.activateWindow()
    settle()
    return Clerk(window, settle)


@pytest.fixture
def troubles(window: Window) -> list[str]:
    """Every sentence about something that could not be done."""
    said: list[str] = []
    window.bridge.trouble.connect(said.append)
    return said


@pytest.fixture
def answer(monkeypatch: pytest.MonkeyPatch) -> Callable[[str], list[str]]:
    """Answer every question of the window with one button; return the questions asked."""

    def give(button: str) -> list[str]:
        asked: list[str] = []

        def answer_it(box: QMessageBox) -> Any:
            asked.append(box.text())
            return QMessageBox.StandardButton[button]

        monkeypatch.setattr(QMessageBox, "exec", answer_it)
        return asked

    return give


def _pixels(image: QImage) -> np.ndarray:
    plain = image.convertToFormat(QImage.Format.Format_RGB32)
    wide, high = plain.width(), plain.height()
    rows = np.asarray(plain.constBits()).reshape(high, plain.bytesPerLine())
    # A copy, for the bits go with the image.
    return rows[:, : 4 * wide].reshape(high, wide, 4)[:, :, 2::-1].astype(float)


@pytest.fixture
def pixels() -> Callable[[QImage], np.ndarray]:
    """Return an image as red, green and blue, 0 to 255, in an array (rows, columns, 3)."""
    return _pixels


@pytest.fixture
def render() -> Callable[..., np.ndarray]:
    """Paint a piece of a scene; returns its pixels."""

    def paint(scene: QGraphicsScene, box: QRectF, pixels_a_mm: float = 4.0) -> np.ndarray:
        wide, high = round(box.width() * pixels_a_mm), round(box.height() * pixels_a_mm)
        image = QImage(wide, high, QImage.Format.Format_RGB32)
        image.fill(QColor("#ff00ff"))
        painter = QPainter(image)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        scene.render(painter, QRectF(0, 0, wide, high), box)
        painter.end()
        return _pixels(image)

    return paint


@pytest.fixture
def rgb() -> Callable[[QColor], np.ndarray]:
    return lambda colour: np.array([colour.red(), colour.green(), colour.blue()], dtype=float)


@pytest.fixture(params=["light", "dark"])
def theme(request: pytest.FixtureRequest) -> themes.Theme:
    return themes.dark() if request.param == "dark" else themes.light()


@pytest.fixture
def empty(plain_app: QApplication) -> Bridge:
    found = Bridge()
    found.open_map(rm.RailMap("Recorder", mains_volts=220), None)
    return found


@pytest.fixture
def blank(empty: Bridge, settle: Any) -> Iterator[Typist]:
    with typing_at(empty, settle) as found:
        yield found


@pytest.fixture
def typist(bridge: Bridge, settle: Any) -> Iterator[Typist]:
    """A typist at the divider: boards Main and Side, rails RAW and A, V1, R1, R2, R3, L1."""
    with typing_at(bridge, settle) as found:
        yield found


@pytest.fixture
def floor(bridge: Bridge) -> FloorScene:
    scene = FloorScene(themes.light(), bridge)
    scene.follow(bridge)
    bridge.solve_now()
    return scene


@pytest.fixture
def file(tmp_path: Path, divider: rm.RailMap) -> Path:
    path = tmp_path / "divider.railmap"
    rm.save(divider, path)
    return path


@pytest.fixture
def check_undo(window: Window, m: rm.RailMap) -> Iterator[None]:
    """See after the test that undoing everything gives the map as it was."""
    before = m.document()
    yield
    history = window.bridge.history
    while history.undo_name:
        history.undo()
    assert m.document() == before
