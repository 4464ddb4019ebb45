"""What one part does in many what-ifs at once."""

from __future__ import annotations

import numpy as np

from railmap.model import kinds
from railmap.solve import stress
from railmap.solve.laws import Floats
from railmap.solve.measure import Turn
from railmap.solve.solution import counts_outwards, heated_by_rms
from railmap.solve.variants import Variants


def part_figures(variants: Variants, turn: Turn, ref: str) -> tuple[Floats, ...]:
    """Return volts, amps, watts, stress and effective amps of a part, each by what-if.

    Parameters
    ----------
    variants : Variants
        The what-ifs.
    turn : Turn
        Their figures.
    ref : str
        The part.
    """
    part = variants.base.parts[ref]
    start = variants.start_of[ref]
    first, second = (start + part.pins.index(end) for end in part.ends)
    pins = slice(start, start + len(part.pins))
    pin, outwards = (second if counts_outwards(part) == 2 else first), counts_outwards(part) > 0
    volts = turn.drop_mean[:, first] - turn.drop_mean[:, second]
    amps = turn.pin_mean[:, pin] * (-1 if outwards else 1)
    rms = turn.pin_rms[:, pin]
    watts = turn.pin_watts[:, pins].sum(axis=1) + _delivered(variants, turn, ref, start)
    over = turn.drop_high[:, first] - turn.drop_low[:, second]
    under = turn.drop_low[:, first] - turn.drop_high[:, second]
    low, high = turn.drop_low[:, start], turn.drop_high[:, start]
    inverse = np.maximum(-low, 0.0)
    if isinstance(part, kinds.Bridge):
        inverse = np.maximum(np.maximum(high, turn.drop_high[:, start + 1]), 0.0)
    used = {
        stress.WATTS: watts, stress.AMPS: rms if heated_by_rms(part) else np.abs(amps),
        stress.VOLTS: np.maximum(np.abs(over), np.abs(under)),
        stress.INPUT_VOLTS: np.maximum(np.abs(low), np.abs(high)),
        stress.INVERSE_VOLTS: inverse, stress.RIPPLE_AMPS: rms,
    }  # fmt: skip
    return volts, amps, watts, _stress(variants, ref, used), rms


def _delivered(variants: Variants, turn: Turn, ref: str, start: int) -> Floats:
    number = list(variants.base.parts).index(ref)
    emf = variants.emf[:, number]
    found = np.where(emf != 0, -emf * turn.pin_mean[:, start], 0.0)
    peak = variants.windings.get(ref)
    return found if peak is None else found - peak * turn.once_amps[:, start]


def _stress(variants: Variants, ref: str, used: dict[int, Floats]) -> Floats:
    """Return the highest ratio to a limit in each what-if, by the ratings it has there."""
    found = np.full(variants.count, np.nan)
    parts: dict[int, list[int]] = {}
    for row, circuit in enumerate(variants.circuits):
        parts.setdefault(id(circuit.parts[ref]), []).append(row)
    for rows in parts.values():
        circuit = variants.circuits[rows[0]]
        part = circuit.parts[ref]
        ambient = circuit.ambient_c.get(part.board, circuit.ambient_c[""])
        for limit in stress.limits_of(part, ambient):
            if limit.allowed > 0:
                found[rows] = np.fmax(found[rows], used[limit.quantity][rows] / limit.allowed)
            else:
                found[rows] = np.where(used[limit.quantity][rows] > 0, np.inf, 0.0)
    return found
