"""Unsaved work, kept so that it outlives a crash: one slot for each window, held while it lives.

A slot is a folder with a draft, which is one line about the file that the work belongs to and then
the map as in a ``.railmap`` file, and with a lock. The system lets go of the lock when the process
ends in whatever way, so that work of windows that still run is told from work that was left.
"""

from __future__ import annotations

import contextlib
import json
import os
import secrets
import sys
from collections.abc import Generator
from contextlib import contextmanager
from datetime import datetime
from io import FileIO
from pathlib import Path
from typing import Any, NamedTuple, cast

from railmap.errors import FileError
from railmap.model.railmap import RailMap
from railmap.store.files import dumps, loads, write_whole

FORMAT = "railmap draft"
VERSION = 1
ASIDE = "set aside"
"""Folder of drafts that could not be read."""
_DRAFT, _LOCK = "draft", "lock"
_TRIES = 5


class Draft(NamedTuple):
    """Unsaved work.

    Parameters
    ----------
    map : RailMap
        The map as it was.
    path : pathlib.Path or None
        The file it belongs to; None if it was never saved.
    written : datetime.datetime
        When the draft was written, local time.
    """

    map: RailMap
    path: Path | None
    written: datetime


class Slot:
    """A place for one window's unsaved work; :func:`open_slot` and :func:`left_over` give them.

    Whoever has a slot holds it against every other process until :meth:`remove` or
    :meth:`let_go`. Its methods may be called from any thread, one at a time.
    """

    def __init__(self, folder: Path, lock: FileIO) -> None:
        self.folder, self._lock = folder, lock

    def write(self, m: RailMap, path: Path | None) -> None:
        """Write a map as the draft, whole or not at all.

        Parameters
        ----------
        m : RailMap
            The map.
        path : pathlib.Path or None
            The file it belongs to, if any.

        Raises
        ------
        FileError
            If it cannot be written; the draft before it still stands.
        """
        known = None if path is None else str(path.absolute())
        head = json.dumps({"format": FORMAT, "version": VERSION, "path": known})
        write_whole(head.encode("ascii") + b"\n" + dumps(m), self.folder / _DRAFT)

    def read(self) -> Draft | None:
        """Read the draft; None if there is none.

        Raises
        ------
        FileError
            If it is damaged.
        """
        file = self.folder / _DRAFT
        try:
            head, _, body = file.read_bytes().partition(b"\n")
        except FileNotFoundError:
            return None
        except OSError as error:
            raise FileError(f"the draft cannot be read: {error.strerror}") from None
        path = _path_in(head)
        return Draft(loads(body, "the draft"), path, self.written)

    @property
    def written(self) -> datetime:
        """When the draft was written, local time; now if there is none."""
        try:
            return datetime.fromtimestamp((self.folder / _DRAFT).stat().st_mtime)
        except OSError:
            return datetime.now()

    def clear(self) -> None:
        """Take the draft away: there is no unsaved work. The slot is kept.

        Raises
        ------
        FileError
            If it cannot be taken away.
        """
        try:
            (self.folder / _DRAFT).unlink(missing_ok=True)
        except OSError as error:
            raise FileError(f"{self.folder} cannot be cleared: {error.strerror}") from None

    def set_aside(self) -> Path:
        """Keep a draft that cannot be read for a person to look at, and remove the slot.

        Returns
        -------
        pathlib.Path
            Where it is now, or still is if it could not be moved.
        """
        found = self.folder / _DRAFT
        to = self.folder.parent / ASIDE / f"{self.folder.name}.txt"
        try:
            to.parent.mkdir(exist_ok=True)
            found.replace(to)
        except OSError:
            self.let_go()
            return found
        self.remove()
        return to

    def let_go(self) -> None:
        """Let another process find the draft; without one nothing stays."""
        if not (self.folder / _DRAFT).exists():
            self.remove()
        self._lock.close()

    def remove(self) -> None:
        """Remove the draft with its slot."""
        # What cannot be removed now is found and removed at a later start.
        with contextlib.suppress(OSError):
            (self.folder / _DRAFT).unlink(missing_ok=True)
            for half in self.folder.glob(".*.tmp"):
                half.unlink(missing_ok=True)
            # Some systems remove no file that is open.
            self._lock.close()
            (self.folder / _LOCK).unlink(missing_ok=True)
            self.folder.rmdir()
        self._lock.close()


def open_slot(folder: Path) -> Slot:
    """Make a slot for a new window.

    Parameters
    ----------
    folder : pathlib.Path
        Folder of all slots; made if it is not there.

    Returns
    -------
    Slot

    Raises
    ------
    FileError
        If it cannot be made there.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as place:
    ...     slot = open_slot(Path(place))
    ...     slot.write(RailMap(title="Divider"), None)
    ...     titles = slot.read().map.title, left_over(Path(place))
    ...     slot.remove()
    >>> titles
    ('Divider', [])
    """
    with _sentence_of(folder):
        # Another process that tidies up may take a new slot for one that was left.
        for _ in range(_TRIES):
            place = folder / secrets.token_hex(8)
            # Unsaved work is the user's alone.
            place.mkdir(mode=0o700, parents=True)
            slot = _claim(place)
            if slot is not None:
                return slot
        raise OSError(0, "it is in use")


def left_over(folder: Path) -> list[Slot]:
    """Claim the slots with drafts whose processes no longer run, the latest first.

    Slots without a draft are removed on the way. Each slot is given to one claimant only.

    Parameters
    ----------
    folder : pathlib.Path
        Folder of all slots.

    Returns
    -------
    list of Slot
        Remove each, set it aside, or let it go.

    Raises
    ------
    FileError
        If the folder cannot be looked through.
    """
    with _sentence_of(folder):
        places = [p for p in folder.iterdir() if p.name != ASIDE] if folder.is_dir() else []
        claimed = [slot for slot in map(_claim, places) if slot is not None]
    found: list[Slot] = []
    for slot in claimed:
        if (slot.folder / _DRAFT).exists():
            found.append(slot)
        else:
            slot.remove()
    return sorted(found, key=lambda slot: slot.written, reverse=True)


@contextmanager
def _sentence_of(folder: Path) -> Generator[None]:
    try:
        yield
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise FileError(f"{folder} cannot be used for unsaved work: {why}") from None


def _claim(place: Path) -> Slot | None:
    """Hold a slot if nobody else does."""
    try:
        lock = FileIO(place / _LOCK, "a+")
    except (FileNotFoundError, NotADirectoryError):
        return None
    # A lock file that was removed meanwhile keeps nobody out.
    if _hold(lock) and _still_named(lock, place / _LOCK):
        return Slot(place, lock)
    lock.close()
    return None


def _hold(lock: FileIO) -> bool:
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(lock.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            # Unlike lockf, this one also keeps windows of one process apart.
            fcntl.flock(lock.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    return True


def _still_named(lock: FileIO, path: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(lock.fileno()), path.stat())
    except FileNotFoundError:
        return False


def _path_in(head: bytes) -> Path | None:
    try:
        found = json.loads(head)
    except (ValueError, RecursionError):
        found = None
    values = cast("dict[str, Any]", found) if isinstance(found, dict) else {}
    if values.get("format") != FORMAT or not isinstance(values.get("version"), int):
        raise FileError("the draft does not begin as a draft does")
    if values["version"] > VERSION:
        raise FileError("the draft is of a newer railmap")
    path = values.get("path")
    return Path(path) if isinstance(path, str) else None
