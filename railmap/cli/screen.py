"""What the window needs of the machine, and the sentence for where that is missing."""

from __future__ import annotations

import ctypes
import os
import re
import shlex
import sys
from collections.abc import Generator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from railmap.errors import RailmapError

_SHARED_LIBRARY: Final = re.compile(r"(\S+\.so(?:\.\d+)*): cannot open shared object file")
_SCREEN_LIBRARIES: Final = (
    "libxcb-cursor.so.0", "libxcb-icccm.so.4", "libxcb-image.so.0", "libxcb-keysyms.so.1",
    "libxcb-randr.so.0", "libxcb-render-util.so.0", "libxcb-shape.so.0", "libxcb-xkb.so.1",
    "libxkbcommon-x11.so.0",
)  # fmt: skip
_DEBIAN_PACKAGES: Final = (
    "libegl1 libgl1 libdbus-1-3 libfontconfig1 libxkbcommon0 libxkbcommon-x11-0 libxcb-cursor0 "
    "libxcb-icccm4 libxcb-image0 libxcb-keysyms1 libxcb-randr0 libxcb-render-util0 libxcb-shape0 "
    "libxcb-xkb1"
)


class NoWindowError(RailmapError):
    """The window cannot open on this machine, or not now."""


@contextmanager
def window_libraries() -> Generator[None]:
    """Turn what goes wrong while the window's libraries are loaded into one sentence.

    Raises
    ------
    NoWindowError
        If a library is missing.

    Examples
    --------
    >>> with window_libraries():
    ...     raise ImportError("libEGL.so.1: cannot open shared object file: No such file")
    Traceback (most recent call last):
    ...
    railmap.cli.screen.NoWindowError: the system library libEGL.so.1 is missing; ...
    """
    try:
        yield
    except ImportError as error:
        match = _SHARED_LIBRARY.search(str(error))
        if match:
            raise _library_missing(match[1]) from None
        raise NoWindowError(f"the window cannot be loaded: {error}") from None


def _has_screen() -> bool:
    names = ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")
    return sys.platform != "linux" or any(os.environ.get(name) for name in names)


def need_screen(file: Path | None) -> None:
    """Refuse to open the window where Qt would only abort.

    Parameters
    ----------
    file : Path or None
        The map that was to be shown.

    Raises
    ------
    NoWindowError
        If there is no screen, or a library of it is missing.
    """
    if not _has_screen():
        name = "FILE" if file is None else shlex.quote(str(file))
        raise NoWindowError(
            f"there is no screen here for the window; `railmap rails {name}` answers in text, "
            f"and `railmap picture {name} -o out.png` draws the floor"
        )
    on_x = sys.platform == "linux" and not os.environ.get("WAYLAND_DISPLAY")
    if on_x and os.environ.get("QT_QPA_PLATFORM", "xcb") in ("", "xcb"):
        for name in _SCREEN_LIBRARIES:
            try:
                ctypes.CDLL(name)
            except OSError:
                raise _library_missing(name) from None


def _library_missing(name: str) -> NoWindowError:
    return NoWindowError(
        f"the system library {name} is missing; on Debian this brings all that the window needs: "
        f"sudo apt install {_DEBIAN_PACKAGES}"
    )
