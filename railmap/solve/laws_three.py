"""Laws of parts with three pins: linear regulators, switching converters, pass transistors.

See :mod:`railmap.solve.laws` for what a family is.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from railmap.solve.laws import OFF_SIEMENS, Floats, Ints, ends_of_pieces

REST_SIEMENS = 1e-12
"""From each pin of a regulator to its common one, so that a pin that nothing else holds has volts;
too little to be seen in any current."""
BLOCKED, HOLDING, DROPPED, LIMITED, STARVED = 0, 1, 2, 3, 4
"""A regulator passes nothing because its output is held up from elsewhere (blocked) or because it
has too little input (starved)."""
RAMP = 0.9
"""A converter starts between this fraction and all of its least input voltage."""


def _outer(*rows: tuple[Floats, Floats, Floats]) -> Floats:
    """Stack slopes given as one tuple of three for each pin."""
    entries = np.stack([slope for row in rows for slope in row], axis=-1)
    return entries.reshape(*entries.shape[:-1], len(rows), len(rows))


@dataclass(frozen=True)
class Regulators:
    """Linear regulators, either polarity. Pins: input, output, common.

    The series element passes what the output asks for, never backwards and never above its
    limit; with too little input the output follows the input less the dropout voltage. The
    quiescent current is a row of :class:`railmap.solve.laws.SteadyLoads`.
    """

    pins: Ints
    slots: Ints
    sign: Floats
    volts: Floats
    dropout_volts: Floats
    limit_amps: Floats
    siemens: Floats
    draws: ClassVar[bool] = False
    first_mode: ClassVar[int] = HOLDING
    modes: ClassVar[tuple[int, ...]] = (BLOCKED, HOLDING, DROPPED, LIMITED, STARVED)

    def _seen(self, v: Floats) -> tuple[Floats, Floats]:
        """Return the voltage short of the set output, and that short of the dropped-out one."""
        vi, vo, vc = (v[..., self.pins[:, k]] for k in range(3))
        return self.volts - self.sign * (vo - vc), self.sign * (vi - vo) - self.dropout_volts

    def evaluate(self, v: Floats, mode: Ints) -> tuple[Floats, Floats]:
        """See :class:`railmap.solve.laws.Family`."""
        holding, dropped = self._seen(v)
        g, leak = self.siemens, REST_SIEMENS
        passed = g * np.where(mode == HOLDING, holding, dropped)
        flat = np.where(mode == LIMITED, self.limit_amps, 0.0)
        amps = self.sign * np.where((mode == HOLDING) | (mode == DROPPED), passed, flat)
        # It leaks to its common pin, not to its output: one without a load would lift that.
        vi, vo, vc = (v[..., self.pins[:, k]] for k in range(3))
        lost_in, lost_out = leak * (vi - vc), leak * (vo - vc)
        di = np.where(mode == DROPPED, g, 0.0)
        dc = np.where(mode == HOLDING, g, 0.0)
        do = -di - dc
        own = np.full_like(di, leak)
        current = np.stack((amps + lost_in, lost_out - amps, -lost_in - lost_out), axis=-1)
        return current, _outer(
            (di + leak, do, dc - leak), (-di, leak - do, -dc - leak), (-own, -own, 2 * own)
        )

    def next_mode(self, v: Floats, mode: Ints) -> Ints:
        """See :class:`railmap.solve.laws.Family`."""
        holding, dropped = self._seen(v)
        between = np.where(holding <= dropped, HOLDING, DROPPED)
        off = np.where(holding <= dropped, BLOCKED, STARVED)
        # Both pass nothing; it stays in the one it is in for as long as that holds.
        stays = ((mode == BLOCKED) & (holding < 0)) | ((mode == STARVED) & (dropped < 0))
        off = np.where(stays, mode, off)
        amps = self.siemens * np.minimum(holding, dropped)
        wanted = np.where(amps < 0, off, np.where(amps > self.limit_amps, LIMITED, between))
        # One step at a time: a holding regulator that lacks input drops out before it blocks.
        beside = (mode != between) & ((mode == HOLDING) | (mode == DROPPED))
        return np.where(beside | _across(mode, wanted), between, wanted).astype(np.intp)

    def bounds(self, mode: Ints) -> tuple[Floats, Floats]:
        """See :class:`railmap.solve.laws.Pieced`."""
        sign = self.sign[..., None]
        most = self.limit_amps / np.where(self.siemens > 0, self.siemens, 1.0)
        return ends_of_pieces(
            np.sign(self.siemens), mode, 3,
            (_SHORT, sign * np.array([0.0, -1.0, 1.0]), self.volts),
            (_SPARE, sign * np.array([1.0, -1.0, 0.0]), -self.dropout_volts),
            (_MOST, None, most),
        )  # fmt: skip


# By mode (blocked, holding, dropped, limited, starved) and bound: volts short of the set output,
# of the dropped-out one, and at the limit.
_SHORT = np.array([[-1.0, 0, 0], [1, -1, -1], [0, 0, 1], [1, 0, 0], [0, 0, 0]])
_SPARE = np.array([[0.0, 0, 0], [0, 0, 1], [1, -1, -1], [0, 1, 0], [-1, 0, 0]])
_MOST = np.array([[0.0, 0, 0], [0, 1, 0], [0, 1, 0], [-1, -1, 0], [0, 0, 0]])


def _held_or_not(amps: Floats, limit_amps: Floats, mode: Ints) -> Ints:
    """Return the mode of an output that would pass some current if it held its volts."""
    wanted = np.where(amps < 0, BLOCKED, np.where(amps > limit_amps, LIMITED, HOLDING))
    return np.where(_across(mode, wanted), HOLDING, wanted).astype(np.intp)


def _across(mode: Ints, wanted: Ints) -> NDArray[np.bool_]:
    """Tell where a part would go from nothing to its limit or back without passing between."""
    off, to_off = (mode == BLOCKED) | (mode == STARVED), (wanted == BLOCKED) | (wanted == STARVED)
    return (off & (wanted == LIMITED)) | ((mode == LIMITED) & to_off)


@dataclass(frozen=True)
class Converters:
    """Switching converters: output power over efficiency is taken from the input.

    Pins: input, output, common. Modes as for regulators, without dropout.
    """

    pins: Ints
    slots: Ints
    sign: Floats
    volts: Floats
    efficiency: Floats
    min_input_volts: Floats
    limit_amps: Floats
    siemens: Floats
    draws: ClassVar[bool] = False
    first_mode: ClassVar[int] = HOLDING

    def _seen(self, v: Floats) -> tuple[Floats, Floats, Floats, Floats, Floats]:
        """Return input polarity and volts, output volts, set volts and their slope on the input."""
        vi, vo, vc = (v[..., self.pins[:, k]] for k in range(3))
        polarity = np.where(vi >= vc, 1.0, -1.0)
        seen = polarity * (vi - vc)
        low = RAMP * self.min_input_volts
        span = self.min_input_volts - low
        part = np.clip((seen - low) / span, 0.0, 1.0)
        rise = np.where((part > 0) & (part < 1), self.volts / span, 0.0)
        return polarity, seen, self.sign * (vo - vc), self.volts * part, rise

    def evaluate(self, v: Floats, mode: Ints) -> tuple[Floats, Floats]:
        """See :class:`railmap.solve.laws.Family`."""
        polarity, seen, sent, wanted, rise = self._seen(v)
        g = np.where(mode == HOLDING, self.siemens, 0.0)
        amps = g * (wanted - sent) + np.where(mode == LIMITED, self.limit_amps, 0.0)
        up = (seen > RAMP * self.min_input_volts) & (sent > 0)
        vin = np.where(seen > RAMP * self.min_input_volts, seen, 1.0)
        vout = np.where(up, sent, 0.0)
        drawn = vout * amps / (self.efficiency * vin)
        # Slopes of the input current (ii, io) and the output current (oi, oo) on each voltage.
        ii = (vout * g * rise / self.efficiency - drawn) / vin + OFF_SIEMENS
        io = np.where(up, (amps - vout * g) / (self.efficiency * vin), 0.0) * self.sign * polarity
        oi, oo = self.sign * g * rise * polarity, -g - OFF_SIEMENS
        into = polarity * (drawn + OFF_SIEMENS * seen)
        out = self.sign * (amps - OFF_SIEMENS * sent)
        rows = ((ii, io, -ii - io), (-oi, -oo, oi + oo), (oi - ii, oo - io, ii + io - oi - oo))
        return np.stack((into, -out, out - into), axis=-1), _outer(*rows)

    def next_mode(self, v: Floats, mode: Ints) -> Ints:
        """See :class:`railmap.solve.laws.Family`."""
        _, _, vout, target, _ = self._seen(v)
        return _held_or_not(self.siemens * (target - vout), self.limit_amps, mode)


@dataclass(frozen=True)
class Outputs:
    """Converters while the mains turns: the output as it is, the input as a held resistance.

    Pins and modes as for converters. ``input_siemens`` draws what the output takes over a turn;
    ``volts`` is what the output is held at with that input.
    """

    pins: Ints
    slots: Ints
    sign: Floats
    volts: Floats
    limit_amps: Floats
    siemens: Floats
    input_siemens: Floats
    draws: ClassVar[bool] = False
    first_mode: ClassVar[int] = HOLDING
    modes: ClassVar[tuple[int, ...]] = (BLOCKED, HOLDING, LIMITED)

    def evaluate(self, v: Floats, mode: Ints) -> tuple[Floats, Floats]:
        """See :class:`railmap.solve.laws.Family`."""
        vi, vo, vc = (v[..., self.pins[:, k]] for k in range(3))
        g = np.where(mode == HOLDING, self.siemens, 0.0)
        amps = g * self.volts + np.where(mode == LIMITED, self.limit_amps, 0.0)
        zero = np.zeros_like(g)
        take, give = self.input_siemens + OFF_SIEMENS + zero, g + OFF_SIEMENS
        into, out = take * (vi - vc), self.sign * amps - give * (vo - vc)
        rows = ((take, zero, -take), (zero, give, -give), (-take, -give, take + give))
        return np.stack((into, -out, out - into), axis=-1), _outer(*rows)

    def next_mode(self, v: Floats, mode: Ints) -> Ints:
        """See :class:`railmap.solve.laws.Family`."""
        vo, vc = (v[..., self.pins[:, k]] for k in (1, 2))
        amps = self.siemens * (self.volts - self.sign * (vo - vc))
        return _held_or_not(amps, self.limit_amps, mode)

    def bounds(self, mode: Ints) -> tuple[Floats, Floats]:
        """See :class:`railmap.solve.laws.Pieced`."""
        most = self.limit_amps / np.where(self.siemens > 0, self.siemens, 1.0)
        return ends_of_pieces(
            np.sign(self.siemens), mode, 3,
            (_OUTPUT, self.sign[..., None] * np.array([0.0, -1.0, 1.0]), self.volts),
            (_OUTPUT_MOST, None, most),
        )  # fmt: skip


# By mode (blocked, holding, -, limited) and bound.
_OUTPUT = np.array([[-1.0, 0], [1, -1], [0, 0], [1, 0]])
_OUTPUT_MOST = np.array([[0.0, 0], [0, 1], [0, 0], [-1, 0]])


CUT, ACTIVE, SATURATED, REVERSED = 0, 1, 2, 3


@dataclass(frozen=True)
class Transistors:
    """Pass transistors: a base-emitter junction, and a collector that follows it by the gain.

    Pins: collector, base, emitter. Modes: 0 cut off, 1 active, 2 saturated, 3 driven on with
    the collector below the emitter, where it passes nothing.
    """

    pins: Ints
    slots: Ints
    sign: Floats
    gain: Floats
    forward_volts: Floats
    base_siemens: Floats
    saturation_siemens: Floats
    draws: ClassVar[bool] = False
    first_mode: ClassVar[int] = ACTIVE
    modes: ClassVar[tuple[int, ...]] = (CUT, ACTIVE, SATURATED, REVERSED)

    def _seen(self, v: Floats) -> tuple[Floats, Floats]:
        vc, vb, ve = (v[..., self.pins[:, k]] for k in range(3))
        return self.sign * (vb - ve), self.sign * (vc - ve)

    def evaluate(self, v: Floats, mode: Ints) -> tuple[Floats, Floats]:
        """See :class:`railmap.solve.laws.Family`."""
        vbe, vce = self._seen(v)
        gb = np.where(mode == CUT, 0.0, self.base_siemens)
        base = gb * (vbe - self.forward_volts) + OFF_SIEMENS * vbe
        gm = np.where(mode == ACTIVE, self.gain * self.base_siemens, 0.0)
        gs = np.where(mode == SATURATED, self.saturation_siemens, 0.0) + OFF_SIEMENS
        collector = gm * (vbe - self.forward_volts) + gs * vce
        gb = gb + OFF_SIEMENS
        zero = np.zeros_like(gb)
        currents = np.stack((collector, base, -collector - base), axis=-1)
        rows = ((gs, gm, -gs - gm), (zero, gb, -gb), (-gs, -gm - gb, gs + gm + gb))
        return self.sign[..., None] * currents, _outer(*rows)

    def next_mode(self, v: Floats, _: Ints) -> Ints:
        """See :class:`railmap.solve.laws.Family`."""
        vbe, vce = self._seen(v)
        base = self.base_siemens * (vbe - self.forward_volts)
        active = self.gain * base <= self.saturation_siemens * vce
        driven = np.where(vce < 0, REVERSED, np.where(active, ACTIVE, SATURATED))
        return np.where(base < 0, CUT, driven).astype(np.intp)

    def bounds(self, mode: Ints) -> tuple[Floats, Floats]:
        """See :class:`railmap.solve.laws.Pieced`."""
        sign = self.sign[..., None]
        on = self.base_siemens > 0
        # Collector volts at which it would saturate, over the base volts beyond the threshold.
        steep = self.saturation_siemens / np.where(on, self.gain * self.base_siemens, 1.0)
        collector = sign * np.array([1.0, 0.0, -1.0])
        return ends_of_pieces(
            np.sign(self.base_siemens), mode, 3,
            (_DRIVE, sign * np.array([0.0, 1.0, -1.0]), -self.forward_volts),
            (_COLLECTOR, collector, np.zeros(())),
            (_ROOM, steep[..., None] * collector, np.zeros(())),
        )  # fmt: skip


# By mode (cut, active, saturated, reversed) and bound.
_DRIVE = np.array([[-1.0, 0, 0], [1, -1, 0], [1, 1, 0], [1, 0, 0]])
_COLLECTOR = np.array([[0.0, 0, 0], [0, 0, 0], [0, 0, 1], [0, -1, 0]])
_ROOM = np.array([[0.0, 0, 0], [0, 1, 0], [0, -1, 0], [0, 0, 0]])
