"""Finds parts, rails and boards by what a technician knows of them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from railmap.bench.part_columns import unit_of
from railmap.errors import UnitError
from railmap.figures import POINT, Figures
from railmap.model.board import Board
from railmap.model.part import ZERO_NODE, Part
from railmap.model.rail import Rail
from railmap.model.railmap import RailMap

EXACT, BEGINS, VALUE, HOLDS, NOTES, NOT_AT_ALL = range(6)
"""How well something matches, the best first."""
_WAYS: Final = ("name", "name", "value", "name", "notes")


@dataclass(frozen=True)
class Match:
    """Something that was found.

    Attributes
    ----------
    kind, key : str
        ``part`` and its reference, ``rail`` and its node, or ``board`` and its name.
    by : str
        What it was found by: ``name``, ``value`` or ``notes``.
    """

    kind: str
    key: str
    by: str


def find(m: RailMap, text: str, figures: Figures = POINT) -> list[Match]:
    """Return what a text may mean, the most likely first.

    Parts are found by reference, value and notes, rails by name, node, volts, place of the probe
    and notes, boards by name and notes. A value is one to three figures, as the tiles show it;
    one without a unit is compared with main values only. What is not found as a whole is looked
    for by its words, all of which must match.

    Parameters
    ----------
    m : RailMap
        The map.
    text : str
        For example ``R104``, ``4k7``, ``+12`` or ``behind the front panel``.
    figures : Figures
        How the reader writes figures.

    Returns
    -------
    list of Match
        Within one rank parts come before rails and boards, each in the order of the map.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add(Resistor("R1", "RAW", "A", ohms=4700)), m.add_rail("A", "+12")
    >>> [(f.kind, f.key, f.by) for f in find(m, "4k7")], [f.key for f in find(m, "+12")]
    ([('part', 'R1', 'value')], ['A'])
    """
    whole = " ".join(text.split())
    if not whole:
        return []
    things = list(_things(m))
    found = _ranked(things, [_Sought(whole, figures)])
    words = whole.split(" ")
    if not found and len(words) > 1:
        found = _ranked(things, [_Sought(word, figures) for word in words])
    return found


@dataclass(frozen=True)
class _Thing:
    """What can be found: its names, values with their units, and notes.

    ``more`` are values that only a text with a unit is compared with.
    """

    kind: str
    key: str
    names: tuple[str, ...]
    values: tuple[tuple[float, str], ...]
    more: tuple[tuple[float, str], ...]
    notes: tuple[str, ...]


class _Sought:
    """A text that is looked for, read as a value where it can be one."""

    def __init__(self, text: str, figures: Figures) -> None:
        self.text = _plain(text)
        self._shown, self._parse = text, figures.parse
        self._read: dict[str, str] = {}
        self._has_unit = not text[-1].isdigit() and any(sign.isdigit() for sign in text)

    def rank(self, thing: _Thing) -> int:
        """Return how well a thing matches."""
        names = [_plain(name) for name in thing.names]
        if self.text in names:
            return EXACT
        if any(name.startswith(self.text) for name in names):
            return BEGINS
        if self._is_value_of(thing):
            return VALUE
        if any(self.text in name for name in names):
            return HOLDS
        return NOTES if any(self.text in _plain(note) for note in thing.notes) else NOT_AT_ALL

    def _is_value_of(self, thing: _Thing) -> bool:
        values = thing.values + (thing.more if self._has_unit else ())
        return any(self._figures(unit) == _figures(value) for value, unit in values)

    def _figures(self, unit: str) -> str:
        """Return the text as a value of a unit; empty where it cannot be one."""
        if unit not in self._read:
            try:
                self._read[unit] = _figures(self._parse(self._shown, unit))
            except UnitError:
                self._read[unit] = ""
        return self._read[unit]


def _figures(value: float) -> str:
    return f"{value:.3g}"


def _plain(text: str) -> str:
    return text.casefold().replace("\N{MINUS SIGN}", "-")


def _ranked(things: Iterable[_Thing], sought: list[_Sought]) -> list[Match]:
    ranks = [(max(one.rank(thing) for one in sought), thing) for thing in things]
    ranks.sort(key=lambda pair: pair[0])
    return [Match(t.kind, t.key, _WAYS[rank]) for rank, t in ranks if rank < NOT_AT_ALL]


def _things(m: RailMap) -> Iterator[_Thing]:
    for part in m.parts.values():
        yield _of_part(part)
    for node in dict.fromkeys((*m.rails, *m.nodes)):
        if node != ZERO_NODE:
            yield _of_rail(m.rails.get(node) or Rail(node))
    for board in m.boards.values():
        yield _of_board(board)


def _of_part(part: Part) -> _Thing:
    known = (part.fitted, part.found)
    main = [getattr(part, part.main_field)] if part.main_field else []
    main += [stage[part.main_field].value for stage in known if part.main_field in stage]
    values = tuple((float(v), part.unit) for v in main if isinstance(v, float | int))
    more = tuple(_with_units(part))
    more += tuple((k.value, unit_of(name)) for stage in known for name, k in stage.items())
    return _Thing("part", part.ref, (part.ref,), values, more, (part.notes,))


def _with_units(item: Part | Rail) -> Iterator[tuple[float, str]]:
    """Return every value of an item that has a unit, with that unit."""
    for name in item.__struct_fields__:
        value, unit = getattr(item, name), unit_of(name)
        if unit and isinstance(value, float | int) and not isinstance(value, bool):
            yield float(value), unit


def _of_rail(rail: Rail) -> _Thing:
    label = () if rail.label_volts is None else ((rail.label_volts, "V"),)
    names = tuple(dict.fromkeys((rail.title, rail.node)))
    return _Thing("rail", rail.node, names, label, tuple(_with_units(rail)),
                  (rail.probe, rail.notes))  # fmt: skip


def _of_board(board: Board) -> _Thing:
    return _Thing("board", board.name, (board.name,), (), (), (board.notes,))
