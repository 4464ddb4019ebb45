"""Finds a free spot for the label of a rail, near the top of its run. All in millimetres."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from railmap.ui.canvas.boxes import Floats, meets, touched

BESIDE_MM = 1.5
"""Room kept between labels side by side."""
OVER_MM = -9.1
"""Where a label is best, from the top of its run: in the gap over a row of tiles."""
ROWS_MM = (*(OVER_MM + 2.4 * k for k in range(-6, 13)), -36.1, 44.9, -63.1, 71.9)
"""Where a label may be: near the top in steps, for that may be in a gap; else in other gaps."""
NAME_MM = 9.0
"""Strip along a board's top that its name takes."""

_STEPS = np.array([(5.0 * k, dy) for dy in ROWS_MM for k in range(-7, 8)])
_STEP_COST = 0.5 * np.abs(_STEPS[:, 0]) + 0.7 * np.abs(_STEPS[:, 1] - OVER_MM)
TAKEN_COST, OUTSIDE_COST = 90.0, 60.0


class Want(NamedTuple):
    """A label that wants a spot.

    Attributes
    ----------
    extent : float
        How far its rail reaches, by which labels have their order.
    x, y : float
        Top of its run.
    wide, high : float
        Its size.
    sheet : tuple of float
        Left, top, right and bottom of its board; empty if it is on none.
    """

    extent: float
    x: float
    y: float
    wide: float
    high: float
    sheet: tuple[float, ...]


Key = Hashable


class Spots:
    """Spots of labels, one after the other; each keeps clear of tiles and of the labels before it.

    Parameters
    ----------
    tiles : numpy.ndarray
        Boxes of the tiles.
    wants : dict of hashable to Want
        The labels, in their order.
    before : Spots, optional
        Those of the floor before a change: they are kept wherever nothing near has changed. The
        result is the same as without them.

    Attributes
    ----------
    boxes : dict of hashable to numpy.ndarray
        The spot of each label: left, top, right and bottom.
    """

    def __init__(
        self, tiles: Floats, wants: Mapping[Key, Want], before: Spots | None = None
    ) -> None:
        self._tiles, self._wants = tiles, wants
        self.boxes: dict[Key, Floats] = {}
        self._around: dict[Key, Floats] = {}
        held = {} if before is None else before._wants
        same = [key for key, want in wants.items() if held.get(key) == want]
        self._kept = set(same)
        self._keys = same
        self._looked = np.array([before._around[key] for key in same] if before else [])
        if before is not None:
            self._upset(_other_rows(before._tiles, tiles))
            self._upset([box for key, box in before.boxes.items() if key not in self._kept])
        taken = np.concatenate((tiles, np.zeros((len(wants), 4))))
        for count, (key, want) in enumerate(wants.items(), len(tiles)):
            was = None if before is None else before.boxes.get(key)
            if before is not None and was is not None and key in self._kept:
                self._around[key], self.boxes[key] = before._around[key], was
            else:
                self._around[key], self.boxes[key] = _settled(want, taken[:count])
                if was is None or (was != self.boxes[key]).any():
                    self._upset([self.boxes[key]] if was is None else [self.boxes[key], was])
            taken[count] = self.boxes[key]

    def _upset(self, changed: Iterable[Floats]) -> None:
        """Give up the spots of labels that looked at a place where something has changed."""
        for box in changed if self._kept else ():
            self._kept.difference_update(
                self._keys[i] for i in np.flatnonzero(meets(self._looked, box))
            )


def _settled(want: Want, held: Floats) -> tuple[Floats, Floats]:
    """Return the place that a label looked at for a spot, and the best one."""
    half = np.array([(want.wide + BESIDE_MM) / 2, want.high / 2])
    middles = np.array([want.x, want.y]) + _STEPS
    low, high = middles - half, middles + half
    around = np.concatenate((low.min(axis=0), high.max(axis=0)))
    cost = _STEP_COST + TAKEN_COST * touched(held[meets(held, around)], low, high)
    if want.sheet:
        cost = cost + OUTSIDE_COST * _outside(low, high, want.sheet)
    best = int(np.argmin(cost))
    return around, np.concatenate((low[best], high[best]))


def _other_rows(one: Floats, other: Floats) -> Floats:
    """Return the boxes that only one of two tables has."""
    if one.shape == other.shape:
        moved = (one != other).any(axis=1)
        return np.concatenate((one[moved], other[moved]))
    had, has = set(map(tuple, one.tolist())), set(map(tuple, other.tolist()))
    return np.array(sorted(had ^ has)).reshape(-1, 4)


def _outside(low: Floats, high: Floats, sheet: tuple[float, ...]) -> NDArray[np.bool_]:
    """Tell which boxes reach over the edge of a board or into the strip of its name."""
    left, top, right, bottom = sheet
    found = (low[:, 0] < left) | (high[:, 0] > right)
    return found | (low[:, 1] < top + NAME_MM) | (high[:, 1] > bottom)
