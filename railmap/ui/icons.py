"""The program's own icons, drawn in the ink of the theme."""

from __future__ import annotations

from PySide6.QtCore import QByteArray, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QIcon, QPainter, QPixmap
from PySide6.QtSvg import QSvgRenderer

from railmap.resources import icon_path

SIZES = (16, 20, 24, 32, 48)


def icon(name: str, ink: QColor, soft: QColor) -> QIcon:
    """Return an icon by name, in one colour and greyed for what cannot be used now.

    Parameters
    ----------
    name : str
        File name without its ending.
    ink, soft : QColor
        Colour of the icon, and of its greyed form.
    """
    text = icon_path(name).read_text(encoding="utf-8")
    found = QIcon()
    for colour, mode in ((ink, QIcon.Mode.Normal), (soft, QIcon.Mode.Disabled)):
        renderer = QSvgRenderer(QByteArray(text.replace("currentColor", colour.name()).encode()))
        for size in SIZES:
            for ratio in (1.0, 2.0):
                found.addPixmap(_pixmap(renderer, size, ratio), mode)
    return found


def _pixmap(renderer: QSvgRenderer, size: int, ratio: float) -> QPixmap:
    pixmap = QPixmap(QSize(size, size) * ratio)
    pixmap.setDevicePixelRatio(ratio)
    pixmap.fill(Qt.GlobalColor.transparent)
    painter = QPainter(pixmap)
    renderer.render(painter, QRectF(0, 0, size, size))
    painter.end()
    return pixmap
