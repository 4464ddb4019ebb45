"""Laws that are slow beside a turn of the mains, held to something simpler while it turns.

A lamp's filament follows the effective volts over many turns: within one it is a resistance.
Electronics that take constant power draw a steady current within a turn, and a converter takes at
its input, as a resistance would, what its output has given. What they are held at is put through
the periodic state until it no longer moves.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from railmap.solve.laws import (
    COLD_FRACTION,
    LAMP_POWER,
    Family,
    Floats,
    Ints,
    Lamps,
    PowerLoads,
    ResistiveLoads,
    SteadyLoads,
)
from railmap.solve.laws_three import RAMP, Converters, Outputs
from railmap.solve.limiter import Limiter
from railmap.solve.measure import Turn
from railmap.solve.variants import Variants

LEAST = 1e-9
"""Below this a value that a law is held at counts as nothing."""


def first_slow(variants: Variants, limiter: Limiter | None) -> dict[int, Floats]:
    """Return what to hold slow laws at first: lamps hot, all others drawing nothing.

    Returns
    -------
    dict of int to ndarray, shape (what-ifs, rows, values)
        By number of the family; behind them all the lamp in series with the mains.
    """
    found: dict[int, Floats] = {}
    if limiter is not None:
        found[len(variants.families)] = limiter.first()
    for number, family in enumerate(variants.families):
        shape = (variants.count, len(family.pins))
        if isinstance(family, Lamps):
            found[number] = np.array(family.amps / family.at_volts)[..., None]
        elif isinstance(family, PowerLoads):
            found[number] = np.zeros((*shape, 1))
        elif isinstance(family, Converters):
            found[number] = np.stack((np.zeros(shape), np.ones(shape)), axis=-1)
    return found


def all_held(variants: Variants, slow: dict[int, Floats], limiter: Limiter | None) -> list[Family]:
    """Return all laws as they are within a turn."""
    families = [held(f, slow.get(i)) for i, f in enumerate(variants.families)]
    if limiter is None:
        return families
    return limiter.limited(variants, families, slow[len(families)])


def held(family: Any, at: Floats | None) -> Family:
    """Return a slow family as what it is within a turn; any other as it is.

    Parameters
    ----------
    family : Family
        The laws.
    at : ndarray, shape (what-ifs, rows, values), or None
        Siemens of lamps, amps of power loads, siemens at the input and part of its volts at the
        output of converters.
    """
    if at is None:
        return family
    if isinstance(family, Lamps):
        siemens = at[..., 0]
        return ResistiveLoads(family.pins, family.slots, siemens, np.zeros_like(siemens))
    if isinstance(family, PowerLoads):
        return SteadyLoads(family.pins, family.slots, at[..., 0], family.collapse_volts)
    return Outputs(
        family.pins, family.slots, family.sign, family.volts * at[..., 1], family.limit_amps,
        family.siemens, at[..., 0],
    )  # fmt: skip


def slow_pins(variants: Variants, slow: dict[int, Floats], limiter: Limiter | None) -> Ints:
    """Return the pins that slow laws follow."""
    families = variants.families
    pins = [families[number].slots.ravel() for number in slow if number < len(families)]
    pins += [] if limiter is None else [limiter.at]
    return np.array(sorted({int(pin) for some in pins for pin in some}), dtype=np.intp)


def next_slow(
    variants: Variants,
    slow: dict[int, Floats],
    turn: Turn,
    known: NDArray[np.bool_],
    limiter: Limiter | None,
) -> dict[int, Floats]:
    """Return what the slow laws are to be held at next, from what they were held at.

    What-ifs whose turn is not known stay as they are.
    """
    found: dict[int, Floats] = {}
    for number, at in slow.items():
        if limiter is not None and number == len(variants.families):
            new = limiter.next(at, turn.mains_rms)
            found[number] = np.where(known[:, None, None], new, at)
            continue
        family: Any = variants.families[number]
        if isinstance(family, Lamps):
            new = _lamps(family, at, turn)
        elif isinstance(family, PowerLoads):
            new = _power_loads(family, turn)
        else:
            new = _converters(family, turn)
        found[number] = np.where(known[:, None, None], new, at)
    return found


def _lamps(family: Lamps, at: Floats, turn: Turn) -> Floats:
    rms = turn.pin_rms[:, family.slots[:, 0]] / np.maximum(at[..., 0], 1e-30)
    part = np.maximum(rms / family.at_volts, COLD_FRACTION)
    return (family.amps * part ** (LAMP_POWER - 1) / family.at_volts)[..., None]


def _power_loads(family: PowerLoads, turn: Turn) -> Floats:
    volts, swell = _mean_and_swell(turn, family, 0, 1)
    return (family.watts / np.maximum(volts, family.collapse_volts) * swell)[..., None]


def _converters(family: Converters, turn: Turn) -> Floats:
    volts, swell = _mean_and_swell(turn, family, 0, 2)
    given = np.maximum(-turn.pin_watts[:, family.slots[:, 1]], 0.0)
    low = RAMP * family.min_input_volts
    part = np.clip((volts - low) / (family.min_input_volts - low), 0.0, 1.0)
    # Below its least input it draws nothing, whatever its output had given before.
    safe = np.maximum(volts, np.maximum(low, LEAST))
    siemens = np.where(part > 0, given / family.efficiency / safe**2 * swell, 0.0)
    return np.stack((siemens, part), axis=-1)


def _mean_and_swell(turn: Turn, family: Any, plus: int, minus: int) -> tuple[Floats, Floats]:
    """Return the size of the mean volts between two pins, and how much more current ripple costs.

    Constant power asks for ``P / v``, the mean of which is ``P / mean(v)`` times one and the
    square of the ripple's effective value over the mean, to second order; the ripple of a
    reservoir is a sawtooth, peak to peak the square root of 12 times its effective value.
    """
    one, other = family.slots[:, plus], family.slots[:, minus]
    volts = np.abs(turn.drop_mean[:, one] - turn.drop_mean[:, other])
    swing = turn.drop_high[:, one] - turn.drop_low[:, one]
    swell = 1 + np.minimum(swing / np.maximum(volts, LEAST), 1.0) ** 2 / 12
    return volts, swell


def moved(new: dict[int, Floats], old: dict[int, Floats], count: int) -> Floats:
    """Return by what part the slow laws moved, the most in each what-if, shape (what-ifs,)."""
    found = np.zeros(count)
    for i, values in new.items():
        part = np.abs(values - old[i]) / np.maximum(np.abs(values), LEAST)
        found = np.maximum(found, part.reshape(count, -1).max(axis=1, initial=0.0))
    return found


class Hurry:
    """Goes at once where the slow laws would creep to, as the secant method does, one by one.

    Parameters
    ----------
    slopes : dict of int to ndarray
        How far each value follows when it is held elsewhere, as it was found for a network like
        it; empty where nothing is known.
    """

    def __init__(self, slopes: dict[int, Floats]) -> None:
        self.slopes = slopes
        self._before: dict[int, tuple[Floats, Floats]] = {}

    def on(self, old: dict[int, Floats], new: dict[int, Floats]) -> dict[int, Floats]:
        """Return where to hold the slow laws next, from where they were and what that gave."""
        for i, (held_at, gave) in self._before.items():
            way = old[i] - held_at
            # What has hardly been moved tells nothing of how it follows.
            told = np.abs(way) > 1e-7 * np.abs(old[i])
            slope = np.clip((new[i] - gave) / np.where(told, way, 1.0), -STEEPEST, STEEPEST)
            known = self.slopes.get(i, np.zeros_like(slope))
            self.slopes[i] = np.where(told, slope, known)
        self._before = {i: (old[i], new[i]) for i in new}
        return {
            i: old[i] + (new[i] - old[i]) / (1 - self.slopes.get(i, np.zeros_like(old[i])))
            for i in new
        }


STEEPEST = 0.7
"""Most that a slow law is taken to follow where it is held."""
