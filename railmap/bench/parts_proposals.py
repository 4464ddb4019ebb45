"""What a new row of the parts table most likely says, from what was entered before it.

A supply is copied rail by rail: the part that makes a rail, then the rail with its label, what it
feeds, its capacitor, and the next dropper. So a new row goes on where the last one ended. Values,
ratings and limits are never proposed: each of them must come from the drawing.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Final

from railmap.bench.part_columns import Spec, guess_kind, label_in, spec_for, spec_of
from railmap.bench.parts_table import OTHER_ZEROS, USUAL_NODES, Row, kind_of_row
from railmap.errors import MapError
from railmap.model.kinds import Diode, Winding
from railmap.model.part import ZERO_NODE, Part
from railmap.model.rail import Rail
from railmap.model.railmap import RailMap

_ACROSS: Final = ("Load", "Capacitor", "Zener")
"""What hangs between a rail and 0V."""
_THROUGH: Final = ("Resistor", "Choke", "Link", "Switch", "Fuse", "Regulator", "Converter")
"""What leads from one node on to the next."""
_FIRST_LETTERS: Final[Mapping[str, str]] = {
    "Load": "X", "Capacitor": "C", "Resistor": "R", "Diode": "D"
}  # fmt: skip
_AFTER: Final[Mapping[str, tuple[str, ...]]] = {
    "Rail": ("Load", "Capacitor"), "Load": ("Capacitor",), "Capacitor": (),
    "Zener": ("Load", "Capacitor"),
}  # fmt: skip
"""What a rail may still lack, in the order in which it is asked for, by what came last."""
_ONWARD: Final[Mapping[str, tuple[str, ...]]] = {
    "Bridge": ("third", "fourth"), "PassTransistor": ("third",), "Source": ("from", "to"),
    **dict.fromkeys(_ACROSS, ("from", "to")),
}  # fmt: skip
"""The pins that work goes on at, first the likelier one."""
_COUNTED: Final = re.compile(r"([^\d+\-\N{MINUS SIGN}][^\d]*)(\d+)")
"""A name that counts; one that is named by its volts does not."""


def proposed(
    m: RailMap, row: Row, last: tuple[str, str] | None = None, taken: Collection[str] = ()
) -> dict[str, str]:
    """Return what is proposed for the cells of a new row that nobody has typed in.

    Parameters
    ----------
    m : RailMap
        The map.
    row : Row
        What is typed so far; a cell that was emptied on purpose is in it, and stays empty.
    last : (str, str), optional
        Table and key of what was entered last; else the last part of the map is taken.
    taken : collection of str
        References of other rows that are not in the map yet.

    Returns
    -------
    dict of str to str
        Text by column: reference, kind, pins and board.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add(Resistor("R101", "P0", "P1", ohms=33))
    >>> proposed(m, Row())
    {'ref': 'P1', 'kind': 'Rail'}
    >>> proposed(m, Row({"ref": "R102"}))
    {'kind': 'Resistor', 'from': 'P1', 'to': 'P2'}
    """
    return _Proposer(m, last, taken).cells(row)


def completed(m: RailMap, letters: str, taken: Collection[str] = ()) -> str:
    """Return the reference that the letters typed so far most likely begin; empty if none.

    It is the next number of those letters; letters that no part has may begin a node that waits
    for its rail.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add(Resistor("R101", "N0", "N1", ohms=33))
    >>> completed(m, "R"), completed(m, "C"), completed(m, "N"), completed(m, "R1")
    ('R102', 'C1', 'N0', '')
    """
    if not letters.isalpha():
        return ""
    found = next((ref for ref in reversed(m.parts) if _letters_of(ref) == letters), "")
    if found:
        return _next_ref(m, found, taken)
    bare = [n for n in m.nodes if n not in m.rails and n not in _mains_side(m)]
    node = next((n for n in bare if n != ZERO_NODE and _letters_of(n) == letters), "")
    return node or (_next_ref(m, f"{letters}0", taken) if guess_kind(letters) else "")


def _letters_of(name: str) -> str:
    counted = re.fullmatch(r"([^\W\d_]+)\d+", name)
    return counted[1] if counted else ""


def _next_ref(m: RailMap, ref: str, taken: Collection[str]) -> str:
    """Return the next free reference behind one that ends with a number."""
    letters = _letters_of(ref)
    used = {*m.parts, *m.nodes, *m.rails, *taken}
    number, wide = int(ref[len(letters) :]) + 1, len(ref) - len(letters)
    while f"{letters}{number:0{wide}}" in used:
        number += 1
    return f"{letters}{number:0{wide}}"


def _next_node(m: RailMap, name: str) -> str:
    """Return the first node of a name's letters that is behind all there are; empty if none."""
    counted = _COUNTED.fullmatch(name)
    if not counted:
        return ""
    others = [_COUNTED.fullmatch(node) for node in (*m.nodes, *m.rails, name)]
    numbers = [int(other[2]) for other in others if other and other[1] == counted[1]]
    return f"{counted[1]}{max(numbers) + 1}"


def _mains_side(m: RailMap) -> list[str]:
    """Return the ends of the windings, without 0V."""
    ends = [n for part in m.parts.values() if isinstance(part, Winding) for n in part.nodes]
    return [node for node in dict.fromkeys(ends) if node != ZERO_NODE]


def _free_ends(m: RailMap) -> list[str]:
    """Return the ends of the windings that no other part is at."""
    others = [part for part in m.parts.values() if not isinstance(part, Winding)]
    used = {node for part in others for node in part.nodes}
    return [node for node in _mains_side(m) if node not in used]


def _makers(m: RailMap) -> dict[str, Part]:
    """Return for each node the first part that leads to it, else the first that is at it."""
    parts = [part for part in m.parts.values() if type(part).__name__ not in _ACROSS]
    makers: dict[str, Part] = {}
    for part in parts:
        for node in part.nodes[1:]:
            makers.setdefault(node, part)
    for part in parts:
        makers.setdefault(part.nodes[0], part)
    return makers


def _below_zero(m: RailMap, node: str) -> bool:
    """Tell whether a node is negative: by its label, else by what makes it."""
    makers, seen = _makers(m), set[str]()
    while node not in seen:
        rail = m.rails.get(node)
        label = rail.label_volts if rail is not None else label_in(node)
        if label is not None:
            return label < 0
        maker = makers.get(node)
        if type(maker).__name__ not in _THROUGH:
            return node == getattr(maker, "anode" if isinstance(maker, Diode) else "minus", "")
        assert maker is not None
        seen.add(node)
        node = maker.nodes[0]
    return False


@dataclass(frozen=True)
class _Proposer:
    """What can be told from what was entered last."""

    m: RailMap
    entered: tuple[str, str] | None
    taken: Collection[str]

    @property
    def _last(self) -> Part | Rail | None:
        found = self.m.table(self.entered[0]).get(self.entered[1]) if self.entered else None
        return found if isinstance(found, Part | Rail) else self._last_part

    @property
    def _last_part(self) -> Part | None:
        ref = next(reversed(self.m.parts), None)
        return None if ref is None else self.m.parts[ref]

    @property
    def _node(self) -> str:
        """The node at which work goes on; empty if that cannot be told."""
        last = self._last
        if last is None or isinstance(last, Rail):
            return last.node if last is not None else ""
        spec = spec_for(last)
        ways = [spec.pins[column] for column in _ONWARD.get(spec.name, ("to", "from"))]
        nodes = [getattr(last, pin) for pin in ways]
        shut = {ZERO_NODE, *_mains_side(self.m)}
        return next((node for node in nodes if node not in shut), "")

    def cells(self, row: Row) -> dict[str, str]:
        """Return the texts by column."""
        if row.key:
            return {}
        found: dict[str, str] = {}
        if not row.ref and "ref" not in row.texts:
            found["ref"] = self._ref()
        try:
            kind = kind_of_row(self.m, Row({**found, **row.texts}))
        except MapError:
            return {}
        if kind:
            spec = spec_of(kind)
            found |= {"kind": spec.word, **self._pins(spec, row.texts)}
            if spec.table == "parts":
                found["board"] = self._board
        return {column: text for column, text in found.items() if text and column not in row.texts}

    # The reference.

    def _ref(self) -> str:
        last, node = self._last, self._node
        if last is None:
            return ""
        if isinstance(last, Winding) or (isinstance(last, Diode) and _free_ends(self.m)):
            return self._behind_winding(last)
        at = [type(part).__name__ for part in self.m.parts.values() if node in part.nodes]
        for kind in _AFTER.get(spec_for(last).name, ("Rail", "Load", "Capacitor")) if node else ():
            if kind == "Rail" and node not in self.m.rails:
                return node
            if kind != "Rail" and kind not in at:
                return self._next_of(kind)
        return self._next_of("Resistor")

    def _behind_winding(self, last: Part) -> str:
        """Return the other half of a winding in two, else the next diode."""
        half = f"{last.ref[:-1]}B"
        if re.fullmatch(r".*\dA", last.ref) and half not in {*self.m.parts, *self.taken}:
            return half
        return self._next_of("Diode")

    def _next_of(self, kind: str) -> str:
        """Return the next reference of a kind, with the letters that its last one has."""
        refs = (ref for ref, part in self.m.parts.items() if type(part).__name__ == kind)
        fit = [ref for ref in refs if _letters_of(ref) and guess_kind(ref) == kind]
        return _next_ref(self.m, fit[-1] if fit else f"{_FIRST_LETTERS[kind]}0", self.taken)

    # The board.

    @property
    def _board(self) -> str:
        """The board of the last part; behind a rail, that of the part that makes it."""
        last, part = self._last, self._last_part
        maker = _makers(self.m).get(last.node) if isinstance(last, Rail) else last
        found = maker if isinstance(maker, Part) else part
        return found.board if found is not None else ""

    # The pins.

    def _pins(self, spec: Spec, typed: Mapping[str, str]) -> dict[str, str]:
        start = typed.get("from", "").strip() or self._node
        usual = USUAL_NODES.get(spec.name, {})
        pins = {c: usual[pin] for c, pin in spec.pins.items() if pin in usual}
        if spec.name in _ACROSS:
            return {**pins, **self._across(spec.name, typed)}
        if spec.name in _THROUGH:
            return {**pins, "from": start, "to": _next_node(self.m, start)}
        if spec.name == "PassTransistor":
            return {"from": start}
        return {**pins, **self._rectified(spec.name, start)}

    def _across(self, kind: str, typed: Mapping[str, str]) -> dict[str, str]:
        """Return the two pins: of what has a polarity the one at 0V is first on a negative rail."""
        if not self._node:
            return {}
        first = typed.get("from", "").strip()
        if first:
            zero = first.casefold() in OTHER_ZEROS
            return {"to": self._node if zero else ZERO_NODE}
        if kind != "Load" and _below_zero(self.m, self._node):
            return {"from": ZERO_NODE, "to": self._node}
        return {"from": self._node, "to": ZERO_NODE}

    def _rectified(self, kind: str, start: str) -> dict[str, str]:
        """Return the pins of a winding, a bridge or a diode."""
        last, ends = self._last, _free_ends(self.m)
        if kind == "Winding" and isinstance(last, Winding) and last.b == ZERO_NODE:
            return {"from": ZERO_NODE, "to": _next_node(self.m, last.a)}
        if kind == "Bridge" and len(ends) > 1:
            return {"from": ends[0], "to": ends[1]}
        if kind == "Diode" and ends:
            other = last.cathode if isinstance(last, Diode) else ""
            return {"from": ends[0], "to": "" if other in _mains_side(self.m) else other}
        return {"from": start} if kind == "Diode" else {}
