"""Joining pins, taking them off, and the links that carry a rail from board to board.

Each function returns the changes to hand to :meth:`railmap.bench.history.History.do`.
"""

from __future__ import annotations

from contextlib import suppress

from railmap.bench.edits import free_node, free_ref, part_named
from railmap.errors import MapError
from railmap.model.checks import show
from railmap.model.kinds import Link
from railmap.model.part import ZERO_NODE, Part, Place
from railmap.model.railmap import Change, RailMap

LINK_LETTER = "J"


def joined(m: RailMap, ref: str, pin: str, node: str) -> list[Change]:
    """Put a pin on a node.

    Parameters
    ----------
    m : RailMap
        The map.
    ref, pin : str
        Part and pin.
    node : str
        Node, or the name of its rail; one that the map does not have comes into being.

    Raises
    ------
    MapError
        If there is no such pin, or the name cannot be one.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add(Resistor("R1", "RAW", "A", ohms=150)), m.add_rail("A", "+12")
    >>> _ = m.change(joined(m, "R1", "a", "+12"))
    >>> m.parts["R1"].nodes
    ('A', 'A')
    """
    part = _pin_of(m, ref, pin)
    # What the map does not know is a new node.
    with suppress(MapError):
        node = m.node_of(node)
    return [] if getattr(part, pin) == node else [Change("parts", ref, part.changed(**{pin: node}))]


def join_pins(m: RailMap, one: tuple[str, str], other: tuple[str, str]) -> list[Change]:
    """Join two pins: the first goes to the node of the second.

    A pin that nothing else hangs on gives way: if only the second is such a one, it goes to the
    node of the first, so that nobody loses a rail by joining to it the wrong way round.

    Parameters
    ----------
    m : RailMap
        The map.
    one, other : tuple of str
        Part and pin.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add(Resistor("R1", "A", "B", ohms=1)), m.add(Resistor("R2", "B", "N1", ohms=1))
    >>> _ = m.change(join_pins(m, ("R1", "a"), ("R1", "b")))
    >>> [part.nodes for part in m.parts.values()]
    [('B', 'B'), ('B', 'N1')]
    >>> _ = m.change(join_pins(m, ("R1", "b"), ("R2", "b")))
    >>> [part.nodes for part in m.parts.values()]
    [('B', 'B'), ('B', 'B')]
    """
    if not alone(m, *one) and alone(m, *other):
        one, other = other, one
    return joined(m, *one, getattr(_pin_of(m, *other), other[1]))


def alone(m: RailMap, ref: str, pin: str) -> bool:
    """Tell whether nothing else hangs on the node of a pin, and nobody has named it."""
    node = getattr(_pin_of(m, ref, pin), pin)
    pins = sum(p.nodes.count(node) for p in m.parts.values())
    return pins == 1 and node != ZERO_NODE and node not in m.rails


def taken_off(m: RailMap, ref: str, pin: str) -> list[Change]:
    """Take a pin off its node: it gets one of its own.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add(Resistor("R1", "A", "B", ohms=1)), m.add(Resistor("R2", "B", "C", ohms=1))
    >>> _ = m.change(taken_off(m, "R1", "b"))
    >>> m.parts["R1"].nodes
    ('A', 'N1')
    """
    if alone(m, ref, pin):
        return []
    return [Change("parts", ref, _pin_of(m, ref, pin).changed(**{pin: free_node(m)}))]


def needs_link(m: RailMap, ref: str, node: str) -> bool:
    """Tell whether a part is on another board than all that a node reaches.

    0 V is on every board, and a part of the chassis is on none.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add_board("Main", 99, 99), m.add_board("Side", 99, 99)
    >>> _ = m.add(Resistor("R1", "A", "B", ohms=1, board="Main"))
    >>> _ = m.add(Resistor("R2", "C", "0V", ohms=1, board="Side"))
    >>> needs_link(m, "R2", "B"), needs_link(m, "R2", "C"), needs_link(m, "R2", "0V")
    (True, False, False)
    """
    board = m.parts[ref].board
    reached = {part.board for part in m.parts.values() if node in part.nodes}
    return bool(board and reached) and node != ZERO_NODE and not reached & {board, ""}


def linked(m: RailMap, ref: str, pin: str, node: str, place: Place | None = None) -> list[Change]:
    """Join a pin to a node of another board by a link between the boards.

    Parameters
    ----------
    m : RailMap
        The map.
    ref, pin : str
        Part and pin. Its node stays if nothing else hangs on it; else the pin gets one of its own.
    node : str
        Node on the other board.
    place : Place, optional
        Where the link goes on the floor.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add(Resistor("R1", "A", "B", ohms=1)), m.add(Resistor("R2", "C", "0V", ohms=1))
    >>> _ = m.change(linked(m, "R2", "a", "B"))
    >>> m.parts["J1"].nodes, m.parts["R2"].nodes
    (('B', 'C'), ('C', '0V'))
    """
    changes = taken_off(m, ref, pin)
    trial = m.copy()
    trial.change(changes)
    near = getattr(trial.parts[ref], pin)
    link = Link(ref=free_ref(m, LINK_LETTER), a=node, b=near, place=place)
    return [*changes, Change("parts", None, link)]


def _pin_of(m: RailMap, ref: str, pin: str) -> Part:
    part = part_named(m, ref)
    if pin not in part.pins:
        raise MapError(f"{ref} has no pin {show(pin)}")
    return part
