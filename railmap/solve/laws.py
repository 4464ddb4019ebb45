"""How currents follow voltages: one class for each family of laws, for many parts at once.

A family holds the rows of all parts that obey its law. A row has pins; ``evaluate`` takes the
voltages of every node and gives the current into each pin and its slope against each pin's
voltage. A law made of straight pieces keeps a *mode* a row, the piece it is on; given a mode it
is linear, and ``next_mode`` says which piece the present voltages ask for. Arrays may carry
leading axes before the node axis.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar, Protocol

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

OFF_SIEMENS = 1e-9
"""What a junction lets through when it blocks: 1 gigaohm, common practice, no source."""
FLAT_SIEMENS = 1e-14
"""Slope of a steady current, so small that it is never seen; it keeps the matrix regular."""
COLD_FRACTION = 0.003
"""Below this fraction of its volts a lamp is a cold resistance.

From hot over cold resistance 4.8 / 0.35 (OpenStax University Physics 2, section 9.3, example) and
resistance proportional to volts to the power 0.45: (0.35 / 4.8) ** (1 / 0.45) = 0.003.
"""
ENDLESS = 1e12
"""Stands for a limit that is never reached where an infinite number would spoil the arithmetic."""
LAMP_POWER = 0.55
"""Lamp current against volts (Fink and Beaty, Standard Handbook for Electrical Engineers,
11th ed. 1978, p. 22-8, as quoted in the encyclopedia article "Lamp rerating")."""


class Family(Protocol):
    """What the solver asks of a family of laws: a dataclass of pins, slots and numbers a row."""

    __dataclass_fields__: ClassVar[dict[str, Any]]
    draws: ClassVar[bool]
    """True for what a rail feeds; left out in the first guess."""
    first_mode: ClassVar[int]

    @property
    def pins(self) -> Ints:
        """Node of each pin, shape (rows, pins a row)."""
        ...

    @property
    def slots(self) -> Ints:
        """Place of each pin in the flat list of all parts' pins, shape (rows, pins a row)."""
        ...

    def evaluate(self, v: Floats, mode: Ints, /) -> tuple[Floats, Floats]:
        """Return currents into the pins (..., rows, k) and slopes (..., rows, k, k)."""
        ...

    def next_mode(self, v: Floats, mode: Ints, /) -> Ints:
        """Return the mode that the voltages ask for (..., rows)."""
        ...


class Pieced(Family, Protocol):
    """A family whose laws are made of straight pieces alone."""

    modes: ClassVar[tuple[int, ...]]

    def bounds(self, mode: Ints, /) -> tuple[Floats, Floats]:
        """Return the straight lines that end the pieces in use.

        A piece holds as long as ``slopes @ v + constants`` is nowhere below 0: slopes on the
        pins (..., rows, bounds, k), constants (..., rows, bounds).
        """
        ...


def _between(v: Floats, pins: Ints) -> Floats:
    return v[..., pins[:, 0]] - v[..., pins[:, 1]]


_TWO_PIN = np.array([[1.0, -1.0], [-1.0, 1.0]])


Term = tuple[NDArray[np.float64], Floats | None, Floats]
"""One quantity that the end of a piece may depend on: its weight by mode and bound, shape (modes,
bounds), its slopes on the pins or None where it does not depend on volts, and its constant."""


def ends_of_pieces(there: Floats, mode: Ints, k: int, *terms: Term) -> tuple[Floats, Floats]:
    """Return the bounds of a family (see :class:`Pieced`) from a table of weights by mode.

    Parameters
    ----------
    there : ndarray, shape (..., rows)
        0 for rows that are out of the circuit: their pieces have no end.
    mode : ndarray of int, shape (..., rows)
        The pieces in use.
    k : int
        Pins a row.
    *terms : Term
        The quantities; a bound that none has weight in never ends its piece.
    """
    used = sum(np.abs(table[mode]) for table, _, _ in terms) * there[..., None] > 0
    slopes = np.zeros((*used.shape, k))
    constants = np.where(used, 0.0, 1.0)
    for table, on_pins, constant in terms:
        weight = np.where(used, table[mode], 0.0)
        constants = constants + weight * np.clip(constant, -ENDLESS, ENDLESS)[..., None]
        if on_pins is not None:
            slopes = slopes + weight[..., None] * on_pins[..., None, :]
    return slopes, constants


def _two_pin(amps: Floats, siemens: Floats) -> tuple[Floats, Floats]:
    """Expand a branch current and its slope to both pins."""
    return amps[..., None] * _TWO_PIN[0], siemens[..., None, None] * _TWO_PIN


@dataclass(frozen=True)
class Conductors:
    """Ohm's law, with a fixed voltage in series: ``amps = siemens * (v0 - v1 - volts)``."""

    pins: Ints
    slots: Ints
    siemens: Floats
    volts: Floats
    draws: ClassVar[bool] = False
    first_mode: ClassVar[int] = 0

    def evaluate(self, v: Floats, _: Ints) -> tuple[Floats, Floats]:
        """See :class:`Family`."""
        drop = _between(v, self.pins) - self.volts
        return _two_pin(self.siemens * drop, np.broadcast_to(self.siemens, drop.shape))

    def next_mode(self, _: Floats, mode: Ints) -> Ints:
        """See :class:`Family`."""
        return mode


@dataclass(frozen=True)
class ResistiveLoads(Conductors):
    """Resistive loads: Ohm's law again, kept apart because a load can be left out."""

    draws: ClassVar[bool] = True


@dataclass(frozen=True)
class Junctions:
    """Diodes and zeners: nothing, then a straight slope beyond a threshold, either way.

    Modes: 0 blocking, 1 forward, 2 breakdown. The first pin is the anode.
    """

    pins: Ints
    slots: Ints
    forward_volts: Floats
    forward_siemens: Floats
    reverse_volts: Floats
    reverse_siemens: Floats
    draws: ClassVar[bool] = False
    first_mode: ClassVar[int] = 0
    modes: ClassVar[tuple[int, ...]] = (0, 1, 2)

    def evaluate(self, v: Floats, mode: Ints) -> tuple[Floats, Floats]:
        """See :class:`Family`."""
        drop = _between(v, self.pins)
        forward = np.where(mode == 1, self.forward_siemens, 0.0)
        reverse = np.where(mode == 2, self.reverse_siemens, 0.0)
        threshold = np.where(mode == 2, -self.reverse_volts, self.forward_volts)
        slope = forward + reverse
        # Blocking rows may have an infinite threshold; slope 0 must win there.
        amps = OFF_SIEMENS * drop + np.where(slope > 0, slope * (drop - threshold), 0.0)
        return _two_pin(amps, slope + OFF_SIEMENS)

    def next_mode(self, v: Floats, _: Ints) -> Ints:
        """See :class:`Family`."""
        drop = _between(v, self.pins)
        found = np.where(drop > self.forward_volts, 1, np.where(drop < -self.reverse_volts, 2, 0))
        return found.astype(np.intp)

    def bounds(self, mode: Ints) -> tuple[Floats, Floats]:
        """See :class:`Pieced`."""
        return ends_of_pieces(
            np.sign(self.forward_siemens), mode, 2,
            (_DROP, _TWO_PIN[0], np.zeros(())),
            (_FORWARD, None, self.forward_volts), (_REVERSE, None, self.reverse_volts),
        )  # fmt: skip


# By mode (blocking, forward, breakdown) and bound.
_DROP = np.array([[-1.0, 1.0], [1.0, 0.0], [-1.0, 0.0]])
_FORWARD = np.array([[1.0, 0.0], [-1.0, 0.0], [0.0, 0.0]])
_REVERSE = np.array([[0.0, 1.0], [0.0, 0.0], [-1.0, 0.0]])


@dataclass(frozen=True)
class SteadyLoads:
    """The same current at any voltage above the collapse voltage, in proportion below it.

    Modes: 1 and -1 full current either way, 0 collapsed.
    """

    pins: Ints
    slots: Ints
    amps: Floats
    collapse_volts: Floats
    draws: ClassVar[bool] = True
    first_mode: ClassVar[int] = 0
    modes: ClassVar[tuple[int, ...]] = (0, 1, -1)

    def evaluate(self, v: Floats, mode: Ints) -> tuple[Floats, Floats]:
        """See :class:`Family`."""
        drop = _between(v, self.pins)
        slope = np.where(mode == 0, self.amps / self.collapse_volts, FLAT_SIEMENS)
        return _two_pin(self.amps * mode + slope * drop, slope)

    def next_mode(self, v: Floats, mode: Ints) -> Ints:
        """See :class:`Family`."""
        return _full_or_collapsed(_between(v, self.pins), self.collapse_volts, mode)

    def bounds(self, mode: Ints) -> tuple[Floats, Floats]:
        """See :class:`Pieced`."""
        return ends_of_pieces(
            np.sign(self.amps), mode, 2,
            (_DROP, _TWO_PIN[0], np.zeros(())), (_COLLAPSE, None, self.collapse_volts),
        )  # fmt: skip


# By mode (collapsed, full, full the other way) and bound; the drop counts as for junctions.
_COLLAPSE = np.array([[1.0, 1.0], [-1.0, 0.0], [-1.0, 0.0]])


@dataclass(frozen=True)
class PowerLoads:
    """The same watts at any voltage above the collapse voltage, a resistance below it.

    Modes: 1 and -1 full power either way, 0 collapsed.
    """

    pins: Ints
    slots: Ints
    watts: Floats
    collapse_volts: Floats
    draws: ClassVar[bool] = True
    first_mode: ClassVar[int] = 0

    def evaluate(self, v: Floats, mode: Ints) -> tuple[Floats, Floats]:
        """See :class:`Family`."""
        drop = _between(v, self.pins)
        cold = self.watts / self.collapse_volts**2
        # A step may leave the piece it was made on; the curve is then followed from its end.
        safe = np.where(mode == 0, 1.0, mode * np.maximum(mode * drop, self.collapse_volts))
        slope = np.where(mode == 0, cold, -self.watts / safe**2)
        return _two_pin(np.where(mode == 0, cold * drop, self.watts / safe), slope)

    def next_mode(self, v: Floats, mode: Ints) -> Ints:
        """See :class:`Family`."""
        return _full_or_collapsed(_between(v, self.pins), self.collapse_volts, mode)


def _full_or_collapsed(drop: Floats, collapse_volts: Floats, mode: Ints) -> Ints:
    wanted = np.where(np.abs(drop) < collapse_volts, 0, np.sign(drop)).astype(np.intp)
    # From full one way to full the other only by way of the slope between them.
    return np.where(wanted * mode < 0, 0, wanted)


@dataclass(frozen=True)
class Lamps:
    """Filament lamps: current as volts to the power 0.55, a cold resistance near nothing."""

    pins: Ints
    slots: Ints
    amps: Floats
    at_volts: Floats
    draws: ClassVar[bool] = True
    first_mode: ClassVar[int] = 0

    def evaluate(self, v: Floats, _: Ints) -> tuple[Floats, Floats]:
        """See :class:`Family`."""
        part = _between(v, self.pins) / self.at_volts
        size = np.maximum(np.abs(part), COLD_FRACTION)
        ratio = self.amps * size ** (LAMP_POWER - 1.0)
        warm = np.abs(part) > COLD_FRACTION
        slope = np.where(warm, LAMP_POWER, 1.0) * ratio / self.at_volts
        return _two_pin(part * ratio, slope)

    def next_mode(self, _: Floats, mode: Ints) -> Ints:
        """See :class:`Family`."""
        return mode
