"""The floor as a picture file, painted by the same items as the window."""

from __future__ import annotations

import sys
from pathlib import Path

from PySide6.QtCore import QBuffer, QMarginsF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QImage, QPainter
from PySide6.QtSvg import QSvgGenerator
from PySide6.QtWidgets import QApplication, QGraphicsItem

from railmap.errors import FileError, MapError
from railmap.model.railmap import RailMap
from railmap.solve.solution import Solution
from railmap.ui import theme as themes
from railmap.ui.canvas.items import RIGHT, draw_text, text_font
from railmap.ui.canvas.legend import draw_legend
from railmap.ui.canvas.scene import FloorScene

FOOT_MM = 14.0


def draw(
    m: RailMap, solution: Solution, out: Path, width_px: int = 1600, dark: bool = False
) -> None:
    """Write the floor with a solution's figures to a PNG or SVG file.

    Parameters
    ----------
    m : RailMap
        The map.
    solution : Solution
        What its parts do.
    out : Path
        File to write; its ending, ``.png`` or ``.svg``, tells the format.
    width_px : int
        Width of the picture.
    dark : bool
        True for the dark colours.

    Raises
    ------
    MapError
        If the ending is another one.
    FileError
        If the file cannot be written.
    """
    ending = out.suffix.lower()
    if ending not in (".png", ".svg"):
        raise MapError(f"a picture file ends in .png or .svg, not in {out.suffix or 'nothing'!r}")
    app = QApplication.instance() or QApplication(sys.argv[:1])
    scene = FloorScene(themes.dark() if dark else themes.light(), app)
    try:
        scene.show_map(m)
        scene.show_solution(solution)
        scene.set_theme(scene.theme)
        for item in scene.items():
            # A cached item would go into the picture as pixels.
            item.setCacheMode(QGraphicsItem.CacheMode.NoCache)
        box = scene.extent().marginsAdded(QMarginsF(0, 0, 0, FOOT_MM))
        size = QSize(width_px, round(width_px * box.height() / box.width()))
        write = _svg if ending == ".svg" else _png
        write(scene, m, solution, box, size, out)
    finally:
        scene.deleteLater()


def _png(
    scene: FloorScene, m: RailMap, solution: Solution, box: QRectF, size: QSize, out: Path
) -> None:
    image = QImage(size, QImage.Format.Format_RGB32)
    image.fill(QColor(scene.theme.floor))
    painter = QPainter(image)
    _paint(painter, scene, m, solution, box, size)
    painter.end()
    if not image.save(str(out)):
        raise FileError(f"{out} cannot be written")


def _svg(
    scene: FloorScene, m: RailMap, solution: Solution, box: QRectF, size: QSize, out: Path
) -> None:
    # Drawn in memory first, so that a file that cannot be written is found out by one sentence.
    data = QBuffer()
    data.open(QBuffer.OpenModeFlag.WriteOnly)
    generator = QSvgGenerator()
    generator.setOutputDevice(data)
    generator.setSize(size)
    generator.setViewBox(QRectF(0, 0, size.width(), size.height()))
    generator.setTitle(m.title)
    painter = QPainter(generator)
    _paint(painter, scene, m, solution, box, size)
    painter.end()
    try:
        out.write_bytes(data.data().data())
    except OSError as error:
        raise FileError(f"{out} cannot be written: {(error.strerror or '').lower()}") from None


def _paint(
    painter: QPainter, scene: FloorScene, m: RailMap, solution: Solution, box: QRectF, size: QSize
) -> None:
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    target = QRectF(0, 0, size.width(), size.height())
    scene.render(painter, target, box, Qt.AspectRatioMode.KeepAspectRatio)
    scale = size.width() / box.width()
    painter.scale(scale, scale)
    foot = QRectF(8, box.height() - FOOT_MM - 2, box.width() - 16, FOOT_MM)
    draw_legend(painter, foot.adjusted(0, 0, -foot.width() + 110, 0), scene.theme)
    painter.setPen(scene.theme.ink)
    mains = solution.network.circuit.mains_ratio * m.mains_volts
    title = QRectF(foot.left() + 115, foot.top(), foot.width() - 115, 6)
    draw_text(painter, title, RIGHT, f"{m.title} at {mains:g} V mains", text_font(5, bold=True))
    painter.setPen(scene.theme.soft_ink)
    note = "Forecast from the map, not a permission: prove the unit dead before you touch it."
    draw_text(painter, title.translated(0, 6.5), RIGHT, note, text_font(3.8))
