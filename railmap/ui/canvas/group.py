"""What is selected: nothing, one thing, or several parts together."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from PySide6.QtCore import Qt

from railmap.bench.feeds import NOTHING, Feed, feed_of_node, feed_of_parts
from railmap.model.railmap import RailMap

ADDING = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier
"""With one of these keys held, a click adds a part to the selection or leaves it out again."""


@dataclass(frozen=True)
class Picked:
    """What is selected: ``part``, ``rail`` or ``board`` and its key; ``kind`` empty for nothing."""

    kind: str = ""
    key: str = ""


@dataclass(frozen=True)
class Group(Picked):
    """Two or more parts that are selected; views that show one thing take it for nothing.

    Attributes
    ----------
    refs : tuple of str
        Their references, in the order in which they were selected.
    """

    kind: str = "parts"
    refs: tuple[str, ...] = ()


def picked_of(refs: Iterable[str]) -> Picked:
    """Return what is selected when these parts are."""
    wanted = tuple(dict.fromkeys(refs))
    if len(wanted) > 1:
        return Group(refs=wanted)
    return Picked("part", wanted[0]) if wanted else Picked()


def refs_of(what: Picked) -> tuple[str, ...]:
    """Return the parts that are selected."""
    if isinstance(what, Group):
        return what.refs
    return (what.key,) if what.kind == "part" else ()


def keys_of(what: Picked) -> tuple[tuple[str, str], ...]:
    """Return kind and key of each thing that is selected."""
    if isinstance(what, Group):
        return tuple(("part", ref) for ref in what.refs)
    return ((what.kind, what.key),) if what.kind else ()


def toggled(what: Picked, refs: Iterable[str]) -> Picked:
    """Return what is selected once some parts are added, or left out if all of them are in it.

    Examples
    --------
    >>> toggled(Picked("part", "R1"), ["R2"]).refs
    ('R1', 'R2')
    >>> toggled(Group(refs=("R1", "R2")), ["R1"])
    Picked(kind='part', key='R2')
    """
    held, wanted = refs_of(what), tuple(refs)
    if set(wanted) <= set(held):
        return picked_of(ref for ref in held if ref not in wanted)
    return picked_of((*held, *wanted))


def feed_of(m: RailMap, what: Picked) -> Feed:
    """Return the feed path of what is selected, and what is fed through it alone."""
    refs = [ref for ref in refs_of(what) if ref in m.parts]
    if refs:
        return feed_of_parts(m, refs)
    return feed_of_node(m, what.key) if what.kind == "rail" else NOTHING
