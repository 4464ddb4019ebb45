"""Edits of boards: size, photo and marks.

Lengths are in millimetres; each function returns what to hand to
:meth:`railmap.bench.history.History.do`, and changes nothing itself.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from msgspec.structs import replace

from railmap.bench.edits import board_named
from railmap.errors import MapError
from railmap.model.board import Board, Mark, Photo
from railmap.model.checks import show
from railmap.model.part import Place
from railmap.model.railmap import Change, RailMap

Box = tuple[float, float, float, float]
"""Left, top, width and height on the floor."""
Point = tuple[float, float]


def resized(m: RailMap, places: Mapping[str, Place], name: str, box: Box) -> list[Change]:
    """Give a board another outline; what is on it stays where it is on the floor.

    Parameters
    ----------
    m : RailMap
        The map.
    places : dict of str to Place
        Place of every part, its own or one found for it.
    name : str
        The board.
    box : tuple of float
        Its new left, top, width and height.

    Raises
    ------
    MapError
        If there is no such board, or its size cannot be.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add_board("Main", 160, 100)
    >>> _ = m.add(Resistor("R1", "A", "B", ohms=1, board="Main", place=Place(50, 40)))
    >>> _ = m.change(resized(m, {"R1": Place(50, 40)}, "Main", (-20, 0, 180, 100)))
    >>> m.parts["R1"].place.x_mm, m.boards["Main"].width_mm
    (70.0, 180.0)
    """
    board = board_named(m, name)
    left, top, wide, high = box
    dx, dy = board.x_mm - left, board.y_mm - top
    changed = replace(board, x_mm=left, y_mm=top, width_mm=wide, height_mm=high)
    if (dx, dy) != (0.0, 0.0):
        changed = _with_all_shifted(changed, dx, dy)
    changes = [Change("boards", name, changed)]
    for ref, part in m.parts.items():
        if part.board != name:
            continue
        held = places[ref]
        place = held.moved(dx, dy)
        if place != part.place:
            changes.append(Change("parts", ref, part.changed(place=place)))
    return changes


def scaled(photo: Photo, one: Point, other: Point, length_mm: float) -> Photo:
    """Give a photo the scale that puts two of its points a given distance apart.

    Parameters
    ----------
    photo : Photo
        The photo.
    one, other : tuple of float
        The two points as they are shown on the board now; the first stays where it is.
    length_mm : float
        Their true distance.

    Raises
    ------
    MapError
        If the points are the same, or the distance is none.

    Examples
    --------
    >>> photo = Photo("/9j/", x_mm=10, mm_per_pixel=0.1)
    >>> half = scaled(photo, (20, 0), (120, 0), 50)
    >>> half.mm_per_pixel, half.x_mm
    (0.05, 15.0)
    """
    now = math.dist(one, other)
    if now < 1e-6:
        raise MapError("the two points must be apart")
    if not (math.isfinite(length_mm) and length_mm > 0):
        raise MapError(f"the distance must be above 0, is {show(length_mm)}")
    factor = length_mm / now
    return replace(
        photo,
        mm_per_pixel=photo.mm_per_pixel * factor,
        x_mm=one[0] + (photo.x_mm - one[0]) * factor,
        y_mm=one[1] + (photo.y_mm - one[1]) * factor,
    )


def photo_edit(m: RailMap, name: str, photo: Photo | None) -> list[Change]:
    """Put a photo under a board, or take it away."""
    return [Change("boards", name, replace(board_named(m, name), photo=photo))]


def marked(m: RailMap, name: str, mark: Mark) -> list[Change]:
    """Put a mark on a board."""
    board = board_named(m, name)
    return [Change("boards", name, replace(board, marks=(*board.marks, mark)))]


def remarked(m: RailMap, name: str, number: int, mark: Mark | None) -> list[Change]:
    """Put another mark in place of one of a board, or take it away.

    Raises
    ------
    MapError
        If the board has no mark of that number; they count from 0.
    """
    board = board_named(m, name)
    if not 0 <= number < len(board.marks):
        raise MapError(f"board {show(name)} has no mark {number}")
    new = () if mark is None else (mark,)
    marks = (*board.marks[:number], *new, *board.marks[number + 1 :])
    return [Change("boards", name, replace(board, marks=marks))]


def _with_all_shifted(board: Board, dx: float, dy: float) -> Board:
    marks = tuple(replace(mark, x_mm=mark.x_mm + dx, y_mm=mark.y_mm + dy) for mark in board.marks)
    photo = board.photo
    if photo is not None:
        photo = replace(photo, x_mm=photo.x_mm + dx, y_mm=photo.y_mm + dy)
    return replace(board, marks=marks, photo=photo)
