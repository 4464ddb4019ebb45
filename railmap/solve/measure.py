"""What a meter and a scope would read over one turn of the mains.

Means and products are integrated by Simpson's rule on every step, between which the motion is
smooth; peaks are taken at the points of that rule.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from railmap.solve.laws import Floats, Ints
from railmap.solve.periodic import Walk, Walker
from railmap.solve.variants import Variants


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
    """Adds up what a walk tells of its steps."""

    def __init__(self, walker: Walker, walk: Walk, against: Ints, nodes_of: Ints) -> None:
        self._walker, self._walk = walker, walk
        self._against, self._nodes_of = against, nodes_of
        count, z = walk.z.shape
        moving = walker.moving
        self._first = np.zeros((0, z))
        self._second = np.zeros((0, z, z))
        self.low = np.full((count, moving.nodes), np.inf)
        self.high = np.full((count, moving.nodes), -np.inf)
        self.peak = np.zeros((count, moving.pins))
        self.drop_low = np.full((count, moving.pins), np.inf)
        self.drop_high = np.full((count, moving.pins), -np.inf)

    def told(self, which: Ints, z: Floats, place: Ints, coarse: bool) -> None:
        """Take some steps of the walk."""
        pieces, pace = self._walker.store.all(), self._walker.pace
        half, whole = (
            (pieces.half_coarse, pieces.coarse) if coarse else (pieces.half_fine, pieces.fine)
        )
        middle = (half[place] @ z[..., None])[..., 0]
        after = (whole[place, 0] @ z[..., None])[..., 0]
        length = 1.0 / pace.steps / (1 if coarse else pace.parts)
        self._grow(len(pieces.volts))
        first = length / 6 * (z + 4 * middle + after)
        second = np.zeros((*z.shape, z.shape[1]))
        for weight, point in ((1, z), (4, middle), (1, after)):
            second += (weight * length / 6) * (point[:, :, None] * point[:, None, :])
        once = coarse and pace.ahead == 1
        self._add(place, first, second, once)
        for point in (z, middle):
            self._peaks(which, place, point, once)

    def _add(self, place: Ints, first: Floats, second: Floats, once: bool) -> None:
        """Add to the sums of pieces; ``once`` where every piece comes but once."""
        if len(self._walk.rows) == 1:
            self._first[place[0]] += first.sum(axis=0)
            self._second[place[0]] += second.sum(axis=0)
        elif once:
            self._first[place] += first
            self._second[place] += second
        else:
            np.add.at(self._first, place, first)
            np.add.at(self._second, place, second)

    def _grow(self, size: int) -> None:
        more = size - len(self._first)
        if more > 0:
            z = self._first.shape[1]
            self._first = np.concatenate((self._first, np.zeros((more, z))))
            self._second = np.concatenate((self._second, np.zeros((more, z, z))))

    def _peaks(self, which: Ints, place: Ints, point: Floats, once: bool) -> None:
        pieces = self._walker.store.all()
        v = (pieces.volts[place] @ point[..., None])[..., 0]
        amps = np.abs((pieces.amps[place] @ point[..., None])[..., 0])
        drop = v[:, self._nodes_of] - v[:, self._nodes_of[self._against]]
        for lows, highs, seen in (
            (self.low, self.high, v), (self.drop_low, self.drop_high, drop),
            (None, self.peak, amps),
        ):  # fmt: skip
            self._widen(lows, highs, which, seen, once)

    def _widen(
        self, lows: Floats | None, highs: Floats, which: Ints, seen: Floats, once: bool
    ) -> None:
        """Take values into the range seen so far; ``once`` where every what-if comes but once."""
        for range_, best, at in ((highs, np.maximum, "max"), (lows, np.minimum, "min")):
            if range_ is None:
                continue
            if len(self._walk.rows) == 1:
                range_[0] = best(range_[0], getattr(seen, at)(axis=0))
            elif once:
                range_[which] = best(range_[which], seen)
            else:
                best.at(range_, which, seen)

    def turn(self) -> Turn:
        """Return the figures of the turn."""
        pieces, index = self._walker.store.all(), self._walker.store.index
        owner = np.array([row for row, _ in index], dtype=np.intp)
        self._grow(len(owner))
        first, second = self._first[: len(owner)], self._second[: len(owner)]
        at, to = self._nodes_of, self._nodes_of[self._against]
        drops = pieces.volts[:, at] - pieces.volts[:, to]
        spread = pieces.amps @ second
        count = len(self._walk.rows)

        def by_row(values: Floats) -> Floats:
            found = np.zeros((count, values.shape[1]))
            np.add.at(found, owner, values)
            return found

        once = [by_row((pieces.volts @ second[:, :, k, None])[..., 0]) for k in (-3, -2)]
        return Turn(
            node_mean=by_row((pieces.volts @ first[..., None])[..., 0]),
            node_rms=_root(by_row(np.sum((pieces.volts @ second) * pieces.volts, axis=-1))),
            node_low=self.low, node_high=self.high,
            node_once=2 * np.hypot(once[0], once[1]),
            pin_mean=by_row((pieces.amps @ first[..., None])[..., 0]),
            pin_rms=_root(by_row(np.sum(spread * pieces.amps, axis=-1))),
            pin_peak=self.peak,
            drop_mean=by_row((drops @ first[..., None])[..., 0]),
            drop_low=self.drop_low, drop_high=self.drop_high,
            pin_watts=by_row(np.sum(spread * drops, axis=-1)),
            once_amps=by_row(spread[..., -2]),
        )  # fmt: skip


def _root(squares: Floats) -> Floats:
    """Return square roots of what rounding may have left below nothing."""
    return np.sqrt(np.maximum(squares, 0.0))


def record(walker: Walker, x: Floats, modes: list[Ints], against: Ints, nodes_of: Ints) -> Turn:
    """Walk one more turn from a periodic state and return its figures.

    Parameters
    ----------
    walker : Walker
        The network.
    x : ndarray, shape (what-ifs, states)
        The state at the start of the turn.
    modes : list of ndarray
        The modes there.
    against : ndarray of int, shape (pins,)
        For each pin, the pin its volts are taken against.
    nodes_of : ndarray of int, shape (pins,)
        Node of each pin.
    """
    walk = walker.begin(np.arange(len(x)), x, modes)
    recorder = Recorder(walker, walk, against, nodes_of)
    walker.turn(walk, recorder.told)
    return recorder.turn()


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
