"""What a meter and a scope would read over one turn of the mains.

Means and products are integrated by Boole's rule on every stretch of the walk, within which the
motion is smooth; peaks are taken at points of that rule.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from railmap.solve.laws import Floats, Ints
from railmap.solve.pieces import STEPS, pin_amps
from railmap.solve.variants import Variants
from railmap.solve.walking import Panels, Walker


@dataclass(frozen=True)
class Turn:
    """Figures over one turn of the mains, the what-if as the first axis.

    Attributes
    ----------
    node_mean, node_rms, node_low, node_high : ndarray, shape (what-ifs, nodes)
        Mean, effective, lowest and highest volts.
    node_once : ndarray, shape (what-ifs, nodes)
        Amplitude of the part that comes once a turn, volts.
    pin_mean, pin_rms, pin_peak : ndarray, shape (what-ifs, pins)
        Current into each pin: mean, effective value, largest size.
    drop_mean : ndarray, shape (what-ifs, pins)
        Mean volts of each pin against the last pin of its part.
    drop_low, drop_high : ndarray, shape (what-ifs, pins)
        Its lowest and highest.
    pin_watts : ndarray, shape (what-ifs, pins)
        Mean of those volts times the current into the pin.
    once_amps : ndarray, shape (what-ifs, pins)
        Mean of current times the sine of the mains: power per volt of a winding's peak.
    mains_rms : ndarray, shape (what-ifs,)
        Effective current out of the mains, where a lamp limits it.
    lamp_watts : ndarray, shape (what-ifs, pins)
        Heat in that lamp for the sake of each winding, at the winding's first pin.
    """

    node_mean: Floats
    node_rms: Floats
    node_low: Floats
    node_high: Floats
    node_once: Floats
    pin_mean: Floats
    pin_rms: Floats
    pin_peak: Floats
    drop_mean: Floats
    drop_low: Floats
    drop_high: Floats
    pin_watts: Floats
    once_amps: Floats
    mains_rms: Floats
    lamp_watts: Floats

    def one(self, row: int) -> Turn:
        """Return the figures of one what-if, without the first axis."""
        return Turn(**{f.name: getattr(self, f.name)[row] for f in fields(self)})

    def widened(self, pins: int, at: Ints) -> Turn:
        """Return the figures of some pins among those of all, the others at nothing."""
        kept = {n: v for n, v in vars(self).items() if n.startswith("node") or v.ndim == 1}
        rest = {n: _put(v, pins, at) for n, v in vars(self).items() if n not in kept}
        return Turn(**kept, **rest)


def _put(values: Floats, pins: int, at: Ints) -> Floats:
    found = np.zeros((len(values), pins))
    found[:, at] = values
    return found


class Recorder:
    """Gathers what a walk tells, and works out what meters would read.

    Parameters
    ----------
    walker : Walker
        What walks.
    variants : Variants
        The what-ifs that are walked.
    fine : bool
        True to look at five points of each stretch (Boole's rule), False for three (Simpson's).
    """

    def __init__(self, walker: Walker, variants: Variants, fine: bool = True) -> None:
        self._walker, self._fine = walker, fine
        self._against, self._nodes_of = pins_of(variants)
        self._panels: list[Panels] = []
        self._known: tuple[Panels, Floats, Floats] | None = None

    def keep(self, told: list[Panels], rows: Ints, done: NDArray[np.bool_]) -> None:
        """Take the stretches of a whole turn for those what-ifs that are done with it.

        Parameters
        ----------
        told : list of Panels
            What the walk told.
        rows : ndarray of int
            The what-ifs of the walk.
        done : ndarray of bool
            Which of them are to be kept.
        """
        for panels in told:
            own = done[panels.which].nonzero()[0]
            self._panels.append(
                Panels(
                    rows[panels.which[own]], panels.place[own], panels.start[own],
                    panels.level[own], panels.z[own],
                )
            )  # fmt: skip

    @property
    def visited(self) -> Ints:
        """Modes that the first what-if went through, shape (some, rows of all families)."""
        places = [p.place[p.which == 0] for p in self._panels]
        own = sorted({int(place) for some in places for place in some})
        return self._walker.store.flat[own]

    def turn(self, rows: int, pins: Ints | None = None) -> Turn:
        """Return the figures of the turn.

        Parameters
        ----------
        rows : int
            How many what-ifs there are.
        pins : ndarray of int, optional
            The pins that are asked for; all others, and all nodes, are then left at nothing.
        """
        moving = self._walker.moving
        which_pins = np.arange(moving.pins) if pins is None else pins
        nodes = moving.nodes if pins is None else 0
        found = _Sums(rows, nodes, len(which_pins))
        if self._known is None:
            self._known = self._gathered()
        if self._known is not None:
            panels, points, weights = self._known
            start = _runs(panels.which * len(self._walker.store.rows) + panels.place)
            places, which = panels.place[start[:-1]], panels.which[start[:-1]]
            seen, what_if = self._seen(places, nodes, which_pins), self._walker.store.rows[places]
            for k, row in enumerate(which):
                own = slice(start[k], start[k + 1])
                z, weight = points[own].reshape(-1, points.shape[2]).T, weights[own].ravel()
                values = seen[k] @ z
                found.add(row, weight, z, values)
                if moving.limiter is not None:
                    lines = moving.primary[what_if[k]], moving.lamp_share[what_if[k]]
                    found.add_lamp(row, weight, values, *(line[which_pins] for line in lines))
        turn = found.turn()
        return turn if pins is None else turn.widened(moving.pins, which_pins)

    def _gathered(self) -> tuple[Panels, Floats, Floats] | None:
        """Return all stretches by what-if and piece, with points on them and their weights."""
        if not any(len(p.which) for p in self._panels):
            return None
        panels = Panels(**{
            f.name: np.concatenate([getattr(p, f.name) for p in self._panels])
            for f in fields(Panels)
        })  # fmt: skip
        keys = panels.which * len(self._walker.store.rows) + panels.place
        order = np.argsort(keys, kind="stable")
        panels = Panels(**{n: values[order] for n, values in vars(panels).items()})
        return panels, *self._points(panels)

    def _seen(self, places: Ints, nodes: int, pins: Ints) -> Floats:
        """Return node volts, drops and currents against the state, (jobs, what is seen, z)."""
        store = self._walker.store
        volts = store.pieces.volts[places]
        amps = pin_amps(store.moving, store.rows[places], store.modes(store.flat[places]), volts)
        at, to = self._nodes_of[pins], self._nodes_of[self._against[pins]]
        drops = volts[:, at] - volts[:, to]
        drops[:, (at < 0) | (to < 0)] = 0.0
        return np.concatenate((volts[:, :nodes], drops, amps[:, pins]), axis=1)

    def _points(self, panels: Panels) -> tuple[Floats, Floats]:
        """Return some states in each stretch, (panels, points, z), and their weights."""
        finest, ahead = self._walker.grain.finest, self._walker.grain.ahead
        rule = np.array([7, 32, 12, 32, 7]) / 90 if self._fine else np.array([1, 4, 1]) / 6
        found = np.empty((len(panels.z), len(rule), panels.z.shape[1]))
        weights = np.empty((len(panels.z), len(rule)))
        for level in range(finest + 1):
            own = (panels.level == level).nonzero()[0]
            if not len(own):
                continue
            z, place = panels.z[own], panels.place[own]
            length = 2.0 ** (ahead - level) / STEPS
            weights[own] = length * rule
            found[own, 0] = z
            if level + 2 > finest:
                # A tick or two: what could bend there is too short to be seen.
                found[own, 1:] = self._after(z, place, level)[:, None]
                weights[own] = 0.0
                weights[own, 0] = weights[own, -1] = length / 2
            elif self._fine:
                quarter, half = self._after(z, place, level + 2), self._after(z, place, level + 1)
                found[own, 1], found[own, 2] = quarter, half
                found[own, 3] = self._after(quarter, place, level + 1)
                found[own, 4] = self._after(half, place, level + 1)
            else:
                found[own, 1] = half = self._after(z, place, level + 1)
                found[own, 2] = self._after(half, place, level + 1)
        return found, weights

    def _after(self, z: Floats, place: Ints, level: int) -> Floats:
        """Return what some states become after one stretch; equal places follow each other."""
        levels, begins = self._walker.store.pieces.levels, _runs(place)
        if len(z) < MANY * len(begins):
            return (levels[place, level] @ z[..., None])[..., 0]
        found = np.empty_like(z)
        for a, b in pairwise(begins.tolist()):
            found[a:b] = z[a:b] @ levels[place[a], level].T
        return found


MANY = 6
"""So many states by one matrix are quicker together, though one matrix after the other."""


class _Sums:
    """Adds up a turn, piece by piece: volts of nodes, drops of pins, then currents into pins.

    Each product is of values at one moment: products of the state's own entries would drown a
    small current through a very small resistance.
    """

    def __init__(self, rows: int, nodes: int, pins: int) -> None:
        size = nodes + 2 * pins
        self._mains_square, self._lamp_watts = np.zeros(rows), np.zeros((rows, pins))
        self._nodes = slice(0, nodes)
        self._drops, self._amps = slice(nodes, nodes + pins), slice(nodes + pins, size)
        self._mean = np.zeros((rows, size, 3))
        self._square, self._watts = np.zeros((rows, size)), np.zeros((rows, pins))
        self._low, self._high = np.full((2, rows, size), np.inf)

    def add(self, row: int, weight: Floats, z: Floats, seen: Floats) -> None:
        """Add values at some points, shape (what is seen, points), with the weights of these."""
        self._mean[row] += seen @ np.stack((weight, weight * z[-3], weight * z[-2]), axis=1)
        self._square[row] += (seen * seen) @ weight
        self._watts[row] += (seen[self._drops] * seen[self._amps]) @ weight
        np.minimum(self._low[row], seen.min(axis=1), out=self._low[row])
        np.minimum(self._high[row], -seen.max(axis=1), out=self._high[row])

    def add_lamp(
        self, row: int, weight: Floats, seen: Floats, primary: Floats, share: Floats
    ) -> None:
        """Add what flows through a lamp in the mains; see ``primary`` of the moving network."""
        amps = seen[self._amps]
        out = primary @ amps
        self._mains_square[row] += (out * out) @ weight
        self._lamp_watts[row] += share * ((amps * out) @ weight)

    def turn(self) -> Turn:
        """Return the figures; nothing for what-ifs that nothing was added for."""
        low = np.where(np.isinf(self._low), 0.0, self._low)
        high = np.where(np.isinf(self._high), 0.0, -self._high)
        mean, cosine, sine = np.moveaxis(self._mean, -1, 0)
        rms = np.sqrt(self._square)
        at, drops, amps = self._nodes, self._drops, self._amps
        return Turn(
            node_mean=mean[:, at], node_rms=rms[:, at], node_low=low[:, at], node_high=high[:, at],
            node_once=2 * np.hypot(cosine[:, at], sine[:, at]),
            pin_mean=mean[:, amps], pin_rms=rms[:, amps],
            pin_peak=np.maximum(high[:, amps], -low[:, amps]),
            drop_mean=mean[:, drops], drop_low=low[:, drops], drop_high=high[:, drops],
            pin_watts=self._watts, once_amps=sine[:, amps],
            mains_rms=np.sqrt(self._mains_square), lamp_watts=self._lamp_watts,
        )  # fmt: skip


def _runs(keys: Ints) -> Ints:
    """Return where each key begins in a sorted list, and where the last one ends."""
    begins = np.concatenate(([True], keys[1:] != keys[:-1])).nonzero()[0]
    return np.append(begins, len(keys))


def still_turn(volts: Floats, shift: Floats, pin_amps: Floats, variants: Variants) -> Turn:
    """Return the figures of what stands still: means, with nothing that swings.

    Parameters
    ----------
    volts, shift : ndarray, shape (what-ifs, nodes)
        Node volts, and a last correction too small to be added to them without loss.
    pin_amps : ndarray, shape (what-ifs, pins)
        Currents into the pins.
    variants : Variants
        The what-ifs.
    """
    against, nodes_of = pins_of(variants)
    at, to = nodes_of, nodes_of[against]
    drop = (volts[:, at] - volts[:, to]) + (shift[:, at] - shift[:, to])
    mean, size = volts + shift, np.abs(pin_amps)
    return Turn(
        node_mean=mean, node_rms=np.abs(mean), node_low=mean, node_high=mean,
        node_once=np.zeros_like(mean),
        pin_mean=pin_amps, pin_rms=size, pin_peak=size, drop_mean=drop,
        drop_low=drop, drop_high=drop, pin_watts=np.where(pin_amps == 0, 0.0, drop * pin_amps),
        once_amps=np.zeros_like(pin_amps), mains_rms=np.zeros(len(pin_amps)),
        lamp_watts=np.zeros_like(pin_amps),
    )  # fmt: skip


def pins_of(variants: Variants) -> tuple[Ints, Ints]:
    """Return for each pin the last pin of its part, and its node."""
    sizes = np.array([len(p.pins) for p in variants.base.parts.values()], dtype=np.intp)
    return np.repeat(np.cumsum(sizes) - 1, sizes), variants.slot_node
