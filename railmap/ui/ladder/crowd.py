"""Room for texts: places in a row, and free spots among what is there already."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from railmap.ui.ladder.shapes import HAIR, Box

Floats = NDArray[np.float64]


def spread(wanted: Sequence[float], size: float, low: float, high: float) -> list[float]:
    """Return places for equal things in a row, near where they are wanted and none overlapping.

    The sum of the squares of all moves is the least possible (isotonic regression by pooling
    adjacent violators: M. Ayer and others, Annals of Mathematical Statistics 26, 1955, 641).

    Parameters
    ----------
    wanted : sequence of float
        Where each would begin, in rising order.
    size : float
        How much room each takes.
    low, high : float
        Where the first may begin and the last must end. If there is too little room for all,
        they begin at ``low`` and reach over ``high``.

    Examples
    --------
    >>> spread([10, 12, 40], 10, 0, 100)
    [6.0, 16.0, 40.0]
    """
    pools: list[tuple[float, int]] = []
    for number, place in enumerate(wanted):
        total, count = place - number * size, 1
        while pools and pools[-1][0] / pools[-1][1] > total / count:
            before, several = pools.pop()
            total, count = total + before, count + several
        pools.append((total, count))
    last = high - len(wanted) * size
    found: list[float] = []
    for total, count in pools:
        start = max(min(total / count, last), low)
        found += [start + number * size for number in range(len(found), len(found) + count)]
    return found


class Crowd:
    """What is taken on the drawing; finds spots for texts that must not run into each other."""

    LINE_COST = 4.0
    GOOD_COST = 1.6
    REACH_X, REACH_Y = 150.0, 80.0
    """How far from what it belongs to a text may be."""

    def __init__(self, taken: Iterable[Box], lines: Iterable[Box], room: Box, more: int) -> None:
        held = [*taken]
        self._count = len(held)
        # Room for what is taken later, so that nothing is copied.
        self._taken = np.full((len(held) + more, 4), np.nan)
        self._taken[: self._count] = np.array(held, dtype=float).reshape(-1, 4)
        self._lines = np.array([*lines], dtype=float).reshape(-1, 4)
        self._room = room

    def take(self, box: Box) -> None:
        """Keep others off a box."""
        self._taken[self._count] = box
        self._count += 1

    def settle(
        self, about: Box, options: Iterable[tuple[Box, float]], most: float, kept: int = -1
    ) -> int:
        """Return which of some boxes is best, -1 if none is good enough.

        Parameters
        ----------
        about : Box
            What the text belongs to.
        options : iterable of Box and float
            Where it may be, and what each costs by itself, those to be preferred first; every
            line that it covers costs more.
        most : float
            What it may cost at most.
        kept : int
            The one it had before, which it keeps while that is free and no worse than ``most``.
        """
        near = Box(
            about.left - self.REACH_X, about.top - self.REACH_Y,
            about.right + self.REACH_X, about.bottom + self.REACH_Y,
        )  # fmt: skip
        taken, lines = _near(self._taken[: self._count], near), _near(self._lines, near)
        best, least = -1, most
        for number, (box, base) in enumerate(options):
            if base >= least and number < kept:
                continue
            if not self._is_free(box, taken):
                continue
            cost = base + self.LINE_COST * _hits(box, lines)
            if number == kept and cost <= most:
                return number
            if cost < least:
                best, least = number, cost
            if least <= self.GOOD_COST and number >= kept:
                break
        return best

    def _is_free(self, box: Box, taken: list[list[float]]) -> bool:
        room = self._room
        if box.left < room.left or box.right > room.right:
            return False
        if box.top < room.top or box.bottom > room.bottom:
            return False
        return not _hits(box, taken)


def _near(boxes: Floats, near: Box) -> list[list[float]]:
    """Return the boxes that reach into another, as plain lists."""
    left, top, right, bottom = near
    hit = (boxes[:, 0] < right) & (boxes[:, 2] > left)
    hit &= (boxes[:, 1] < bottom) & (boxes[:, 3] > top)
    return boxes[hit].tolist()


def _hits(box: Box, others: list[list[float]]) -> int:
    """Return how many others a box overlaps, see :meth:`Box.overlaps`."""
    left, top, right, bottom = box
    right, bottom = right - HAIR, bottom - HAIR
    count = 0
    for x0, y0, x1, y1 in others:
        # Unpacked, for this is asked some thousand times a frame.
        if x0 < right and left < x1 - HAIR and y0 < bottom and top < y1 - HAIR:
            count += 1
    return count
