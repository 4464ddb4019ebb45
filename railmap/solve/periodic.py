"""The periodic steady state of a moving network, for many what-ifs at once.

One turn of the mains is walked with exact transition matrices, one for each set of modes; where a
law comes to the end of its piece inside a step, the step is cut into parts to catch the moment.
The state that comes back to itself, ``x(T) = x(0)``, is found by Newton's method, the product of
the transition matrices being the slope.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from railmap.solve.laws import Family, Floats, Ints
from railmap.solve.moving import Moving, taken
from railmap.solve.pieces import Pace, Pieces, work_out

TURNS = 2
"""Turns of the mains to walk from rest before Newton's method."""
PATIENT_TURNS, LOOSE = 6, 20.0
"""After so many turns a step so many times as large is small enough: moments of change are caught
on a grid, and a state that a moment falls on may not come nearer."""
CHORD_TURNS = 2
"""Turns to walk by the slope of a network like it before each what-if goes by its own."""
MOST_SWITCHES = 24
"""Changes of mode at one moment before it is given up."""


class Store:
    """Pieces worked out so far, each for one what-if on one set of modes."""

    def __init__(self, moving: Moving, pace: Pace) -> None:
        self._moving, self._pace = moving, pace
        self.index: dict[tuple[int, bytes], int] = {}
        self.pieces: Pieces | None = None

    def places(self, rows: Ints, modes: list[Ints]) -> Ints:
        """Return the places of the pieces of some what-ifs on their modes.

        Parameters
        ----------
        rows : ndarray of int, shape (jobs,)
            The what-ifs.
        modes : list of ndarray, each shape (jobs, rows of the family)
            Their modes.
        """
        flat = np.concatenate(modes, axis=1).astype(np.int8)
        keys = [(int(row), flat[i].tobytes()) for i, row in enumerate(rows)]
        new = [i for i, key in enumerate(keys) if key not in self.index]
        if new:
            jobs = np.array(new, dtype=np.intp)
            found = work_out(self._moving, rows[jobs], [m[jobs] for m in modes], self._pace)
            self.index.update({keys[i]: len(self.index) + k for k, i in enumerate(new)})
            self.pieces = found if self.pieces is None else _joined(self.pieces, found)
        return np.array([self.index[key] for key in keys], dtype=np.intp)

    def all(self) -> Pieces:
        """Return all pieces there are."""
        assert self.pieces is not None
        return self.pieces


def _joined(one: Pieces, more: Pieces) -> Pieces:
    return Pieces(**{
        f.name: np.concatenate((getattr(one, f.name), getattr(more, f.name)))
        for f in fields(Pieces)
    })  # fmt: skip


@dataclass
class Walk:
    """Where some what-ifs stand in a turn of the mains.

    Attributes
    ----------
    rows : ndarray of int
        The what-ifs.
    z : ndarray, shape (rows, z)
        Their states.
    slope : ndarray, shape (rows, states, states), or None
        Their states against the states that the turn began with, where that is wanted.
    modes : list of ndarray, each shape (rows, rows of the family)
        Their modes.
    place : ndarray of int
        Their pieces in the store.
    done : ndarray of int
        Parts of a step behind them.
    laws : list of (int, Family)
        The laws with pieces, with the numbers of these what-ifs.
    coarse, fine, seen : ndarray
        Their pieces' matrices, kept here so that they are fetched once a change.
    """

    rows: Ints
    z: Floats
    slope: Floats | None
    modes: list[Ints]
    place: Ints
    done: Ints
    laws: list[tuple[int, Family]]
    coarse: Floats
    fine: Floats
    seen: Floats

    def some(self, values: Any, which: Ints) -> Any:
        """Return rows of an array of the walk, without a copy where all are meant."""
        return values if len(which) == len(self.rows) else values[which]


Told = Callable[[Ints, Floats, Ints, bool], None]
"""Told of steps: which of the walk, states before, pieces, and whether they are whole steps."""


class Walker:
    """Walks what-ifs through turns of the mains.

    Parameters
    ----------
    moving : Moving
        The network.
    pace : Pace
        How a turn is walked.
    """

    def __init__(self, moving: Moving, pace: Pace) -> None:
        self.moving, self.pace = moving, pace
        self.store = Store(moving, pace)

    def begin(self, rows: Ints, x: Floats, modes: list[Ints], slopes: bool = False) -> Walk:
        """Return a walk at the start of a turn, on the modes that its state asks for."""
        count = len(rows)
        z = np.concatenate((x, np.tile([1.0, 0.0, 1.0], (count, 1))), axis=1)
        slope = np.tile(np.eye(x.shape[1]), (count, 1, 1)) if slopes else None
        modes = [m.copy() for m in modes]
        place = self.store.places(rows, modes)
        pieces = self.store.all()
        walk = Walk(
            rows, z, slope, modes, place, np.zeros(count, dtype=np.intp),
            self.moving.watching(rows), pieces.coarse[place], pieces.fine[place],
            pieces.seen[place],
        )  # fmt: skip
        self._switch(walk, np.arange(count))
        return walk

    def turn(self, walk: Walk, told: Told | None = None) -> None:
        """Walk through one turn of the mains."""
        whole = self.pace.steps * self.pace.parts
        walk.done[:] = 0
        while True:
            left = np.flatnonzero(walk.done < whole)
            if not len(left):
                return
            level = walk.done[left] % self.pace.parts == 0
            near = left[level]
            if len(near):
                late = self._go(walk, near, told, coarse=True)
                left = np.sort(np.concatenate((near[late], left[~level])))
            if len(left) and self.pace.halvings:
                self._go(walk, left, told, coarse=False)

    def _go(self, walk: Walk, which: Ints, told: Told | None, coarse: bool) -> NDArray[np.bool_]:
        """Go as far as the present pieces hold; return for which a piece came to its end."""
        ways = walk.some(walk.coarse if coarse else walk.fine, which)
        before = walk.some(walk.z, which)
        after = (ways @ before[:, None, :, None])[..., 0]
        most, size = self._room(walk.done[which], coarse)
        late = self._asks(walk, which, after)
        if late.shape[1] > 1:
            late = late & _within(late.shape[1], most)
        ended = np.asarray(late.any(axis=1), dtype=np.bool_)
        steps: Ints = np.where(ended, late.argmax(axis=1), most)
        # The late point itself is taken where the step cannot be cut any further.
        turning = ended & np.bool_(not coarse or self.pace.parts == 1)
        steps = steps + turning
        moved = np.flatnonzero(steps > 0)
        if len(moved):
            if told is not None:
                self._tell(told, walk, which[moved], after[moved], steps[moved], coarse)
            self._move(walk, which, moved, ways, after, steps)
            walk.done[which[moved]] += steps[moved] * size
        if turning.any():
            self._switch(walk, which[turning])
        return ended & ~turning

    @staticmethod
    def _move(
        walk: Walk, which: Ints, moved: Ints, ways: Floats, after: Floats, steps: Ints
    ) -> None:
        """Put what-ifs where they have come to."""
        if len(moved) == len(walk.rows) and after.shape[1] == 1:
            walk.z = after[:, 0]
            if walk.slope is not None:
                walk.slope = ways[:, 0, :-3, :-3] @ walk.slope
            return
        rows, last = which[moved], steps[moved] - 1
        walk.z[rows] = after[moved, last]
        if walk.slope is not None:
            walk.slope[rows] = ways[moved, last, :-3, :-3] @ walk.slope[rows]

    def _room(self, done: Ints, coarse: bool) -> tuple[Ints, int]:
        """Return the most steps that can be taken at once, and the parts in each."""
        parts = self.pace.parts
        if coarse:
            left = self.pace.steps - done // parts
            return np.minimum(self.pace.ahead, left), parts
        return parts - done % parts, 1

    @staticmethod
    def _tell(told: Told, walk: Walk, rows: Ints, after: Floats, steps: Ints, coarse: bool) -> None:
        """Tell of every step that was taken, from the state that it began with."""
        before = np.concatenate((walk.z[rows][:, None], after[:, :-1]), axis=1)
        went = _within(before.shape[1], steps)
        row, _ = np.nonzero(went)
        told(rows[row], before[went], walk.place[rows][row], coarse)

    @staticmethod
    def _asks(walk: Walk, which: Ints, z: Floats) -> NDArray[np.bool_]:
        """Return at which of some points a law has come to the end of its piece."""
        v = z @ np.swapaxes(walk.some(walk.seen, which), 1, 2)
        found = np.zeros(z.shape[:2], dtype=bool)
        for number, family in _numbers_of(walk, which):
            mode = walk.some(walk.modes[number], which)[:, None]
            found |= (family.next_mode(v, mode) != mode).any(axis=-1)
        return found

    def _switch(self, walk: Walk, which: Ints) -> None:
        """Change modes until every law is on the piece that its volts ask for."""
        for attempt in range(MOST_SWITCHES):
            z = walk.z[which]
            v = (walk.seen[which] @ z[..., None])[..., 0][:, None]
            moved = np.zeros(len(which), dtype=bool)
            for number, family in _numbers_of(walk, which):
                mode = walk.modes[number][which]
                asked = family.next_mode(v, mode[:, None])[:, 0]
                if attempt >= MOST_SWITCHES // 2:
                    asked = _first_only(mode, asked, moved)
                moved |= np.any(asked != mode, axis=1)
                walk.modes[number][which] = asked
            which = which[moved]
            if not len(which):
                return
            place = self.store.places(walk.rows[which], [m[which] for m in walk.modes])
            pieces = self.store.all()
            walk.place[which] = place
            walk.coarse[which], walk.fine[which] = pieces.coarse[place], pieces.fine[place]
            walk.seen[which] = pieces.seen[place]


def _numbers_of(walk: Walk, which: Ints) -> list[tuple[int, Any]]:
    """Return the laws with pieces, with the numbers of some of the walk."""
    if len(which) == len(walk.rows):
        return walk.laws
    return [(i, taken(family, which)) for i, family in walk.laws]


def _within(points: int, most: Ints) -> NDArray[np.bool_]:
    """Return which of some points come before the most that each what-if may take."""
    return np.arange(points, dtype=np.intp) < most[:, None]


def _first_only(mode: Ints, asked: Ints, moved: NDArray[np.bool_]) -> Ints:
    """Let only the first row that asks for another mode have it, where none has before."""
    differs = asked != mode
    first = np.argmax(differs, axis=1)
    found = mode.copy()
    rows = np.flatnonzero(np.any(differs, axis=1) & ~moved)
    found[rows, first[rows]] = asked[rows, first[rows]]
    return found


@dataclass(frozen=True)
class Guess:
    """Where to begin the search for the periodic state.

    Attributes
    ----------
    x : ndarray, shape (what-ifs, states)
        State at the start of the turn.
    modes : list of ndarray
        Modes there.
    inverse : ndarray, shape (states, states), or None
        Inverse of one less the slope of a network like it; None where the state is a mere start.
    """

    x: Floats
    modes: list[Ints]
    inverse: Floats | None


@dataclass(frozen=True)
class Orbit:
    """The periodic state: where a turn begins, and where it did not come to rest.

    ``inverse`` is that of one less the slope of the first what-if.
    """

    x: Floats
    modes: list[Ints]
    found: NDArray[np.bool_]
    inverse: Floats | None


def find_orbit(walker: Walker, guess: Guess, close: float, turns: int) -> Orbit:
    """Find the state that a turn of the mains brings back to itself.

    Parameters
    ----------
    walker : Walker
        The network.
    guess : Guess
        Where to begin. With an inverse slope some cheap turns are walked by it; without, some
        turns as they come. Then every what-if goes by its own slope.
    close : float
        How near to periodic is near enough, as a part of the state.
    turns : int
        Most turns of the mains to walk.
    """
    x, modes, inverse = guess.x.copy(), [m.copy() for m in guess.modes], guess.inverse
    rows = np.arange(len(x))
    found = np.zeros(len(x), dtype=bool)
    eye = np.eye(x.shape[1])
    cheap = TURNS if guess.inverse is None else CHORD_TURNS
    for turn in range(turns):
        walk = walker.begin(rows, x[rows], [m[rows] for m in modes], slopes=turn >= cheap)
        walker.turn(walk)
        gap = walk.z[:, :-3] - x[rows]
        if walk.slope is not None:
            own = np.linalg.inv(eye - walk.slope)
            inverse = own[0] if rows[0] == 0 else inverse
            step = (own @ gap[..., None])[..., 0]
        else:
            step = gap if guess.inverse is None else gap @ guess.inverse.T
        size = np.max(np.abs(walk.z[:, :-3]), axis=1, initial=1e-3)
        near = close if turn < PATIENT_TURNS else close * LOOSE
        still = np.max(np.abs(step), axis=1, initial=0.0) <= near * size
        x[rows] += step
        for mode, now in zip(modes, walk.modes, strict=True):
            mode[rows] = now
        found[rows[still]] = True
        rows = rows[~still]
        if not len(rows):
            break
    return Orbit(x, modes, found, inverse)
