"""What the program remembers between runs: the window's shape, recent files, light or dark."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QByteArray, QSettings, QStandardPaths

RECENT = 8


class Settings:
    """Reads and writes the settings file.

    Parameters
    ----------
    path : Path, optional
        The file; the user's own place for settings by default.
    """

    def __init__(self, path: Path | None = None) -> None:
        if path is None:
            folder = QStandardPaths.writableLocation(
                QStandardPaths.StandardLocation.GenericConfigLocation
            )
            path = Path(folder) / "railmap" / "window.ini"
        self._store = QSettings(str(path), QSettings.Format.IniFormat)

    @property
    def recent(self) -> list[Path]:
        """Files opened or saved lately that are still there, the last one first."""
        # A list of one comes back from the file as its only item.
        found = self._store.value("recent", [])
        names = found if isinstance(found, list) else [found]
        return [Path(str(name)) for name in names if name and Path(str(name)).exists()]

    def add_recent(self, path: Path) -> None:
        """Put a file first among the recent ones."""
        path = path.absolute()
        names = [path, *(p for p in self.recent if p != path)][:RECENT]
        self._store.setValue("recent", [str(p) for p in names])

    @property
    def dark(self) -> bool | None:
        """Dark or light as chosen; None while it follows the desktop."""
        value = self._store.value("dark")
        return None if value is None else str(value).lower() == "true"

    @dark.setter
    def dark(self, value: bool) -> None:
        self._store.setValue("dark", value)

    def keep_shape(self, geometry: QByteArray, state: QByteArray) -> None:
        """Remember the window's place and the order of its panels."""
        self._store.setValue("geometry", geometry)
        self._store.setValue("state", state)

    @property
    def shape(self) -> tuple[QByteArray, QByteArray] | None:
        """The window's place and the order of its panels, if any are remembered."""
        geometry, state = self._store.value("geometry"), self._store.value("state")
        if isinstance(geometry, QByteArray) and isinstance(state, QByteArray):
            return geometry, state
        return None
