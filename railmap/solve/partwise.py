"""What parts do, worked out from the volts and currents of their pins.

One way for one solution and for many: every array has the what-if as its first axis.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from operator import attrgetter

import numpy as np
from numpy.typing import NDArray

from railmap.model import kinds
from railmap.model.part import Part
from railmap.solve import stress
from railmap.solve.arrays import add_along
from railmap.solve.laws import Floats, Ints
from railmap.solve.what_if import Circuit


@dataclass(frozen=True)
class Layout:
    """Where the pins of some parts lie in a flat list, and how their figures are taken.

    Attributes
    ----------
    parts : sequence of Part
        The parts.
    start : ndarray of int, shape (parts,)
        First pin of each.
    ends : tuple of two ndarray of int
        The pins that its voltage is taken across.
    amps_pin : ndarray of int
        The pin that its current is taken at.
    outwards : ndarray of bool
        True where that current counts out of the pin.
    by_heat : ndarray of bool
        True where its current limit is one of heat, so that the effective current counts.
    bridges : ndarray of int
        Numbers of the parts with diodes from their first two pins.
    pin_part : ndarray of int, shape (pins,)
        Part of each pin.
    """

    parts: Sequence[Part]
    start: Ints
    ends: tuple[Ints, Ints]
    amps_pin: Ints
    outwards: NDArray[np.bool_]
    by_heat: NDArray[np.bool_]
    bridges: Ints
    pin_part: Ints


def lay_out(parts: Sequence[Part]) -> Layout:
    """Return where the pins of parts lie that follow each other in a flat list."""
    sizes = [len(p.pins) for p in parts]
    start = np.cumsum([0, *sizes], dtype=np.intp)[:-1]
    ends = [[p.pins.index(end) for end in p.ends] for p in parts]
    pins = start[:, None] + np.array(ends, dtype=np.intp).reshape(-1, 2)
    side = np.array([_counts_outwards(p) for p in parts], dtype=np.intp)
    bridges = [k for k, p in enumerate(parts) if isinstance(p, kinds.Bridge)]
    return Layout(
        parts, start, (pins[:, 0], pins[:, 1]), np.where(side == 2, pins[:, 1], pins[:, 0]),
        side > 0, np.array([isinstance(p, _HEATED) for p in parts], dtype=bool),
        np.array(bridges, dtype=np.intp), np.repeat(np.arange(len(sizes)), sizes),
    )  # fmt: skip


_HEATED = (kinds.Winding, kinds.Fuse, kinds.Link, kinds.Switch, kinds.Choke)


def _counts_outwards(part: Part) -> int:
    """Return 0 where a current counts into the first end, 1 out of it, 2 out of the other."""
    if isinstance(part, kinds.Source | kinds.Bridge):
        return 1
    return 2 if isinstance(part, kinds.Regulator | kinds.Converter) else 0


@dataclass(frozen=True)
class AtPins:
    """What is known at the pins of some parts, each of shape (what-ifs, pins).

    Attributes
    ----------
    drop, low, high : ndarray
        Volts against the last pin of the part: mean, lowest, highest; nan where the two have no
        path to each other.
    amps, rms, peak : ndarray
        Current into the pin: mean, effective value, largest size.
    watts : ndarray
        Mean of those volts times that current.
    """

    drop: Floats
    low: Floats
    high: Floats
    amps: Floats
    rms: Floats
    peak: Floats
    watts: Floats


@dataclass(frozen=True)
class PartFigures:
    """What some parts do, each of shape (what-ifs, parts).

    ``used`` is what their limits are compared with, shape (what-ifs, quantities, parts), in the
    order of ``stress.QUANTITIES``; for the others see :class:`railmap.solve.solution.PartResult`.
    """

    volts: Floats
    amps: Floats
    amps_rms: Floats
    amps_peak: Floats
    volts_peak: Floats
    watts: Floats
    used: Floats


def part_figures(layout: Layout, pins: AtPins, delivered: Floats) -> PartFigures:
    """Return what some parts do.

    Parameters
    ----------
    layout : Layout
        The parts.
    pins : AtPins
        What is known at their pins.
    delivered : ndarray, shape (what-ifs, parts)
        Watts that they put into the map.
    """
    (first, second), at = layout.ends, layout.amps_pin
    low, high = pins.low, pins.high
    amps = np.where(layout.outwards, -pins.amps[:, at], pins.amps[:, at])
    rms = pins.rms[:, at]
    over, under = high[:, first] - low[:, second], high[:, second] - low[:, first]
    peak = np.maximum(np.abs(over), np.abs(under))
    taken = np.zeros_like(amps)
    add_along(taken, layout.pin_part, values=pins.watts)
    watts = taken + delivered
    used = np.empty((len(amps), len(stress.QUANTITIES), amps.shape[1]))
    used[:, stress.WATTS] = watts
    used[:, stress.AMPS] = np.where(layout.by_heat, rms, np.abs(amps))
    used[:, stress.VOLTS] = peak
    used[:, stress.INPUT_VOLTS] = np.maximum(np.abs(low), np.abs(high))[:, layout.start]
    used[:, stress.INVERSE_VOLTS] = _inverse_volts(layout, low, high)
    used[:, stress.RIPPLE_AMPS] = rms
    return PartFigures(
        pins.drop[:, first] - pins.drop[:, second], amps, rms, pins.peak[:, at], peak, watts, used
    )


def _inverse_volts(layout: Layout, low: Floats, high: Floats) -> Floats:
    """Return the largest volts that a part, or a diode in it, holds off against its direction."""
    found = np.maximum(-low[:, layout.start], 0.0)
    if len(layout.bridges):
        at = layout.start[layout.bridges]
        found[:, layout.bridges] = np.maximum(np.maximum(high[:, at], high[:, at + 1]), 0.0)
    return found


def stress_by_what_if(circuits: Sequence[Circuit], ref: str, used: Floats) -> Floats:
    """Return the stress of a part in every what-if, by the ratings that it has there.

    Parameters
    ----------
    circuits : sequence of Circuit
        The what-ifs.
    ref : str
        The part.
    used : ndarray, shape (what-ifs, quantities, 1)
        See :class:`PartFigures`.
    """
    part = circuits[0].parts[ref]
    names = stress.ratings_of(type(part))
    if not names:
        return np.full(len(circuits), np.nan)
    read = attrgetter(*names)
    alike: dict[object, list[int]] = {}
    for row, circuit in enumerate(circuits):
        alike.setdefault(read(circuit.parts[ref]), []).append(row)
    found = np.empty(len(circuits))
    for rows in alike.values():
        limits = stress.gather_limits(circuits[rows[0]], [ref])
        found[rows] = stress.worst(limits, stress.ratios(limits, used[rows]), 1)[:, 0]
    return found
