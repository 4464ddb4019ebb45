"""Several parts selected together."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from railmap.ui.bridge import Picked


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
