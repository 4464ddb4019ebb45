"""Starts the program with its window."""

from __future__ import annotations

import sys
import traceback
from pathlib import Path
from types import TracebackType

from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QApplication

from railmap.resources import icon_path
from railmap.ui.habits import Habits
from railmap.ui.settings import Settings
from railmap.ui.window import Window


def run(path: Path | None, settings: Settings | None = None) -> int:
    """Open the window and stay until it is closed.

    Parameters
    ----------
    path : Path or None
        A map to open; None for the first page over a new one.
    settings : Settings, optional
        The user's own by default.

    Returns
    -------
    int
        Exit code.
    """
    app = QApplication.instance() or QApplication(sys.argv[:1])
    assert isinstance(app, QApplication)
    app.setApplicationName("railmap")
    app.setDesktopFileName("railmap")
    app.setStyle("Fusion")
    app.setWindowIcon(QIcon(str(icon_path("railmap"))))
    window = Window(settings or Settings())
    sys.excepthook = _Reporter(window)
    Habits(window).begin(path)
    window.show()
    return app.exec()


class _Reporter:
    """Puts a fault of the program into one sentence; the work in the window stays."""

    def __init__(self, window: Window) -> None:
        self._window = window

    def __call__(
        self, kind: type[BaseException], error: BaseException, trace: TracebackType | None
    ) -> None:
        place = traceback.extract_tb(trace)[-1] if trace else None
        where = f" ({Path(place.filename).name}, line {place.lineno})" if place else ""
        sentence = f"A fault in railmap stopped that: {kind.__name__}: {error}{where}."
        print(sentence, file=sys.stderr)  # noqa: T201
        self._window.message.say(sentence)
