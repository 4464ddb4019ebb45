"""A picture file as the photo of a board: read with care, made smaller, and put into the map."""

from __future__ import annotations

import base64
from pathlib import Path

from PySide6.QtCore import QBuffer, QByteArray, QSize, Qt
from PySide6.QtGui import QImage, QImageReader, QImageWriter, QPainter

from railmap.errors import FileError, MapError
from railmap.model.board import Board, Photo

LONGEST_PX = 2000
"""Longest side of a photo in the map."""
MOST_PIXELS = 60_000_000
MOST_BYTES = 200 * 2**20
QUALITY = 85


def photo_from(path: Path, board: Board) -> Photo:
    """Return the picture of a PNG or JPEG file as a photo that fills the width of a board.

    Raises
    ------
    FileError
        If it cannot be read, is no such picture, or is too large; one sentence.
    """
    image = _smaller(_read(path))
    plain = QImage(image.size(), QImage.Format.Format_RGB32)
    # What is transparent becomes white: JPEG knows no such thing.
    plain.fill(Qt.GlobalColor.white)
    painter = QPainter(plain)
    painter.drawImage(0, 0, image)
    painter.end()
    data = QBuffer()
    data.open(QBuffer.OpenModeFlag.WriteOnly)
    writer = QImageWriter(data, QByteArray(b"jpeg"))
    writer.setQuality(QUALITY)
    if not writer.write(plain):
        raise FileError(f"{path.name} cannot be made a JPEG picture")
    text = base64.b64encode(data.data().data()).decode("ascii")
    try:
        return Photo(text, mm_per_pixel=board.width_mm / plain.width())
    except MapError as error:
        raise FileError(f"{path.name}: {error}") from None


def _read(path: Path) -> QImage:
    try:
        length = path.stat().st_size
        with path.open("rb") as file:
            file.read(1)
    except OSError as error:
        raise FileError(f"{path} cannot be read: {(error.strerror or '').lower()}") from None
    if length > MOST_BYTES:
        raise FileError(f"{path.name} is larger than {MOST_BYTES // 2**20} MiB")
    reader = QImageReader(str(path))
    reader.setDecideFormatFromContent(True)
    reader.setAutoTransform(True)
    if reader.format().data() not in (b"png", b"jpeg"):
        raise FileError(f"{path.name} is no PNG or JPEG picture")
    size = reader.size()
    if size.width() * size.height() > MOST_PIXELS:
        raise FileError(
            f"{path.name} has {size.width()} × {size.height()} pixels, and "
            f"{MOST_PIXELS // 10**6} million are the most that can be read"
        )
    image = reader.read()
    if image.isNull():
        raise FileError(f"{path.name} is damaged and cannot be read as a picture")
    return image


def _smaller(image: QImage) -> QImage:
    if max(image.width(), image.height()) <= LONGEST_PX:
        return image
    return image.scaled(
        QSize(LONGEST_PX, LONGEST_PX),
        Qt.AspectRatioMode.KeepAspectRatio,
        Qt.TransformationMode.SmoothTransformation,
    )
