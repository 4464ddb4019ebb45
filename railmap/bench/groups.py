"""Edits of several parts at once: move, turn, line up, space out, repeat, and common fields.

Where parts lie is given as ``places``: the place of every part of the map, its own or one found
for it (:func:`railmap.bench.placing.place_parts`). A part that is moved gets its place written
down, and so do the others on its boards that had none: nothing moves but what was meant to.
Lengths are in millimetres; each function returns the changes and makes none of them.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any, Final, Literal

from railmap.bench.edits import free_ref, part_named
from railmap.bench.placing import size_mm
from railmap.model.kinds import Load
from railmap.model.part import Part, Place
from railmap.model.railmap import Change, RailMap

Places = Mapping[str, Place]
Edge = Literal["left", "right", "top", "bottom", "column", "row"]
Spot = tuple[str, Place]
"""A board, and a place on it."""

COMMON_FIELDS: Final = ("board", "rated_watts", "rated_volts", "tolerance_pct", "technology")
"""Fields that several parts can be given at once."""


def floor_xy(m: RailMap, ref: str, places: Places) -> tuple[float, float]:
    """Return the middle of a part on the floor.

    Parameters
    ----------
    m : RailMap
        The map.
    ref : str
        The part.
    places : dict of str to Place
        Place of every part on its board.
    """
    board, place = m.boards.get(m.parts[ref].board), places[ref]
    x, y = (board.x_mm, board.y_mm) if board else (0.0, 0.0)
    return place.x_mm + x, place.y_mm + y


def board_at(m: RailMap, x_mm: float, y_mm: float) -> str:
    """Return the board at a point of the floor, or an empty text.

    Examples
    --------
    >>> m = RailMap()
    >>> _ = m.add_board("Main", 160, 100)
    >>> board_at(m, 80, 50), board_at(m, 80, 101)
    ('Main', '')
    """
    return next(
        (
            name for name, b in m.boards.items()
            if 0 <= x_mm - b.x_mm <= b.width_mm and 0 <= y_mm - b.y_mm <= b.height_mm
        ),
        "",
    )  # fmt: skip


def spot_at(m: RailMap, x_mm: float, y_mm: float, turn: int = 0) -> Spot:
    """Return the board at a point of the floor, and the place that the point is on it.

    Examples
    --------
    >>> m = RailMap()
    >>> _ = m.add_board("Main", 160, 100, x_mm=10)
    >>> spot_at(m, 80, 50)
    ('Main', Place(x_mm=70.0, y_mm=50.0, turn=0))
    """
    name = board_at(m, x_mm, y_mm)
    board = m.boards.get(name)
    x, y = (board.x_mm, board.y_mm) if board else (0.0, 0.0)
    return name, Place(x_mm - x, y_mm - y, turn)


def put(m: RailMap, places: Places, spots: Mapping[str, Spot]) -> list[Change]:
    """Put parts on boards and places.

    Parameters
    ----------
    m : RailMap
        The map.
    places : dict of str to Place
        Place of every part now.
    spots : dict of str to (str, Place)
        Where each of some parts goes, by reference.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add(Resistor("R1", "A", "B", ohms=1)), m.add(Resistor("R2", "B", "C", ohms=1))
    >>> here = {"R1": Place(0, 0), "R2": Place(44, 0)}
    >>> _ = m.change(put(m, here, {"R1": ("", Place(5, 60))}))
    >>> [part.place for part in m.parts.values()]
    [Place(x_mm=5.0, y_mm=60.0, turn=0), Place(x_mm=44.0, y_mm=0.0, turn=0)]
    """
    known = {ref: part_named(m, ref) for ref in spots}
    touched = {part.board for part in known.values()} | {board for board, _ in spots.values()}
    moved = [
        Change("parts", ref, known[ref].changed(board=board, place=place))
        for ref, (board, place) in spots.items()
    ]
    return moved + settled(m, places, touched, known)


def settled(
    m: RailMap, places: Places, boards: Collection[str], but: Collection[str] = ()
) -> list[Change]:
    """Write down the places found for parts that have none, but for some.

    Parameters
    ----------
    m : RailMap
        The map.
    places : dict of str to Place
        Place of every part.
    boards : collection of str
        Boards whose parts are meant.
    but : collection of str
        Parts to leave alone.
    """
    return [
        Change("parts", ref, part.changed(place=places[ref]))
        for ref, part in m.parts.items()
        if part.place is None and part.board in boards and ref not in but
    ]


def shifted(
    m: RailMap, places: Places, refs: Iterable[str], dx_mm: float, dy_mm: float
) -> list[Change]:
    """Shift parts; each stays on its board."""
    return put(
        m, places, {ref: (m.parts[ref].board, places[ref].moved(dx_mm, dy_mm)) for ref in refs}
    )


def rotated(m: RailMap, places: Places, refs: Sequence[str], quarters: int) -> list[Change]:
    """Turn parts clockwise by quarter turns about their common middle.

    Parameters
    ----------
    m : RailMap
        The map.
    places : dict of str to Place
        Place of every part now.
    refs : sequence of str
        The parts.
    quarters : int
        Quarter turns; negative ones go the other way.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add(Resistor("R1", "A", "B", ohms=1)), m.add(Resistor("R2", "B", "C", ohms=1))
    >>> here = {"R1": Place(0, 0), "R2": Place(40, 0, 270)}
    >>> _ = m.change(rotated(m, here, ["R1", "R2"], 1))
    >>> [part.place for part in m.parts.values()]
    [Place(x_mm=20.0, y_mm=-20.0, turn=90), Place(x_mm=20.0, y_mm=20.0, turn=0)]
    """
    at = {ref: floor_xy(m, ref, places) for ref in refs}
    xs, ys = [x for x, _ in at.values()], [y for _, y in at.values()]
    middle_x, middle_y = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
    spots: dict[str, Spot] = {}
    for ref, (x, y) in at.items():
        dx, dy = x - middle_x, y - middle_y
        for _ in range(quarters % 4):
            dx, dy = -dy, dx
        step_x, step_y = middle_x + dx - x, middle_y + dy - y
        place = places[ref]
        turn = (place.turn + 90 * quarters) % 360
        spots[ref] = m.parts[ref].board, Place(place.x_mm + step_x, place.y_mm + step_y, turn)
    return put(m, places, spots)


def aligned(m: RailMap, places: Places, refs: Sequence[str], edge: Edge) -> list[Change]:
    """Line parts up.

    Parameters
    ----------
    m : RailMap
        The map.
    places : dict of str to Place
        Place of every part now.
    refs : sequence of str
        The parts.
    edge : str
        ``left``, ``right``, ``top`` or ``bottom``: that edge of the outermost part; ``column`` or
        ``row``: their middles one below the other, or side by side.
    """
    across = edge in ("left", "right", "column")
    ends = {ref: _ends(m, ref, places, across) for ref in refs}
    first, last = min(a for a, _ in ends.values()), max(b for _, b in ends.values())
    steps: dict[str, float] = {}
    for ref, (low, high) in ends.items():
        if edge in ("left", "top"):
            steps[ref] = first - low
        elif edge in ("right", "bottom"):
            steps[ref] = last - high
        else:
            steps[ref] = (first + last - low - high) / 2
    return _stepped(m, places, steps, across)


def spread(m: RailMap, places: Places, refs: Sequence[str], across: bool) -> list[Change]:
    """Space parts out evenly between the outermost two.

    Parameters
    ----------
    m : RailMap
        The map.
    places : dict of str to Place
        Place of every part now.
    refs : sequence of str
        The parts; of two or fewer none moves.
    across : bool
        True from left to right, False from top to bottom.
    """
    way = 0 if across else 1
    at = {ref: floor_xy(m, ref, places)[way] for ref in refs}
    order = sorted(at, key=lambda ref: at[ref])
    if len(order) < 3:
        return []
    first, last = at[order[0]], at[order[-1]]
    gap = (last - first) / (len(order) - 1)
    steps = {ref: first + number * gap - at[ref] for number, ref in enumerate(order)}
    return _stepped(m, places, steps, across)


def repeated(
    m: RailMap, places: Places, refs: Sequence[str], by_mm: tuple[float, float]
) -> tuple[list[Change], list[str]]:
    """Repeat parts beside themselves, on the same nodes, under the next free references.

    Parameters
    ----------
    m : RailMap
        The map.
    places : dict of str to Place
        Place of every part now.
    refs : sequence of str
        The parts.
    by_mm : tuple of float
        How far to the right and down the new ones lie.

    Returns
    -------
    tuple
        The changes, and the new references.
    """
    names = fresh_refs(m, refs)
    changes: list[Change] = []
    for ref, name in zip(refs, names, strict=True):
        place = places[ref]
        changed = part_named(m, ref).changed(ref=name, place=place.moved(*by_mm))
        changes.append(Change("parts", None, changed))
    return changes + settled(m, places, {m.parts[ref].board for ref in refs}), names


def fresh_refs(m: RailMap, refs: Iterable[str]) -> list[str]:
    """Return a reference for each of some parts that the map does not have yet.

    One that is free is kept; in place of one that is taken comes the next of its letters.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add(Resistor("R7", "A", "B", ohms=1))
    >>> fresh_refs(m, ["R7", "R8", "R7", "C1"])
    ['R9', 'R8', 'R10', 'C1']
    """
    wanted = list(refs)
    trial = m.copy()
    # What is free is taken first, or a new name would take it.
    kept = {ref for ref in wanted if ref not in m.parts}
    for ref in kept:
        trial.parts[ref] = Load(ref, "0V", "0V", amps=1.0)
    found: list[str] = []
    for ref in wanted:
        if ref in kept:
            kept.discard(ref)
            found.append(ref)
            continue
        letters = re.match(r"[^0-9]*", ref)
        name = free_ref(trial, (letters.group() if letters else "") or "X")
        trial.parts[name] = Load(name, "0V", "0V", amps=1.0)
        found.append(name)
    return found


def common_fields(parts: Sequence[Part]) -> list[str]:
    """Return the fields that several parts can be given at once: those that all of them have.

    Examples
    --------
    >>> from railmap import Fuse, Resistor
    >>> common_fields([Resistor("R1", "A", "B", ohms=1), Fuse("F1", "A", "B")])
    ['board', 'tolerance_pct']
    """
    return [
        name for name in COMMON_FIELDS if all(name in p.__struct_fields__ for p in parts)
    ]  # fmt: skip


def with_field(m: RailMap, refs: Sequence[str], field: str, value: Any) -> list[Change]:
    """Give several parts the same value of a field.

    Parameters
    ----------
    m : RailMap
        The map.
    refs : sequence of str
        The parts.
    field : str
        One of :data:`COMMON_FIELDS`.
    value : object
        What it shall be. On another board a place is found for each.

    Raises
    ------
    MapError
        If a part cannot have that value.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add(Resistor("R1", "A", "B", ohms=1)), m.add(Resistor("R2", "B", "C", ohms=1))
    >>> _ = m.change(with_field(m, ["R1", "R2"], "tolerance_pct", 5))
    >>> [part.tolerance_pct for part in m.parts.values()]
    [5.0, 5.0]
    """
    more = {"place": None} if field == "board" else {}
    return [
        Change("parts", ref, part_named(m, ref).changed(**{field: value}, **more))
        for ref in refs
        if getattr(part_named(m, ref), field) != value
    ]


def _ends(m: RailMap, ref: str, places: Places, across: bool) -> tuple[float, float]:
    way = 0 if across else 1
    middle, half = floor_xy(m, ref, places)[way], size_mm(places[ref].turn)[way] / 2
    return middle - half, middle + half


def _stepped(m: RailMap, places: Places, steps: Mapping[str, float], across: bool) -> list[Change]:
    spots: dict[str, Spot] = {}
    for ref, step in steps.items():
        if step:
            dx, dy = (step, 0.0) if across else (0.0, step)
            spots[ref] = m.parts[ref].board, places[ref].moved(dx, dy)
    return put(m, places, spots) if spots else []
