"""Solves maps that the mains turns: the periodic state, with slow laws closed around it.

A lamp's filament follows the effective volts over many turns, and electronics that take constant
power follow their mean volts; within a turn both are straight lines. They are put through the
periodic state until neither moves any more.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from railmap.solve.laws import Floats, Ints
from railmap.solve.laws_three import CUT, STARVED, Regulators, Transistors
from railmap.solve.limiter import Limiter, limiter_of
from railmap.solve.measure import Recorder, Turn
from railmap.solve.moving import Moving, States, moving_states
from railmap.solve.periodic import Guess, find_orbit
from railmap.solve.pieces import Grain, pin_amps
from railmap.solve.slow import Hurry, all_held, first_slow, moved, next_slow, slow_pins
from railmap.solve.variants import Variants
from railmap.solve.walking import Panels, Walker


@dataclass(frozen=True)
class Care:
    """How exactly a periodic state is found.

    Attributes
    ----------
    grain : Grain
        How finely time is looked at.
    close : float
        Largest Newton step left, as a part of the state.
    still : float
        Largest move left in what slow laws are held at, as a part.
    turns : int
        Most turns of the mains to walk.
    rounds : int
        Most times to settle the slow laws anew.
    """

    grain: Grain
    close: float
    still: float
    turns: int
    rounds: int


ALONE = Care(Grain(halvings=20, ahead=5), close=1e-7, still=1e-6, turns=100, rounds=40)
"""For one what-if."""
TOGETHER = Care(Grain(halvings=12, ahead=4), close=1e-5, still=1e-4, turns=9, rounds=4)
"""For many; those that take longer are done alone."""


ROUGH = 1e-3
"""How near to periodic the first of several rounds comes."""


@dataclass(frozen=True)
class Turning:
    """The periodic state of some what-ifs.

    Attributes
    ----------
    moving : Moving
        The network with its slow laws settled.
    turn : Turn
        Figures over one turn.
    x : ndarray, shape (what-ifs, states)
        State at the start of the turn.
    flat : ndarray of int, shape (what-ifs, rows of all families)
        Modes there.
    visited : ndarray of int, shape (some, rows of all families)
        Modes that the first what-if goes through in a turn.
    slow : dict of int to ndarray
        What the slow laws are held at, by family.
    found : ndarray of bool
        False where it did not come to rest.
    inverse : ndarray
        Inverse of one less the slope of a turn, of the first what-if.
    slopes : dict of int to ndarray
        How far the slow laws follow when they are held elsewhere, by family.
    """

    moving: Moving
    turn: Turn
    x: Floats
    flat: Ints
    visited: Ints
    slow: dict[int, Floats]
    found: NDArray[np.bool_]
    inverse: Floats
    slopes: dict[int, Floats]

    @property
    def modes(self) -> list[Ints]:
        """Modes at the start of the turn, family by family, each (what-ifs, rows)."""
        ends = np.cumsum([0, *(len(f.pins) for f in self.moving.variants.families)]).tolist()
        return [self.flat[:, a:b] for a, b in pairwise(ends)]


def solve_turning(
    variants: Variants, hertz: float, start: Turning | None = None, care: Care | None = None
) -> Turning:
    """Find the periodic state of some what-ifs.

    Parameters
    ----------
    variants : Variants
        The what-ifs under one structure.
    hertz : float
        Mains frequency.
    start : Turning, optional
        The periodic state of a network, as a first guess if it is one like this.
    care : Care, optional
        How exactly; by default as one what-if needs it, or as many do.

    Returns
    -------
    Turning
    """
    care = care or (ALONE if variants.count == 1 else TOGETHER)
    states, limiter = moving_states(variants), limiter_of(variants)
    if start is not None and not _fits(start, variants, states, limiter):
        start = None
    guess = _first_guess(variants, states, limiter, start)
    slow, slopes, visited = first_slow(variants, limiter), {}, guess.flat[:1]
    if start is not None:
        slopes, visited = _begun(slow, start.slopes), start.visited
        slow = _begun(slow, start.slow)
    hurry = Hurry(slopes)
    round_number = 0
    while True:
        families = all_held(variants, slow, limiter)
        moving = Moving(variants, families, states, 2 * np.pi * hertz, limiter)
        walker = Walker(moving, care.grain)
        walker.store.foresee(visited)
        # While slow laws are still far from settled, so may be the turn.
        rough = bool(slow) and round_number == 0
        recorder = Recorder(walker, variants, fine=care is not TOGETHER and not rough)
        close = ROUGH if rough else care.close
        orbit = find_orbit(walker, recorder, guess, close, care.turns)
        visited = recorder.visited
        new = _followed(variants, recorder, slow, orbit.found, limiter)
        move = moved(new, slow, variants.count)
        slow, guess = hurry.on(slow, new), Guess(orbit.x, orbit.flat, orbit.inverse)
        round_number += 1
        good, still = orbit.found, move <= care.still
        if round_number == care.rounds or (not rough and np.all(still[good])):
            return Turning(
                moving, recorder.turn(variants.count), orbit.x, orbit.flat, visited, slow,
                good & still, orbit.inverse[0], hurry.slopes,
            )  # fmt: skip


def _followed(
    variants: Variants,
    recorder: Recorder,
    slow: dict[int, Floats],
    found: NDArray[np.bool_],
    limiter: Limiter | None,
) -> dict[int, Floats]:
    """Return what the slow laws are to be held at next."""
    if not slow:
        return {}
    # Until these have settled, only what they follow is asked for.
    turn = recorder.turn(variants.count, slow_pins(variants, slow, limiter))
    return next_slow(variants, slow, turn, found, limiter)


def _begun(first: dict[int, Floats], like: dict[int, Floats]) -> dict[int, Floats]:
    """Return values of slow laws as they were in a network like it, for every what-if."""
    return {i: np.tile(like[i][:1], (len(v), 1, 1)) for i, v in first.items() if i in like}


def at_rest(variants: Variants, hertz: float) -> tuple[Moving, Guess]:
    """Return a network as it is before the mains has ever turned, and the state it rests in."""
    states, limiter = moving_states(variants), limiter_of(variants)
    families = all_held(variants, first_slow(variants, limiter), limiter)
    moving = Moving(variants, families, states, 2 * np.pi * hertz, limiter)
    return moving, _first_guess(variants, states, limiter, None)


def _fits(start: Turning, variants: Variants, states: States, limiter: Limiter | None) -> bool:
    """Tell whether the periodic state of a network is one that another can begin from."""
    one, other = start.moving.variants, variants
    return (
        start.moving.states.refs == states.refs
        and (start.moving.limiter is None) == (limiter is None)
        and [type(f) for f in one.families] == [type(f) for f in other.families]
        and all(
            np.array_equal(a.pins, b.pins)
            for a, b in zip(one.families, other.families, strict=True)
        )
    )


def _first_guess(
    variants: Variants, states: States, limiter: Limiter | None, start: Turning | None
) -> Guess:
    """Return the state of a network like it, else rest."""
    count = variants.count
    if start is None:
        rest = np.zeros((count, len(states.refs)))
        return Guess(rest, _first_modes(variants, limiter), None)
    flat = np.tile(start.flat[:1], (count, 1))
    return Guess(np.tile(start.x[:1], (count, 1)), flat, start.inverse)


def _first_modes(variants: Variants, limiter: Limiter | None) -> Ints:
    """Return modes at rest, before the mains has turned: nothing holds its output yet."""
    resting: dict[type[Any], int] = {Regulators: STARVED, Transistors: CUT}
    modes = [
        np.full(len(f.pins), resting.get(type(f), f.first_mode), dtype=np.intp)
        for f in variants.families
    ]
    if limiter is not None:
        modes.append(np.zeros(1, dtype=np.intp))
    return np.tile(np.concatenate([np.zeros(0, dtype=np.intp), *modes]), (variants.count, 1))


@dataclass(frozen=True)
class Waves:
    """One turn of the mains, point by point.

    Attributes
    ----------
    seconds : ndarray, shape (points,)
        Time from the mains' upward crossing of nothing.
    volts : ndarray, shape (points, nodes)
        Node volts.
    amps : ndarray, shape (points, pins)
        Current into each pin of the flat list.
    """

    seconds: Floats
    volts: Floats
    amps: Floats


def waves(turning: Turning) -> Waves:
    """Return the turn of a single what-if, point by point.

    Parameters
    ----------
    turning : Turning
        The periodic state of one what-if.
    """
    walker = Walker(turning.moving, ALONE.grain)
    walk = walker.begin(np.arange(1), turning.x[:1], turning.flat[:1])
    told: list[Panels] = []
    walker.turn(walk, told.append)
    place = np.concatenate([p.place for p in told])
    start = np.concatenate([p.start for p in told])
    z = np.concatenate([p.z for p in told])
    store = walker.store
    own = sorted(set(place.tolist()))
    seen, into = np.empty((len(z), turning.moving.nodes)), np.empty((len(z), turning.moving.pins))
    for number in own:
        at = np.flatnonzero(place == number)
        volts = store.pieces.volts[number : number + 1]
        modes = store.modes(store.flat[number : number + 1])
        amps = pin_amps(turning.moving, store.rows[number : number + 1], modes, volts)
        seen[at], into[at] = z[at] @ volts[0].T, z[at] @ amps[0].T
    period = 2 * np.pi / turning.moving.omega
    return Waves(start / store.ticks * period, seen, into)
