"""What the program remembers between runs: preferences, recent files, the window's shape."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any, Literal

from PySide6.QtCore import QByteArray, QLocale, QObject, QSettings, QStandardPaths, Signal

from railmap.errors import MapError
from railmap.figures import Figures
from railmap.model.railmap import About
from railmap.units import DecimalSign

RECENT = 8


@dataclass(frozen=True)
class Preferences:
    """What the person at the bench prefers.

    Attributes
    ----------
    mains_volts, mains_hertz : float
        Design mains of new maps.
    ambient_c : float
        Air around the parts of new maps, degrees Celsius.
    decimal : {"", ".", ","}
        Decimal sign; empty for that of the desktop.
    dark : bool or None
        Dark or light; None to follow the desktop.
    autosave : bool
        True to keep unsaved work for a crash.
    """

    mains_volts: float = About().mains_volts
    mains_hertz: float = About().mains_hertz
    ambient_c: float = About().ambient_c
    decimal: Literal["", ".", ","] = ""
    dark: bool | None = None
    autosave: bool = True


class Settings(QObject):
    """Reads and writes the settings file.

    Parameters
    ----------
    path : Path, optional
        The file; the user's own place for settings by default.

    Attributes
    ----------
    changed : Signal()
        A preference changed.
    """

    changed = Signal()

    def __init__(self, path: Path | None = None) -> None:
        super().__init__()
        if path is None:
            folder = QStandardPaths.writableLocation(
                QStandardPaths.StandardLocation.GenericConfigLocation
            )
            path = Path(folder) / "railmap" / "window.ini"
        self.path = path
        self._store = QSettings(str(path), QSettings.Format.IniFormat)

    @property
    def unsaved_folder(self) -> Path:
        """Where unsaved work is kept."""
        return self.path.parent / "unsaved"

    @property
    def preferences(self) -> Preferences:
        """What is preferred; a value that makes no sense is as if never set."""
        found = {f.name: self._read(f.name, f.default) for f in fields(Preferences)}
        return Preferences(**found)

    @preferences.setter
    def preferences(self, wanted: Preferences) -> None:
        before = self.preferences
        for field in fields(Preferences):
            value = getattr(wanted, field.name)
            if value == getattr(before, field.name):
                continue
            if value == field.default:
                self._store.remove(field.name)
            else:
                self._store.setValue(field.name, value)
        if wanted != before:
            self.changed.emit()

    def _read(self, name: str, default: Any) -> Any:
        text = str(self._store.value(name, "")).lower()
        if name == "decimal":
            return text if text in (".", ",") else default
        if name in ("dark", "autosave"):
            return {"true": True, "false": False}.get(text, default)
        try:
            figure: dict[str, Any] = {name: float(text)}
            About(**figure)
        except (ValueError, MapError):
            return default
        return figure[name]

    @property
    def dark(self) -> bool | None:
        """Dark or light as chosen; None while it follows the desktop."""
        return self.preferences.dark

    @dark.setter
    def dark(self, value: bool | None) -> None:
        self.preferences = replace(self.preferences, dark=value)

    @property
    def figures(self) -> Figures:
        """How figures are written: as preferred, else as on the desktop."""
        return Figures(self.preferences.decimal or desktop_sign())

    @property
    def recent(self) -> list[Path]:
        """Files opened or saved lately that are there now, the last one first."""
        return [path for path in self._remembered if path.exists()]

    @property
    def _remembered(self) -> list[Path]:
        # A list of one comes back from the file as its only item.
        found = self._store.value("recent", [])
        names = found if isinstance(found, list) else [found]
        return [Path(str(name)) for name in names if name]

    def add_recent(self, path: Path) -> None:
        """Put a file first among the recent ones."""
        path = path.absolute()
        self._remember([path, *(p for p in self._remembered if p != path)][:RECENT])

    def drop_gone(self) -> list[Path]:
        """Forget recent files that are gone from their folders, and return them.

        A file whose folder is not there either may be on a disk that comes back; it is kept.
        """
        known = self._remembered
        gone = [path for path in known if path.parent.is_dir() and not path.exists()]
        if gone:
            self._remember([path for path in known if path not in gone])
        return gone

    def _remember(self, paths: list[Path]) -> None:
        self._store.setValue("recent", [str(path) for path in paths])

    @property
    def grid_mm(self) -> float | None:
        """Grid of the floor that was chosen last, millimetres; None if none ever was."""
        try:
            grid = float(str(self._store.value("grid_mm", "")))
        except ValueError:
            return None
        return grid if math.isfinite(grid) and grid > 0 else None

    def keep_grid(self, grid_mm: float) -> None:
        """Remember the grid of the floor."""
        self._store.setValue("grid_mm", grid_mm)

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


def locale_of(sign: DecimalSign) -> QLocale:
    """Return the locale by which spin boxes write and read a decimal sign.

    No other sign is taken for a mark of thousands: it cannot be typed.
    """
    comma = QLocale(QLocale.Language.German, QLocale.Country.Germany)
    found = comma if sign == "," else QLocale(QLocale.Language.C)
    options = QLocale.NumberOption
    found.setNumberOptions(options.OmitGroupSeparator | options.RejectGroupSeparator)
    return found


def desktop_sign() -> DecimalSign:
    """Return the decimal sign of the desktop: a comma, or else a point."""
    return "," if QLocale.system().decimalPoint() == "," else "."
