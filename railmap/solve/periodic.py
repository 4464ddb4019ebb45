"""The periodic steady state of a moving network, for many what-ifs at once.

The state that a turn of the mains brings back to itself, ``x(T) = x(0)``, is found by Newton's
method. The slope of a turn is the product of its transition matrices: laws of straight pieces are
continuous where the pieces meet, so that the moment of a change adds nothing to it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railmap.solve.laws import Floats, Ints
from railmap.solve.measure import Recorder
from railmap.solve.walking import Panels, Walk, Walker

TURNS = 2
"""Turns of the mains to walk from rest before Newton's method."""
CHORD_TURNS = 1
"""Turns to walk by the slope of a network like it before each what-if goes by its own."""
OWN_TURNS = 3
"""Turns to walk by slopes of its own from before something slow has moved a little."""
READY, QUICK = 1e-2, 0.1
"""A turn may be the last one once steps are below this part of the state; the slope is worked out
anew where a step is more than this part of the one before."""
PATIENT_TURNS, LOOSE = 25, 20.0
"""After so many turns a step so many times as large is small enough: with hardly any resistance
the moment of a change is known to what a current of a microampere makes of it."""
FAR, WORSE, MOST_STRIDE = 3.0, 0.9, 32.0
"""A step leads nowhere beyond so many times all volts in series, or where what is missing has not
become less than this part of itself; most turns in one stride."""
PLOD, ENOUGH = 15, 0.1
"""So many turns are taken as they come, or until this part is left of what was missing."""
PATIENCE, LONG = 30, 40
"""What has not come to rest after so many turns is walked through so many as they come."""
FREE = 1e-9
"""A direction in which a turn leaves the state alone but for this part is not held by anything, as
the middle of two capacitors in series; the state keeps what it has there since it was at rest."""


@dataclass(frozen=True)
class Guess:
    """Where to begin the search for the periodic state.

    Attributes
    ----------
    x : ndarray, shape (what-ifs, states)
        State at the start of the turn.
    flat : ndarray of int, shape (what-ifs, rows of all families)
        Modes there.
    inverse : ndarray, shape (what-ifs, states, states) or (states, states), or None
        Inverse of one less the slope of a turn, or that of one network like them; None where the
        state is a mere start.
    """

    x: Floats
    flat: Ints
    inverse: Floats | None


@dataclass(frozen=True)
class Orbit:
    """The periodic state: where a turn begins, and where it did not come to rest.

    ``inverse`` is that of one less the slope of each what-if.
    """

    x: Floats
    flat: Ints
    found: NDArray[np.bool_]
    inverse: Floats


def find_orbit(walker: Walker, recorder: Recorder, guess: Guess, close: float, turns: int) -> Orbit:
    """Find the state that a turn of the mains brings back to itself.

    Parameters
    ----------
    walker : Walker
        The network.
    recorder : Recorder
        Takes the last turn of every what-if that comes to rest.
    guess : Guess
        Where to begin. With an inverse slope some cheap turns are walked by it; without, some
        turns as they come. Then every what-if goes by its own slope.
    close : float
        How near to periodic is near enough, as a part of the state.
    turns : int
        Most turns of the mains to walk.
    """
    search = _Search(walker, guess)
    rows, slopes, count = np.arange(len(guess.x)), False, len(guess.x)
    found = np.zeros(count, dtype=bool)
    for turn in range(turns):
        told: list[Panels] = []
        # The last turn is the one that meters read; the first ones cannot be that.
        ready = bool(np.any(search.move[rows] < READY))
        walk = walker.begin(rows, search.x[rows], search.flat[rows], slopes)
        walker.turn(walk, told.append if ready else None)
        before = search.move[rows]
        search.step(walk, turn)
        move = search.move[rows]
        near = close if turn < PATIENT_TURNS else close * LOOSE
        still = (move <= near) & ~walk.lost & ready
        found[rows[still]] = True
        recorder.keep(told, rows, still)
        # A slope serves for as long as each step is a small part of the one before.
        slow = bool(np.any(move[~still] > QUICK * before[~still]))
        slopes = turn + 1 == search.cheap or (turn + 1 > search.cheap and slow)
        rows = rows[~still & ~walk.lost]
        if not len(rows):
            break
    return Orbit(search.x, search.flat, found, search.inverse)


class _Search:
    """Where the search for the periodic state stands.

    Attributes
    ----------
    x, flat : ndarray
        States and modes to begin the next turn with.
    inverse : ndarray, shape (what-ifs, states, states)
        Inverse of one less the slope of a turn, as it was last worked out.
    move : ndarray, shape (what-ifs,)
        The last step, as a part of the state.
    cheap : int
        Turns to walk before the slope is worked out.
    """

    def __init__(self, walker: Walker, guess: Guess) -> None:
        count, states = guess.x.shape
        self.x, self.flat = guess.x.copy(), guess.flat.copy()
        # Without a slope to go by, the state is taken as the turn leaves it.
        first = np.eye(states) if guess.inverse is None else guess.inverse
        self.inverse = np.broadcast_to(first, (count, states, states)).copy()
        self.move = np.full(count, np.inf)
        self.cheap = TURNS if guess.inverse is None else CHORD_TURNS
        if first.ndim == 3:
            # The slopes of a network so near serve until they prove not to.
            self.move[:] = READY / 2
            self.cheap = OWN_TURNS
        self._volts = walker.moving.volts_states
        self._reach = FAR * walker.moving.driven
        self._gap = np.full(count, np.inf)
        self._last = np.zeros((count, states))
        self._stride = np.ones(count)
        self._plod = np.zeros(count, dtype=np.intp)

    def step(self, walk: Walk, turn: int) -> None:
        """Go from what a turn was found to do to where the next one is to begin."""
        rows = walk.rows
        walk.lost |= ~np.isfinite(walk.z).all(axis=1)
        walk.z[walk.lost] = 0.0
        if walk.slope is not None:
            walk.slope[walk.lost] = 0.0
            self.inverse[rows] = inverses(walk.slope[:, :-3])
        after = walk.z[:, :-3]
        gap = after - self.x[rows]
        step = (self.inverse[rows] @ gap[..., None])[..., 0]
        if turn >= self.cheap:
            step = self._checked(rows, gap, step, turn)
        # No capacitor goes beyond all that drives the map, unless a turn has taken it there.
        most = np.maximum(self._reach[rows, None], np.abs(after))
        most = np.where(self._volts > 0, most, np.inf)
        step = np.clip(self.x[rows] + step, -most, most) - self.x[rows]
        if turn == PATIENCE:
            self._restart(rows)
            step = after - self.x[rows]
        self.x[rows] += np.where(walk.lost[:, None], 0.0, step)
        self.flat[rows] = walk.flat
        self.move[rows] = _largest(step) / np.max(np.abs(after), axis=1, initial=1e-3)

    def _restart(self, rows: Ints) -> None:
        """Let the turns be walked as they come for long, from a turn after the start."""
        self._plod[rows], self._stride[rows] = LONG, 1.0
        self._gap[rows], self._last[rows] = np.inf, 0.0

    def _checked(self, rows: Ints, gap: Floats, step: Floats, turn: int) -> Floats:
        """Return the step, or some turns as they come where the slope leads nowhere.

        It leads beyond all that drives the map where nothing pulls back, as with a steady current
        into a capacitor, and it may lead round in circles. Turns that change little are gone in
        ever longer strides.
        """
        size, before = _largest(gap), self._gap[rows]
        lost = _largest(step * self._volts) > self._reach[rows]
        if turn > self.cheap:
            lost |= size > WORSE * before
        plod = np.maximum(self._plod[rows] - 1, 0)
        plod = np.where(lost & (plod == 0), PLOD, plod)
        plod = np.where(size < ENOUGH * before, 0, plod)
        onward = np.sum(gap * self._last[rows], axis=1) > 0
        longer = (plod > 0) & (plod < PLOD) & onward & (size > WORSE * before)
        stride = np.where(longer, np.minimum(2 * self._stride[rows], MOST_STRIDE), 1.0)
        self._gap[rows], self._plod[rows], self._stride[rows] = size, plod, stride
        self._last[rows] = gap
        return np.where(plod[:, None] > 0, gap * stride[:, None], step)


def _largest(values: Floats) -> Floats:
    return np.max(np.abs(values), axis=1, initial=0.0)


def inverses(slope: Floats) -> Floats:
    """Return the inverse of one less the slope of a turn, nothing where nothing is held.

    Parameters
    ----------
    slope : ndarray, shape (what-ifs, states, states)
        The state after a turn against the state before it.
    """
    left, size, right = np.linalg.svd(np.eye(slope.shape[-1]) - slope)
    held = size > FREE * np.maximum(size[..., :1], 1.0)
    over = np.where(held, 1 / np.where(held, size, 1.0), 0.0)
    return np.swapaxes(right, -1, -2) @ (over[..., None] * np.swapaxes(left, -1, -2))
