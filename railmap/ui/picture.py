"""Floor and ladder as picture files, painted by the same items as the window."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Protocol

from PySide6.QtCore import QRectF, QSize
from PySide6.QtGui import QFont, QPainter, QPen
from PySide6.QtWidgets import QApplication, QGraphicsItem

from railmap.errors import MapError
from railmap.model.railmap import RailMap
from railmap.solve.solution import Solution
from railmap.ui import theme as themes
from railmap.ui.canvas.legend import draw_legend
from railmap.ui.canvas.scene import FloorScene
from railmap.ui.ladder.figures import Mark
from railmap.ui.ladder.lettering import QtLettering
from railmap.ui.ladder.paint import paint_ladder
from railmap.ui.ladder.scene import LadderScene
from railmap.ui.paper import write_picture, writer_of
from railmap.ui.title_block import EDGE, HEIGHT, Heading, heading_of, paint_block

VIEWS = ("floor", "ladder")
LEGEND_PX = QRectF(0, 0, 300, 44)
SHEET_PX = 1100
"""A wider picture is this one, enlarged. As the page of a PDF it is about as wide as A4 lying."""
NARROW_PX = 700
"""Below this width the legend stands above the words, not beside them."""
LEAST_PX = 60
"""A view is at least so high, however small the page."""
SQUARE_FROM = 1.2
"""A ladder is not drawn wider than this for its height."""


class _View(Protocol):
    theme: themes.Theme
    has_legend: bool

    def height(self, wide: int) -> int:
        """Return the height that goes well with a width, pixels."""
        ...

    def paint(self, painter: QPainter, room: QRectF) -> None:
        """Paint into a box."""
        ...

    def close(self) -> None:
        """Give up what it was painted from."""
        ...


def draw(
    m: RailMap, solution: Solution, out: Path, width_px: int = 1600,
    theme: themes.Theme | None = None, view: str = "floor", setup: str = "",
    marks: tuple[Mark, ...] = (),
) -> None:  # fmt: skip
    """Write a view with a solution's figures to a PNG, SVG or PDF file.

    Parameters
    ----------
    m : RailMap
        The map.
    solution : Solution
        What its parts do.
    out : Path
        File to write; its ending, ``.png``, ``.svg`` or ``.pdf``, tells the format.
    width_px : int
        Width of the picture; a PDF is never wider than a sheet.
    theme : Theme, optional
        Colours, and how figures are written; those of paper, with a point, by default.
    view : str
        ``floor`` or ``ladder``.
    setup : str
        Name of the setup that was solved, for the title block.
    marks : tuple of Mark
        Readings to show on the ladder.

    Raises
    ------
    MapError
        If the ending or the view is another one.
    FileError
        If the file cannot be written.
    """
    writer_of(out)
    sheet = sheet_of(m, solution, theme or themes.light(), view, setup, marks)
    sheet.set_width(min(width_px, SHEET_PX))
    scale = 1.0 if out.suffix.lower() == ".pdf" else width_px / sheet.wide
    try:
        write_picture(out, sheet.size(scale), m.title, lambda p: sheet.paint(p, scale))
    finally:
        sheet.close()


def sheet_of(
    m: RailMap, solution: Solution, theme: themes.Theme, view: str, setup: str = "",
    marks: tuple[Mark, ...] = (),
) -> Sheet:  # fmt: skip
    """Return a sheet with a view on it, to be given its size and painted; see :func:`draw`.

    Raises
    ------
    MapError
        If there is no such view.
    """
    if view not in VIEWS:
        raise MapError(f"there is no view {view!r}; the views are {' and '.join(VIEWS)}")
    app = QApplication.instance() or QApplication(sys.argv[:1])
    assert isinstance(app, QApplication)
    shown: _View = (
        _Floor(m, solution, theme, app) if view == "floor"
        else _Ladder(m, solution, theme, app, marks)
    )  # fmt: skip
    return Sheet(shown, heading_of(solution, view.capitalize(), theme.figures, setup), app.font())


class Sheet:
    """A view with its title block, in pixels of a sheet; it has to be given a size."""

    def __init__(self, shown: _View, heading: Heading, font: QFont) -> None:
        self._shown, self._heading, self._font = shown, heading, font
        self.wide = 0
        self._narrow, self._foot, self._high = False, 0.0, 0.0

    @property
    def is_upright(self) -> bool:
        """True if the view is rather higher than wide."""
        return self._shown.height(SHEET_PX) > SHEET_PX

    def set_width(self, wide: int) -> None:
        """Give it a width, and the height that goes well with it; pixels."""
        self._set_foot(wide)
        self._high = self._shown.height(wide) + self._foot

    def set_size(self, wide: int, high: int) -> None:
        """Give it the size of a page, pixels; the view takes what room there is."""
        self._set_foot(wide)
        self._high = max(float(high), self._foot + LEAST_PX)

    def _set_foot(self, wide: int) -> None:
        self.wide = wide
        self._narrow = self._shown.has_legend and wide < NARROW_PX
        self._foot = HEIGHT + (LEGEND_PX.height() + EDGE if self._narrow else 0)

    def size(self, scale: float) -> QSize:
        """Return its size, enlarged."""
        return QSize(round(self.wide * scale), round(self._high * scale))

    def paint(self, painter: QPainter, scale: float) -> None:
        """Paint view, legend and title block."""
        theme, high = self._shown.theme, self._high
        size = self.size(scale)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(QRectF(0, 0, size.width(), size.height()), theme.floor)
        painter.scale(scale, scale)
        painter.setFont(self._font)
        self._shown.paint(painter, QRectF(0, 0, self.wide, high - self._foot))
        box = QRectF(0, high - self._foot, self.wide, self._foot)
        painter.fillRect(box, theme.panel)
        painter.setPen(QPen(theme.line, 1))
        painter.drawLine(box.topLeft(), box.topRight())
        if self._shown.has_legend:
            _paint_legend(painter, box, theme)
        if self._narrow:
            box = box.adjusted(0, LEGEND_PX.height() + EDGE, 0, 0)
        elif self._shown.has_legend:
            box = box.adjusted(LEGEND_PX.width() + 2 * EDGE, 0, 0, 0)
        paint_block(painter, box, self._heading, theme)

    def close(self) -> None:
        """Give up what it was painted from."""
        self._shown.close()


def _paint_legend(painter: QPainter, box: QRectF, theme: themes.Theme) -> None:
    """Paint what the colours mean into the corner of the foot."""
    painter.save()
    painter.translate(box.left() + EDGE, box.top() + EDGE)
    scale = LEGEND_PX.width() / 100
    painter.scale(scale, scale)
    draw_legend(painter, QRectF(0, 0, 100, LEGEND_PX.height() / scale), theme)
    painter.restore()


class _Floor:
    """The floor, to scale."""

    has_legend = True

    def __init__(
        self, m: RailMap, solution: Solution, theme: themes.Theme, app: QApplication
    ) -> None:
        self.theme = theme
        self._scene = FloorScene(theme, app)
        self._scene.show_map(m)
        self._scene.show_solution(solution)
        self._scene.set_theme(theme)
        for item in self._scene.items():
            # A cached item would go into the picture as pixels.
            item.setCacheMode(QGraphicsItem.CacheMode.NoCache)
        self._box = self._scene.extent()

    def height(self, wide: int) -> int:
        """See :class:`_View`."""
        return max(1, round(wide * self._box.height() / self._box.width()))

    def paint(self, painter: QPainter, room: QRectF) -> None:
        """See :class:`_View`."""
        scale = min(room.width() / self._box.width(), room.height() / self._box.height())
        size = self._box.size() * scale
        box = QRectF(0, 0, size.width(), size.height())
        box.moveCenter(room.center())
        self._scene.render(painter, box, self._box)

    def close(self) -> None:
        """See :class:`_View`."""
        self._scene.deleteLater()


class _Ladder:
    """The ladder, whole; it has a legend of its own."""

    has_legend = False

    def __init__(
        self, m: RailMap, solution: Solution, theme: themes.Theme, app: QApplication,
        marks: tuple[Mark, ...],
    ) -> None:  # fmt: skip
        self.theme = theme
        self._scene = LadderScene(QtLettering(app.font()), theme.figures)
        self._scene.show_map(m)
        self._scene.show_solution(solution)
        self._scene.set_marks(marks)

    def height(self, wide: int) -> int:
        """See :class:`_View`."""
        return round(wide / SQUARE_FROM)

    def paint(self, painter: QPainter, room: QRectF) -> None:
        """See :class:`_View`."""
        paint_ladder(painter, room.adjusted(EDGE, EDGE, -EDGE, -4), self._scene, self.theme)

    def close(self) -> None:
        """See :class:`_View`; it is plain Python."""
