"""What-ifs: changes to a map that are tried and never written into it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import Enum
from functools import cached_property
from typing import Final

from railmap.errors import MapError
from railmap.model.kinds import Link, Load, Winding
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

LEAST_WINDING_OHMS = 1e-3
"""Of a winding without resistance behind a lamp limiter, so that its current is its own."""
PartChange = float | Fault | Mapping[str, float]


@dataclass(frozen=True)
class WhatIf:
    """A set of changes to one map; build it with :func:`what_if`."""

    parts: Mapping[str, PartChange] = field(default_factory=dict[str, PartChange])
    unplugged: tuple[str, ...] = ()
    accessories_out: tuple[str, ...] = ()
    mains_volts: float | None = None
    loads_off: bool = False
    limiter_watts: float | None = None


def what_if(
    parts: Mapping[str, PartChange] | None = None,
    /,
    *,
    unplugged: Iterable[str] = (),
    accessories_out: Iterable[str] = (),
    mains_volts: float | None = None,
    loads_off: bool = False,
    limiter_watts: float | None = None,
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
    limiter_watts : float, optional
        Watts of a lamp in series with the mains, made for the design mains.

    Returns
    -------
    WhatIf

    Examples
    --------
    >>> what_if(R1=236, R2=OPEN).parts
    {'R1': 236, 'R2': OPEN}
    """
    return WhatIf(
        {**(parts or {}), **more}, tuple(unplugged), tuple(accessories_out), mains_volts,
        loads_off, limiter_watts,
    )  # fmt: skip


def from_setup(setup: Setup) -> WhatIf:
    """Return the what-if that puts a map into a setup."""
    return WhatIf(
        {}, setup.unplugged, setup.accessories_out, setup.mains_volts, setup.loads_off,
        setup.limiter_watts,
    )  # fmt: skip


def together(first: WhatIf, second: WhatIf) -> WhatIf:
    """Return both what-ifs as one; where they disagree the second holds."""
    return WhatIf(
        {**first.parts, **second.parts},
        tuple(dict.fromkeys(first.unplugged + second.unplugged)),
        tuple(dict.fromkeys(first.accessories_out + second.accessories_out)),
        first.mains_volts if second.mains_volts is None else second.mains_volts,
        first.loads_off or second.loads_off,
        first.limiter_watts if second.limiter_watts is None else second.limiter_watts,
    )


def as_asked(
    setup: Setup | None, change: WhatIf | None = None, mains_volts: float | None = None
) -> WhatIf:
    """Return a setup, a what-if and the mains as one; where they disagree the later holds."""
    found = what_if() if setup is None else from_setup(setup)
    if change is not None:
        found = together(found, change)
    return together(found, what_if(mains_volts=mains_volts))


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
    mains_volts : float
        Design mains.
    limiter_watts : float or None
        Watts of a lamp in series with the mains.
    calm : Circuit or None
        The circuit without any what-if, where this one was carried out on it.
    touched : frozenset of str
        Parts that may have other values than in ``calm``.
    """

    parts: dict[str, Part]
    faults: dict[str, Fault]
    mains_ratio: float
    ambient_c: dict[str, float]
    mains_volts: float = 230.0
    limiter_watts: float | None = None
    calm: Circuit | None = field(default=None, repr=False, compare=False)
    touched: frozenset[str] = field(default=frozenset(), repr=False, compare=False)

    @cached_property
    def nodes(self) -> dict[str, tuple[str, ...]]:
        """Nodes of every part's pins, by reference."""
        if self.calm is not None:
            return self.calm.nodes
        return {ref: part.nodes for ref, part in self.parts.items()}

    @cached_property
    def windings(self) -> list[str]:
        """References of the windings."""
        if self.calm is not None:
            return self.calm.windings
        return [ref for ref, part in self.parts.items() if isinstance(part, Winding)]

    def changed_from(self, other: Circuit) -> set[str]:
        """Return the parts that have other values or faults here than in another circuit."""
        if self.calm is not None and self.calm is other.calm:
            seen = self.touched | other.touched
        else:
            seen = self.parts.keys()
        here, there = self.parts, other.parts
        found = {r for r in seen if here[r] is not there[r] and here[r] != there[r]}
        if self.faults or other.faults:
            both = self.faults.keys() | other.faults.keys()
            found |= {r for r in both if self.faults.get(r) is not other.faults.get(r)}
        return found


class CalmMap:
    """A map's parts with their last known values, for what-ifs to be carried out on.

    Parameters
    ----------
    m : RailMap
        The map; it is not changed.
    """

    def __init__(self, m: RailMap) -> None:
        self._map = m
        ambient = {"": m.about.ambient_c}
        for name, board in m.boards.items():
            ambient[name] = m.about.ambient_c if board.ambient_c is None else board.ambient_c
        parts = {ref: part.settled() for ref, part in m.parts.items()}
        self.circuit = Circuit(parts, {}, 1.0, ambient, m.mains_volts)

    def under(self, change: WhatIf) -> Circuit:
        """Carry out a what-if.

        Raises
        ------
        MapError
            If it names a part, board or accessory that the map does not have, or a value that the
            part cannot have.
        """
        _check_names(self._map, change)
        calm = self.circuit
        faults = {ref: new for ref, new in change.parts.items() if isinstance(new, Fault)}
        faults.update(self._out(change))
        parts = calm.parts
        changed = {
            ref: _with(parts[ref], new) for ref, new in change.parts.items()
            if not isinstance(new, Fault)
        }  # fmt: skip
        if change.limiter_watts is not None:
            own = {ref: changed.get(ref, parts[ref]) for ref in calm.windings if ref not in faults}
            changed |= {
                ref: part.changed(ohms=LEAST_WINDING_OHMS) for ref, part in own.items()
                if isinstance(part, Winding) and part.ohms == 0
            }  # fmt: skip
        mains = self._map.mains_volts if change.mains_volts is None else change.mains_volts
        return Circuit(
            {**parts, **changed} if changed else parts, faults, mains / self._map.mains_volts,
            calm.ambient_c, calm.mains_volts, change.limiter_watts, calm, frozenset(changed),
        )  # fmt: skip

    def _out(self, change: WhatIf) -> dict[str, Fault]:
        """Return what is out of the circuit by its board, its plug, or with all loads."""
        found: dict[str, Fault] = dict.fromkeys(change.accessories_out, OPEN)
        if change.unplugged or change.loads_off:
            for ref, part in self._map.parts.items():
                off = change.loads_off and isinstance(part, Load)
                if off or (part.board and part.board in change.unplugged):
                    found[ref] = OPEN
        return found


def _with(part: Part, new: float | Mapping[str, float]) -> Part:
    """Return a settled part with its main value, or the fields named, changed."""
    if isinstance(new, Mapping):
        return part.changed(**{k: float(v) for k, v in new.items()})
    return part.with_value(float(new))


def carry_out(m: RailMap, change: WhatIf) -> Circuit:
    """Carry out a what-if on a map's parts; for many on one map see :class:`CalmMap`.

    Raises
    ------
    MapError
        If it names a part, board or accessory that the map does not have, or a value that the
        part cannot have.
    """
    return CalmMap(m).under(change)


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
    watts = change.limiter_watts
    if watts is not None and not 0 < watts < 1e5:
        raise MapError(f"a lamp limiter must have above 0 and below 100000 watts, has {watts:g}")
