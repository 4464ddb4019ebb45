"""A lamp in series with the mains, as it is put there for a first power-up.

All windings see the mains less what the lamp takes, so that each one's current pulls the others
down. With ``g`` the conductances of the windings, ``n`` their volts per volt of mains and ``R`` the
lamp's resistance, the currents they deliver are ``S (n V - v)`` with
``S = diag(g) - R (g n)(g n)' / (1 + R n' g n)``: Ohm's law for all at once, by the formula of
Sherman and Morrison (1950; from memory). The lamp's filament follows its effective current over
many turns; it has the current of volts to the power 0.55 that lamps have. What a transformer takes
to magnetise its core is left out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, ClassVar

import numpy as np

from railmap.model import kinds
from railmap.solve.laws import COLD_FRACTION, LAMP_POWER, Conductors, Family, Floats, Ints
from railmap.solve.variants import Variants

_BOTH_PINS = np.array([[1.0, -1.0], [-1.0, 1.0]])


@dataclass(frozen=True)
class LimitedWindings:
    """All windings of a map behind one lamp: a single row of all their pins.

    Attributes
    ----------
    winding_siemens, per_volt : ndarray, shape (what-ifs, 1, windings)
        Conductance of each winding; its volts per volt of mains.
    lamp_ohms : ndarray, shape (what-ifs, 1)
        Resistance of the lamp; 0 without one.
    """

    pins: Ints
    slots: Ints
    winding_siemens: Floats
    per_volt: Floats
    lamp_ohms: Floats
    draws: ClassVar[bool] = False
    first_mode: ClassVar[int] = 0

    def evaluate(self, v: Floats, _: Ints) -> tuple[Floats, Floats]:
        """See :class:`railmap.solve.laws.Family`."""
        g, n, ohms = self.winding_siemens, self.per_volt, self.lamp_ohms[..., None]
        pull = g * n
        less = ohms / (1 + ohms * np.sum(pull * n, axis=-1, keepdims=True))
        size = g.shape[-1]
        own = g[..., None] * np.eye(size) - less[..., None] * pull[..., None] * pull[..., None, :]
        slopes = np.asarray(np.kron(own, _BOTH_PINS), dtype=np.float64)
        return (slopes @ v[..., self.pins][..., None])[..., 0], slopes

    def next_mode(self, _: Floats, mode: Ints) -> Ints:
        """See :class:`railmap.solve.laws.Family`."""
        return mode


@dataclass(frozen=True)
class Limiter:
    """The lamp in series with the mains, by what-if.

    Attributes
    ----------
    refs : list of str
        The windings.
    at : ndarray of int, shape (windings,)
        Their first pins in the flat list.
    amps, volts : ndarray, shape (what-ifs,)
        What the lamp is made for; no current where there is no lamp.
    per_volt : ndarray, shape (what-ifs, windings)
        Volts of each winding per volt of mains.
    """

    refs: list[str]
    at: Ints
    amps: Floats
    volts: Floats
    per_volt: Floats

    def first(self) -> Floats:
        """Return the lamp's conductance when it is hot, shape (what-ifs, 1, 1)."""
        return (self.amps / self.volts)[:, None, None]

    def next(self, siemens: Floats, amps_rms: Floats) -> Floats:
        """Return its conductance from what it was held at and the current that gave."""
        hot = np.where(siemens[:, 0, 0] > 0, siemens[:, 0, 0], 1.0)
        part = np.maximum(amps_rms / hot / self.volts, COLD_FRACTION)
        return (self.amps * part ** (LAMP_POWER - 1) / self.volts)[:, None, None]

    def ohms(self, siemens: Floats) -> Floats:
        """Return its resistance, 0 where there is no lamp, shape (what-ifs,)."""
        held = siemens[:, 0, 0]
        return np.where(held > 0, 1 / np.where(held > 0, held, 1.0), 0.0)

    def limited(self, variants: Variants, families: list[Family], siemens: Floats) -> list[Family]:
        """Return the laws with the windings taken out of Ohm's law and put behind the lamp."""
        found: list[Any] = list(families)
        own = np.zeros((variants.count, 1, len(self.refs)))
        for k, ref in enumerate(self.refs):
            number, row = variants.places[ref][0]
            family: Any = found[number]
            own[:, 0, k] = family.siemens[:, row]
            rest = family.siemens.copy()
            rest[:, row] = 0.0
            found[number] = replace(family, siemens=rest)
        slots: Ints = np.stack((self.at, self.at + 1), axis=1).reshape(1, -1)
        found.append(
            LimitedWindings(
                variants.slot_node[slots], slots, own, self.per_volt[:, None],
                self.ohms(siemens)[:, None],
            )
        )  # fmt: skip
        return found


def limiter_of(variants: Variants) -> Limiter | None:
    """Return the lamp in series with the mains; None where no what-if has one."""
    watts = np.array([c.limiter_watts or 0.0 for c in variants.circuits])
    if not watts.any():
        return None
    volts = np.array([c.mains_volts for c in variants.circuits])
    refs = [
        ref for ref, part in variants.base.parts.items()
        if isinstance(part, kinds.Winding) and _in_ohms_law(variants, ref)
    ]  # fmt: skip
    at = np.array([variants.start_of[ref] for ref in refs], dtype=np.intp)
    turns = [variants.number(ref, lambda p: p.volts_rms) / volts for ref in refs]
    return Limiter(refs, at, watts / volts, volts, np.array(turns).reshape(len(refs), -1).T)


def _in_ohms_law(variants: Variants, ref: str) -> bool:
    places = variants.places.get(ref, [])
    return bool(places) and type(variants.families[places[0][0]]) is Conductors
