"""Edits that reach across a map: renaming, removing with all mentions, and free names.

Each function returns the changes to hand to :meth:`railmap.bench.history.History.do`; it changes
nothing itself.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping

from msgspec.structs import replace

from railmap.errors import MapError
from railmap.model.board import Board
from railmap.model.checks import check_name, show
from railmap.model.part import ZERO_NODE, Part, value_complaint
from railmap.model.railmap import Change, RailMap
from railmap.model.revision import Revision
from railmap.model.setup import Setup


def rename_node(m: RailMap, old: str, new: str) -> list[Change]:
    """Rename a node on all parts that touch it, on its rail and in the readings of it.

    Parameters
    ----------
    m : RailMap
        The map.
    old, new : str
        The node, and what it shall be called.

    Returns
    -------
    list of Change

    Raises
    ------
    MapError
        If there is no such node, it is the zero node, or the new name is taken or cannot be: a
        node that takes the name of another would be joined to it.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add(Resistor("R1", "RAW", "A", ohms=150)), m.add_rail("A", "+12")
    >>> _ = m.change(rename_node(m, "A", "B"))
    >>> m.parts["R1"].nodes, list(m.rails)
    (('RAW', 'B'), ['B'])
    """
    if old not in m.rails and old not in m.nodes:
        raise MapError(f"there is no node {show(old)}")
    if old == new:
        return []
    check_name(new, "the node's name")
    if ZERO_NODE in (old, new):
        raise MapError(f"{ZERO_NODE} is the zero node of every map and keeps its name")
    if new in m.rails or new in m.nodes:
        raise MapError(f"there is already a node {show(new)}")
    for rail in m.rails.values():
        if rail.name == new and rail.node != old:
            raise MapError(f"{show(new)} is the name of the rail on node {show(rail.node)}")
    changes = [
        Change("parts", ref, _with_node(part, old, new))
        for ref, part in m.parts.items()
        if old in part.nodes
    ]
    if old in m.rails:
        changes.append(Change("rails", old, replace(m.rails[old], node=new)))
    # A place that is both a part and a node is the part.
    return changes if old in m.parts else changes + _moved_readings(m, old, new)


def rename_part(m: RailMap, old: str, new: str) -> list[Change]:
    """Rename a part, also in the setups, revisions and readings that name it.

    Parameters
    ----------
    m : RailMap
        The map.
    old, new : str
        The reference, and what it shall be.

    Returns
    -------
    list of Change

    Raises
    ------
    MapError
        If there is no such part, or the new reference is taken or cannot be.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add(Resistor("R1", "RAW", "A", ohms=150))
    >>> _ = m.change(rename_part(m, "R1", "R101"))
    >>> list(m.parts)
    ['R101']
    """
    part = part_named(m, old)
    if old == new:
        return []
    if new in m.parts:
        raise MapError(f"there is already a part {show(new)}")
    setups = [
        replace(setup, accessories_out=_swapped(setup.accessories_out, old, new))
        for setup in m.setups.values()
    ]
    return [
        Change("parts", old, part.changed(ref=new)),
        *_changed_setups(m, setups),
        *_changed_revisions(m, {old: new}),
        *_moved_readings(m, old, new),
    ]


def rename_board(m: RailMap, old: str, new: str) -> list[Change]:
    """Rename a board, also on its parts and in the setups that name it.

    Parameters
    ----------
    m : RailMap
        The map.
    old, new : str
        The board, and what it shall be called.

    Returns
    -------
    list of Change

    Raises
    ------
    MapError
        If there is no such board, or the new name is taken or cannot be.

    Examples
    --------
    >>> m = RailMap()
    >>> _ = m.add_board("Main", 160, 100)
    >>> _ = m.change(rename_board(m, "Main", "Supply"))
    >>> list(m.boards)
    ['Supply']
    """
    board = board_named(m, old)
    if old == new:
        return []
    if new in m.boards:
        raise MapError(f"there is already a board {show(new)}")
    parts = [
        Change("parts", ref, part.changed(board=new))
        for ref, part in m.parts.items()
        if part.board == old
    ]
    setups = [
        replace(setup, unplugged=_swapped(setup.unplugged, old, new)) for setup in m.setups.values()
    ]
    return [Change("boards", old, replace(board, name=new)), *parts, *_changed_setups(m, setups)]


def remove_parts(m: RailMap, refs: Iterable[str]) -> list[Change]:
    """Remove parts, also from the accessories that setups have out and from revisions.

    Parameters
    ----------
    m : RailMap
        The map.
    refs : iterable of str
        References.

    Returns
    -------
    list of Change

    Raises
    ------
    MapError
        If there is no such part.

    Examples
    --------
    >>> from railmap import Link
    >>> m = RailMap()
    >>> _ = m.add(Link("J1", "A", "B", accessory=True)), m.add_setup(accessories_out=["J1"])
    >>> _ = m.change(remove_parts(m, ["J1"]))
    >>> len(m.parts), m.setups["as used"].accessories_out
    (0, ())
    """
    gone = dict.fromkeys(refs)
    for ref in gone:
        part_named(m, ref)
    return [
        *(Change("parts", ref, None) for ref in gone),
        *_changed_setups(m, [_without(setup, (), gone) for setup in m.setups.values()]),
        *_changed_revisions(m, dict.fromkeys(gone)),
    ]


def remove_board(m: RailMap, name: str) -> list[Change]:
    """Remove a board with its parts, also from the setups and revisions that name any of them.

    Parameters
    ----------
    m : RailMap
        The map.
    name : str
        The board.

    Returns
    -------
    list of Change

    Raises
    ------
    MapError
        If there is no such board.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add_board("Main", 160, 100)
    >>> _ = m.add(Resistor("R1", "RAW", "A", ohms=150, board="Main"))
    >>> _ = m.change(remove_board(m, "Main"))
    >>> len(m.boards), len(m.parts)
    (0, 0)
    """
    board_named(m, name)
    gone = [ref for ref, part in m.parts.items() if part.board == name]
    return [
        Change("boards", name, None),
        *(Change("parts", ref, None) for ref in gone),
        *_changed_setups(m, [_without(setup, (name,), gone) for setup in m.setups.values()]),
        *_changed_revisions(m, dict.fromkeys(gone)),
    ]


def revisions_beside(m: RailMap, parts: Iterable[Part]) -> list[Change]:
    """Take the values out of revisions that parts which take the place of others cannot have.

    Parameters
    ----------
    m : RailMap
        The map.
    parts : iterable of Part
        The new ones, perhaps of another kind than those with their references.

    Returns
    -------
    list of Change
        Those to revisions alone.

    Examples
    --------
    >>> from railmap import Capacitor, Resistor
    >>> m = RailMap()
    >>> _ = m.add(Resistor("R1", "A", "B", ohms=82))
    >>> _ = m.add_revision("late", values={"R1": {"ohms": 68}})
    >>> other = Capacitor("R1", "A", "B", farads=1e-6)
    >>> _ = m.change([Change("parts", "R1", other), *revisions_beside(m, [other])])
    >>> m.revisions["late"].values
    {}
    """
    kinds = {part.ref: type(part) for part in parts}
    changed = [replace(r, values=_still_good(r, kinds)) for r in m.revisions.values()]
    return [Change("revisions", r.name, r) for r in changed if r != m.revisions[r.name]]


def free_ref(m: RailMap, prefix: str) -> str:
    """Return the next free reference: the prefix with the number above the highest in use.

    A suffix letter does not hide a number: after R104A comes R105.

    Parameters
    ----------
    m : RailMap
        The map.
    prefix : str
        Class letters, for example ``R``.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> free_ref(m, "R")
    'R1'
    >>> _ = m.add(Resistor("R103", "RAW", "A", ohms=150))
    >>> free_ref(m, "R")
    'R104'
    """
    return _next_free(prefix, m.parts)


def free_node(m: RailMap, prefix: str = "N") -> str:
    """Return the next free node name: the prefix with the number above the highest in use.

    Parameters
    ----------
    m : RailMap
        The map.
    prefix : str
        What it begins with.

    Examples
    --------
    >>> free_node(RailMap())
    'N1'
    """
    names = [rail.name for rail in m.rails.values()]
    return _next_free(prefix, [*m.nodes, *m.rails, *names])


def _next_free(prefix: str, taken: Iterable[str]) -> str:
    # A numeral may have any script's digits, but ours are 0 to 9.
    pattern = re.compile(re.escape(prefix) + "([0-9]+)")
    found = (pattern.match(name) for name in taken)
    return f"{prefix}{max((int(match[1]) for match in found if match), default=0) + 1}"


def part_named(m: RailMap, ref: str) -> Part:
    """Return a part; refuse a reference that the map does not have."""
    if ref not in m.parts:
        raise MapError(f"there is no part {show(ref)}")
    return m.parts[ref]


def board_named(m: RailMap, name: str) -> Board:
    """Return a board; refuse a name that the map does not have."""
    if name not in m.boards:
        raise MapError(f"there is no board {show(name)}")
    return m.boards[name]


def _with_node(part: Part, old: str, new: str) -> Part:
    return part.changed(**{pin: new for pin in part.pins if getattr(part, pin) == old})


def _swapped(names: Iterable[str], old: str, new: str) -> tuple[str, ...]:
    return tuple(new if name == old else name for name in names)


def _without(setup: Setup, boards: Collection[str], refs: Collection[str]) -> Setup:
    return replace(
        setup,
        unplugged=tuple(name for name in setup.unplugged if name not in boards),
        accessories_out=tuple(ref for ref in setup.accessories_out if ref not in refs),
    )


def _moved_readings(m: RailMap, old: str, new: str) -> list[Change]:
    """Return the changes to readings whose place is called otherwise now."""
    changed = [
        replace(r, at=new if r.at == old else r.at, against=new if r.against == old else r.against)
        for r in m.readings.values()
        if old in (r.at, r.against)
    ]
    return [Change("readings", r.key, r) for r in changed]


def _still_good(revision: Revision, kinds: Mapping[str, type[Part]]) -> dict[str, dict[str, float]]:
    """Return the values of a revision without those that parts of some kinds cannot have."""
    values = {
        ref: {
            name: value for name, value in fields.items()
            if ref not in kinds or value_complaint(kinds[ref], name, value) is None
        }
        for ref, fields in revision.values.items()
    }  # fmt: skip
    return {ref: fields for ref, fields in values.items() if fields}


def _changed_revisions(m: RailMap, names: Mapping[str, str | None]) -> list[Change]:
    """Return the changes to revisions that name parts which are called otherwise now, or gone."""
    changes: list[Change] = []
    for revision in m.revisions.values():
        if not names.keys().isdisjoint(revision.values):
            called = {ref: names.get(ref, ref) for ref in revision.values}
            values = {new: revision.values[ref] for ref, new in called.items() if new is not None}
            changes.append(Change("revisions", revision.name, replace(revision, values=values)))
    return changes


def _changed_setups(m: RailMap, setups: Iterable[Setup]) -> list[Change]:
    """Return the changes to those setups that differ from the map's of the same name."""
    return [
        Change("setups", setup.name, setup) for setup in setups if setup != m.setups[setup.name]
    ]
