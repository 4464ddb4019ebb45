"""What all tests share: no window on the screen, repeatable random tests, one look for the window.

Qt itself is imported in the fixtures only, so that the other tests pay nothing for it.
"""

import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

if TYPE_CHECKING:
    from PySide6.QtWidgets import QApplication

UI_TESTS = Path(__file__).parent / "ui"
WINDOW_TESTS = os.environ.get("RAILMAP_WINDOW_TESTS") == "1"

# Qt reads this when the application object is made, long after this file.
if not WINDOW_TESTS:
    os.environ["QT_QPA_PLATFORM"] = "offscreen"
elif sys.platform == "linux":
    os.environ["QT_QPA_PLATFORM"] = "xcb"

settings.register_profile("default", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True, print_blob=True)
settings.load_profile("ci" if os.environ.get("CI") else "default")


def pytest_configure(config: pytest.Config) -> None:
    """Refuse to run window tests without an X display: Qt would abort the whole run."""
    if WINDOW_TESTS and sys.platform == "linux" and not os.environ.get("DISPLAY"):
        raise pytest.UsageError("RAILMAP_WINDOW_TESTS=1 needs an X display; try xvfb-run -a.")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Skip the tests that need a real window, unless they were asked for."""
    if WINDOW_TESTS:
        return
    skip = pytest.mark.skip(reason="needs a real window: RAILMAP_WINDOW_TESTS=1 xvfb-run -a ...")
    for item in items:
        if item.get_closest_marker("window"):
            item.add_marker(skip)


@pytest.fixture(scope="session")
def plain_app(qapp: "QApplication") -> "QApplication":
    """Give the application one style and font on every machine, and a scratch settings store."""
    from PySide6.QtCore import QStandardPaths
    from PySide6.QtGui import QFont, QFontDatabase

    QStandardPaths.setTestModeEnabled(True)
    qapp.setStyle("Fusion")
    if "DejaVu Sans" in QFontDatabase.families():
        qapp.setFont(QFont("DejaVu Sans", 9))
    return qapp


@pytest.fixture(autouse=True)
def window_manners(request: pytest.FixtureRequest) -> Iterator[None]:
    """In the tests of the window: one look, and no window or worker left behind."""
    if UI_TESTS not in request.path.parents:
        yield
        return
    app: QApplication = request.getfixturevalue("plain_app")
    yield
    from PySide6.QtCore import QThreadPool

    left = [window for window in app.topLevelWidgets() if window.isVisible()]
    for window in left:
        window.close()
    assert not left, f"windows left open: {left}"
    assert QThreadPool.globalInstance().waitForDone(1000), "a worker is still at work"
