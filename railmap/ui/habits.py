"""What every desktop program does with files and settings, put around one window."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Qt, Slot
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QApplication, QBoxLayout, QMenu

from railmap.ui import theme as themes
from railmap.ui.help import PAGES, HelpWindow, page, title_of
from railmap.ui.keeper import Keeper
from railmap.ui.preferences import PreferencesWindow
from railmap.ui.recovery import RecoveryBar
from railmap.ui.welcome import Welcome

if TYPE_CHECKING:
    from railmap.ui.window import Window

Keys = QKeySequence.StandardKey | str


class Habits(QObject):
    """Autosave and recovery, preferences, help and the first page of one window.

    Parameters
    ----------
    window : Window
        The window, complete.
    """

    def __init__(self, window: Window) -> None:
        super().__init__(window)
        self._window, self._settings = window, window.settings
        self.keeper = Keeper(window.bridge, window.desk, window.settings, self)
        self.bar = RecoveryBar(window.bridge, window.desk, window.settings, self.keeper)
        self.welcome = Welcome(window.settings, window.view)
        self.preferences = PreferencesWindow(window.settings, window)
        self.help = HelpWindow({"window": window.actions, "floor": window.view.actions}, window)
        self.menu = QMenu("P&rogram", window)
        self.actions: dict[str, QAction] = {}
        self._place_bar()
        self._fill_menu()
        self._connect()
        self._follow_settings()

    def begin(self, path: Path | None) -> None:
        """Begin the session: a file or the first page, and what another run left."""
        # The new map stays where the file cannot be opened, and with it the reason why.
        self._window.desk.new()
        if path is None:
            self.welcome.open_up()
        else:
            self._window.open_path(path)
        if self._window.message.isHidden():
            self._window.desk.drop_gone()
        self.bar.look()

    @Slot()
    def end(self) -> None:
        """End the session: nothing stays but unsaved work that nobody has given up."""
        self.keeper.end()
        self.bar.let_go()

    def _place_bar(self) -> None:
        message = self._window.message
        parent = message.parentWidget()
        column = parent.layout() if parent is not None else None
        assert isinstance(column, QBoxLayout)
        column.insertWidget(column.indexOf(message), self.bar)

    def _fill_menu(self) -> None:
        self._add("preferences", "&Preferences", self._show_preferences, "Ctrl+,")
        self._add("first_page", "&First page", self.welcome.open_up)
        self.menu.addSeparator()
        for name in PAGES:
            text = f"&{title_of(page(name))}" if name != "start" else "&Help: five minutes"
            keys = QKeySequence.StandardKey.HelpContents if name == "start" else None
            self._add(f"help {name}", text, self._show_help, keys)
        self._window.menuBar().addMenu(self.menu)

    def _add(self, name: str, text: str, slot: object, keys: Keys | None = None) -> None:
        action = QAction(text, self._window)
        action.setData(name)
        if keys is not None:
            action.setShortcut(QKeySequence(keys))
        action.triggered.connect(slot)
        self.menu.addAction(action)
        self._window.addAction(action)
        self.actions[name] = action

    def _connect(self) -> None:
        desk, welcome = self._window.desk, self.welcome
        welcome.file_wanted.connect(desk.open_path)
        welcome.new_wanted.connect(desk.new)
        welcome.open_wanted.connect(desk.open)
        welcome.help_wanted.connect(self.actions["help start"].trigger)
        self._window.bridge.map_changed.connect(welcome.follow)
        self._settings.changed.connect(self._follow_settings)
        QApplication.styleHints().colorSchemeChanged.connect(self._follow_settings)
        app = QApplication.instance()
        assert app is not None
        app.aboutToQuit.connect(self.end)

    @Slot()
    def _show_preferences(self) -> None:
        self.preferences.show()
        self.preferences.raise_()
        self.preferences.activateWindow()

    @Slot()
    def _show_help(self) -> None:
        action = self.sender()
        assert isinstance(action, QAction)
        self.help.open_at(str(action.data()).removeprefix("help "))

    @Slot()
    def _follow_settings(self) -> None:
        dark = self._settings.dark
        if dark is None:
            dark = QApplication.styleHints().colorScheme() == Qt.ColorScheme.Dark
        figures, now = self._settings.figures, self._window.theme
        if (dark, figures) != (now.dark, now.figures):
            self._window.set_theme((themes.dark if dark else themes.light)(figures))
