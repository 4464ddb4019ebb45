"""Sheets as spreadsheets give and take them: text between commas, semicolons or tabs.

A cell that a spreadsheet could take for a formula is written behind an apostrophe, the sign for
plain text, and one such apostrophe is taken off again when it is read: so nothing in a map can
make a spreadsheet compute, and the sheet comes back as it went out.
"""

from __future__ import annotations

import csv
import io
import os
import re
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from railmap.bench.part_columns import COLUMNS, TITLES
from railmap.bench.parts_table import Row, table_texts
from railmap.errors import FileError, MapError
from railmap.figures import POINT, Figures
from railmap.model.railmap import RailMap

# What spreadsheets begin a formula with, also in full width, and the mark itself.
_RISKY: Final = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20", "'")
_DELIMITERS: Final = ("\t", ";", ",")
_MOST_BYTES: Final = 64 * 1024 * 1024

_SYNONYMS: Final[dict[str, tuple[str, ...]]] = {
    "ref": ("ref", "refdes", "designator", "part", "part no", "item", "component", "name",
            "circuit ref", "circuit reference", "position", "no"),
    "kind": ("type", "what", "sort", "component type", "part type"),
    "drawn": ("value", "nominal", "nominal value", "as drawn", "drawn value", "drawing", "label",
              "label volts", "current", "load", "resistance", "ohms"),
    "fitted": ("as fitted", "fitted value", "marked", "marking"),
    "found": ("measured", "as found", "found value", "measured value", "reading"),
    "rating": ("rated", "power", "watts", "wattage", "power rating", "rated power", "watt",
               "working volts", "working voltage", "band", "rated value"),
    "from": ("node 1", "node a", "pin 1", "plus", "fed from", "feed", "input", "in", "source",
             "from node"),
    "to": ("node 2", "node b", "pin 2", "minus", "feeds", "output", "out", "to node"),
    "third": ("third", "third pin", "pin 3", "common", "node 3", "gnd"),
    "fourth": ("fourth", "fourth pin", "pin 4", "node 4"),
    "board": ("pcb", "card", "brd", "circuit board", "assembly", "sheet", "location"),
    "limit": ("max", "maximum", "max volts", "maximum volts", "absolute limit", "highest volts",
              "cap limit"),
    "notes": ("note", "remark", "remarks", "comment", "comments", "description"),
}  # fmt: skip
"""Other titles for the main columns, as trade lists have them (common practice, no source)."""


@dataclass(frozen=True)
class Sheet:
    """The cells of a sheet.

    Attributes
    ----------
    columns : tuple of str
        Column by place; empty text for one that is not known here.
    units : tuple of str
        The unit in brackets behind a title, such as ``mA``; empty for none.
    rows : list of list of str
        The cells below the header.
    titled : bool
        True if the sheet has a header.
    unknown : tuple of str
        Titles that are not known here.
    exact : bool
        True for a complete sheet as :func:`to_csv` writes it.
    figures : Figures
        How figures are written in it.
    """

    columns: tuple[str, ...]
    units: tuple[str, ...]
    rows: list[list[str]]
    titled: bool
    unknown: tuple[str, ...] = ()
    exact: bool = False
    figures: Figures = POINT

    def typed(self) -> list[Row]:
        """Return the rows with what stands in them; empty ones are left out.

        Raises
        ------
        MapError
            If a row has more cells than there are columns.
        """
        rows = [self._texts(number) for number in range(len(self.rows))]
        return [
            Row(texts, exact=self.exact, figures=self.figures)
            for texts in rows
            if any(texts.values())
        ]

    def typed_by_place(self) -> list[Row]:
        """Return every row, also with what is empty in it, to be laid over rows that stand.

        Raises
        ------
        MapError
            If a row has more cells than there are columns.
        """
        texts = [self._texts(number, empty=True) for number in range(len(self.rows))]
        return [Row(some, figures=self.figures) for some in texts]

    def _texts(self, number: int, empty: bool = False) -> dict[str, str]:
        cells = self.rows[number]
        if any(cell.strip() for cell in cells[len(self.columns) :]):
            where, room = number + 1 + self.titled, f"there are {len(self.columns)} columns"
            raise MapError(f"row {where} has {len(cells)} cells, but {room}")
        return {
            column: with_unit(cell, unit)
            for column, cell, unit in zip(self.columns, cells, self.units, strict=False)
            if column and (empty or self.exact or cell.strip())
        }


def to_csv(m: RailMap) -> str:
    """Return the whole table of a map as comma-separated text (RFC 4180).

    Parameters
    ----------
    m : RailMap
        The map.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add(Resistor("R1", "+29", "A", ohms=4700))
    >>> to_csv(m).splitlines()[1][:30]
    "R1,Resistor,4k7,,,,'+29,A,,,,,"
    """
    return to_text(table_texts(m), ",")


def to_text(rows: Sequence[Sequence[str]], delimiter: str) -> str:
    """Return rows as text, with nothing in it that a spreadsheet would take for a formula."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\r\n")
    writer.writerows([_guarded(cell) for cell in row] for row in rows)
    return out.getvalue()


def read_sheet(text: str, start: str = COLUMNS[0], figures: Figures = POINT) -> Sheet:
    r"""Read a sheet: a header in any order, or none and the columns in the order of the table.

    Parameters
    ----------
    text : str
        Cells between tabs, semicolons or commas.
    start : str
        The column of the first cell where there is no header.
    figures : Figures
        How figures are written in it; those of a complete sheet have a point.

    Raises
    ------
    MapError
        If two columns have the same meaning.

    Examples
    --------
    >>> sheet = read_sheet("Board;Value;Part\nA;4,7k;R1")
    >>> sheet.columns, [dict(row.texts) for row in sheet.typed()]
    (('board', 'drawn', 'ref'), [{'board': 'A', 'drawn': '4,7k', 'ref': 'R1'}])
    """
    rows = cells_of(text, lambda title: bool(column_named(title)[0]), figures)
    if not rows:
        return Sheet((), (), [], titled=False)
    if not is_header(rows[0]):
        columns = COLUMNS[COLUMNS.index(start) :]
        return Sheet(columns, ("",) * len(columns), rows, titled=False, figures=figures)
    named = [column_named(title) for title in rows[0]]
    columns = tuple(column for column, _ in named)
    twice = next((c for c in columns if c and columns.count(c) > 1), None)
    if twice:
        titles = [t for t, c in zip(rows[0], columns, strict=True) if c == twice]
        raise MapError(f"the columns {' and '.join(titles)} both mean {TITLES[twice].lower()}")
    unknown = tuple(t.strip() for t, c in zip(rows[0], columns, strict=True) if not c and t.strip())
    exact = rows[0] == list(TITLES.values())
    units, style = tuple(unit for _, unit in named), POINT if exact else figures
    return Sheet(columns, units, rows[1:], True, unknown, exact, style)


def is_header(cells: Sequence[str]) -> bool:
    """Tell whether a row of cells is a header: two of them or more, and half, are titles.

    Examples
    --------
    >>> is_header(["Ref.", "Value", "Supplier"]), is_header(["R1", "4k7", "1/2W"])
    (True, False)
    """
    written = [cell for cell in cells if cell.strip()]
    known = [cell for cell in written if column_named(cell)[0]]
    return len(known) > 1 and 2 * len(known) >= len(written)


def column_named(title: str) -> tuple[str, str]:
    """Return the column that a title means, and the unit in brackets behind it.

    Examples
    --------
    >>> column_named("Rated power (W)"), column_named("3rd pin"), column_named("Supplier")
    (('rating', 'W'), ('third', ''), ('', ''))
    """
    for column, known in TITLES.items():
        if title == known:
            return column, ""
    bare = re.fullmatch(r"(.*?)\s*[(\[]([^)\]]*)[)\]]\s*", title.strip())
    name, unit = (bare[1], bare[2].strip()) if bare else (title, "")
    word = re.sub(r"[^a-z0-9]+", " ", name.casefold()).strip()
    for column, known in TITLES.items():
        plain = re.sub(r"[^a-z0-9]+", " ", known.casefold()).strip()
        if word == plain or word in _SYNONYMS.get(column, ()):
            return column, unit
    return "", ""


def read_file(path: Path) -> str:
    """Return the text of a sheet's file: UTF-8, or UTF-16 with its mark.

    Raises
    ------
    FileError
        If it cannot be read, is too large, or is no such text.
    """
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise FileError(f"{path.name} is larger than {_MOST_BYTES // 2**20} MiB")
        data = path.read_bytes()
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or str(error)).lower()
        raise FileError(f"{path} cannot be read: {reason}") from None
    wide = data[:2] in (b"\xff\xfe", b"\xfe\xff")
    try:
        return data.decode("utf-16" if wide else "utf-8-sig")
    except UnicodeDecodeError:
        how = "save the sheet from the spreadsheet as CSV in UTF-8"
        raise FileError(f"{path.name} is not text in UTF-8; {how}") from None


def write_file(path: Path, text: str) -> None:
    """Write the text of a sheet to a file, whole or not at all.

    The file begins with the mark by which spreadsheets know UTF-8.

    Raises
    ------
    FileError
        If it cannot be written.
    """
    data = text.encode("utf-8-sig")
    part = ""
    try:
        handle, part = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name[:40]}.")
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        Path(part).chmod(0o644)
        Path(part).replace(path)
    except (OSError, ValueError) as error:
        if part:
            Path(part).unlink(missing_ok=True)
        reason = (getattr(error, "strerror", None) or str(error)).lower()
        raise FileError(f"{path} cannot be written: {reason}") from None


def cells_of(
    text: str, is_title: Callable[[str], bool], figures: Figures = POINT
) -> list[list[str]]:
    """Return the cells by the delimiter that makes most sense of the first row.

    Parameters
    ----------
    text : str
        Cells between tabs, semicolons or commas.
    is_title : callable
        Tells whether a cell is a title that is known.
    figures : Figures
        How figures are written: where they have a comma, a comma between two digits or beside
        another delimiter parts no cells.
    """
    bare = text.removeprefix("\ufeff")
    first = bare.lstrip("\r\n").splitlines()[:1]
    in_figures = figures.decimal == "," and not any(map(_comma_parts_cells, first))
    candidates = [_split(bare, d) for d in _DELIMITERS if d != "," or not in_figures]

    def sense(rows: list[list[str]]) -> tuple[int, int]:
        return (sum(is_title(cell) for cell in rows[0]), len(rows[0])) if rows else (0, 0)

    return max(candidates, key=sense)


def _comma_parts_cells(line: str) -> bool:
    other = any(delimiter in line for delimiter in _DELIMITERS if delimiter != ",")
    return not other and bool(re.search("(?<![0-9]),|,(?![0-9])", line))


def _split(text: str, delimiter: str) -> list[list[str]]:
    before = csv.field_size_limit(max(len(text), 131072))
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))
    finally:
        csv.field_size_limit(before)
    return [[_unguarded(cell) for cell in row] for row in rows if any(cell for cell in row)]


def _guarded(cell: str) -> str:
    return f"'{cell}" if cell.lstrip(" ")[:1] in _RISKY and cell else cell


def _unguarded(cell: str) -> str:
    guarded = cell[:1] == "'" and cell[1:].lstrip(" ")[:1] in _RISKY and len(cell) > 1
    return cell[1:] if guarded else cell


def with_unit(cell: str, unit: str) -> str:
    """Return a bare figure with the unit of its column's title."""
    bare = re.fullmatch(r"\s*[+-]?[0-9]+(?:[.,][0-9]+)?\s*", cell)
    return f"{cell.strip()}{unit}" if unit and bare else cell
