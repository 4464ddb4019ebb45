"""The map: boards, parts, rails, setups and revisions of one model of equipment."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Self, TypeVar, cast

import msgspec

from railmap.errors import MapError
from railmap.model.board import Board
from railmap.model.checks import Positive, check_fields, check_name, show
from railmap.model.kinds import KINDS, AnyPart
from railmap.model.part import ZERO_NODE, Part
from railmap.model.rail import Rail
from railmap.model.record import Meter, Reading, Unit
from railmap.model.revision import Revision
from railmap.model.setup import Setup

GAP_MM = 40.0
NO_UNIT = Unit()
"""Of a map without a unit on the bench; it is not written to the file."""
Item = Board | Part | Rail | Setup | Revision | Meter | Reading
P = TypeVar("P", bound=Part)


class About(msgspec.Struct, frozen=True, omit_defaults=True, forbid_unknown_fields=True):
    """What holds for the whole map.

    Parameters
    ----------
    title : str
        Model of equipment.
    mains_volts, mains_hertz : float
        Design mains.
    ambient_c : float
        Air temperature inside the equipment.
    notes : str
        Anything worth writing down.
    """

    title: str = ""
    mains_volts: Positive = 230.0
    mains_hertz: Positive = 50.0
    ambient_c: float = 40.0
    notes: str = ""

    def __post_init__(self) -> None:
        check_fields(self)


class Document(msgspec.Struct, frozen=True, omit_defaults=True, forbid_unknown_fields=True):
    """The map as plain data, in the order it is written to a file."""

    about: About = About()
    boards: tuple[Board, ...] = ()
    parts: tuple[AnyPart, ...] = ()
    rails: tuple[Rail, ...] = ()
    setups: tuple[Setup, ...] = ()
    revisions: tuple[Revision, ...] = ()
    unit: Unit = NO_UNIT
    meters: tuple[Meter, ...] = ()
    readings: tuple[Reading, ...] = ()


class Change(msgspec.Struct, frozen=True):
    """One item of a map to add, change or remove.

    Parameters
    ----------
    table : str
        ``boards``, ``parts``, ``rails``, ``setups``, ``revisions``, ``meters`` or ``readings``;
        or one of ``about`` and ``unit``, of which a map has one each.
    key : str or None
        The item it changes or removes; None to add one.
    item : Board, Part, Rail, Setup, Revision, Meter, Reading, About, Unit or None
        What takes its place; None to remove it.
    position : int or None
        Where an added item goes in the order of its table; None for the end.
    """

    table: str
    key: str | None
    item: Item | About | Unit | None
    position: int | None = None


class RailMap:
    """A map to build, edit and solve. Its items are frozen; the map swaps them for changed ones.

    Parameters
    ----------
    title : str
        Model of equipment.
    mains_volts, mains_hertz : float
        Design mains, volts rms and hertz.
    ambient_c : float
        Air temperature inside the equipment, degrees Celsius.
    notes : str
        Anything worth writing down.

    Attributes
    ----------
    boards, parts, rails, setups, revisions, meters, readings : dict
        Board by name, part by reference, rail by node, setup, revision and meter by name, reading
        by number. Read them freely; change them through the methods.
    about : About
        What holds for the whole map.
    unit : Unit
        The unit that is on the bench.

    Examples
    --------
    >>> m = RailMap(title="Bench divider", mains_volts=230)
    >>> m.add_board("Main", width_mm=160, height_mm=100).name
    'Main'
    """

    def __init__(
        self,
        title: str = "",
        mains_volts: float = 230.0,
        mains_hertz: float = 50.0,
        ambient_c: float = 40.0,
        notes: str = "",
    ) -> None:
        self.about = About(title, mains_volts, mains_hertz, ambient_c, notes)
        self.boards: dict[str, Board] = {}
        self.parts: dict[str, Part] = {}
        self.rails: dict[str, Rail] = {}
        self.setups: dict[str, Setup] = {}
        self.revisions: dict[str, Revision] = {}
        self.unit = NO_UNIT
        self.meters: dict[str, Meter] = {}
        self.readings: dict[str, Reading] = {}

    @property
    def title(self) -> str:
        """Model of equipment."""
        return self.about.title

    @property
    def mains_volts(self) -> float:
        """Design mains, volts rms."""
        return self.about.mains_volts

    @property
    def mains_hertz(self) -> float:
        """Mains frequency, hertz."""
        return self.about.mains_hertz

    def add_board(
        self,
        name: str,
        width_mm: float,
        height_mm: float,
        x_mm: float | None = None,
        y_mm: float | None = None,
        **more: Any,
    ) -> Board:
        """Add a board; without a place it goes to the right of the others.

        Parameters
        ----------
        name : str
            Its name.
        width_mm, height_mm : float
            Its size.
        x_mm, y_mm : float, optional
            Upper left corner on the floor.
        **more
            Other fields of :class:`Board`.

        Returns
        -------
        Board

        Raises
        ------
        MapError
            If the name is taken or a value is out of range.
        """
        right = max((b.x_mm + b.width_mm + GAP_MM for b in self.boards.values()), default=0.0)
        board = Board(
            name, width_mm, height_mm, right if x_mm is None else x_mm, y_mm or 0.0, **more
        )
        _add(self.boards, Change("boards", None, board))
        return board

    def add(self, part: P) -> P:
        """Add a part.

        Raises
        ------
        MapError
            If its reference is taken or its board does not exist.
        """
        _check_type("parts", part)
        try:
            self._check_part(part)
        except MapError as error:
            raise MapError(f"{part.ref}: {error}") from None
        _add(self.parts, Change("parts", None, part))
        return part

    def add_rail(self, node: str, name: str = "", **more: Any) -> Rail:
        """Name a node as a rail; see :class:`Rail` for the fields.

        Raises
        ------
        MapError
            If the node is a rail already, or the name is taken.
        """
        rail = Rail(node, name, **more)
        self._check_rail(rail, {r.name: r.node for r in self.rails.values()})
        _add(self.rails, Change("rails", None, rail))
        return rail

    def add_setup(self, name: str = "as used", **more: Any) -> Setup:
        """Keep a setup by name; see :class:`Setup` for the fields."""
        setup = Setup(name=name, **more)
        self._check_setup(setup)
        _add(self.setups, Change("setups", None, setup))
        return setup

    def add_revision(self, name: str, **more: Any) -> Revision:
        """Keep a revision by name; see :class:`Revision` for the fields."""
        revision = Revision(name, **more)
        revision.check_against(self.parts)
        _add(self.revisions, Change("revisions", None, revision))
        return revision

    def add_meter(self, name: str = "meter", **more: Any) -> Meter:
        """Keep a meter by name; see :class:`Meter` for the fields."""
        meter = Meter(name=name, **more)
        _add(self.meters, Change("meters", None, meter))
        return meter

    def add_reading(self, reading: Reading) -> Reading:
        """Keep a reading, under the next free number; return it as it is kept.

        Raises
        ------
        MapError
            If the map has no such setup or meter.
        """
        reading = msgspec.structs.replace(reading, key=self.next_reading_key())
        self._check_reading(reading)
        _add(self.readings, Change("readings", None, reading))
        return reading

    def next_reading_key(self, ahead: int = 0) -> str:
        """Return the number that the next reading gets, or one further ahead."""
        taken = (int(key) for key in self.readings if key.isdecimal())
        return str(max(taken, default=0) + 1 + ahead)

    def table(self, name: str) -> dict[str, Any]:
        """Return one of the tables, by its name in :class:`Document`."""
        if name not in _KEYS:
            raise MapError(f"a map has no {show(name)}")
        return getattr(self, name)

    def change(self, changes: Iterable[Change]) -> tuple[Change, ...]:
        """Add, change or remove items, all together or not at all.

        Parameters
        ----------
        changes : iterable of Change
            Carried out in their order; the map is checked after the last.

        Returns
        -------
        tuple of Change
            What undoes them, to the same order of items; empty if they changed nothing.

        Raises
        ------
        MapError
            If the changes would leave the map inconsistent. The map is then as it was.

        Examples
        --------
        >>> m = RailMap()
        >>> back = m.change([Change("rails", None, Rail("A", "+12"))])
        >>> back
        (Change(table='rails', key='A', item=None, position=None),)
        """
        trial = self.copy()
        steps = [trial._carry_out(change) for change in changes]
        trial.check()
        for name in SINGLE:
            setattr(self, name, getattr(trial, name))
        for name in _KEYS:
            setattr(self, name, trial.table(name))
        return tuple(step for step in reversed(steps) if step is not None)

    def check(self) -> None:
        """Check that parts, rail names, setups, revisions and readings agree with each other.

        Raises
        ------
        MapError
            One sentence with the place and the reason.
        """
        names: dict[str, str] = {}
        for name in ("parts", "rails", "setups", "revisions", "readings"):
            for key, item in self.table(name).items():
                try:
                    self._check_item(item, names)
                except MapError as error:
                    raise MapError(f"{_ONE[name]} {key}: {error}") from None

    @property
    def nodes(self) -> list[str]:
        """All nodes that a part touches, in order of first mention."""
        return list(dict.fromkeys(n for part in self.parts.values() for n in part.nodes))

    def node_of(self, name: str) -> str:
        """Return the node that a node or rail name stands for.

        Raises
        ------
        MapError
            If the map has neither.
        """
        if name == ZERO_NODE or name in self.rails or name in self.nodes:
            return name
        for rail in self.rails.values():
            if rail.name == name:
                return rail.node
        raise MapError(f"there is no node or rail {show(name)}")

    def copy(self) -> Self:
        """Return a map that can be changed without touching this one."""
        twin = type(self)()
        for name in SINGLE:
            setattr(twin, name, getattr(self, name))
        for name in _KEYS:
            setattr(twin, name, dict(getattr(self, name)))
        return twin

    def document(self) -> Document:
        """Return the map as frozen plain data."""
        tables = {name: tuple(getattr(self, name).values()) for name in _KEYS}
        return Document(about=self.about, unit=self.unit, **tables)

    @classmethod
    def from_document(cls, document: Document) -> Self:
        """Build a map from plain data, with every check.

        Raises
        ------
        MapError
            One sentence with the place and the reason.
        """
        m = cls()
        m.about, m.unit = document.about, document.unit
        names: dict[str, str] = {}
        for name, key_field in _KEYS.items():
            known = m.table(name)
            for index, item in enumerate(getattr(document, name)):
                key = getattr(item, key_field)
                try:
                    if key in known:
                        raise MapError(f"{name}[{list(known).index(key)}] has the same {key_field}")
                    m._check_item(item, names)
                except MapError as error:
                    raise MapError(f"{name}[{index}] {key}: {error}") from None
                known[key] = item
        return m

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, RailMap):
            return NotImplemented
        return self.document() == other.document()

    __hash__ = None  # type: ignore[assignment]

    def __repr__(self) -> str:
        return (
            f"<RailMap {self.title!r}: {len(self.boards)} boards, {len(self.parts)} parts, "
            f"{len(self.rails)} rails>"
        )

    def _carry_out(self, change: Change) -> Change | None:
        """Make one change without checking the whole; return what undoes it, if anything."""
        item = change.item
        if change.table in SINGLE:
            _check_type(change.table, item)
            old = getattr(self, change.table)
            if old == item:
                return None
            setattr(self, change.table, item)
            return Change(change.table, None, old)
        table = self.table(change.table)
        if change.key is None or item is not None:
            _check_type(change.table, item)
        if change.key is None:
            return _add(table, change)
        if change.key not in table:
            raise MapError(f"there is no {_ONE[change.table]} {show(change.key)}")
        if item is None:
            place = list(table).index(change.key)
            return Change(change.table, None, table.pop(change.key), place)
        return _replace(table, change, item)

    def _check_item(self, item: Item, names: dict[str, str]) -> None:
        """Check an item against the map; ``names`` collects the names of rails."""
        match item:
            case Part():
                self._check_part(item)
            case Rail():
                self._check_rail(item, names)
            case Setup():
                self._check_setup(item)
            case Revision():
                item.check_against(self.parts)
            case Reading():
                self._check_reading(item)
            case _:  # a board or a meter stands by itself
                pass

    def _check_part(self, part: Part) -> None:
        if part.board and part.board not in self.boards:
            raise MapError(f"it is on board {show(part.board)}, which the map does not have")

    def _check_rail(self, rail: Rail, names: dict[str, str]) -> None:
        """Refuse a rail name that another node has; ``names`` collects name to node."""
        if rail.name and names.setdefault(rail.name, rail.node) != rail.node:
            taken = show(names[rail.name])
            raise MapError(f"the name {show(rail.name)} is taken by the rail on node {taken}")

    def _check_setup(self, setup: Setup) -> None:
        for board in setup.unplugged:
            if board not in self.boards:
                raise MapError(f"there is no board {show(board)}")
        for ref in setup.accessories_out:
            if ref not in self.parts:
                raise MapError(f"there is no part {show(ref)}")

    def _check_reading(self, reading: Reading) -> None:
        """Its place may be gone from the map: what was read stays on record."""
        check_name(reading.key, "the number of the reading")
        if reading.setup and reading.setup not in self.setups:
            raise MapError(f"there is no setup {show(reading.setup)}")
        if reading.meter and reading.meter not in self.meters:
            raise MapError(f"there is no meter {show(reading.meter)}")


SINGLE = ("about", "unit")
"""What a map has one of each; the rest of a document are tables."""
_KEYS = {
    "boards": "name", "parts": "ref", "rails": "node", "setups": "name",
    "revisions": "name", "meters": "name", "readings": "key",
}  # fmt: skip
_ONE = {
    "boards": "board", "parts": "part", "rails": "rail on node", "setups": "setup",
    "revisions": "revision", "meters": "meter", "readings": "reading",
}  # fmt: skip
_TYPES: dict[str, tuple[type, ...]] = {
    "about": (About,), "boards": (Board,), "parts": KINDS, "rails": (Rail,), "setups": (Setup,),
    "revisions": (Revision,), "unit": (Unit,), "meters": (Meter,), "readings": (Reading,),
}  # fmt: skip


def _check_type(table: str, item: object) -> None:
    if not isinstance(item, _TYPES[table]):
        raise MapError(f"{table} cannot hold {show(item)}")


def _add(table: dict[str, Any], change: Change) -> Change:
    key = getattr(change.item, _KEYS[change.table])
    if key in table:
        raise MapError(f"there is already a {_ONE[change.table]} {show(key)}")
    if change.position is None:
        table[key] = change.item
    else:
        pairs = list(table.items())
        pairs.insert(change.position, (key, change.item))
        table.clear()
        table.update(pairs)
    return Change(change.table, key, None)


def _replace(table: dict[str, Any], change: Change, item: Any) -> Change | None:
    """Put an item in the place of another; return what undoes it, or None if they are equal."""
    key, new_key = cast(str, change.key), getattr(item, _KEYS[change.table])
    old = table[key]
    if old == item:
        return None
    if new_key == key:
        table[key] = item
    elif new_key in table:
        raise MapError(f"there is already a {_ONE[change.table]} {show(new_key)}")
    else:
        pairs = [(new_key, item) if k == key else (k, v) for k, v in table.items()]
        table.clear()
        table.update(pairs)
    return Change(change.table, new_key, old)
