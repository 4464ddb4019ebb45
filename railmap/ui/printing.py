"""Prints a view on one page, as the picture of it is painted, with title block and legend."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from PySide6.QtGui import QColor, QPageLayout, QPainter
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtWidgets import QWidget

from railmap.errors import FileError
from railmap.figures import Figures
from railmap.model.railmap import RailMap
from railmap.solve.solution import Solution
from railmap.ui import theme as themes
from railmap.ui.paper import POINT_PX
from railmap.ui.picture import Sheet, sheet_of

WHITE = QColor("white")


@dataclass(frozen=True)
class Page:
    """What is printed.

    Attributes
    ----------
    sheet : Sheet
        The view with its title block.
    title : str
        What the print is called where it waits for its turn.
    """

    sheet: Sheet
    title: str

    def close(self) -> None:
        """Give up what it was painted from."""
        self.sheet.close()


def page_of(m: RailMap, solution: Solution, figures: Figures, view: str, setup: str = "") -> Page:
    """Return a page with a view on it, in the colours of paper.

    Parameters
    ----------
    m : RailMap
        The map.
    solution : Solution
        What its parts do.
    figures : Figures
        How figures are written.
    view : str
        ``floor`` or ``ladder``.
    setup : str
        Name of the setup that was solved, for the title block.
    """
    # Nobody wants a whole page of ink for the ground.
    theme = replace(themes.light(figures), floor=WHITE, panel=WHITE)
    return Page(sheet_of(m, solution, theme, view, setup), f"{m.title or 'Map'}, {view}")


def ask_printer(page: Page, window: QWidget, title: str) -> QPrinter | None:
    """Ask for a printer and its paper; None if nothing is to be printed.

    The paper lies or stands as it suits the view, until another way is chosen.
    """
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    prepare(printer, page)
    dialog = QPrintDialog(printer, window)
    dialog.setWindowTitle(title)
    option = QPrintDialog.PrintDialogOption
    for unwanted in (option.PrintPageRange, option.PrintSelection, option.PrintCurrentPage):
        dialog.setOption(unwanted, False)
    chosen = dialog.exec() == QPrintDialog.DialogCode.Accepted
    dialog.deleteLater()
    return printer if chosen else None


def prepare(printer: QPrinter, page: Page) -> None:
    """Tell a printer what is to come, and turn its paper to suit it."""
    printer.setDocName(page.title)
    ways = QPageLayout.Orientation
    printer.setPageOrientation(ways.Portrait if page.sheet.is_upright else ways.Landscape)


def print_page(printer: QPrinter, page: Page) -> None:
    """Print on one page; the view takes the room that its margins leave.

    Raises
    ------
    FileError
        If the printer, or the file that is written in its place, cannot be had.
    """
    _check(printer.outputFileName())
    room = printer.pageLayout().paintRectPoints()
    page.sheet.set_size(round(room.width() / POINT_PX), round(room.height() / POINT_PX))
    painter = QPainter()
    if not painter.begin(printer):
        raise FileError(f"{printer.printerName() or 'the printer'} cannot be printed to")
    scale = printer.resolution() / 72 * POINT_PX
    painter.scale(scale, scale)
    page.sheet.paint(painter, 1.0)
    painter.end()


def _check(name: str) -> None:
    """Find out whether a file can be written in place of a printer: Qt does not say why not."""
    if name:
        try:
            with Path(name).open("ab"):
                pass
        except OSError as error:
            why = (error.strerror or "").lower()
            raise FileError(f"{name} cannot be written: {why}") from None
