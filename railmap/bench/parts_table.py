"""The parts table: a map entered without drawing, row by row or by a whole sheet at once.

A row stands for a part, a rail or a board. Rows are read against the map without changing it;
:func:`entered` turns good ones into the changes of one edit, with the boards and rails they name.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final, cast

import msgspec

from railmap.bench.part_cells import (
    in_plain_words,
    read_cell,
    read_known,
    read_pins,
    read_place,
    write_cell,
)
from railmap.bench.part_columns import (
    COLUMNS,
    KNOWN_COLUMNS,
    PIN_COLUMNS,
    PLACE_COLUMNS,
    PLAIN_WORDS,
    TITLES,
    Spec,
    guess_kind,
    kind_named,
    spec_for,
    spec_of,
)
from railmap.errors import MapError, RailmapError
from railmap.figures import POINT, Figures
from railmap.model.board import Board
from railmap.model.checks import check_name, fields_of, show
from railmap.model.part import ZERO_NODE, Part
from railmap.model.rail import Rail
from railmap.model.railmap import RailMap

_OF_IT: Final = ("date", "source")
KEYS: Final[Mapping[str, str]] = {"boards": "name", "rails": "node", "parts": "ref"}
TABLES: Final = tuple(KEYS)
USUAL_NODES: Final[Mapping[str, Mapping[str, str]]] = {
    "Source": {"minus": ZERO_NODE}, "Load": {"b": ZERO_NODE}, "Zener": {"anode": ZERO_NODE},
    "Capacitor": {"minus": ZERO_NODE}, "Regulator": {"common": ZERO_NODE},
    "Converter": {"common": ZERO_NODE},
}  # fmt: skip
OTHER_ZEROS: Final = ("0", "0v", "0 v", "gnd", "ground")


@dataclass(frozen=True)
class Row:
    """A row as it was typed.

    Attributes
    ----------
    texts : dict of str to str
        What was typed, by column; columns that nobody touched are not in it.
    table, key : str
        The item that it changes; empty for a new one.
    exact : bool
        True for a row of a complete sheet: it holds every field as it is, and nothing is guessed,
        taken over or placed.
    figures : Figures
        How figures were written when it was typed.
    """

    texts: Mapping[str, str] = field(default_factory=dict[str, str])
    table: str = ""
    key: str = ""
    exact: bool = False
    figures: Figures = POINT

    @property
    def ref(self) -> str:
        """The reference that it has now."""
        return self.texts.get("ref", self.key).strip()


@dataclass(frozen=True)
class Reading:
    """What a row says.

    Attributes
    ----------
    row : Row
        The row.
    item : Part, Rail, Board or None
        What it makes; None if it is not good yet.
    reasons : dict of str to str
        What is wrong, by column, in sentences with place and reason.
    missing : dict of str to str
        What must still be given, by column.
    """

    row: Row
    item: Part | Rail | Board | None
    reasons: Mapping[str, str]
    missing: Mapping[str, str]


def table_texts(m: RailMap, figures: Figures = POINT) -> list[list[str]]:
    """Return the whole table: the titles, then a row for each board, rail and part.

    Parameters
    ----------
    m : RailMap
        The map.
    figures : Figures
        How figures are written.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add(Resistor("R1", "RAW", "A", ohms=4700, rated_watts=0.5))
    >>> [row[:8] for row in table_texts(m)]  # doctest: +NORMALIZE_WHITESPACE
    [['Reference', 'Kind', 'Drawn', 'Fitted', 'Found', 'Rating', 'From', 'To'],
     ['R1', 'Resistor', '4k7', '', '', '0.5W', 'RAW', 'A']]
    """
    items = [item for table in TABLES for item in m.table(table).values()]
    return [list(TITLES.values()), *([write_cell(i, c, figures) for c in COLUMNS] for i in items)]


def kind_of_row(m: RailMap, row: Row, nodes: Collection[str] = ()) -> str:
    """Return the kind of a row: typed, else that of its item, else guessed; empty if unknown.

    Raises
    ------
    MapError
        If the kind that was typed is none.
    """
    typed = row.texts.get("kind", "").strip()
    if typed:
        return kind_named(typed)
    if row.key:
        return spec_for(m.table(row.table)[row.key]).name
    if row.ref in m.boards:
        return "Board"
    return guess_kind(row.ref, [*m.nodes, *m.rails, *nodes]) if row.ref else ""


def of_known_item(m: RailMap, row: Row, nodes: Collection[str] = ()) -> Row:
    """Return a row of a sheet as a change of the item with its reference, if the map has it."""
    part = m.parts.get(row.ref)
    typed = row.texts.get("kind", "").strip()
    if part is not None and not typed:
        return replace(row, table="parts", key=row.ref)
    try:
        kind = kind_of_row(m, row, nodes)
    except MapError:
        return row
    table = spec_of(kind).table if kind else ""
    known = bool(table) and row.ref in m.table(table)
    return replace(row, table=table, key=row.ref) if known else row


def read_row(m: RailMap, row: Row, nodes: Collection[str] = ()) -> Reading:
    """Read a row against a map, which is not changed.

    Parameters
    ----------
    m : RailMap
        The map.
    row : Row
        What was typed.
    nodes : collection of str
        Nodes that other rows beside it name; a reference that is one of them means its rail.

    Returns
    -------
    Reading

    Examples
    --------
    >>> row = Row({"ref": "R101", "drawn": "33", "from": "P0", "to": "P1", "rating": "2W"})
    >>> read_row(RailMap(), row).item.ohms
    33.0
    >>> read_row(RailMap(), Row({"ref": "R1", "drawn": "50V"})).reasons
    {'drawn': "R1, drawn: '50V' is in volts; ohms are wanted here."}
    """
    return _Reader(m, row, nodes).read()


class _Reader:
    """Reads one row, and collects what is wrong with it."""

    def __init__(self, m: RailMap, row: Row, nodes: Collection[str]) -> None:
        self._map, self._row, self._nodes_beside = m, row, nodes
        self._reasons: dict[str, str] = {}
        self._missing: dict[str, str] = {}
        self._base: Part | Rail | Board | None = None
        if row.key and not row.exact:
            self._base = m.table(row.table)[row.key]

    def read(self) -> Reading:
        """Return what the row says."""
        item = None
        try:
            kind = kind_of_row(self._map, self._row, self._nodes_beside)
        except MapError as error:
            kind = ""
            self._say("kind", error)
        self._check_ref(kind)
        if not kind and "kind" not in self._reasons:
            self._lack("kind", "say what kind of part it is: resistor, load, rail …")
        if kind:
            item = self._item(spec_of(kind))
        return Reading(self._row, item, self._reasons, self._missing)

    def _say(self, column: str, reason: RailmapError | str) -> None:
        self._reasons.setdefault(column, self._placed(column, str(reason).removesuffix(".")))

    def _lack(self, column: str, wish: str) -> None:
        self._missing.setdefault(column, self._placed(column, wish))

    def _placed(self, column: str, what: str) -> str:
        end = "" if what.endswith("…") else "."
        what = self._row.figures.words(what)
        return f"{self._row.ref or 'New row'}, {TITLES[column].lower()}: {what}{end}"

    def _check_ref(self, kind: str) -> None:
        ref, table = self._row.ref, spec_of(kind).table if kind else "parts"
        if not ref:
            if self._row.key or self._row.exact:
                self._say("ref", "a row needs a reference")
            else:
                self._lack("ref", "give it a reference, as on the drawing: R101, C3, P1 …")
            return
        try:
            check_name(ref, "the reference")
        except MapError as error:
            self._say("ref", error)
            return
        if ref != self._row.key and ref in self._map.table(table):
            what = {"parts": "part", "rails": "rail on node", "boards": "board"}[table]
            self._say("ref", f"there is already a {what} {show(ref)}")

    def _item(self, spec: Spec) -> Part | Rail | Board | None:
        same = self._base is not None and spec_for(self._base) == spec
        if self._row.key and self._row.table != spec.table:
            self._say("kind", f"a row of the {self._row.table} cannot become a {spec.word.lower()}")
            return None
        texts = self._row.texts if same else self._all_texts(spec)
        self._refuse_surplus(spec)
        given = self._fields(spec, texts)
        if not same:
            self._find_missing(spec, given)
        if self._reasons or self._missing:
            return None
        try:
            return self._made(spec, given, same)
        except RailmapError as error:
            self._say_of_item(spec, str(error).removeprefix(f"{self._row.ref}: "))
            return None

    def _all_texts(self, spec: Spec) -> dict[str, str]:
        """Return the texts of all cells: typed, else as the item writes them."""
        written: dict[str, str] = {}
        if self._base is not None:
            figures = self._row.figures
            written = {column: write_cell(self._base, column, figures) for column in spec.columns}
        return {**written, **self._row.texts}

    def _refuse_surplus(self, spec: Spec) -> None:
        for column, text in self._row.texts.items():
            if text.strip() and not spec.has(column):
                self._say(column, f"a {spec.word.lower()} has nothing here; leave it empty")

    def _fields(self, spec: Spec, texts: Mapping[str, str]) -> dict[str, Any]:
        """Return the values by field that the cells hold."""
        given: dict[str, Any] = {}
        for column in spec.cells:
            if column in texts:
                try:
                    given |= read_cell(spec, column, texts[column], self._row.figures)
                except RailmapError as error:
                    self._say(column, error)
        if spec.table == "parts":
            given |= self._nodes(spec, texts)
            if "board" in texts:
                given["board"] = texts["board"].strip()
                self._check_name("board", given["board"])
        return given

    def _nodes(self, spec: Spec, texts: Mapping[str, str]) -> dict[str, str]:
        usual = {} if self._row.exact else USUAL_NODES.get(spec.name, {})
        pins = read_pins(spec, texts, usual)
        if self._base is not None and spec_for(self._base) == spec:
            touched = {pin for column, pin in spec.pins.items() if column in self._row.texts}
            for pin in touched - set(pins):
                self._say(_column_of(spec, pin), "a pin needs a node")
            pins = {pin: name for pin, name in pins.items() if pin in touched}
        for pin, name in pins.items():
            self._check_name(_column_of(spec, pin), name)
        return pins if self._row.exact else {pin: self._zero(name) for pin, name in pins.items()}

    def _zero(self, name: str) -> str:
        zero = name.casefold() in OTHER_ZEROS and name not in self._map.nodes
        return ZERO_NODE if zero else name

    def _check_name(self, column: str, name: str) -> None:
        try:
            if name:
                check_name(name, "the name")
        except MapError as error:
            self._say(column, error)

    def _find_missing(self, spec: Spec, given: Mapping[str, Any]) -> None:
        for name, wanted in fields_of(spec.type).items():
            if wanted.required and name != KEYS[spec.table] and name not in given:
                column = _column_of(spec, name)
                if column not in self._reasons:
                    self._lack(column, _wanted(spec, column))
        if spec.name == "Load" and not any(given.get(n) for n in ("amps", "ohms", "watts")):
            self._lack("drawn", _wanted(spec, "drawn"))

    def _made(self, spec: Spec, given: dict[str, Any], same: bool) -> Part | Rail | Board | None:
        key = {KEYS[spec.table]: self._row.ref}
        if not same or self._base is None:
            item = cast("Part | Rail | Board", spec.type(**given, **key))
        elif isinstance(self._base, Part):
            item = self._base.changed(**given, **key)
        else:
            item = msgspec.structs.replace(self._base, **given, **key)
        return self._with_rest(item, spec, same) if isinstance(item, Part) else item

    def _with_rest(self, part: Part, spec: Spec, same: bool) -> Part | None:
        """Return the part with its known values and its place; None if they cannot be read."""
        typed, figures = set(self._row.texts), self._row.figures
        texts = self._all_texts(spec)
        more: dict[str, Any] = {}
        for stage in ("fitted", "found"):
            if same and not typed & {c for c in KNOWN_COLUMNS if c.startswith(stage)}:
                continue
            if not texts.get(stage):
                # Date and source go with the value, unless they have just been typed.
                texts |= {f"{stage}_{m}": self._row.texts.get(f"{stage}_{m}", "") for m in _OF_IT}
            more[stage] = self._tried(stage, read_known, part, texts, stage, figures)
        if not same or typed & set(PLACE_COLUMNS):
            more["place"] = self._tried("place_x_mm", read_place, texts, figures)
        if self._reasons:
            return None
        return part.changed(**more) if more else part

    def _tried(self, column: str, read: Callable[..., Any], *given: Any) -> Any:
        try:
            return read(*given)
        except RailmapError as error:
            self._say(column, error)
            return None

    def _say_of_item(self, spec: Spec, reason: str) -> None:
        """Put what the model says of the whole item to the cell that it is most likely about."""
        for stage in ("fitted", "found"):
            if reason.startswith(f"{stage} "):
                self._say(stage, in_plain_words(reason.removeprefix(f"{stage} ")))
                return
        named = re.findall(r"[a-z0-9_]+", reason)
        columns = [_column_of(spec, name) for name in named if name in fields_of(spec.type)]
        column = next((c for c in columns if c in spec.cells), "drawn")
        self._say(column, in_plain_words(reason))


def _column_of(spec: Spec, name: str) -> str:
    """Return the column in which a field of a kind stands."""
    for column, cell in spec.cells.items():
        if any(slot.field == name for slot in cell.slots):
            return column
    return next((column for column, pin in spec.pins.items() if pin == name), name)


def _wanted(spec: Spec, column: str) -> str:
    if column in PIN_COLUMNS:
        return f"name the node that {_pin_words(spec, column)}"
    return f"write what it is, like {spec.cells[column].sample}"


def _pin_words(spec: Spec, column: str) -> str:
    """Return what a pin is to a technician: the two of a plain part are only told by side."""
    plain = {"a": "it comes from", "b": "it goes to"}
    pin = spec.pins[column]
    return plain.get(pin, f"its {pin} pin is at")


def hint(spec: Spec | None, column: str) -> str:
    """Return what a cell takes, for the line below the table.

    Examples
    --------
    >>> hint(spec_of("Load"), "to"), hint(spec_of("Load"), "limit")
    ('The node that it goes to; empty for 0V.', 'Highest volts, like 18V.')
    """
    if spec is None or column in _HINTS:
        return _HINTS.get(column, "")
    if not spec.has(column):
        return f"A {spec.word.lower()} has nothing here."
    if column in spec.pins:
        usual = USUAL_NODES.get(spec.name, {}).get(spec.pins[column])
        words = f"The node that {_pin_words(spec, column)}"
        return f"{words}; empty for {usual}." if usual else f"{words}."
    cell = spec.cells.get(column)
    if cell is None:
        return f"{TITLES[column]}."
    fields = [slot.field for slot in cell.slots if not slot.after]
    names = ", ".join(PLAIN_WORDS.get(name, name.replace("_", " ")) for name in fields)
    sample = f", like {cell.sample}" if cell.sample else ""
    return f"{names[0].upper()}{names[1:]}{sample}."


_HINTS: Final[Mapping[str, str]] = {
    "ref": "Reference as on the drawing; a rail goes by its node, a board by its name.",
    "kind": "Resistor, capacitor, load, rail, board …; the first letters are enough.",
    "board": "Board it is fitted on; a new name makes a new board.",
    "fitted": "What is marked on the part that is really fitted.",
    "found": "What was measured on it.",
}


def describe(old: Part | Rail | Board | None, new: Part | Rail | Board) -> str:
    """Return the name of the edit that puts an item in the place of another, for a person.

    Examples
    --------
    >>> from railmap import Resistor
    >>> r = Resistor("R1", "RAW", "A", ohms=150)
    >>> describe(None, r), describe(r, r.changed(ohms=120)), describe(r, r.changed(b="C"))
    ('Add R1', 'Change drawn value of R1', 'Join R1 to C')
    """
    spec = spec_for(new)
    key: str = getattr(new, KEYS[spec.table])
    title = key if spec.table == "parts" else f"{spec.word.lower()} {key}"
    if old is None:
        return f"Add {title}"
    before: str = getattr(old, KEYS[spec.table])
    if before != key:
        return f"Rename {before} to {key}"
    moved = [c for c in COLUMNS if write_cell(old, c) != write_cell(new, c)]
    if len(moved) != 1:
        return f"Change {title}"
    column, text = moved[0], write_cell(new, moved[0])
    if column in PIN_COLUMNS:
        return f"Join {key} to {text}"
    if column == "board":
        return f"Move {key} to {text or 'no board'}"
    name = f"{TITLES[column].lower()}{' value' * (column in ('drawn', 'fitted', 'found'))}"
    return f"Change {name} of {title}"


def read_rows(m: RailMap, rows: Sequence[Row]) -> list[Reading]:
    """Read the rows of a sheet; of two with the same reference the second is refused.

    Parameters
    ----------
    m : RailMap
        The map.
    rows : sequence of Row
        In their order.
    """
    readings: list[Reading] = []
    seen: set[tuple[str, str]] = set()
    named = {row.texts.get(column, "").strip() for row in rows for column in PIN_COLUMNS}
    nodes = named - {""}
    for row in rows:
        reading = read_row(m, of_known_item(m, row, nodes), nodes)
        if reading.item is not None:
            key = (spec_for(reading.item).table, row.ref)
            if key in seen:
                reason = f"{row.ref}, reference: it stands in the sheet twice."
                reading = Reading(reading.row, None, {"ref": reason}, {})
            seen.add(key)
        readings.append(reading)
    return readings
