"""Opening and saving from the window: dialogs, the guard for unsaved work, recent files."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QObject, Signal, Slot
from PySide6.QtWidgets import QFileDialog, QMessageBox, QWidget

from railmap.errors import FileError, RailmapError
from railmap.model.railmap import RailMap
from railmap.store.files import load, save
from railmap.ui.bridge import Bridge, sentence
from railmap.ui.settings import Settings

ENDING = ".railmap"
FILTER = f"Maps (*{ENDING});;All files (*)"


class FileDesk(QObject):
    """Everything that has to do with the file of the map.

    Attributes
    ----------
    recent_changed : Signal()
        The list of recent files changed.
    """

    recent_changed = Signal()

    def __init__(self, bridge: Bridge, settings: Settings, window: QWidget) -> None:
        super().__init__(window)
        self._bridge, self._settings, self._window = bridge, settings, window

    @Slot()
    def new(self) -> None:
        """Begin a new map with one board."""
        if self.may_leave():
            m = RailMap(title="New map")
            m.add_board("Board 1", 160, 100)
            self._bridge.open_map(m, None)

    @Slot()
    def open(self) -> None:
        """Ask for a file and open it."""
        if not self.may_leave():
            return
        name, _ = QFileDialog.getOpenFileName(self._window, "Open a map", self._folder(), FILTER)
        if name:
            self._open(Path(name))

    def open_path(self, path: Path) -> None:
        """Open a file, after asking about unsaved work."""
        if self.may_leave():
            self._open(path)

    def _open(self, path: Path) -> None:
        try:
            m = load(path)
        except FileError as error:
            self._bridge.trouble.emit(sentence(error))
            return
        self._bridge.open_map(m, path)
        self._settings.add_recent(path)
        self.recent_changed.emit()

    @Slot()
    def save(self) -> bool:
        """Save to the map's file, or ask for one.

        Returns
        -------
        bool
            True if it has been saved.
        """
        if self._bridge.path is None:
            return self.save_as()
        return self._save(self._bridge.path)

    @Slot()
    def save_as(self) -> bool:
        """Ask for a file and save to it."""
        start = self._bridge.path or Path(self._folder()) / f"{self._stem()}{ENDING}"
        name, _ = QFileDialog.getSaveFileName(self._window, "Save the map", str(start), FILTER)
        if not name:
            return False
        path = Path(name)
        if not path.suffix:
            # The dialog asked about the name as it was typed, not about this one.
            path = path.with_suffix(ENDING)
            if path.exists() and not self._may_replace(path):
                return False
        return self._save(path)

    def _save(self, path: Path) -> bool:
        try:
            save(self._bridge.map, path)
        except FileError as error:
            self._bridge.trouble.emit(sentence(error))
            return False
        self._bridge.saved(path)
        self._settings.add_recent(path)
        self.recent_changed.emit()
        return True

    @Slot()
    def save_picture(self) -> None:
        """Ask for a file and save the floor to it as a picture."""
        # The drawing is not needed to open the window.
        from railmap.ui.picture import draw

        solution = self._bridge.solution
        if solution is None:
            self._bridge.trouble.emit("There is no picture to save before the map is solved.")
            return
        start = str(Path(self._folder()) / f"{self._stem()}.png")
        name, _ = QFileDialog.getSaveFileName(
            self._window, "Save a picture", start, "Pictures (*.png *.svg)"
        )
        if not name:
            return
        try:
            draw(self._bridge.map, solution, Path(name), 2400, dark=False)
        except RailmapError as error:
            self._bridge.trouble.emit(sentence(error))

    def may_leave(self) -> bool:
        """Ask what is to become of unsaved work; return False to stay."""
        if self._bridge.history.clean:
            return True
        kinds = QMessageBox.StandardButton
        answer = QMessageBox.question(
            self._window, "Unsaved changes",
            f"{self._bridge.map.title or 'The map'} has changes that are not saved.",
            kinds.Save | kinds.Discard | kinds.Cancel, kinds.Save,
        )  # fmt: skip
        if answer == kinds.Save:
            return self.save()
        return answer == kinds.Discard

    def _may_replace(self, path: Path) -> bool:
        kinds = QMessageBox.StandardButton
        answer = QMessageBox.question(
            self._window, "Replace the file", f"{path.name} is there already. Replace it?",
            kinds.Yes | kinds.No, kinds.No,
        )  # fmt: skip
        return answer == kinds.Yes

    def _folder(self) -> str:
        if self._bridge.path is not None:
            return str(self._bridge.path.parent)
        recent = self._settings.recent
        return str(recent[0].parent if recent else Path.home())

    def _stem(self) -> str:
        if self._bridge.path is not None:
            return self._bridge.path.stem
        return self._bridge.map.title.lower().replace(" ", "_") or "map"
