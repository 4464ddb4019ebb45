"""Solves maps that the mains turns: the periodic state, with slow laws closed around it.

A lamp's filament follows the effective volts over many turns, and electronics that take constant
power follow their mean volts; within a turn both are straight lines. They are put through the
periodic state until neither moves any more.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from railmap.solve.laws import COLD_FRACTION, LAMP_POWER, Family, Floats, Ints, Lamps, PowerLoads
from railmap.solve.laws_three import Converters
from railmap.solve.measure import Turn, pins_of, record
from railmap.solve.moving import Held, Moving, moving_states
from railmap.solve.periodic import Guess, Walker, find_orbit
from railmap.solve.pieces import Pace
from railmap.solve.variants import Variants


@dataclass(frozen=True)
class Care:
    """How exactly a periodic state is found.

    Attributes
    ----------
    pace : Pace
        How a turn is walked.
    close : float
        Largest Newton step left, as a part of the state.
    still : float
        Largest move left in the volts of slow laws, as a part.
    turns : int
        Most turns of the mains to walk.
    rounds : int
        Most times to settle the slow laws anew.
    """

    pace: Pace
    close: float
    still: float
    turns: int
    rounds: int


ALONE = Care(Pace(steps=128, ahead=8, halvings=5), close=1e-7, still=1e-5, turns=60, rounds=25)
"""For one what-if."""
TOGETHER = Care(Pace(steps=128, ahead=1, halvings=2), close=1e-5, still=1e-4, turns=9, rounds=3)
"""For many; those that take longer are done alone."""


ROUGH = 1e-4
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
    modes : list of ndarray
        Modes there.
    slow : dict of int to ndarray
        Pin volts that the slow laws are held at, by family.
    found : ndarray of bool
        False where it did not come to rest.
    inverse : ndarray or None
        Inverse of one less the slope of a turn, of the first what-if.
    ratio : float
        How a move of the slow laws compares with the one before it.
    """

    moving: Moving
    turn: Turn
    x: Floats
    modes: list[Ints]
    slow: dict[int, Floats]
    found: NDArray[np.bool_]
    inverse: Floats | None
    ratio: float


def solve_turning(variants: Variants, hertz: float, start: Turning | None = None) -> Turning:
    """Find the periodic state of some what-ifs.

    Parameters
    ----------
    variants : Variants
        The what-ifs under one structure.
    hertz : float
        Mains frequency.
    start : Turning, optional
        The periodic state of a network, as a first guess if it is one like this.

    Returns
    -------
    Turning
    """
    if start is not None and not _fits(start, variants):
        start = None
    states, care = moving_states(variants), ALONE if variants.count == 1 else TOGETHER
    slow = _first_slow(variants) if start is None else _spread(start.slow, variants.count)
    guess = _first_guess(variants, len(states.refs), start)
    against, nodes_of = pins_of(variants)
    hurry = Hurry(start.ratio if start is not None else 0.0)
    round_number = 0
    while True:
        families = [_held(f, slow.get(i)) for i, f in enumerate(variants.families)]
        moving = Moving(variants, families, states, 2 * np.pi * hertz)
        walker = Walker(moving, care.pace)
        # While slow laws are still far from settled, so may be the turn.
        rough = bool(slow) and round_number == 0 and guess.inverse is None
        orbit = find_orbit(walker, guess, ROUGH if rough else care.close, care.turns)
        turn = record(walker, orbit.x, orbit.modes, against, nodes_of)
        new = _next_slow(variants, slow, turn, round_number)
        moved = _moved(new, slow, variants.count)
        slow, guess = hurry.on(slow, new), Guess(orbit.x, orbit.modes, orbit.inverse)
        round_number += 1
        still = moved <= care.still
        if round_number == care.rounds or (not rough and np.all(still[orbit.found])):
            found = orbit.found & still
            return Turning(
                moving, turn, orbit.x, orbit.modes, slow, found, orbit.inverse, hurry.ratio
            )


def _fits(start: Turning, variants: Variants) -> bool:
    """Tell whether the periodic state of a network is one that another can begin from."""
    one, other = start.moving.variants, variants
    return (
        start.moving.states.refs == moving_states(variants).refs
        and [type(f) for f in one.families] == [type(f) for f in other.families]
        and all(
            np.array_equal(a.pins, b.pins)
            for a, b in zip(one.families, other.families, strict=True)
        )
    )


class Hurry:
    """Goes at once where the slow laws would creep to, as Aitken's method does.

    Each move of a creeping sequence is a part of the move before; ``ratio`` is that part.
    """

    def __init__(self, ratio: float) -> None:
        self.ratio = ratio
        self._before: dict[int, Floats] = {}
        self._hurried = ratio != 0.0

    def on(self, old: dict[int, Floats], new: dict[int, Floats]) -> dict[int, Floats]:
        """Return where to hold the slow laws next."""
        move = {i: new[i] - old[i] for i in new}
        if self._before and not self._hurried:
            size = sum(float(np.sum(b * b)) for b in self._before.values())
            along = sum(float(np.sum(move[i] * b)) for i, b in self._before.items())
            self.ratio = float(np.clip(along / size, -0.5, 0.5)) if size else 0.0
        self._before = move
        self._hurried = self.ratio != 0.0
        return {i: old[i] + m / (1 - self.ratio) for i, m in move.items()}


def _first_guess(variants: Variants, states: int, start: Turning | None) -> Guess:
    """Return the state of a network like it, else rest."""
    count = variants.count
    if start is None:
        return Guess(np.zeros((count, states)), _first_modes(variants), None)
    modes = [np.tile(m[:1], (count, 1)) for m in start.modes]
    return Guess(np.tile(start.x[:1], (count, 1)), modes, start.inverse)


def _spread(slow: dict[int, Floats], count: int) -> dict[int, Floats]:
    return {i: np.tile(at[:1], (count, *[1] * (at.ndim - 1))) for i, at in slow.items()}


def _first_modes(variants: Variants) -> list[Ints]:
    shape = (variants.count,)
    return [np.full((*shape, len(f.pins)), f.first_mode, dtype=np.intp) for f in variants.families]


def _first_slow(variants: Variants) -> dict[int, Floats]:
    """Hold every slow law at nothing, but lamps at the volts they are made for."""
    found: dict[int, Floats] = {}
    for number, family in enumerate(variants.families):
        if isinstance(family, Lamps):
            found[number] = np.stack((family.at_volts, 0 * family.at_volts), axis=-1)
        elif isinstance(family, PowerLoads | Converters):
            found[number] = np.zeros((variants.count, *family.pins.shape))
    return found


def _held(family: Any, at: Floats | None) -> Family:
    """Return a slow family as a straight line through the pin volts it is held at."""
    if at is None:
        return family
    if isinstance(family, Lamps):
        return _held_lamps(family, at)
    if not np.any(at):
        idle = np.zeros((*at.shape, at.shape[-1]))
        return Held(family.pins, family.slots, np.zeros_like(at), idle, at)
    count, rows, size = at.shape
    # The law is asked at its own pins, numbered as if they were all there is.
    own: Ints = np.arange(rows * size, dtype=np.intp).reshape(rows, size)
    alone = replace(family, pins=own)
    v = at.reshape(count, rows * size)
    mode = alone.next_mode(v, np.ones((count, rows), dtype=np.intp))
    amps, slopes = alone.evaluate(v, mode)
    return Held(family.pins, family.slots, amps, slopes, at)


def _held_lamps(family: Lamps, at: Floats) -> Held:
    part = np.maximum(np.abs(at[..., 0] - at[..., 1]) / family.at_volts, COLD_FRACTION)
    siemens = family.amps * part ** (LAMP_POWER - 1) / family.at_volts
    slopes = siemens[..., None, None] * np.array([[1.0, -1.0], [-1.0, 1.0]])
    zero = np.zeros_like(at)
    return Held(family.pins, family.slots, zero, slopes, zero)


def _next_slow(
    variants: Variants, slow: dict[int, Floats], turn: Turn, round_number: int
) -> dict[int, Floats]:
    """Return the pin volts that the slow laws are to be held at next."""
    found: dict[int, Floats] = {}
    for number, at in slow.items():
        family: Any = variants.families[number]
        if isinstance(family, Lamps):
            held = _held_lamps(family, at)
            siemens = np.maximum(held.slopes[..., 0, 0], 1e-30)
            rms = turn.pin_rms[:, family.slots[:, 0]] / siemens
            found[number] = np.stack((rms, 0 * rms), axis=-1)
            continue
        new = turn.node_mean[:, family.pins]
        if isinstance(family, Converters) and round_number < 2:
            new = new.copy()
            new[..., 1] = new[..., 2] + family.sign * family.volts
        found[number] = new
    return found


def _moved(new: dict[int, Floats], old: dict[int, Floats], count: int) -> Floats:
    """Return by what part the volts of slow laws moved, the most in each what-if."""
    found = np.zeros(count)
    for i, volts in new.items():
        part = np.abs(volts - old[i]) / np.maximum(np.abs(volts), 1e-3)
        found = np.maximum(found, part.reshape(count, -1).max(axis=1, initial=0.0))
    return found


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
    walker = Walker(turning.moving, ALONE.pace)
    walk = walker.begin(np.arange(1), turning.x[:1], [m[:1] for m in turning.modes])
    points: list[tuple[Floats, Floats, Floats]] = []
    clock = [0.0]

    def told(_: Ints, z: Floats, place: Ints, coarse: bool) -> None:
        pieces, pace = walker.store.all(), walker.pace
        step = 1.0 / pace.steps / (1 if coarse else pace.parts)
        times: Floats = clock[0] + step * np.arange(len(z), dtype=float)
        clock[0] += step * len(z)
        volts = (pieces.volts[place] @ z[..., None])[..., 0]
        points.append((times, volts, (pieces.amps[place] @ z[..., None])[..., 0]))

    walker.turn(walk, told)
    period = 2 * np.pi / turning.moving.omega
    times, volts, amps = (np.concatenate(kind) for kind in zip(*points, strict=True))
    return Waves(times * period, volts, amps)
