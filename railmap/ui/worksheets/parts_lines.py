"""One line of the parts table: what it stands for, and what is typed into it."""

from __future__ import annotations

from dataclasses import dataclass, field

from railmap.bench.parts_table import TABLES, Reading, Row
from railmap.model.board import Board
from railmap.model.part import Part
from railmap.model.rail import Rail


@dataclass
class Line:
    """One line of the table.

    Attributes
    ----------
    row : Row
        What was typed into it, and the key of the item that it stands for.
    item : Part, Rail, Board or None
        That item as the map had it last.
    reading : Reading or None
        What it says; None if nothing waits in it.
    left : bool
        True once a new line has been left: only then is it told what it lacks.
    """

    row: Row = field(default_factory=Row)
    item: Part | Rail | Board | None = None
    reading: Reading | None = None
    left: bool = False

    @property
    def new(self) -> bool:
        """True if it stands for nothing in the map yet."""
        return not self.row.key

    @property
    def blank(self) -> bool:
        """True if it is new and nothing is typed into it."""
        return self.new and not any(text.strip() for text in self.row.texts.values())

    @property
    def waiting(self) -> bool:
        """True if something was typed that is not in the map."""
        return not self.blank and self.reading is not None


def rank_of(line: Line) -> int:
    """Return the order of a line's table; new lines stand below all."""
    return TABLES.index(line.row.table) if line.row.key else len(TABLES)
