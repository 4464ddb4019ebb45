"""Saving and printing pictures from the window: the dialogs, and what they are told of it."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QObject, Slot
from PySide6.QtWidgets import QFileDialog, QWidget

from railmap.errors import RailmapError
from railmap.ui import theme as themes
from railmap.ui.bridge import Bridge, sentence

FILTER = "Pictures (*.png *.svg *.pdf)"
WIDTH_PX = {"floor": 2400, "ladder": 1600}


class PictureDesk(QObject):
    """Saves what is seen as a picture, or prints it, in the colours of paper.

    Parameters
    ----------
    bridge : Bridge
        The map and its solution.
    theme : Theme
        How its figures are written; the colours are those of paper.
    window : QWidget
        What owns the dialog.
    """

    def __init__(self, bridge: Bridge, theme: themes.Theme, window: QWidget) -> None:
        super().__init__(window)
        self._bridge, self._window = bridge, window
        self.set_theme(theme)

    def set_theme(self, theme: themes.Theme) -> None:
        """Write figures as another theme does."""
        self._figures = theme.figures

    @Slot()
    def save_floor(self) -> None:
        """Ask for a file and save the floor to it."""
        self._save("floor")

    @Slot()
    def save_ladder(self) -> None:
        """Ask for a file and save the ladder to it."""
        self._save("ladder")

    @Slot()
    def print_floor(self) -> None:
        """Ask for a printer and print the floor on it."""
        self._print("floor")

    @Slot()
    def print_ladder(self) -> None:
        """Ask for a printer and print the ladder on it."""
        self._print("ladder")

    def _print(self, view: str) -> None:
        # Printing is not needed to open the window.
        from railmap.ui.printing import ask_printer, page_of, print_page

        bridge = self._bridge
        if bridge.solution is None:
            bridge.trouble.emit("There is nothing to print before the map is solved.")
            return
        page = page_of(bridge.map, bridge.solution, self._figures, view, bridge.setup_name)
        try:
            printer = ask_printer(page, self._window, f"Print the {view}")
            if printer is not None:
                print_page(printer, page)
        except RailmapError as error:
            bridge.trouble.emit(sentence(error))
        finally:
            page.close()

    def _save(self, view: str) -> None:
        # The drawing is not needed to open the window.
        from railmap.ui.picture import draw

        bridge = self._bridge
        if bridge.solution is None:
            bridge.trouble.emit("There is no picture to save before the map is solved.")
            return
        start = str(self._start(view))
        title = f"Save the {view} as a picture"
        name, _ = QFileDialog.getSaveFileName(self._window, title, start, FILTER)
        if not name:
            return
        path = Path(name)
        if not path.suffix:
            # The dialog asked about the name as it was typed, not about this one.
            path = path.with_suffix(".png")
            if path.exists():
                bridge.trouble.emit(f"{path.name} is there already; name it in full to replace it.")
                return
        try:
            draw(bridge.map, bridge.solution, path, WIDTH_PX[view], themes.light(self._figures),
                 view=view, setup=bridge.setup_name)  # fmt: skip
        except RailmapError as error:
            bridge.trouble.emit(sentence(error))

    def _start(self, view: str) -> Path:
        """Return the file to propose."""
        path = self._bridge.path
        if path is not None:
            folder, stem = path.parent, path.stem
        else:
            folder, stem = Path.home(), self._bridge.map.title.lower().replace(" ", "_") or "map"
        return folder / f"{stem}{'' if view == 'floor' else '_ladder'}.png"
