"""What a meter and a scope would read over one turn of the mains.

Means and products are integrated by Boole's rule on every stretch of the walk, within which the
motion is smooth; peaks are taken at points of that rule.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from railmap.solve.laws import Floats, Ints
from railmap.solve.pieces import AHEAD, STEPS, pin_amps
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

    def one(self, row: int) -> Turn:
        """Return the figures of one what-if, without the first axis."""
        return Turn(**{f.name: getattr(self, f.name)[row] for f in fields(self)})


class Recorder:
    """Gathers what a walk tells, and works out what meters would read."""

    def __init__(self, walker: Walker, variants: Variants) -> None:
        self._walker = walker
        self._against, self._nodes_of = pins_of(variants)
        self._panels: list[Panels] = []

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
            own = np.flatnonzero(done[panels.which])
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

    def turn(self, rows: int) -> Turn:
        """Return the figures of the turn, for so many what-ifs."""
        found = _Sums(rows, self._walker.moving.nodes, self._walker.moving.pins)
        if not any(len(p.which) for p in self._panels):
            return found.turn()
        panels = Panels(**{
            f.name: np.concatenate([getattr(p, f.name) for p in self._panels])
            for f in fields(Panels)
        })  # fmt: skip
        points, weights = self._points(panels)
        keys = panels.which * len(self._walker.store.rows) + panels.place
        order = np.argsort(keys, kind="stable")
        start = _runs(keys[order])
        places, which = (values[order[start[:-1]]] for values in (panels.place, panels.which))
        store, size = self._walker.store, points.shape[2]
        volts = store.pieces.volts[places]
        modes = store.modes(store.flat[places])
        amps = pin_amps(store.moving, store.rows[places], modes, volts)
        drops = self._drops(volts)
        for k, row in enumerate(which):
            own = order[start[k] : start[k + 1]]
            z = points[own].reshape(-1, size).T
            found.add(row, weights[own].ravel(), z, volts[k] @ z, drops[k] @ z, amps[k] @ z)
        return found.turn()

    def _points(self, panels: Panels) -> tuple[Floats, Floats]:
        """Return five states in each stretch, (panels, 5, z), and their weights by Boole's rule."""
        store, last = self._walker.store, self._walker.finest
        levels = store.pieces.levels
        found = np.empty((len(panels.z), 5, panels.z.shape[1]))
        weights = np.empty((len(panels.z), 5))
        for level in range(last + 1):
            own = np.flatnonzero(panels.level == level)
            if not len(own):
                continue
            length = 2.0 ** (AHEAD - level) / STEPS
            found[own, 0] = z = panels.z[own]
            place = panels.place[own]

            def after(less: int, z: Floats, level: int = level, place: Ints = place) -> Floats:
                return (levels[place, level + less] @ z[..., None])[..., 0]

            if level + 2 > last:
                # A tick or two: what could bend there is too short to be seen.
                found[own, 1:] = after(0, z)[:, None]
                weights[own] = length * np.array([0.5, 0, 0, 0, 0.5])
                continue
            found[own, 1] = quarter = after(2, z)
            found[own, 2] = half = after(1, z)
            found[own, 3] = after(1, quarter)
            found[own, 4] = after(1, half)
            weights[own] = length / 90 * np.array([7, 32, 12, 32, 7])
        return found, weights

    def _drops(self, volts: Floats) -> Floats:
        """Return the volts of each pin against the last of its part, from the state."""
        at, to = self._nodes_of, self._nodes_of[self._against]
        found = volts[:, at] - volts[:, to]
        found[:, (at < 0) | (to < 0)] = 0.0
        return found


class _Sums:
    """Adds up a turn, piece by piece.

    Each product is of values at one moment: products of the state's own entries would drown a
    small current through a very small resistance.
    """

    def __init__(self, rows: int, nodes: int, pins: int) -> None:
        self._mean, self._square, self._cosine, self._sine = np.zeros((4, rows, nodes))
        self._amps, self._amps_square, self._amps_sine = np.zeros((3, rows, pins))
        self._drop, self._watts, self._peak = np.zeros((3, rows, pins))
        self._low, self._high = np.full((rows, nodes), np.inf), np.full((rows, nodes), -np.inf)
        self._drop_low = np.full((rows, pins), np.inf)
        self._drop_high = np.full((rows, pins), -np.inf)

    def add(
        self, row: int, weight: Floats, z: Floats, volts: Floats, drops: Floats, amps: Floats
    ) -> None:
        """Add values at some points, shape (what is seen, points), with the weights of these."""
        cosine, sine = weight * z[-3], weight * z[-2]
        self._mean[row] += volts @ weight
        self._square[row] += (volts * volts) @ weight
        self._cosine[row] += volts @ cosine
        self._sine[row] += volts @ sine
        self._amps[row] += amps @ weight
        self._amps_square[row] += (amps * amps) @ weight
        self._amps_sine[row] += amps @ sine
        self._drop[row] += drops @ weight
        self._watts[row] += (drops * amps) @ weight
        for range_, seen, best in (
            (self._low, volts.min(axis=1), np.minimum),
            (self._high, volts.max(axis=1), np.maximum),
            (self._drop_low, drops.min(axis=1), np.minimum),
            (self._drop_high, drops.max(axis=1), np.maximum),
            (self._peak, np.maximum(amps.max(axis=1), -amps.min(axis=1)), np.maximum),
        ):
            range_[row] = best(range_[row], seen)

    def turn(self) -> Turn:
        """Return the figures; nothing for what-ifs that nothing was added for."""
        for range_ in (self._low, self._high, self._drop_low, self._drop_high):
            range_[np.isinf(range_)] = 0.0
        return Turn(
            node_mean=self._mean, node_rms=np.sqrt(self._square),
            node_low=self._low, node_high=self._high,
            node_once=2 * np.hypot(self._cosine, self._sine),
            pin_mean=self._amps, pin_rms=np.sqrt(self._amps_square), pin_peak=self._peak,
            drop_mean=self._drop, drop_low=self._drop_low, drop_high=self._drop_high,
            pin_watts=self._watts, once_amps=self._amps_sine,
        )  # fmt: skip


def _runs(keys: Ints) -> Ints:
    """Return where each key begins in a sorted list, and where the last one ends."""
    begins = np.flatnonzero(np.concatenate(([True], keys[1:] != keys[:-1])))
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
        once_amps=np.zeros_like(pin_amps),
    )  # fmt: skip


def pins_of(variants: Variants) -> tuple[Ints, Ints]:
    """Return for each pin the last pin of its part, and its node."""
    sizes = [len(p.pins) for p in variants.base.parts.values()]
    return np.repeat(np.cumsum(sizes) - 1, sizes), variants.slot_node
