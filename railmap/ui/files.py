"""Opening and saving from the window: dialogs, the guard for unsaved work, recent files."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QObject, Signal, Slot
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QFileDialog, QMessageBox, QWidget

from railmap.errors import FileError
from railmap.model.railmap import RailMap
from railmap.store.files import load, save
from railmap.ui.bridge import Bridge, sentence
from railmap.ui.settings import Settings

Button = QMessageBox.StandardButton
ENDING = ".railmap"
FILTER = f"Maps (*{ENDING});;All files (*)"


class FileDesk(QObject):
    """Everything that has to do with the file of the map.

    Attributes
    ----------
    recent_changed : Signal()
        The list of recent files changed.
    given_up : bool
        True from when unsaved work was given up until the map changes again.
    """

    recent_changed = Signal()

    def __init__(self, bridge: Bridge, settings: Settings, window: QWidget) -> None:
        super().__init__(window)
        self._bridge, self._settings, self._window = bridge, settings, window
        self.given_up = False
        bridge.map_changed.connect(self._changed)

    @Slot()
    def new(self) -> None:
        """Begin a new map with one board."""
        if self.may_leave():
            wanted = self._settings.preferences
            m = RailMap("New map", wanted.mains_volts, wanted.mains_hertz, wanted.ambient_c)
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

    def drop_gone(self) -> list[Path]:
        """Take recent files that are gone off the list, say so in one sentence; return them."""
        gone = self._settings.drop_gone()
        if gone:
            names = " and ".join(filter(None, [", ".join(map(str, gone[:-1])), str(gone[-1])]))
            verb = "is" if len(gone) == 1 else "are"
            self._bridge.trouble.emit(f"{names} {verb} gone, and off the list of recent files.")
            self.recent_changed.emit()
        return gone

    def _open(self, path: Path) -> None:
        try:
            m = load(path)
        except FileError as error:
            if path.absolute() not in self.drop_gone():
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

    def may_leave(self) -> bool:
        """Ask what is to become of unsaved work; return False to stay."""
        bridge = self._bridge
        if bridge.history.clean:
            return True
        answer = self._ask(
            "Unsaved changes",
            f"{bridge.map.title or 'The map'} has changes that are not saved.",
            {Button.Save: "&Save", Button.Discard: "&Discard", Button.Cancel: "&Keep working"},
        )
        if answer == Button.Save:
            return self.save()
        self.given_up = answer == Button.Discard
        return self.given_up

    def _may_replace(self, path: Path) -> bool:
        choices = {Button.No: "&Keep it", Button.Yes: "&Replace it"}
        text = f"{path.name} is there already. Replace it?"
        return self._ask("Replace the file", text, choices) == Button.Yes

    def _ask(self, title: str, text: str, choices: dict[Button, str]) -> Button:
        """Ask a question; Enter gives the first answer, the letter of an answer gives that one."""
        box = QMessageBox(QMessageBox.Icon.Question, title, text, parent=self._window)
        for button, words in choices.items():
            shown = box.addButton(button)
            shown.setText(words)
            # The style's own pictures do not follow the theme.
            shown.setIcon(QIcon())
        box.setDefaultButton(next(iter(choices)))
        answer = Button(box.exec())
        box.deleteLater()
        return answer

    @Slot(object)
    def _changed(self, _: object) -> None:
        self.given_up = False

    def _folder(self) -> str:
        if self._bridge.path is not None:
            return str(self._bridge.path.parent)
        recent = self._settings.recent
        return str(recent[0].parent if recent else Path.home())

    def _stem(self) -> str:
        if self._bridge.path is not None:
            return self._bridge.path.stem
        return self._bridge.map.title.lower().replace(" ", "_") or "map"
