"""Walks what-ifs through turns of the mains, from one change of mode to the next.

From where a what-if stands, its state is worked out at ever longer times ahead: a tick, two, four,
... a step, and then step by step. At the first of these where a law has come to the end of its
piece, the moment is found on the curve between that point and the one before, and the walk goes on
from there on the law's next piece. However fast something dies away after a change, some of the
points fall on it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from railmap.solve.arrays import taken
from railmap.solve.laws import Floats, Ints, Pieced
from railmap.solve.moving import Moving
from railmap.solve.pieces import STEPS, Grain, Pieces, Store

SLACK = 2e-12
"""A piece has come to its end once it is overstepped by so many volts."""
TOGETHER, MOST_SWITCHES = 15, 120
"""Changes of mode at one moment that may go together, and those before it is given up."""
MOST_LEGS = 40 * STEPS
"""Legs of a walk through one turn before it is given up."""
BENDS = 40
"""Most steps to find the moment on the curve, by Newton's method held between two bounds."""


@dataclass
class Own:
    """Matrices of the pieces that some what-ifs are on; see :class:`Pieces`."""

    seen: Floats
    bounds: Floats
    rates: Floats
    levels: Floats

    def fetch(self, pieces: Pieces, place: Ints, which: Ints) -> None:
        """Fetch all but the steps of what-ifs that have come to other pieces."""
        for name in ("seen", "bounds", "rates"):
            mine, theirs = getattr(self, name), getattr(pieces, name)
            if len(mine) == 1:
                # One alone is looked at where it is.
                setattr(self, name, theirs[place[0] : place[0] + 1])
            else:
                mine[which] = theirs[place]

    def fetch_steps(self, pieces: Pieces, place: Ints, which: Ints) -> None:
        """Fetch the steps of what-ifs that are to be walked on."""
        if len(self.levels) == 1:
            self.levels = pieces.levels[place[0] : place[0] + 1]
        else:
            self.levels[which] = pieces.levels[place]


@dataclass
class Walk:
    """Where some what-ifs stand in a turn of the mains.

    Attributes
    ----------
    rows : ndarray of int
        The what-ifs.
    z : ndarray, shape (rows, z)
        Their states.
    slope : ndarray, shape (rows, z, states), or None
        Their states against the states that the turn began with, where that is wanted.
    flat : ndarray of int, shape (rows, rows of all families)
        Their modes.
    place : ndarray of int
        Their pieces in the store.
    done : ndarray of int
        Ticks behind them.
    new : ndarray of bool
        True for those whose pieces are not yet fetched with their steps.
    fresh : ndarray of bool
        True just after a change of mode, when something fast may be under way.
    lost : ndarray of bool
        True for those that do not come to the end of the turn.
    laws : list of (int, Pieced)
        The laws with pieces, with the numbers of these what-ifs.
    own : Own
        Their pieces' matrices, kept here so that they are fetched once a change.
    """

    rows: Ints
    z: Floats
    slope: Floats | None
    flat: Ints
    place: Ints
    done: Ints
    new: NDArray[np.bool_]
    fresh: NDArray[np.bool_]
    lost: NDArray[np.bool_]
    laws: list[tuple[int, Pieced]]
    own: Own

    def some(self, values: Any, which: Ints) -> Any:
        """Return rows of an array of the walk, without a copy where all are meant."""
        return values if len(which) == len(self.rows) else values[which]


@dataclass(frozen=True)
class Panels:
    """Stretches of a walk on which the motion is smooth, one a row.

    Attributes
    ----------
    which : ndarray of int
        The what-if's place in the walk.
    place : ndarray of int
        Its pieces in the store.
    start : ndarray of int
        The tick it begins with.
    level : ndarray of int
        Its length, as a level of the pieces.
    z : ndarray, shape (panels, z)
        The state it begins with.
    """

    which: Ints
    place: Ints
    start: Ints
    level: Ints
    z: Floats


Told = Callable[[Panels], None]
"""Told of the stretches that are walked."""


class Walker:
    """Walks what-ifs through turns of the mains.

    Parameters
    ----------
    moving : Moving
        The network.
    grain : Grain
        How finely time is looked at.
    """

    def __init__(self, moving: Moving, grain: Grain) -> None:
        self.moving, self.grain, self.store = moving, grain, Store(moving, grain)
        fine, step = 2 ** np.arange(grain.halvings), 1 << grain.halvings
        steps = step * np.arange(1, 2 << grain.ahead)
        self._times: Ints = np.concatenate((fine, steps)).astype(np.intp)
        self._spans = np.diff(self._times, prepend=0)
        self._owner = _owners(self.store)

    def begin(
        self, rows: Ints, x: Floats, flat: Ints, slopes: bool = False, phases: Floats | None = None
    ) -> Walk:
        """Return a walk at the start of a turn, on the modes that its state asks for.

        Parameters
        ----------
        rows : ndarray of int
            The what-ifs.
        x : ndarray, shape (rows, states)
            Their states.
        flat : ndarray of int, shape (rows, rows of all families)
            The modes to begin the search with.
        slopes : bool
            True to follow the state against the one the turn begins with.
        phases : ndarray, shape (rows,), optional
            Where the mains begins, radians after its upward crossing of nothing; 0 by default.
        """
        count = len(rows)
        at = np.zeros(count) if phases is None else phases
        mains = np.stack((np.cos(at), np.sin(at), np.ones(count)), axis=1)
        z = np.concatenate((x, mains), axis=1)
        slope = np.tile(np.eye(z.shape[1], x.shape[1]), (count, 1, 1)) if slopes else None
        place = self.store.places(rows, flat)
        walk = Walk(
            rows, z, slope, flat.copy(), place, np.zeros(count, dtype=np.intp),
            np.ones(count, dtype=bool), np.ones(count, dtype=bool), np.zeros(count, dtype=bool),
            self.moving.watching(rows),
            _room(self.store.pieces, place),
        )  # fmt: skip
        self._switch(walk, np.arange(count))
        return walk

    def turn(self, walk: Walk, told: Told | None = None, ticks: int | None = None) -> None:
        """Walk through one turn of the mains, or so many ticks of it."""
        walk.done[:] = 0
        walk.fresh[:] = True
        last = self.store.ticks if ticks is None else ticks
        for _ in range(MOST_LEGS):
            left = _which((walk.done < last) & ~walk.lost)
            if not len(left):
                return
            self._leg(walk, left, last, told)
        walk.lost |= walk.done < last

    def _leg(self, walk: Walk, which: Ints, last: int, told: Told | None) -> None:
        """Go on to the next change of mode, as far as is looked ahead, or to the turn's end."""
        if walk.new[which].any():
            self._fetch(walk, which[walk.new[which]])
        z = walk.some(walk.z, which)
        levels = walk.some(walk.own.levels, which)
        ahead = self._ahead(levels, z)
        end = self._first_end(walk, which, z, ahead)
        goal = np.minimum(self._times[-1], last - walk.done[which])
        changes = np.zeros(len(which), dtype=bool)
        if len(end.row):
            changes[end.row] = end.tick <= goal[end.row]
            goal[end.row] = np.minimum(end.tick, goal[end.row])
        # What is not at a point that is known already is reached from the point before it.
        base = np.searchsorted(self._times, goal, side="right") - 1
        known = np.where(base >= 0, self._times[np.maximum(base, 0)], 0)
        near = ahead[np.arange(len(which)), np.maximum(base, 0)]
        here = np.where(base[:, None] >= 0, near, z)
        if told is not None:
            self._tell_points(told, walk, which, ahead, base)
        here = self._on(walk, which, here[..., None], goal - known, told, known)
        if walk.slope is not None:
            walk.slope[which] = self._on(walk, which, walk.slope[which], goal, None, goal)
        walk.z[which] = here[..., 0]
        walk.done[which] += goal
        walk.fresh[which] = False
        if changes.any():
            self._switch(walk, which[changes])

    def _ahead(self, levels: Floats, z: Floats) -> Floats:
        """Return the states at all the times that are looked at: (rows, times, z)."""
        count, depth, size = levels.shape[:3]
        flat = levels.reshape(count, depth * size, size)
        doubled = (flat @ z[..., None]).reshape(count, depth, size)
        one = self.grain.ahead
        found = doubled[:, one : one + 1]
        for k in range(one - 1, -1, -1):
            later = found @ np.swapaxes(levels[:, k], 1, 2)
            found = np.concatenate((found, doubled[:, k : k + 1], later), axis=1)
        return np.concatenate((doubled[:, :one:-1], found), axis=1)

    def _first_end(self, walk: Walk, which: Ints, z: Floats, ahead: Floats) -> _End:
        """Find where pieces end, on a curve of the third degree between each two points."""
        points = np.concatenate((z[:, None], ahead), axis=1)
        left = points @ np.swapaxes(walk.some(walk.own.bounds, which), 1, 2)
        rates = walk.some(walk.own.rates, which)

        def curve(row: Ints, stretch: Ints, bound: Ints) -> tuple[Floats, Floats, Floats, Floats]:
            line, span = rates[row, bound], self._spans[stretch]
            rise, leave = (
                np.sum(line * points[row, stretch + k], axis=1) * span for k in (0, 1)
            )  # fmt: skip
            return left[row, stretch, bound], left[row, stretch + 1, bound], rise, leave

        ends = left[:, 1:] < -SLACK
        low, dips = _low_points(left), None
        if len(low[0]):
            shape = curve(*low)
            turns = _which((shape[2] < 0) & (shape[3] > 0) & (shape[1] >= -SLACK))
            if len(turns):
                turns = turns[_lowest(*(part[turns] for part in shape))[1] < -SLACK]
            if len(turns):
                dips = np.zeros(ends.shape, dtype=bool)
                dips[tuple(part[turns] for part in low)] = True
                ends |= dips
        late = ends.any(axis=2)
        row = _which(late.any(axis=1))
        if not len(row):
            return _End(row, row)
        first = late[row].argmax(axis=1)
        job, bound = np.nonzero(ends[row, first])
        cell = (row[job], first[job], bound)
        start, end, rise, leave = curve(*cell)
        # What is past its end already, by less than can be told, ends at once.
        start = np.maximum(start + SLACK, 0.0)
        part = np.full((len(row), ends.shape[2]), 2.0)
        part[job, bound] = _crossings(
            start, end + SLACK, rise, leave, None if dips is None else dips[cell]
        )
        span = self._spans[first]
        ticks = (part.min(axis=1) * span).astype(np.intp) + 1
        return _End(row, self._times[first] - span + np.minimum(ticks, span))

    def _on(
        self, walk: Walk, which: Ints, block: Floats, ticks: Ints, told: Told | None, behind: Ints
    ) -> Floats:
        """Take some states a number of ticks further, in as few stretches as that takes."""
        levels = walk.own.levels
        lengths = int(np.bitwise_or.reduce(ticks))
        while lengths:
            length = 1 << (lengths.bit_length() - 1)
            lengths -= length
            level = self.grain.finest + 1 - length.bit_length()
            going = _which(ticks & length)
            if told is not None:
                own, before = which[going], ticks[going] & -(2 * length)
                start = walk.done[own] + behind[going] + before
                same = np.full(len(own), level)
                told(Panels(own, walk.place[own], start, same, block[going, :, 0]))
            if len(going) == len(walk.rows):
                block = levels[:, level] @ block
            else:
                block[going] = levels[which[going], level] @ block[going]
        return block

    def _tell_points(self, told: Told, walk: Walk, which: Ints, ahead: Floats, base: Ints) -> None:
        """Tell of the stretches between the points ahead that were passed."""
        fine, finest, one = self.grain.halvings, self.grain.finest, self.grain.ahead
        # Without a change just behind it, the first step is one stretch.
        skipped = ~walk.fresh[which] & (base >= fine)
        numbers = np.arange(len(self._times))
        passed = (numbers >= np.where(skipped, fine, 0)[:, None]) & (numbers <= base[:, None])
        row, point = np.nonzero(passed)
        whole = skipped[row] & (point == fine)
        before = np.concatenate((walk.z[which][:, None], ahead[:, :-1]), axis=1)
        z = before[row, np.where(whole, 0, point)]
        level = np.maximum(np.minimum(finest, finest + 1 - point), one)
        start = walk.done[which][row] + np.where(whole, 0, (self._times - self._spans)[point])
        own = which[row]
        told(Panels(own, walk.place[own], start, np.where(whole, one, level), z))

    def _switch(self, walk: Walk, which: Ints) -> None:
        """Change modes until every law is on the piece that its volts ask for."""
        for attempt in range(MOST_SWITCHES):
            asked, moved = self._asked(walk, which, alone=attempt >= TOGETHER)
            which, asked = which[moved], asked[moved]
            if not len(which):
                return
            place = self.store.places(walk.rows[which], asked)
            walk.flat[which], walk.place[which] = asked, place
            walk.new[which] = walk.fresh[which] = True
            walk.own.fetch(self.store.pieces, place, which)
        walk.lost[which] = True

    def _fetch(self, walk: Walk, which: Ints) -> None:
        """Fetch the steps of pieces that are to be walked on."""
        self.store.make_ready(walk.place[which])
        walk.new[which] = False
        walk.own.fetch_steps(self.store.pieces, walk.place[which], which)

    def _asked(self, walk: Walk, which: Ints, alone: bool) -> tuple[Ints, NDArray[np.bool_]]:
        """Return the modes that some what-ifs ask for, and which of them change."""
        z = walk.some(walk.z, which)[..., None]
        flat = walk.some(walk.flat, which)
        over = (walk.some(walk.own.bounds, which) @ z)[..., 0] < -SLACK
        if not over.any():
            return flat, np.zeros(len(which), dtype=bool)
        ends = np.zeros(flat.shape, dtype=bool)
        row, bound = np.nonzero(over)
        ends[row, self._owner[bound]] = True
        if alone:
            ends &= np.cumsum(ends, axis=1) == 1
        found = flat.copy()
        v = (walk.some(walk.own.seen, which) @ z)[..., 0]
        for number, law in walk.laws:
            part = self.store.columns[number]
            if ends[:, part].any():
                here = law if len(which) == len(walk.rows) else taken(law, which)
                mode = np.asarray(flat[:, part], dtype=np.intp)
                found[:, part] = np.where(ends[:, part], here.next_mode(v, mode), mode)
        return found, (found != flat).any(axis=1)


def _owners(store: Store) -> Ints:
    """Return the row of all families that each bound belongs to."""
    found = [np.zeros(0, dtype=np.intp)]
    everyone = np.zeros(1, dtype=np.intp)
    for number in store.moving.pieced:
        family = store.moving.family(number, everyone)
        rows = np.arange(len(family.pins))
        each = family.bounds(np.zeros((1, len(rows)), dtype=np.intp))[1].shape[-1]
        owner = np.repeat(store.columns[number].start + rows, each)
        found.append(owner[store.moving.ending[number]])
    return np.concatenate(found)


def _room(pieces: Pieces, place: Ints) -> Own:
    """Return the matrices of some pieces, with room for their steps."""
    count = len(place)
    levels = np.empty((count, *pieces.levels.shape[1:]))
    return Own(pieces.seen[place], pieces.bounds[place], pieces.rates[place], levels)


def _which(marked: NDArray[np.bool_] | Ints) -> Ints:
    """Return where a row of marks is set; numpy's own name for it takes three times as long."""
    return marked.nonzero()[0]


@dataclass(frozen=True)
class _End:
    """Which of some what-ifs come to the end of a piece, and after how many ticks."""

    row: Ints
    tick: Ints


def _low_points(left: Floats) -> tuple[Ints, Ints, Ints]:
    """Return the stretches in which something may dip below nothing and come up again.

    They lie on either side of a point that is lower than its neighbours, and by more than it is
    above nothing. ``left`` has the shape (rows, points, bounds); returned are row, stretch, bound.
    """
    middle = left[:, 1:-1]
    falls, climbs = left[:, :-2] - middle, left[:, 2:] - middle
    low = (falls >= 0) & (climbs >= 0) & (middle < np.maximum(falls, climbs))
    row, point, bound = np.nonzero(low)
    # At either end of what is looked at there is but one neighbour.
    first = np.nonzero(left[:, 0] < left[:, 1] - left[:, 0])
    last = np.nonzero(left[:, -1] < left[:, -2] - left[:, -1])
    if not (len(row) or len(first[0]) or len(last[0])):
        return row, row, row
    end = np.full(len(last[0]), left.shape[1] - 2)
    return (
        np.concatenate((row, row, first[0], last[0])),
        np.concatenate((point, point + 1, np.zeros_like(first[0]), end)),
        np.concatenate((bound, bound, first[1], last[1])),
    )


def _cubic(start: Floats, end: Floats, rise: Floats, leave: Floats) -> tuple[Floats, Floats]:
    """Return the third and second coefficient of Hermite's cubic with given ends and slopes."""
    return 2 * start + rise - 2 * end + leave, -3 * start + 3 * end - 2 * rise - leave


def _lowest(start: Floats, end: Floats, rise: Floats, leave: Floats) -> tuple[Floats, Floats]:
    """Return where a cubic that falls at first and rises at last is lowest, and how low."""
    bend, curl = _cubic(start, end, rise, leave)
    root = np.sqrt(np.maximum(curl * curl - 3 * bend * rise, 0.0))
    part = np.clip(-rise / np.maximum(curl + root, 1e-300), 0.0, 1.0)
    return part, ((bend * part + curl) * part + rise) * part + start


def _crossings(
    start: Floats, end: Floats, rise: Floats, leave: Floats, dips: NDArray[np.bool_] | None
) -> Floats:
    """Return where cubics first come to nothing, from 0 to 1.

    They begin at nothing or above and end below, or end above as well and dip in between.
    """
    bend, curl = _cubic(start, end, rise, leave)
    high = np.ones_like(start)
    if dips is not None:
        high = np.where(dips, _lowest(start, end, rise, leave)[0], high)
    lines = np.stack((bend, curl, rise, start, high), axis=-1).tolist()
    # So few at a time that plain numbers are quicker than arrays.
    return np.array([_crossing(*line) for line in lines])


def _crossing(bend: float, curl: float, rise: float, start: float, high: float) -> float:
    """Return where a cubic comes to nothing that begins above and is below at ``high``."""
    low, part = 0.0, high / 2
    for _ in range(BENDS):
        value = ((bend * part + curl) * part + rise) * part + start
        if value > 0:
            low = part
        else:
            high = part
        slope = (3 * bend * part + 2 * curl) * part + rise
        step = part - value / slope if slope else part
        if not low < step < high:
            step = (low + high) / 2
        if abs(step - part) < 1e-10:
            return step
        part = step
    return high
