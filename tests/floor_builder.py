"""Hands that build a map on the floor: boards, parts and joins by mouse, values on the card."""

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QPoint, QPointF, Qt, QTimer
from PySide6.QtGui import QAction
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QComboBox, QLineEdit, QMenu, QToolBar, QToolButton

import railmap as rm
from railmap.ui.window import Window

ALT = Qt.KeyboardModifier.AltModifier
LEFT = Qt.MouseButton.LeftButton
RIGHT = Qt.MouseButton.RightButton
SPOTS = [(26.0 + 48 * column, 30.0 + 32 * row) for row in range(3) for column in range(4)]
"""Where the parts of a board go, from its corner, in millimetres."""

BOARDS = {"Supply": (200, 130), "Logic": (200, 130), "Amp": (200, 130)}

# Board; kind; what is typed on the card, by field; the node of each pin. A node with a bang is
# brought from another board by a wire without a plug of its own.
PARTS = """\
Supply|Winding|ref=T1A volts_rms=26.5 ohms=2|a=AC1 b=0V
Supply|Winding|ref=T1B volts_rms=26.5 ohms=2|a=0V b=AC2
Supply|Bridge|ref=D101 rated_amps=1A rated_inverse_volts=200|ac1=AC1 ac2=AC2 plus=P0 minus=N0
Supply|Capacitor|ref=C1 farads=3300u rated_volts=50|plus=P0 minus=0V
Supply|Resistor|ref=R101 ohms=33 rated_watts=2W|a=P0 b=P1
Supply|Capacitor|ref=C11 rated_volts=35|plus=P1 minus=0V
Supply|Capacitor|ref=C2 farads=2200u rated_volts=50|plus=0V minus=N0
Supply|Resistor|ref=R201 ohms=68R rated_watts=1|a=N0 b=N1
Supply|Load|ref=X21 amps=60mA at_volts=28 law=resistive|a=N1 b=0V
Supply|Capacitor|ref=C21 farads=220u rated_volts=35V|plus=0V minus=N1
Logic|Load|ref=X11 amps=105m at_volts=27.5 law=resistive|a=P1 b=0V
Logic|Resistor|ref=R102 ohms=82 rated_watts=1|a=P1 b=P2
Logic|Load|ref=X12 amps=46m at_volts=19 law=resistive|a=P2 b=0V
Logic|Capacitor|ref=C12 farads=220u rated_volts=25|plus=P2 minus=0V
Logic|Regulator|ref=U1 volts=12 dropout_volts=2 quiescent_amps=5m|input=P2 output=P3 common=0V
Logic|Load|ref=X13 amps=45mA|a=P3 b=0V
Logic|Resistor|ref=R103 ohms=820 rated_watts=1|a=P0! b=P4
Logic|Zener|ref=D102 zener_volts=6.7 ohms=5|cathode=P4 anode=0V
Logic|Load|ref=X14 amps=20m max_volts=8|a=P4 b=0V
Logic|Capacitor|ref=C14 farads=100u rated_volts=10|plus=P4 minus=0V
Amp|Resistor|ref=R104 ohms=270 rated_watts=2|a=P0 b=P5
Amp|Load|ref=X15 amps=45m at_volts=13.8 law=resistive max_volts=18|a=P5 b=0V
Amp|Capacitor|ref=C15 farads=220u rated_volts=25|plus=P5 minus=0V
Amp|Load|ref=X16 amps=24m at_volts=13.8 law=lamp|a=P5 b=0V
Amp|Resistor|ref=R202 ohms=270 rated_watts=0.5|a=N1! b=N2
Amp|Load|ref=X22 amps=28m at_volts=17 law=resistive|a=N2 b=0V
Amp|Capacitor|ref=C22 farads=100u rated_volts=25|plus=0V minus=N2
Amp|Resistor|ref=R203 ohms=470 rated_watts=0.5|a=N2 b=N3
Amp|Load|ref=X23 amps=14m at_volts=10.4 law=resistive|a=N3 b=0V
Amp|Capacitor|ref=C23 farads=47u rated_volts=16|plus=0V minus=N3
"""
RAILS = {
    "P0": ("33", "50"), "P1": ("27", "35"), "P2": ("19", "25"), "P3": ("12", ""),
    "P4": ("6.8", "8"), "P5": ("14", "18"), "N0": ("-35", "50"), "N1": ("-28", "35"),
    "N2": ("-17", "25"), "N3": ("-10.5", "16"),
}  # fmt: skip
"""What is typed as label and highest volts of each rail."""


def pairs(text: str) -> dict[str, str]:
    return dict(word.split("=") for word in text.split())


class Builder:
    """Builds with mouse and keys alone; the map is only looked at, as a person would."""

    def __init__(self, window: Window, hand: Any, clerk: Any, push: Callable[[str], None]) -> None:
        self.window, self.hand, self.clerk, self.push = window, hand, clerk, push
        self.view, self.m = window.view, window.bridge.map
        self.bar: Any = window.findChild(QToolBar, "tools")
        self.spots = {name: iter(SPOTS) for name in BOARDS}
        self.plugs: dict[str, str] = {}
        """Node on a board behind a plug, by the rail and the board it was brought to."""

    def add_board(self, name: str, size: tuple[float, float]) -> None:
        """Add a board, give it its name on the card, and draw its corner to its size."""
        self.push("add_board")
        self.clerk.fill("name", name)
        board = self.m.boards[name]
        right, low = board.x_mm + board.width_mm, board.y_mm + board.height_mm
        self.push("fit")
        self.hand.drag((right, low), (board.x_mm + size[0], board.y_mm + size[1]))

    def go_to(self, board: str) -> None:
        """Look at a board: a click on its name, and the key for it."""
        self.push("fit")
        sheet = self.view.floor.layout.boards[board]
        self.hand.click(sheet.left() + 20, sheet.top() + 5)
        self.hand.key(Qt.Key.Key_J, Qt.KeyboardModifier.ControlModifier)

    def add_part(self, line: str) -> None:
        board, kind, typed, pins = line.split("|")
        self.place(kind, board)
        ref = self.fill(pairs(typed))
        for pin, node in pairs(pins).items():
            self.join(ref, pin, node, board)

    def place(self, kind: str, board: str) -> None:
        """Choose a kind in the tool bar, or in its menu, and click where it goes."""
        action = self.window.commands[f"place {kind}"]
        button = self.bar.widgetForAction(action)
        if button is None:
            (more,) = (b for b in self.bar.findChildren(QToolButton) if b.text() == "More parts")
            QTimer.singleShot(0, lambda: self.choose(more.menu(), action))
            QTest.mouseClick(more, LEFT)
        else:
            QTest.mouseClick(button, LEFT)
        assert action.isChecked(), kind
        sheet = self.view.floor.layout.boards[board]
        x, y = next(self.spots[board])
        self.hand.move(sheet.left() + x - 9, sheet.top() + y + 7)
        self.hand.click(sheet.left() + x, sheet.top() + y)

    def choose(self, menu: QMenu, action: QAction) -> None:
        """Click a line of a menu that is open."""
        assert QApplication.activePopupWidget() is menu
        QTest.mouseClick(menu, LEFT, pos=menu.actionGeometry(action).center())
        self.come_back()

    def come_back(self) -> None:
        """Go on in the window after a menu or list: here no window manager sees to that."""
        self.window.activateWindow()
        self.hand.settle()

    def fill(self, typed: dict[str, str]) -> str:
        """Type values on the card, the main one where the keyboard is already; return the ref."""
        page: Any = self.window.card.page
        main = self.m.parts[page.ref].main_field
        assert QApplication.focusWidget() is page.form.editors[main]
        for name in sorted(typed, key=lambda name: name != main):
            editor = page.form.editors[name]
            if name == main:
                QTest.keyClicks(editor, typed[name])
                QTest.keyClick(editor, Qt.Key.Key_Return)
            elif isinstance(editor, QLineEdit):
                if editor.text() != typed[name]:
                    self.clerk.fill(name, typed[name])
            else:
                assert isinstance(editor, QComboBox)
                editor.setFocus()
                QTest.keyClicks(editor, typed[name])
            self.hand.settle()
            assert not self.clerk.reason(name)
        return str(page.ref)

    def join(self, ref: str, pin: str, node: str, board: str) -> None:
        """Bring a pin to a node: by its name where it is new, else by drawing a line there."""
        node, bare = node.rstrip("!"), node.endswith("!")
        node = self.plugs.get(f"{node} {board}", node)
        if getattr(self.m.parts[ref], pin) == node:
            return
        if node not in self.m.nodes:
            self.name(ref, pin, node)
            return
        here = [p for p in self.m.parts.values() if node in p.nodes and p.board == board]
        if here:
            self.draw(ref, pin, self.target(node, here[0]))
        else:
            self.bring(ref, pin, node, bare)
            self.go_to(board)

    def target(self, node: str, part: rm.Part) -> tuple[float, float]:
        """Return where to drop a line: a pin, or the label of a rail that has only that one."""
        ends = sum(p.nodes.count(node) for p in self.m.parts.values())
        if ends == 1 and node != "0V":
            (tag,) = (tag for tag in self.view.floor.tags if tag.node == node)
            return tag.pos().x(), tag.pos().y()
        return self.hand.pin(part.ref, part.pins[part.nodes.index(node)])

    def name(self, ref: str, pin: str, node: str) -> None:
        """Name the node of a pin by the menu there."""
        x, y = self.hand.pin(ref, pin)
        self.hand.click(x, y, RIGHT)
        menu = self.view.menu
        assert menu is not None
        (named,) = (a for a in menu.actions() if a.text() == f"Name the node at {ref} {pin}…")
        self.choose(menu, named)
        line = self.view.editor.line
        assert QApplication.focusWidget() is line
        QTest.keyClicks(line, node)
        # It says so too if the name is that of a node somewhere else.
        assert self.view.editor.reason.text() == ("" if node == "0V" else "a new node")
        QTest.keyClick(line, Qt.Key.Key_Return)
        self.come_back()
        assert getattr(self.m.parts[ref], pin) == node

    def draw(self, ref: str, pin: str, end: tuple[float, float], alt: bool = False) -> None:
        """Draw a line from a pin, let go a pixel or two beside the end."""
        port, held = self.view.viewport(), ALT if alt else Qt.KeyboardModifier.NoModifier
        start, last = (self.hand.pixel(*self.hand.pin(ref, pin)), self.hand.pixel(*end))
        last += QPoint(1, -1)
        QTest.mousePress(port, LEFT, pos=start + QPoint(-1, 1))
        for part in (0.2, 0.7, 1.0):
            at = QPointF(start) + (QPointF(last) - QPointF(start)) * part
            QTest.mouseMove(port, at.toPoint())
        QTest.mouseRelease(port, LEFT, held, last)
        self.hand.settle()

    def bring(self, ref: str, pin: str, node: str, bare: bool) -> None:
        """Bring a rail from another board: with Alt held by a bare wire, else by a plug."""
        self.push("fit")
        there = next(p for p in self.m.parts.values() if node in p.nodes and p.board)
        end = self.hand.pin(there.ref, there.pins[there.nodes.index(node)])
        links = {r for r, p in self.m.parts.items() if p.kind == "Link"}
        self.draw(ref, pin, end, alt=bare)
        new = {r for r, p in self.m.parts.items() if p.kind == "Link"} - links
        assert len(new) == (not bare)
        if not bare:
            own = getattr(self.m.parts[ref], pin)
            assert own == f"{node} {self.m.parts[ref].board}"
            assert self.m.parts[new.pop()].nodes == (node, own)
            self.plugs[f"{node} {self.m.parts[ref].board}"] = own
        else:
            assert getattr(self.m.parts[ref], pin) == node

    def name_rail(self, node: str, label: str, most: str) -> None:
        """Select a rail by its line, and fill in what is known of it."""
        self.hand.click(*self.hand.on_rail(node))
        assert self.window.card.page.about.key == node
        self.clerk.fill("label_volts", label)
        if most:
            self.clerk.fill("max_volts", most)

    def build(self) -> None:
        """Build everything."""
        self.clerk.fill("title", "Recorder")
        self.clerk.fill("mains_volts", "220")
        for name, size in BOARDS.items():
            self.add_board(name, size)
        now = ""
        for line in PARTS.splitlines():
            board = line.split("|")[0]
            if board != now:
                self.go_to(board)
                now = board
            self.add_part(line)
        self.push("fit")
        for node, (label, most) in RAILS.items():
            self.name_rail(node, label, most)

    def set_mains(self, volts: float) -> None:
        """Type other mains volts into the tool bar."""
        box = self.window.mains.volts
        box.setFocus()
        box.selectAll()
        QTest.keyClicks(box, f"{volts:g}")
        QTest.keyClick(box, Qt.Key.Key_Return)
        self.hand.settle()
        assert self.window.bridge.mains_volts == volts

    def push_until_it_ends(self, name: str) -> int:
        """Click undo or redo as often as it can be, fast; return how often that was."""
        action = self.window.commands[name]
        count = 0
        while action.isEnabled():
            QTest.mouseClick(self.bar.widgetForAction(action), LEFT)
            count += 1
        self.hand.settle()
        return count
