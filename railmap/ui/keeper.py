"""Keeps unsaved work for a crash: a draft is written a moment after each change."""

from __future__ import annotations

from functools import partial
from pathlib import Path

from PySide6.QtCore import QObject, QTimer, Slot

from railmap.errors import FileError
from railmap.model.railmap import RailMap
from railmap.store import autosave
from railmap.ui.bridge import Bridge
from railmap.ui.files import FileDesk
from railmap.ui.settings import Settings
from railmap.ui.work import Desk

WAIT_MS = 700
"""From a change to its writing, and so at least between two writings."""


class Keeper(QObject):
    """Writes the draft of one window in the background, and takes it away when all is saved.

    Parameters
    ----------
    bridge : Bridge
        The map.
    desk : FileDesk
        Knows whether unsaved work was given up.
    settings : Settings
        Where drafts lie, and whether any are wanted.
    """

    def __init__(
        self, bridge: Bridge, desk: FileDesk, settings: Settings, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._bridge, self._desk, self._settings = bridge, desk, settings
        self._slot: autosave.Slot | None = None
        self._written = self._told = self._ended = False
        self._work = Desk(self)
        self._work.done.connect(self._tell)
        self.timer = QTimer(self)
        self.timer.setSingleShot(True)
        self.timer.setInterval(WAIT_MS)
        self.timer.timeout.connect(self.write_soon)
        bridge.map_changed.connect(self._map_changed)
        bridge.state_changed.connect(self._look)
        settings.changed.connect(self._settings_changed)

    @Slot(object)
    def _map_changed(self, _: object) -> None:
        self._look()

    @Slot()
    def _look(self) -> None:
        if self._ended:
            return
        if self._bridge.history.clean:
            self._clear_soon()
        elif self._settings.preferences.autosave and not self.timer.isActive():
            self.timer.start()

    @Slot()
    def _settings_changed(self) -> None:
        if not self._settings.preferences.autosave and not self._ended:
            self._clear_soon()
        else:
            self._look()

    @Slot()
    def write_soon(self) -> None:
        """Have the map as it is now written as the draft."""
        self.timer.stop()
        self._written = True
        # Items are frozen: a copy of the tables is enough for the other thread.
        self._work.order(partial(self._write, self._bridge.map.copy(), self._bridge.path))

    def _clear_soon(self) -> None:
        self.timer.stop()
        if self._written:
            self._written = False
            self._work.order(self._clear)

    def adopt(self, slot: autosave.Slot) -> None:
        """Go on with a slot whose draft is the map as it is now."""
        self._work.stop()
        if self._slot is not None:
            self._slot.remove()
        self._slot, self._written = slot, True

    @Slot()
    def end(self) -> None:
        """Take the draft away, unless there is unsaved work that nobody has given up."""
        if self._ended:
            return
        self._ended = True
        self.timer.stop()
        self._work.stop()
        wanted = self._settings.preferences.autosave
        if wanted and not self._bridge.history.clean and not self._desk.given_up:
            self._write(self._bridge.map, self._bridge.path)
            if self._slot is not None:
                self._slot.let_go()
        elif self._slot is not None:
            self._slot.remove()

    def _write(self, m: RailMap, path: Path | None) -> str:
        """Write a draft; return what went wrong."""
        try:
            if self._slot is not None and not self._slot.folder.is_dir():
                self._slot.remove()
                self._slot = None
            if self._slot is None:
                self._slot = autosave.open_slot(self._settings.unsaved_folder)
            self._slot.write(m, path)
        except FileError as error:
            return f"Unsaved work is not kept for a crash: {error}."
        return ""

    def _clear(self) -> str:
        """Take the draft away; return what went wrong."""
        try:
            if self._slot is not None:
                self._slot.clear()
        except FileError as error:
            return f"The draft of what is saved now stays: {error}."
        return ""

    @Slot(object)
    def _tell(self, trouble: str) -> None:
        # Once is enough: every change would say it again.
        if trouble and not self._told:
            self._bridge.trouble.emit(trouble)
        self._told = bool(trouble)
