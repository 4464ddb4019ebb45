"""Many rectangles at once: rows of left, top, right and bottom, in millimetres."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


def corners(rect: QRectF) -> tuple[float, float, float, float]:
    """Return a rectangle as left, top, right and bottom."""
    return rect.left(), rect.top(), rect.right(), rect.bottom()


def boxes_of(rects: Iterable[QRectF]) -> Floats:
    """Return rectangles as rows."""
    return np.array([corners(rect) for rect in rects]).reshape(-1, 4)


def around_all(boxes: Floats) -> QRectF:
    """Return the box around some boxes; an empty one around none."""
    if not len(boxes):
        return QRectF()
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    return QRectF(QPointF(*low.tolist()), QPointF(*high.tolist()))


def meets(boxes: Floats, box: Floats) -> NDArray[np.bool_]:
    """Tell which boxes have a point in common with one, if only on an edge."""
    left, top, right, bottom = boxes.T
    return (left <= box[2]) & (box[0] <= right) & (top <= box[3]) & (box[1] <= bottom)


def touched(boxes: Floats, low: Floats, high: Floats) -> Ints:
    """Return how many boxes each of many others reaches into.

    Parameters
    ----------
    boxes : numpy.ndarray
        Boxes that may be reached into.
    low, high : numpy.ndarray
        Upper left and lower right corners of the others, one pair a row.
    """
    left, top, right, bottom = boxes.T
    hit = (left < high[:, :1]) & (low[:, :1] < right)
    hit &= top < high[:, 1:]
    hit &= low[:, 1:] < bottom
    return np.count_nonzero(hit, axis=1)
