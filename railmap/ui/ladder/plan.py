"""Where columns and lanes lie from left to right, and how rungs get their names, by the room."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from railmap.bench.rungs import Column, Ladder, Rung
from railmap.figures import Figures
from railmap.model.part import ZERO_NODE
from railmap.ui.faces import volts_text
from railmap.ui.ladder.shapes import Box, Lettering, elide

EDGE, GAP, INNER = 5.0, 5.0, 4.0
"""Room at the edges, between columns, and within them; pixels."""
FLAT, BARE = 24.0, 74.0
"""Width of lanes of flat drops, and of others without a name."""
TIGHT_BELOW = 340.0
LEAST_SIZE = 8
NAME_PART = 0.4
"""A name takes no more of the whole width."""
USUAL, SHORT = " −88.88 ▲", " −88.8 ▲"
"""What a name has room for, whatever the volts are."""


@dataclass(frozen=True)
class Plan:
    """What lies where, from left to right.

    Attributes
    ----------
    listed : bool
        True if the names of all rungs stand in one list on the left; else each stands over its
        rung.
    size, decimals : int
        Size of names, and decimals of their volts.
    axis : Box or None
        Room of the scale.
    names : Box
        Room of the list of names, if they are listed.
    columns : tuple of Box
        One for each column.
    cells : tuple of Box
        One for each lane; a drop hangs at ``lines`` in it.
    lines : tuple of float
        Where the drops of each lane hang.
    """

    listed: bool
    size: int
    decimals: int
    axis: Box | None
    names: Box
    columns: tuple[Box, ...]
    cells: tuple[Box, ...]
    lines: tuple[float, ...]

    def reach(self, rung: Rung, narrow: tuple[bool, ...]) -> tuple[float, float]:
        """Return from where to where a rung reaches."""
        left, right = self.lines[rung.first] - 5, self.lines[rung.last] + 5
        if narrow[rung.first]:
            left = self.lines[rung.first]
        if narrow[rung.last]:
            right = self.lines[rung.last]
        if rung.rail is not None and not narrow[rung.home]:
            cell = self.cells[rung.home]
            left, right = min(left, cell.left + 2), max(right, cell.right - 3)
        if right - left < 8:
            left, right = left - 4, right + 4
        return left, right

    def home(self, rung: Rung) -> tuple[float, float]:
        """Return the piece of a rung on which its band and limit are shown."""
        cell, line = self.cells[rung.home], self.lines[rung.home]
        return min(cell.left + 2, line - 5), max(cell.right - 3, line + 5)


def title_of(rung: Rung, room: float, size: int, letters: Lettering) -> str:
    """Return the name of a rung, cut to some room."""
    return elide(rung.title, room, True, size, letters)


def short_volts(volts: float, style: Figures, decimals: int) -> str:
    """Return volts without their unit."""
    return volts_text(volts, style, decimals).removesuffix(" V")


def plan_of(
    ladder: Ladder, box: Box, letters: Lettering, size: int, volts: Mapping[str, float]
) -> Plan:
    """Return a plan for a box.

    Parameters
    ----------
    ladder : Ladder
        What is drawn.
    box : Box
        Room between the names of the boards above and the legend below.
    letters : Lettering
        Measures text.
    size : int
        Size of text, pixels.
    volts : dict of str to float
        Volts by node: how many rungs need a name.
    """
    named = named_rungs(ladder)
    homes = {rung.home for rung in named}
    axis = letters.width("−888", False, size - 1) + 6
    for trial, decimals in ((size, 2), (size - 1, 2), (size - 1, 1)):
        wide = _widest(named, trial, decimals, letters, box.width * NAME_PART)
        found = _lay_over(ladder, box, box.left + axis, wide, homes)
        if found is not None:
            room = Box(box.left, box.top, box.left + axis, box.bottom)
            return Plan(False, trial, decimals, room, Box(0, 0, 0, 0), *found)
    shown = sum(1 for r in named if r.node in volts) + 1
    listed = size - 1
    while listed > LEAST_SIZE and shown * letters.height(listed) > box.height:
        listed -= 1
    wide = _widest(named, listed, 2, letters, box.width * NAME_PART)
    names = Box(box.left + EDGE, box.top, box.left + EDGE + wide, box.bottom)
    return Plan(True, listed, 2, None, names, *_lay_listed(ladder, box, names.right + 4, homes))


def _widest(
    rungs: Iterable[Rung], size: int, decimals: int, letters: Lettering, most: float
) -> float:
    usual = letters.width(USUAL if decimals == 2 else SHORT, False, size)
    names = (letters.width(rung.title, True, size) for rung in rungs)
    return min(max(names, default=0.0) + usual, max(most, usual + 14))


_Laid = tuple[tuple[Box, ...], tuple[Box, ...], tuple[float, ...]]


def _lay_over(ladder: Ladder, box: Box, left: float, name: float, homes: set[int]) -> _Laid | None:
    """Lay columns and lanes with names over rungs; None if one is wider than its lane."""
    fixed = [FLAT if narrow else 0.0 if lane in homes else BARE
             for lane, narrow in enumerate(ladder.narrow)]  # fmt: skip
    count = len(ladder.columns)
    room = box.right - EDGE - left - (count - 1) * GAP - 2 * INNER * count
    cell = (room - sum(fixed)) / max(fixed.count(0.0), 1)
    if cell < name + 17:
        return None
    line = name + 9 + max(min((cell - name - 60) * 0.3, 50.0), 0.0)
    lanes = [(wide, wide * (0.5 if wide == FLAT else 0.3)) if wide else (cell, line)
             for wide in fixed]  # fmt: skip
    return _lay(ladder, box, left, lanes, GAP, INNER)


def _lay_listed(ladder: Ladder, box: Box, left: float, homes: set[int]) -> _Laid:
    """Lay columns and lanes into what room there is."""
    parts = [0.6 if narrow else 1.0 if lane in homes else 0.75
             for lane, narrow in enumerate(ladder.narrow)]  # fmt: skip
    count = len(ladder.columns)
    tight = box.width < TIGHT_BELOW
    gap, inner = (3.0, 2.0) if tight else (GAP, INNER)
    room = box.right - EDGE * (0.4 if tight else 1) - left - (count - 1) * gap - 2 * inner * count
    unit = max(room, 2.0 * len(parts)) / sum(parts)
    lanes = [(part * unit, part * unit * (0.36 if part == 1.0 else 0.5)) for part in parts]
    return _lay(ladder, box, left, lanes, gap, inner)


def _lay(
    ladder: Ladder, box: Box, left: float, lanes: list[tuple[float, float]], gap: float,
    inner: float,
) -> _Laid:  # fmt: skip
    columns: list[Box] = []
    places: list[Box] = []
    lines: list[float] = []
    for column in ladder.columns:
        start = left
        left += inner
        for wide, line in lanes[column.first : column.last]:
            places.append(Box(left, box.top, left + wide, box.bottom))
            lines.append(left + line)
            left += wide
        columns.append(Box(start, box.top, left + inner, box.bottom))
        left += inner + gap
    return tuple(columns), tuple(places), tuple(lines)


def heading(column: Column, room: float, size: int, letters: Lettering) -> tuple[str, int]:
    """Return the title of a column and its size: initials, and small ones, where there is no room.

    Examples
    --------
    >>> class Wide:
    ...     def width(self, text, bold, size):
    ...         return 0.6 * size * len(text)
    >>> board = Column("Logic and lamps", "Logic and lamps", 0, 1)
    >>> [heading(board, room, 10, Wide()) for room in (200, 40, 14, 10)]
    [('Logic and lamps', 10), ('Logic…', 10), ('LL', 10), ('LL', 8)]
    """
    cut = elide(column.title, room, True, size, letters)
    if len(cut) > 5 or cut == column.title:
        return cut, size
    words = column.title.split()
    initials = (words[0][0] + words[-1][0] if len(words) > 1 else column.title[:2]).upper()
    for trial in (size, size - 1, size - 2, size - 3):
        if letters.width(initials, True, trial) <= room:
            return initials, trial
    return "", size


def named_rungs(ladder: Ladder) -> list[Rung]:
    """Return the rungs that always have their names beside them: the rails, if there are any."""
    rungs = [rung for rung in ladder.rungs.values() if rung.node != ZERO_NODE]
    return [rung for rung in rungs if rung.rail is not None] or rungs
