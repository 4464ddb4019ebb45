"""A new part of any kind with sensible first values, for the technician to change."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from railmap.bench.edits import free_node, free_ref
from railmap.bench.parts_table import USUAL_NODES
from railmap.model import kinds
from railmap.model.part import Part, Place
from railmap.model.railmap import RailMap

PREFIX = {
    "Source": "V", "Winding": "T", "Diode": "D", "Bridge": "D", "Resistor": "R", "Capacitor": "C",
    "Choke": "L", "Load": "X", "Zener": "D", "Regulator": "U", "Converter": "U",
    "PassTransistor": "Q", "Link": "J", "Switch": "S", "Fuse": "F",
}  # fmt: skip
"""Reference letters in the manner of IEEE 315; X for a load block is our own."""

_VALUES: dict[str, dict[str, Any]] = {
    "Source": {"volts": 24.0, "ohms": 1.0}, "Winding": {"volts_rms": 18.0, "ohms": 1.0},
    "Resistor": {"ohms": 100.0, "rated_watts": 1.0}, "Choke": {"henries": 1.0, "ohms": 50.0},
    "Capacitor": {"farads": 470e-6, "rated_volts": 35.0}, "Load": {"amps": 0.05},
    "Zener": {"zener_volts": 6.8, "ohms": 5.0, "rated_watts": 0.5},
    "Regulator": {"volts": 12.0}, "Converter": {"volts": 5.0},
}  # fmt: skip


def new_part(m: RailMap, kind: str, node: str, board: str, place: Place) -> Part:
    """Return a part of a kind that is not in the map yet.

    Parameters
    ----------
    m : RailMap
        The map it is meant for.
    kind : str
        Name of the kind.
    node : str
        The rail that its first pin joins; a new node where empty.
    board : str
        Its board.
    place : Place
        Where it goes.
    """
    make: Callable[..., Part] = getattr(kinds, kind)
    pins: dict[str, str] = {}
    usual = USUAL_NODES.get(kind, {})
    names: tuple[str, ...] = getattr(kinds, kind).pins
    for number, pin in enumerate(names):
        if pin in usual:
            pins[pin] = usual[pin]
        elif number == 0 and node:
            pins[pin] = node
        else:
            pins[pin] = _fresh(m, set(pins.values()))
    values = _VALUES.get(kind, {})
    return make(ref=free_ref(m, PREFIX[kind]), board=board, place=place, **pins, **values)


def _fresh(m: RailMap, more: set[str]) -> str:
    """Return a node name that neither the map nor the new part has."""
    first = free_node(m)
    stem = first.rstrip("0123456789")
    number = int(first[len(stem) :] or 1)
    while f"{stem}{number}" in more:
        number += 1
    return f"{stem}{number}"
