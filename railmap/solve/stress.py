"""How hard each part works: what it carries over what it is allowed to carry where it stands.

The derating line is that of IEC 60115-1 and its relatives: full power up to a rated temperature,
then straight down to nothing at the highest temperature.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Final, NamedTuple

import numpy as np

from railmap.model import kinds
from railmap.model.part import Part
from railmap.solve.laws import Floats, Ints
from railmap.solve.what_if import Circuit

WATTS, AMPS, VOLTS, INPUT_VOLTS, INVERSE_VOLTS, RIPPLE_AMPS = range(6)
QUANTITIES: Final = (
    "power", "current", "voltage", "input voltage", "inverse voltage", "ripple current",
)  # fmt: skip
UNITS: Final = ("W", "A", "V", "V", "V", "A")

DERATING_C: Final[dict[str, tuple[float, float]]] = {
    # Full power at 70 degrees, none at the upper category temperature: IEC 60115-1, from memory.
    "": (70.0, 155.0),
    "carbon film": (70.0, 155.0),
    "metal film": (70.0, 155.0),
    "metal oxide": (70.0, 200.0),
    "fusible": (70.0, 155.0),
    # MIL-R-39008C refers composition resistors to 70 degrees; the upper end is from memory.
    "carbon composition": (70.0, 130.0),
    # Small vitreous and cement bodies, makers' usual lines, from memory.
    "wirewound": (70.0, 275.0),
}
"""Rated and zero-power temperature by resistor technology, degrees Celsius; defaults only."""
SEMICONDUCTOR_C: Final = (25.0, 150.0)
"""Full power at a 25 degree surrounding, none at the highest junction temperature; the form of
Sedra and Smith, Microelectronic Circuits, example 14.4."""


class Limit(NamedTuple):
    """One limit of one part: which quantity, and how much of it is allowed."""

    quantity: int
    allowed: float


@dataclass(frozen=True)
class Limits:
    """All limits of a circuit as arrays, one row a limit."""

    part: Ints
    quantity: Ints
    allowed: Floats


def derated(rated_watts: float, ambient_c: float, rated_c: float, zero_c: float) -> float:
    """Return the power a part may dissipate at a temperature of its surroundings.

    Parameters
    ----------
    rated_watts : float
        Power allowed up to ``rated_c``.
    ambient_c, rated_c, zero_c : float
        Temperatures in degrees Celsius.

    Returns
    -------
    float
        Watts; 0 from ``zero_c`` on.

    Examples
    --------
    A 2 W transistor rated at 25 degrees with a junction limit of 150 degrees, at 50 degrees
    (Sedra and Smith, example 14.4):

    >>> derated(2.0, 50.0, 25.0, 150.0)
    1.6
    """
    if ambient_c <= rated_c:
        return rated_watts
    return rated_watts * max(0.0, (zero_c - ambient_c) / (zero_c - rated_c))


def derating_line(part: Part) -> tuple[float, float]:
    """Return a part's rated and zero-power temperature: its own, else its technology's."""
    base = DERATING_C[part.technology] if isinstance(part, kinds.Resistor) else SEMICONDUCTOR_C
    rated: float | None = getattr(part, "rated_c", None)
    zero: float | None = getattr(part, "zero_c", None)
    low = base[0] if rated is None else rated
    high = base[1] if zero is None else zero
    return low, max(high, low + 1.0)


def allowed_watts(part: Part, ambient_c: float) -> float | None:
    """Return the watts a part may dissipate at its surroundings, or None if none are given."""
    rated: float | None = getattr(part, "rated_watts", None)
    return None if rated is None else derated(rated, ambient_c, *derating_line(part))


def limits_of(part: Part, ambient_c: float) -> Iterator[Limit]:
    """Yield every limit that the ratings of a part set."""
    watts = allowed_watts(part, ambient_c)
    if watts is not None:
        yield Limit(WATTS, watts)
    for name, quantity in _RATINGS:
        value: float | None = getattr(part, name, None)
        if value is not None:
            yield Limit(quantity, value)


_RATINGS = (
    ("rated_amps", AMPS), ("max_volts", VOLTS), ("rated_volts", VOLTS),
    ("max_input_volts", INPUT_VOLTS), ("rated_inverse_volts", INVERSE_VOLTS),
    ("rated_ripple_amps", RIPPLE_AMPS),
)  # fmt: skip


@cache
def ratings_of(kind: type[Part]) -> tuple[str, ...]:
    """Return the names of all fields of a kind of part that its limits depend on."""
    names = ("rated_watts", "rated_c", "zero_c", "technology", *(name for name, _ in _RATINGS))
    return tuple(name for name in names if name in kind.__struct_fields__)


def gather_limits(circuit: Circuit, refs: Sequence[str] | None = None) -> Limits:
    """Return all limits of a circuit, or of some of its parts, as arrays."""
    parts = circuit.parts.values() if refs is None else [circuit.parts[ref] for ref in refs]
    rows = [
        (index, limit.quantity, limit.allowed)
        for index, part in enumerate(parts)
        for limit in limits_of(part, circuit.ambient_c.get(part.board, circuit.ambient_c[""]))
    ]
    table = np.array(rows, dtype=float).reshape(-1, 3)
    return Limits(table[:, 0].astype(np.intp), table[:, 1].astype(np.intp), table[:, 2])


def ratios(limits: Limits, quantities: Floats) -> Floats:
    """Return each limit's quantity over what is allowed.

    Parameters
    ----------
    limits : Limits
        The limits.
    quantities : ndarray, shape (..., quantities, parts)
        Size of each quantity of each part.

    Returns
    -------
    ndarray, shape (..., limits)
        1.0 is at the limit; infinite where nothing is allowed but something flows.
    """
    used = quantities[..., limits.quantity, limits.part]
    with np.errstate(divide="ignore", invalid="ignore"):
        found = used / limits.allowed
    return np.where((limits.allowed == 0) & (used == 0), 0.0, found)


def worst(limits: Limits, found: Floats, parts: int) -> Floats:
    """Return the highest ratio of each part, shape (..., parts); nan without any limit."""
    highest = np.full((*found.shape[:-1], parts), np.nan)
    where: Any = (..., limits.part)
    np.fmax.at(highest, where, found)
    return highest
