"""The window: floor in the middle, ladder and card beside it, worksheets below, tools above."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QSize, Qt, Slot
from PySide6.QtGui import QAction, QCloseEvent, QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import (
    QApplication,
    QComboBox,
    QDockWidget,
    QMainWindow,
    QMenu,
    QSizePolicy,
    QToolBar,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from railmap.model.railmap import Board, Change
from railmap.resources import example_paths
from railmap.solve.solution import Solution
from railmap.ui import theme as themes
from railmap.ui.actions import Commands
from railmap.ui.bridge import Bridge, Picked
from railmap.ui.canvas.view import WHEEL_STEP, FloorView
from railmap.ui.card.card import Card
from railmap.ui.drawer import SHEETS, Drawer
from railmap.ui.faces import COLOURINGS
from railmap.ui.files import FileDesk
from railmap.ui.finding import FindBox, FoundRings
from railmap.ui.ladder.view import STEP, LadderView
from railmap.ui.mains import MainsDial
from railmap.ui.message import MessageBar
from railmap.ui.picture_desk import PictureDesk
from railmap.ui.revisions import RevisionDesk
from railmap.ui.settings import Settings, locale_of
from railmap.ui.shape import Shape, unpack
from railmap.ui.status import StatusLine

ALL_PLUGGED = "everything plugged in"
FIRST_WIDTHS, FIRST_HEIGHT = (260, 310), 190
"""Width of ladder and card, and height of the drawer, before anybody has drawn at them."""
FIRST_SIZE = (1280, 800)


class Window(QMainWindow):
    """The main window.

    Parameters
    ----------
    settings : Settings
        What is remembered between runs.
    """

    def __init__(self, settings: Settings) -> None:
        super().__init__()
        self.settings = settings
        self.theme = self._first_theme()
        self.setLocale(locale_of(self.theme.figures.decimal))
        QApplication.setPalette(themes.palette(self.theme))
        self.bridge = Bridge(self)
        self.desk = FileDesk(self.bridge, settings, self)
        self.pictures = PictureDesk(self.bridge, self.theme, self)
        self.commands = Commands(self, self.theme)
        self.view = FloorView(self.bridge, self.theme)
        self.ladder = LadderView(self.bridge, self.theme)
        self.card = Card(self.bridge, self.theme, self.view.boards)
        self.drawer = Drawer(self.bridge, self.theme)
        self.message = MessageBar(self.theme)
        self.mains = MainsDial(self.bridge, self.theme)
        self.finder = FindBox(self.bridge, self.theme)
        self.rings = FoundRings(self.view, self.theme)
        self.setup_box, self.colour_box = QComboBox(), QComboBox()
        self._build_middle()
        self._build_docks()
        self._build_bars()
        self.status = StatusLine(self.statusBar())
        self._connect()
        self._restore()
        self.setAcceptDrops(True)
        self._show_state()

    def _first_theme(self) -> themes.Theme:
        dark = self.settings.dark
        if dark is None:
            scheme = QApplication.styleHints().colorScheme()
            dark = scheme == Qt.ColorScheme.Dark
        return (themes.dark if dark else themes.light)(self.settings.figures)

    def _build_middle(self) -> None:
        middle = QWidget()
        column = QVBoxLayout(middle)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.message)
        column.addWidget(self.view, 1)
        self.setCentralWidget(middle)

    def _build_docks(self) -> None:
        self.card.setMinimumWidth(300)
        areas = Qt.DockWidgetArea
        self.ladder_dock = self._dock("Ladder", self.ladder, areas.LeftDockWidgetArea)
        self.card_dock = self._dock("Card", self.card, areas.RightDockWidgetArea)
        self.drawer_dock = self._dock("Worksheets", self.drawer, areas.BottomDockWidgetArea)
        self.setCorner(Qt.Corner.BottomLeftCorner, areas.LeftDockWidgetArea)
        self.setCorner(Qt.Corner.BottomRightCorner, areas.RightDockWidgetArea)

    def _dock(self, title: str, widget: QWidget, area: Qt.DockWidgetArea) -> QDockWidget:
        dock = QDockWidget(title, self)
        dock.setObjectName(title.lower())
        dock.setTitleBarWidget(QWidget())
        dock.setFeatures(QDockWidget.DockWidgetFeature.NoDockWidgetFeatures)
        dock.setWidget(widget)
        self.addDockWidget(area, dock)
        return dock

    def _build_bars(self) -> None:
        bar = QToolBar("Tools")
        bar.setObjectName("tools")
        bar.setMovable(False)
        bar.setIconSize(QSize(20, 20))
        self.commands.fill_bar(bar)
        more = QToolButton()
        more.setText("More parts")
        more.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        more.setMenu(self.commands.more_kinds(self))
        bar.addWidget(more)
        bar.addSeparator()
        for name in ("delete", "turn", "", "fit", "hottest"):
            bar.addSeparator() if not name else bar.addAction(self.commands[name])
        room = QWidget()
        room.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        bar.addWidget(room)
        self._name_boxes()
        for widget in (self.mains, self.setup_box, self.colour_box, self.finder):
            bar.addWidget(widget)
        bar.addAction(self.commands["theme"])
        self.addToolBar(bar)
        self.recent_menu = QMenu("Open &recent", self)
        self.examples_menu = QMenu("Open an &example", self)
        self.revisions = RevisionDesk(self.view, self.theme, self)
        self.commands.fill_menus(
            self.menuBar(), self.recent_menu, self.examples_menu, self.revisions.menu,
            self.view.commands,
        )  # fmt: skip
        self.recent_menu.aboutToShow.connect(self.desk.drop_gone)
        for path in example_paths():
            self._path_action(self.examples_menu, path)

    def _name_boxes(self) -> None:
        self.setup_box.setAccessibleName("Setup")
        self.setup_box.setToolTip("How the unit is powered: boards and accessories in or out")
        self.colour_box.setAccessibleName("Colour by")
        self.colour_box.setToolTip("What the colours of parts and rails show")
        for colouring in COLOURINGS:
            self.colour_box.addItem(f"Colour: {colouring.word.lower()}")
        for box in (self.setup_box, self.colour_box):
            box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)

    def _path_action(self, menu: QMenu, path: Path) -> None:
        action = QAction(path.stem.replace("_", " ").capitalize(), menu)
        action.setData(str(path))
        action.setToolTip(str(path))
        action.triggered.connect(self._open_named)
        menu.addAction(action)

    def _connect(self) -> None:
        bridge, view = self.bridge, self.view
        bridge.solved.connect(self._solved)
        bridge.unsolved.connect(self._show_status)
        bridge.state_changed.connect(self._show_state)
        bridge.map_changed.connect(self._map_changed)
        bridge.coloured.connect(self._show_colouring)
        bridge.trouble.connect(self.message.say)
        view.hint.connect(self.status.hint.setText)
        view.placing.connect(self._show_placing)
        view.placed.connect(self.card.ask)
        view.commands.grid_chosen.connect(self.settings.keep_grid)
        self.desk.recent_changed.connect(self._fill_recent)
        self.setup_box.activated.connect(self._choose_setup)
        self.colour_box.activated.connect(self._choose_colouring)
        self.status.cautions.clicked.connect(self._show_cautions)
        self.status.hottest.clicked.connect(self._pick_hottest)
        self.finder.found.connect(self._show_found)
        self.finder.went.connect(self._bring)
        self.finder.left.connect(self.view.setFocus)
        self.ladder_dock.toggleViewAction().toggled.connect(self.commands["ladder"].setChecked)
        self._connect_commands()
        self._fill_recent()
        self._show_colouring()

    def _connect_commands(self) -> None:
        bridge, view = self.bridge, self.view
        for name, slot in (
            ("new", self.desk.new), ("open", self.desk.open), ("save", self.desk.save),
            ("save_as", self.desk.save_as), ("picture", self.pictures.save_floor),
            ("picture_ladder", self.pictures.save_ladder),
            ("print", self.pictures.print_floor), ("print_ladder", self.pictures.print_ladder),
            ("close", self.close), ("undo", bridge.undo), ("redo", bridge.redo),
            ("delete", view.delete_picked), ("turn", view.turn_picked),
            ("end_drift", bridge.end_drift), ("add_board", self._add_board), ("fit", self._fit),
            ("zoom_in", self._zoom_in), ("zoom_out", self._zoom_out), ("zoom_to", self._zoom_to),
            ("hottest", self._pick_hottest), ("theme", self._turn_theme),
            ("find", self.finder.start), ("find_next", self._find_next),
            ("find_before", self._find_before), ("ladder", self._show_ladder),
            ("go_floor", view.setFocus), ("go_ladder", self._go_ladder),
            ("go_card", self.card.take_keyboard),
        ):  # fmt: skip
            self.commands[name].triggered.connect(slot)
        slots = {"place": self._place, "sheet": self._go_sheet, "colour": self._colour}
        for name, action in self.commands.actions.items():
            slot = slots.get(name.partition(" ")[0]) if " " in name else None
            if slot is not None:
                action.triggered.connect(slot)

    def _restore(self) -> None:
        kept = self.settings.shape
        self.resize(*FIRST_SIZE)
        shape = None if kept is None else unpack(kept[1])
        if kept is not None:
            self.restoreGeometry(kept[0])
        if shape is not None and self.restoreState(shape.docks):
            self.drawer.show_sheet(shape.sheet)
        else:
            sides = [self.ladder_dock, self.card_dock]
            self.resizeDocks(sides, list(FIRST_WIDTHS), Qt.Orientation.Horizontal)
            self.resizeDocks([self.drawer_dock], [FIRST_HEIGHT], Qt.Orientation.Vertical)
        self.commands["ladder"].setChecked(not self.ladder_dock.isHidden())
        self.view.commands.set_grid(self.settings.grid_mm)

    def open_path(self, path: Path) -> None:
        """Open a file."""
        self.desk.open_path(path)

    @Slot()
    def _open_named(self) -> None:
        action = self.sender()
        assert isinstance(action, QAction)
        self.desk.open_path(Path(action.data()))

    @Slot()
    def _fill_recent(self) -> None:
        self.recent_menu.clear()
        for path in self.settings.recent:
            self._path_action(self.recent_menu, path)
        self.recent_menu.setEnabled(bool(self.recent_menu.actions()))

    def _word(self) -> str:
        """Return what stands behind the first word in the name of the command given."""
        action = self.sender()
        assert isinstance(action, QAction)
        return str(action.data()).partition(" ")[2]

    @Slot(bool)
    def _place(self, on: bool) -> None:
        self.view.start_placing(self._word()) if on else self.view.stop()

    @Slot()
    def _go_sheet(self) -> None:
        self.drawer.go_to(self._word())

    @Slot()
    def _colour(self) -> None:
        word = self._word()
        self.bridge.set_colouring(next(c for c in COLOURINGS if c.word == word))

    @Slot(int)
    def _choose_colouring(self, place: int) -> None:
        self.bridge.set_colouring(COLOURINGS[place])

    @Slot()
    def _show_colouring(self) -> None:
        self.colour_box.setCurrentIndex(COLOURINGS.index(self.bridge.colouring))
        self.commands[f"colour {self.bridge.colouring.word}"].setChecked(True)

    @Slot(str)
    def _show_placing(self, kind: str) -> None:
        for name, action in self.commands.actions.items():
            if name.startswith("place "):
                action.setChecked(name == f"place {kind}")

    @Slot()
    def _add_board(self) -> None:
        m = self.bridge.map
        number = 1 + len(m.boards)
        while f"Board {number}" in m.boards:
            number += 1
        trial = m.copy()
        board: Board = trial.add_board(f"Board {number}", 160, 100)
        if self.bridge.do(f"Add {board.name}", [Change("boards", None, board)]):
            self.bridge.pick(Picked("board", board.name))

    @Slot(bool)
    def _show_ladder(self, on: bool) -> None:
        self.ladder_dock.setVisible(on)

    @Slot()
    def _go_ladder(self) -> None:
        self.ladder_dock.setVisible(True)
        self.ladder.setFocus()

    def _in_front(self) -> FloorView | LadderView:
        """Return the picture that the keyboard is on; the floor where it is on neither."""
        return self.ladder if self.ladder.hasFocus() else self.view

    @Slot()
    def _fit(self) -> None:
        self._in_front().fit()

    @Slot()
    def _zoom_in(self) -> None:
        self.ladder.zoom(STEP) if self.ladder.hasFocus() else self.view.zoom(WHEEL_STEP)

    @Slot()
    def _zoom_out(self) -> None:
        self.ladder.zoom(1 / STEP) if self.ladder.hasFocus() else self.view.zoom(1 / WHEEL_STEP)

    @Slot()
    def _zoom_to(self) -> None:
        self._in_front().zoom_to(self.bridge.selection)

    @Slot()
    def _find_next(self) -> None:
        self.finder.step(1)

    @Slot()
    def _find_before(self) -> None:
        self.finder.step(-1)

    @Slot(object)
    def _show_found(self, found: tuple[Picked, ...]) -> None:
        self.rings.show_found(found)
        self.ladder.show_found(found)

    @Slot(object)
    def _bring(self, what: Picked) -> None:
        self.rings.bring(what)
        self.ladder.bring(what)

    @Slot()
    def _pick_hottest(self) -> None:
        solution = self.bridge.solution
        order = solution.hottest() if solution is not None else []
        if order:
            self.bridge.pick(Picked("part", order[0]))
            self.drawer.setCurrentWidget(self.drawer.hot)

    @Slot()
    def _show_cautions(self) -> None:
        self.drawer.go_to(SHEETS[-1])

    @Slot()
    def _turn_theme(self) -> None:
        other = themes.light if self.theme.dark else themes.dark
        self.set_theme(other(self.theme.figures))
        self.settings.dark = self.theme.dark

    def set_theme(self, theme: themes.Theme) -> None:
        """Paint and write everything in another theme."""
        self.theme = theme
        QApplication.setPalette(themes.palette(theme))
        self.setLocale(locale_of(theme.figures.decimal))
        self.commands.set_theme(theme)
        for widget in (
            self.view, self.ladder, self.card, self.drawer, self.message, self.mains, self.rings,
            self.finder, self.pictures, self.revisions,
        ):  # fmt: skip
            widget.set_theme(theme)
        self._show_status()

    @Slot(int)
    def _choose_setup(self, place: int) -> None:
        self.bridge.set_setup(self.setup_box.itemData(place) or "")

    @Slot(object)
    def _map_changed(self, _: object) -> None:
        box, names = self.setup_box, list(self.bridge.map.setups)
        if box.count() == 0 or [box.itemData(i) for i in range(1, box.count())] != names:
            box.clear()
            box.addItem(ALL_PLUGGED, "")
            for name in names:
                box.addItem(name, name)
        self.message.clear()
        self.rings.follow()

    @Slot()
    def _show_state(self) -> None:
        bridge = self.bridge
        name = bridge.path.name if bridge.path else bridge.map.title or "New map"
        self.setWindowTitle(f"{name}[*] — railmap")
        self.setWindowModified(not bridge.history.clean)
        for action, what, word in (
            ("undo", bridge.history.undo_name, "Undo"), ("redo", bridge.history.redo_name, "Redo"),
        ):  # fmt: skip
            self.commands[action].setEnabled(what is not None)
            self.commands[action].setText(f"&{word}: {what}" if what else f"&{word}")
        self.commands["save"].setEnabled(not bridge.history.clean or bridge.path is None)
        place = self.setup_box.findData(bridge.setup_name)
        self.setup_box.setCurrentIndex(max(place, 0))

    @Slot(object)
    def _solved(self, _: Solution) -> None:
        self._show_status()
        self.rings.follow()

    @Slot()
    def _show_status(self) -> None:
        bridge = self.bridge
        if bridge.solution is None:
            self.status.show_nothing()
        else:
            self.status.show_solution(bridge.solution, bridge.solve_ms, self.theme.figures)
        self.status.show_cautions(self.drawer.count_cautions())

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """See Qt."""
        if any(url.isLocalFile() for url in event.mimeData().urls()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """See Qt."""
        paths = [url.toLocalFile() for url in event.mimeData().urls() if url.isLocalFile()]
        if paths:
            event.acceptProposedAction()
            self.desk.open_path(Path(paths[0]))

    def closeEvent(self, event: QCloseEvent) -> None:
        """See Qt."""
        if not self.desk.may_leave():
            event.ignore()
            return
        self.bridge.desk.stop()
        shape = Shape(self.saveState(), self.drawer.title)
        self.settings.keep_shape(self.saveGeometry(), shape.pack())
        event.accept()
