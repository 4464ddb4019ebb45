"""Writes a drawing to a picture file: PNG, SVG, or PDF of one page."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QBuffer, QByteArray, QMarginsF, QRectF, QSize, QSizeF
from PySide6.QtGui import QImage, QImageWriter, QPageLayout, QPageSize, QPainter, QPdfWriter
from PySide6.QtSvg import QSvgGenerator

from railmap.errors import FileError, MapError

POINT_PX = 0.75
"""Points of a sheet for a pixel of the drawing, so that text of 12 pixels is one of 9 points."""
Paint = Callable[[QPainter], None]


def write_picture(out: Path, size: QSize, title: str, paint: Paint) -> None:
    """Paint into a file; its ending, ``.png``, ``.svg`` or ``.pdf``, tells the format.

    Parameters
    ----------
    out : Path
        File to write.
    size : QSize
        Size of the drawing, pixels.
    title : str
        What the file says of itself.
    paint : callable
        Paints the drawing with a painter whose units are pixels.

    Raises
    ------
    MapError
        If the ending is another one.
    FileError
        If the file cannot be written.
    """
    writer = writer_of(out)
    # Drawn in memory first, so that a file that cannot be written is found out by one sentence.
    data = QBuffer()
    data.open(QBuffer.OpenModeFlag.WriteOnly)
    writer(data, size, title, paint)
    try:
        out.write_bytes(data.data().data())
    except OSError as error:
        raise FileError(f"{out} cannot be written: {(error.strerror or '').lower()}") from None


def writer_of(out: Path) -> Callable[[QBuffer, QSize, str, Paint], None]:
    """Return what writes a file with the ending of this one.

    Raises
    ------
    MapError
        If there is none.
    """
    writer = {".png": _png, ".svg": _svg, ".pdf": _pdf}.get(out.suffix.lower())
    if writer is None:
        ending = repr(out.suffix) if out.suffix else "nothing"
        raise MapError(f"a picture file ends in .png, .svg or .pdf, not in {ending}")
    return writer


def _png(data: QBuffer, size: QSize, title: str, paint: Paint) -> None:
    image = QImage(size, QImage.Format.Format_RGB32)
    image.setText("Title", title)
    painter = QPainter(image)
    paint(painter)
    painter.end()
    QImageWriter(data, QByteArray(b"PNG")).write(image)


def _svg(data: QBuffer, size: QSize, title: str, paint: Paint) -> None:
    generator = QSvgGenerator()
    generator.setOutputDevice(data)
    generator.setSize(size)
    generator.setViewBox(QRectF(0, 0, size.width(), size.height()))
    generator.setTitle(title)
    painter = QPainter(generator)
    paint(painter)
    painter.end()


def _pdf(data: QBuffer, size: QSize, title: str, paint: Paint) -> None:
    writer = QPdfWriter(data)
    points = QSizeF(size.width() * POINT_PX, size.height() * POINT_PX)
    page = QPageSize(points, QPageSize.Unit.Point, "", QPageSize.SizeMatchPolicy.ExactMatch)
    way = QPageLayout.Orientation.Portrait
    writer.setPageLayout(QPageLayout(page, way, QMarginsF(0, 0, 0, 0)))
    writer.setTitle(title)
    painter = QPainter(writer)
    scale = writer.resolution() / 72 * POINT_PX
    painter.scale(scale, scale)
    paint(painter)
    painter.end()
