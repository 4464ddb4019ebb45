"""What-ifs: changes to a map that are tried and never written into it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import Enum
from functools import cached_property
from typing import Final

from railmap.errors import MapError
from railmap.model.kinds import Link, Load
from railmap.model.part import Part
from railmap.model.railmap import RailMap
from railmap.model.setup import Setup


class Fault(Enum):
    """A part that is broken altogether."""

    OPEN = "open"
    SHORT = "short"

    def __repr__(self) -> str:
        return self.name


OPEN: Final = Fault.OPEN
SHORT: Final = Fault.SHORT

PartChange = float | Fault | Mapping[str, float]


@dataclass(frozen=True)
class WhatIf:
    """A set of changes to one map; build it with :func:`what_if`."""

    parts: Mapping[str, PartChange] = field(default_factory=dict[str, PartChange])
    unplugged: tuple[str, ...] = ()
    accessories_out: tuple[str, ...] = ()
    mains_volts: float | None = None
    loads_off: bool = False


def what_if(
    parts: Mapping[str, PartChange] | None = None,
    /,
    *,
    unplugged: Iterable[str] = (),
    accessories_out: Iterable[str] = (),
    mains_volts: float | None = None,
    loads_off: bool = False,
    **more: PartChange,
) -> WhatIf:
    """Describe a change to try on a map.

    Parameters
    ----------
    parts : mapping, optional
        Part reference to its new main value (SI), to :data:`OPEN` or :data:`SHORT`, or to a
        mapping of field names to values. Parts can also be given by keyword.
    unplugged : iterable of str
        Boards that are unplugged.
    accessories_out : iterable of str
        Accessories that are out.
    mains_volts : float, optional
        Mains volts rms.
    loads_off : bool
        True if no load draws current.

    Returns
    -------
    WhatIf

    Examples
    --------
    >>> what_if(R1=236, R2=OPEN).parts
    {'R1': 236, 'R2': OPEN}
    """
    return WhatIf(
        {**(parts or {}), **more}, tuple(unplugged), tuple(accessories_out), mains_volts, loads_off
    )


def from_setup(setup: Setup) -> WhatIf:
    """Return the what-if that puts a map into a setup."""
    return WhatIf({}, setup.unplugged, setup.accessories_out, setup.mains_volts, setup.loads_off)


def together(first: WhatIf, second: WhatIf) -> WhatIf:
    """Return both what-ifs as one; where they disagree the second holds."""
    return WhatIf(
        {**first.parts, **second.parts},
        tuple(dict.fromkeys(first.unplugged + second.unplugged)),
        tuple(dict.fromkeys(first.accessories_out + second.accessories_out)),
        first.mains_volts if second.mains_volts is None else second.mains_volts,
        first.loads_off or second.loads_off,
    )


@dataclass(frozen=True)
class Circuit:
    """The parts as they are to be solved: last known values, with a what-if carried out.

    Attributes
    ----------
    parts : dict of str to Part
        Every part of the map, settled and changed.
    faults : dict of str to Fault
        Parts that are out of the circuit or short-circuited.
    mains_ratio : float
        Mains over design mains.
    ambient_c : dict of str to float
        Air temperature by board name; ``""`` is the map's own.
    """

    parts: dict[str, Part]
    faults: dict[str, Fault]
    mains_ratio: float
    ambient_c: dict[str, float]

    @cached_property
    def nodes(self) -> dict[str, tuple[str, ...]]:
        """Nodes of every part's pins, by reference."""
        return {ref: part.nodes for ref, part in self.parts.items()}


def carry_out(m: RailMap, change: WhatIf) -> Circuit:
    """Carry out a what-if on a map's parts.

    Raises
    ------
    MapError
        If it names a part, board or accessory that the map does not have, or a value that the
        part cannot have.
    """
    _check_names(m, change)
    parts = {ref: part.settled() for ref, part in m.parts.items()}
    faults: dict[str, Fault] = {}
    for ref, new in change.parts.items():
        if isinstance(new, Fault):
            faults[ref] = new
        elif isinstance(new, Mapping):
            parts[ref] = parts[ref].changed(**{k: float(v) for k, v in new.items()})
        else:
            parts[ref] = parts[ref].with_value(float(new))
    gone = set(change.accessories_out)
    for ref, part in parts.items():
        off = change.loads_off and isinstance(part, Load)
        if off or ref in gone or (part.board and part.board in change.unplugged):
            faults[ref] = OPEN
    mains = m.mains_volts if change.mains_volts is None else change.mains_volts
    ambient = {"": m.about.ambient_c}
    for name, board in m.boards.items():
        ambient[name] = m.about.ambient_c if board.ambient_c is None else board.ambient_c
    return Circuit(parts, faults, mains / m.mains_volts, ambient)


def _check_names(m: RailMap, change: WhatIf) -> None:
    for ref in (*change.parts, *change.accessories_out):
        if ref not in m.parts:
            raise MapError(f"there is no part {ref!r} in the map")
    for ref in change.accessories_out:
        part = m.parts[ref]
        if not (isinstance(part, Link) and part.accessory):
            raise MapError(f"{ref} is no accessory, so it cannot be out")
    for board in change.unplugged:
        if board not in m.boards:
            raise MapError(f"there is no board {board!r} in the map")
    mains = change.mains_volts
    if mains is not None and not 0 < mains < 1e5:
        raise MapError(f"mains volts must be above 0 and below 100000, is {mains:g}")
