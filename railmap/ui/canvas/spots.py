"""Finds a free spot for the label of a rail, near the top of its run. All in millimetres."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, QSizeF

from railmap.ui.canvas.boxes import Floats, corners, meets, touched

BESIDE_MM = 1.5
"""Room kept between labels side by side."""
ROWS_MM = (-9.1, 0.0, 17.9, -36.1, 44.9, -63.1, 71.9)
"""Where a label may be, from the top of its run: over the top, beside it, in the rows' gaps."""
NAME_MM = 9.0
"""Strip along a board's top that its name takes."""

_STEPS = np.array([(5.0 * k, dy) for dy in ROWS_MM for k in range(-7, 8)])
_STEP_COST = 0.5 * np.abs(_STEPS[:, 0]) + 0.7 * np.abs(_STEPS[:, 1] - ROWS_MM[0])
TAKEN_COST, OUTSIDE_COST = 90.0, 60.0

_Key = tuple[float, ...]


class Spots:
    """What is taken on the floor, by tiles and by the labels that have their spot.

    Parameters
    ----------
    tiles : numpy.ndarray
        Boxes of the tiles.
    room : int
        How many labels there will be.
    before : Spots, optional
        Those of the floor before a change: what they found is used again where nothing near
        has changed.
    """

    def __init__(self, tiles: Floats, room: int, before: Spots | None = None) -> None:
        self._boxes = np.concatenate((tiles, np.zeros((room, 4))))
        self._count = len(tiles)
        self._before = {} if before is None else before._found
        self._found: dict[tuple[_Key, bytes], int] = {}

    def settle(self, at: QPointF, size: QSizeF, sheet: QRectF | None) -> QPointF:
        """Return the best spot for a label, and take it.

        Parameters
        ----------
        at : QPointF
            Top of its run.
        size : QSizeF
            Its size.
        sheet : QRectF or None
            Its board.
        """
        half = np.array([(size.width() + BESIDE_MM) / 2, size.height() / 2])
        middles = np.array([at.x(), at.y()]) + _STEPS
        low, high = middles - half, middles + half
        held = self._boxes[: self._count]
        near = held[meets(held, np.concatenate((low.min(axis=0), high.max(axis=0))))]
        edges = () if sheet is None else corners(sheet)
        key = ((at.x(), at.y(), size.width(), *edges), near.tobytes())
        best = self._before.get(key)
        if best is None:
            cost = _STEP_COST + TAKEN_COST * touched(near, low, high)
            if sheet is not None:
                cost = cost + OUTSIDE_COST * _outside(low, high, sheet)
            best = int(np.argmin(cost))
        self._found[key] = best
        self._boxes[self._count] = (*low[best], *high[best])
        self._count += 1
        return QPointF(*middles[best].tolist())


def _outside(low: Floats, high: Floats, sheet: QRectF) -> NDArray[np.bool_]:
    """Tell which boxes reach over the edge of a board or into the strip of its name."""
    left, top, right, bottom = corners(sheet)
    found = (low[:, 0] < left) | (high[:, 0] > right)
    return found | (low[:, 1] < top + NAME_MM) | (high[:, 1] > bottom)
