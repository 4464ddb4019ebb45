"""The window: floor in the middle, card on the right, worksheets below, mains dial above."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QSize, Qt, Slot
from PySide6.QtGui import QAction, QCloseEvent, QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import (
    QApplication,
    QComboBox,
    QDockWidget,
    QLabel,
    QMainWindow,
    QMenu,
    QSizePolicy,
    QTabWidget,
    QToolBar,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from railmap.model.railmap import Board, Change
from railmap.resources import example_paths
from railmap.solve.solution import PARTLY, SOLVED, Solution
from railmap.ui import theme as themes
from railmap.ui.actions import Commands
from railmap.ui.bridge import Bridge, Picked
from railmap.ui.canvas.view import WHEEL_STEP, FloorView
from railmap.ui.card.card import Card
from railmap.ui.faces import percent
from railmap.ui.files import FileDesk
from railmap.ui.mains import MainsDial
from railmap.ui.message import MessageBar
from railmap.ui.settings import Settings
from railmap.ui.worksheets.notes import CautionList
from railmap.ui.worksheets.ripple import RippleSheet
from railmap.ui.worksheets.tables import hot_sheet, rail_sheet
from railmap.units import show

ALL_PLUGGED = "everything plugged in"


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
        QApplication.setPalette(themes.palette(self.theme))
        self.bridge = Bridge(self)
        self.desk = FileDesk(self.bridge, settings, self)
        self.commands = Commands(self, self.theme)
        self.view = FloorView(self.bridge, self.theme)
        self.card = Card(self.bridge, self.theme)
        self.message = MessageBar(self.theme)
        self.mains = MainsDial(self.bridge, self.theme)
        self.setup_box = QComboBox()
        self._build_middle()
        self._build_card()
        self._build_drawer()
        self._build_bars()
        self._build_status()
        self._connect()
        self._restore()
        self.setAcceptDrops(True)
        self._show_state()

    def _first_theme(self) -> themes.Theme:
        dark = self.settings.dark
        if dark is None:
            scheme = QApplication.styleHints().colorScheme()
            dark = scheme == Qt.ColorScheme.Dark
        return themes.dark() if dark else themes.light()

    def _build_middle(self) -> None:
        middle = QWidget()
        column = QVBoxLayout(middle)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.message)
        column.addWidget(self.view, 1)
        self.setCentralWidget(middle)

    def _build_card(self) -> None:
        self.card_dock = self._dock("Card", "card", self.card)
        self.card.setMinimumWidth(300)
        self.addDockWidget(Qt.DockWidgetArea.RightDockWidgetArea, self.card_dock)

    def _build_drawer(self) -> None:
        self.drawer = QTabWidget()
        self.drawer.setDocumentMode(True)
        self.drawer.setAccessibleName("Worksheets")
        self.hot = hot_sheet(self.bridge, self.theme)
        self.rails = rail_sheet(self.bridge, self.theme)
        self.cautions = CautionList(self.bridge)
        self.drawer.addTab(self.hot, "Hot list")
        self.drawer.addTab(self.rails, "Rails")
        self.ripple = RippleSheet(self.bridge, self.theme)
        self.drawer.addTab(self.cautions, "Cautions")
        self.drawer.addTab(self.ripple, "Ripple")
        self.drawer_dock = self._dock("Worksheets", "worksheets", self.drawer)
        self.drawer.setMinimumHeight(120)
        self.addDockWidget(Qt.DockWidgetArea.BottomDockWidgetArea, self.drawer_dock)
        self.setCorner(Qt.Corner.BottomRightCorner, Qt.DockWidgetArea.RightDockWidgetArea)

    def _dock(self, title: str, name: str, widget: QWidget) -> QDockWidget:
        dock = QDockWidget(title, self)
        dock.setObjectName(name)
        dock.setTitleBarWidget(QWidget())
        dock.setFeatures(QDockWidget.DockWidgetFeature.NoDockWidgetFeatures)
        dock.setWidget(widget)
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
        bar.addWidget(self.mains)
        self.setup_box.setAccessibleName("Setup")
        self.setup_box.setToolTip("How the unit is powered: boards and accessories in or out")
        self.setup_box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
        bar.addWidget(self.setup_box)
        bar.addAction(self.commands["theme"])
        self.addToolBar(bar)
        self.recent_menu = QMenu("Open &recent", self)
        self.examples_menu = QMenu("Open an &example", self)
        self.commands.fill_menus(self.menuBar(), self.recent_menu, self.examples_menu)
        for path in example_paths():
            self._path_action(self.examples_menu, path)

    def _path_action(self, menu: QMenu, path: Path) -> None:
        action = QAction(path.stem.replace("_", " ").capitalize(), menu)
        action.setData(str(path))
        action.setToolTip(str(path))
        action.triggered.connect(self._open_named)
        menu.addAction(action)

    def _build_status(self) -> None:
        bar = self.statusBar()
        self.hint, self.power = QLabel(), QLabel()
        self.caution_button = QToolButton()
        self.caution_button.setAutoRaise(True)
        self.hottest_button = QToolButton()
        self.hottest_button.setAutoRaise(True)
        bar.addWidget(self.hint, 1)
        for widget in (self.power, self.hottest_button, self.caution_button):
            bar.addPermanentWidget(widget)

    def _connect(self) -> None:
        bridge, view = self.bridge, self.view
        bridge.solved.connect(self._solved)
        bridge.unsolved.connect(self._unsolved)
        bridge.state_changed.connect(self._show_state)
        bridge.map_changed.connect(self._map_changed)
        bridge.trouble.connect(self.message.say)
        view.hint.connect(self.hint.setText)
        view.placing.connect(self._show_placing)
        self.desk.recent_changed.connect(self._fill_recent)
        self.setup_box.activated.connect(self._choose_setup)
        self.caution_button.clicked.connect(self._show_cautions)
        self.hottest_button.clicked.connect(self._pick_hottest)
        for name, slot in (
            ("new", self.desk.new), ("open", self.desk.open), ("save", self.desk.save),
            ("save_as", self.desk.save_as), ("picture", self.desk.save_picture),
            ("close", self.close), ("undo", bridge.undo), ("redo", bridge.redo),
            ("delete", view.delete_picked), ("turn", view.turn_picked),
            ("end_drift", bridge.end_drift), ("add_board", self._add_board), ("fit", view.fit),
            ("zoom_in", self._zoom_in), ("zoom_out", self._zoom_out), ("zoom_to", self._zoom_to),
            ("hottest", self._pick_hottest), ("theme", self._turn_theme),
            ("cautions", self._show_cautions),
        ):  # fmt: skip
            self.commands[name].triggered.connect(slot)
        for name, action in self.commands.actions.items():
            if name.startswith("place "):
                action.triggered.connect(self._place)
        self._fill_recent()

    def _restore(self) -> None:
        shape = self.settings.shape
        self.resize(1280, 800)
        if shape is not None:
            self.restoreGeometry(shape[0])
            self.restoreState(shape[1])
        else:
            self.resizeDocks([self.card_dock], [330], Qt.Orientation.Horizontal)
            self.resizeDocks([self.drawer_dock], [190], Qt.Orientation.Vertical)

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

    @Slot()
    def _place(self) -> None:
        action = self.sender()
        assert isinstance(action, QAction)
        if action.isChecked():
            self.view.start_placing(str(action.data()).removeprefix("place "))
        else:
            self.view.stop()

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

    @Slot()
    def _zoom_in(self) -> None:
        self.view.zoom(WHEEL_STEP)

    @Slot()
    def _zoom_out(self) -> None:
        self.view.zoom(1 / WHEEL_STEP)

    @Slot()
    def _zoom_to(self) -> None:
        self.view.zoom_to(self.bridge.selection)

    @Slot()
    def _pick_hottest(self) -> None:
        solution = self.bridge.solution
        order = solution.hottest() if solution is not None else []
        if order:
            self.bridge.pick(Picked("part", order[0]))
            self.drawer.setCurrentWidget(self.hot)

    @Slot()
    def _show_cautions(self) -> None:
        self.drawer.setCurrentWidget(self.cautions)
        self.cautions.setFocus()

    @Slot()
    def _turn_theme(self) -> None:
        self.set_theme(themes.light() if self.theme.dark else themes.dark())
        self.settings.dark = self.theme.dark

    def set_theme(self, theme: themes.Theme) -> None:
        """Paint everything in another theme."""
        self.theme = theme
        QApplication.setPalette(themes.palette(theme))
        self.commands.set_theme(theme)
        for widget in (self.view, self.card, self.message, self.mains, self.ripple):
            widget.set_theme(theme)
        for sheet in (self.hot, self.rails):
            sheet.rows.theme = theme
            sheet.viewport().update()

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
    def _solved(self, solution: Solution) -> None:
        if solution.status in (SOLVED, PARTLY):
            power = f"power in {show(solution.power_in, 'W')} = out {show(solution.power_out, 'W')}"
        else:
            power = f"no figures: {solution.status}"
        self.power.setText(f"{power}     solved in {self.bridge.solve_ms:.0f} ms   ")
        hottest = solution.hottest()
        self.hottest_button.setVisible(bool(hottest))
        if hottest:
            at = solution.network.part_index[hottest[0]]
            text = percent(float(solution.stress[at]))
            self.hottest_button.setText(f"hottest {hottest[0]} {text}")
        self._count_cautions()

    @Slot()
    def _unsolved(self) -> None:
        self.power.setText("no figures: not solved   ")
        self.hottest_button.setVisible(False)
        self._count_cautions()

    def _count_cautions(self) -> None:
        count = self.cautions.count_now
        self.caution_button.setText(f"{count} caution{'' if count == 1 else 's'}")
        self.drawer.setTabText(2, f"Cautions ({count})" if count else "Cautions")

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
        self.settings.keep_shape(self.saveGeometry(), self.saveState())
        event.accept()
