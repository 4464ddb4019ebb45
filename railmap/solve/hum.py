"""Ripple behind the raw rails under many what-ifs of one part each, in little time.

Ripple is small beside the volts it rides on, so that what hangs behind the raw rails answers it as
a linear network at the present operating point. Each harmonic of a raw rail's saw-tooth is taken
through it once; what one part changes is an update of rank one (Sherman and Morrison, Annals of
Mathematical Statistics 21, 1950). The shape of the saw-tooth is a guess, so that only ratios to
the present ripple are taken from it, which the periodic state gives exactly.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from railmap.model import kinds
from railmap.model.part import ZERO_NODE, Part
from railmap.solve.image import Image
from railmap.solve.laws import Floats
from railmap.solve.solution import PartResult

Complexes = NDArray[np.complex128]
HARMONICS: Final = 8
POINTS: Final = 64
"""Moments of a turn at which the sum of the harmonics is looked at."""
CHARGING_PART: Final = 0.2
"""Part of a ripple's period in which the reservoir is charged: from memory, of no great effect."""
WIRE_SIEMENS: Final = 1e3
LOOSE_SIEMENS: Final = 1e-9
"""Between every node and 0 V, so that one that nothing holds has volts too."""


@dataclass(frozen=True)
class _Tone:
    """The linear network at one harmonic of one raw rail.

    Attributes
    ----------
    omega : float
        Radians a second.
    inverse : ndarray, shape (free, free)
        Inverse of the nodal matrix.
    volts : ndarray, shape (nodes + 1,)
        Phasors of all nodes; the last is 0 V.
    """

    port: int
    omega: float
    inverse: Complexes
    volts: Complexes


class Hum:
    """Ripple of all nodes behind the raw rails; see the module.

    Parameters
    ----------
    image : Image
        Image of the map, with its exact solution.
    """

    def __init__(self, image: Image) -> None:
        self._image = image
        self.nodes = [n for n in image.m.nodes if n != ZERO_NODE]
        self._index = {n: i for i, n in enumerate(self.nodes)} | {ZERO_NODE: len(self.nodes)}
        self._fixed = [self._index[p.node] for p in image.ports if p.node in self._index]
        self._free = [i for i in range(len(self.nodes)) if i not in self._fixed]
        self._place = {node: i for i, node in enumerate(self._free)}
        self.calm = np.array([image.calm.ripple(n).volts_pp for n in self.nodes])
        self._parts = {
            ref: part for ref, part in image.m.parts.items()
            if ref in image.calm.network.part_index and len(part.pins) >= 2
        }  # fmt: skip
        self._tones = [t for number, _ in enumerate(image.ports) for t in self._tones_of(number)]
        self._shape = self._swing([t.volts for t in self._tones], 1.0)

    def under(self, ref: str, value: Part | None, port_amps: Floats) -> Floats:
        """Return the ripple of every node with one part changed.

        Parameters
        ----------
        ref : str
            The part.
        value : Part or None
            The part as it would be; None if it were open.
        port_amps : ndarray, shape (ports,)
            What each raw rail would deliver.

        Returns
        -------
        ndarray, shape (nodes,)
            Volts peak to peak.
        """
        size = self._scales(port_amps)
        if ref not in self._parts:
            return self._times(self._swing([tone.volts for tone in self._tones], size))
        old = self._parts[ref]
        a, b = (self._index[getattr(old, pin)] for pin in _ends(old))
        found = [self._with(tone, old, value, a, b) for tone in self._tones]
        return self._times(self._swing(found, size))

    def _with(self, tone: _Tone, old: Part, new: Part | None, a: int, b: int) -> Complexes:
        """Return the phasors with one element changed: an update of rank one."""
        known = self._image.calm.part(old.ref)
        after = 0.0 if new is None else admittance(new, known, tone.omega)
        change = after - admittance(old, known, tone.omega)
        u = np.zeros(len(self._free), dtype=complex)
        for node, sign in ((a, 1.0), (b, -1.0)):
            if node in self._place:
                u[self._place[node]] += sign
        if change == 0 or not u.any():
            return tone.volts
        through = tone.inverse @ u
        drop = tone.volts[a] - tone.volts[b]
        found = tone.volts.copy()
        found[self._free] -= through * (change * drop / (1 + change * (u @ through)))
        return found

    def _times(self, shape: Floats) -> Floats:
        ratio = np.divide(shape, self._shape, out=np.ones_like(shape), where=self._shape > 1e-12)
        return self.calm * ratio

    def _scales(self, port_amps: Floats) -> Floats:
        """Return how the ripple of each tone's raw rail grows, shape (tones,)."""
        grown = [
            float(
                port.ripple_at(amps) / np.maximum(port.ripple_at(np.array(port.calm_amps)), 1e-12)
            )
            for port, amps in zip(self._image.ports, port_amps, strict=True)
        ]
        return np.array([grown[tone.port] for tone in self._tones])

    def _swing(self, phasors: Sequence[Complexes], scales: Floats | float) -> Floats:
        """Return the peak-to-peak swing of every node, shape (nodes,)."""
        if not self._tones:
            return np.zeros(len(self.nodes))
        moments = np.arange(POINTS) / POINTS / self._image.calm.source.mains_hertz
        turning = np.array([np.exp(1j * tone.omega * moments) for tone in self._tones])
        size = np.broadcast_to(np.asarray(scales), (len(self._tones),))
        wave = np.einsum("kn,kt->nt", np.array(phasors)[:, :-1] * size[:, None], turning).real
        return np.asarray(wave.max(axis=1) - wave.min(axis=1))

    def _tones_of(self, number: int) -> list[_Tone]:
        port, calm = self._image.ports[number], self._image.calm
        ripple = calm.ripple(port.node)
        if not ripple.volts_pp or np.isnan(ripple.hertz) or port.node not in self._index:
            return []
        # The minus rail's saw-tooth falls where the plus rail's rises.
        size = np.copysign(ripple.volts_pp, calm.volts(port.node))
        return [
            self._tone(number, 2 * np.pi * ripple.hertz * k, size * _saw_tooth(k))
            for k in range(1, HARMONICS + 1)
        ]

    def _tone(self, number: int, omega: float, driven: complex) -> _Tone:
        count = len(self.nodes)
        matrix = np.zeros((count + 1, count + 1), dtype=complex)
        for part in self._parts.values():
            known = self._image.calm.part(part.ref)
            _stamp(matrix, part, known, omega, self._index)
        matrix[range(count), range(count)] += LOOSE_SIEMENS
        inverse = np.asarray(np.linalg.inv(matrix[np.ix_(self._free, self._free)]), np.complex128)
        volts = np.zeros(count + 1, dtype=complex)
        volts[self._index[self._image.ports[number].node]] = driven
        volts[self._free] = -inverse @ (matrix[np.ix_(self._free, self._fixed)]
                                        @ volts[self._fixed])  # fmt: skip
        return _Tone(number, omega, inverse, volts)


def _saw_tooth(harmonic: int) -> complex:
    """Return a harmonic of a wave that swings by 1 and rises in a part of its period."""
    rise = CHARGING_PART
    return complex(
        np.sin(np.pi * harmonic * rise) / (np.pi**2 * harmonic**2 * rise * (1 - rise))
    ) * np.exp(-0.5j * np.pi)


def _ends(part: Part) -> tuple[str, str]:
    """Return the pins between which ripple meets a part: for a regulator its output."""
    if isinstance(part, kinds.MakesVolts):
        return "output", "common"
    return part.ends


def _stamp(
    matrix: Complexes, part: Part, known: PartResult, omega: float, index: dict[str, int]
) -> None:
    a, b = (index[getattr(part, pin)] for pin in _ends(part))
    y = admittance(part, known, omega)
    matrix[a, a] += y
    matrix[b, b] += y
    matrix[a, b] -= y
    matrix[b, a] -= y


def admittance(part: Part, known: PartResult, omega: float) -> complex:
    """Return what ripple of small size meets between a part's ends, siemens.

    Parameters
    ----------
    part : Part
        The part, settled.
    known : PartResult
        Its operating point.
    omega : float
        Radians a second.

    Examples
    --------
    >>> import railmap as rm
    >>> m = rm.RailMap()
    >>> r = m.add(rm.Resistor("R1", "A", "0V", ohms=100))
    >>> v = m.add(rm.Source("V1", "A", "0V", volts=1))
    >>> admittance(r, rm.solve(m).part("R1"), 314.0)
    (0.01+0j)
    """
    given = _ADMITTANCE.get(type(part))
    return 0j if given is None else given(part, known, omega)


def _of_resistor(part: Any, _: PartResult, __: float) -> complex:
    return complex(1 / part.ohms)


def _of_capacitor(part: Any, _: PartResult, omega: float) -> complex:
    leak = 0.0 if part.leak_ohms is None else 1 / part.leak_ohms
    return 1 / (part.esr_ohms + 1 / (1j * omega * part.farads)) + leak


def _of_choke(part: Any, _: PartResult, omega: float) -> complex:
    return 1 / complex(part.ohms, omega * part.henries)


def _of_load(part: Any, known: PartResult, _: float) -> complex:
    if part.behaviour == "steady" or not known.volts:
        return 0j
    # A lamp's filament does not follow ripple: it is a resistance.
    slope = known.amps / known.volts
    return complex(-slope if part.behaviour == "power" else slope)


def _of_zener(part: Any, known: PartResult, _: float) -> complex:
    on = known.volts > 0.9 * part.zener_volts or known.volts < 0
    return _siemens(part.ohms) if on else 0j


def _of_diode(part: Any, known: PartResult, _: float) -> complex:
    return _siemens(part.ohms) if known.amps > 0 else 0j


def _of_wire(part: Any, _: PartResult, __: float) -> complex:
    return _siemens(part.ohms) if getattr(part, "closed", True) else 0j


def _of_transistor(part: Any, _: PartResult, __: float) -> complex:
    return _siemens(part.saturation_ohms)


def _siemens(ohms: float) -> complex:
    return complex(1 / max(ohms, 1 / WIRE_SIEMENS))


_ADMITTANCE: Final[dict[type[Part], Callable[[Any, PartResult, float], complex]]] = {
    kinds.Resistor: _of_resistor,
    kinds.Capacitor: _of_capacitor,
    kinds.Choke: _of_choke,
    kinds.Load: _of_load,
    kinds.Zener: _of_zener,
    kinds.Diode: _of_diode,
    kinds.Link: _of_wire,
    kinds.Fuse: _of_wire,
    kinds.Switch: _of_wire,
    kinds.Source: _of_wire,
    kinds.Regulator: _of_wire,
    kinds.Converter: _of_wire,
    kinds.PassTransistor: _of_transistor,
}
