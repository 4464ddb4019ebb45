"""The faults a map may have: for each part the ways it may be other than the map says.

A fault is a curve of what-ifs over one number, or a single one. The number is the natural
logarithm of the part's value over that on the map; for what the map has none of, such as the
resistance of a plug or a leak, it is the logarithm of the value itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import log
from typing import Final

import numpy as np

from railmap.bench.priors import Habit, Priors
from railmap.model import kinds
from railmap.model.part import Part
from railmap.solve.laws import Floats
from railmap.solve.solution import Solution
from railmap.solve.what_if import OPEN, SHORT, WhatIf, what_if

MAINS: Final = "mains"
DRIFTED, DRIED, OPENED, SHORTED, LEAKING, RESISTANCE = (
    "drifted", "dried out", "open", "short", "leaking", "resistance",
)  # fmt: skip
WIDE: Final = (
    -3.5, -1.6, -0.9, -0.5, -0.3, -0.15, -0.05, 0.0, 0.05, 0.15, 0.3, 0.5, 0.75, 1.1, 1.6, 2.3,
    3.5,
)  # fmt: skip
LOADED: Final = (-3.0, -1.2, -0.6, -0.3, -0.1, 0.0, 0.1, 0.3, 0.6, 1.2, 2.0)
NARROW: Final = (-0.7, -0.3, -0.12, -0.05, -0.02, 0.0, 0.02, 0.05, 0.12, 0.3)
MAINS_STEPS: Final = (-0.25, -0.1, -0.03, 0.0, 0.03, 0.1, 0.2)
FARADS: Final = (-2.5, -1.2, -0.6, -0.25, 0.0, 0.25, 0.6)
PLUG_OHMS: Final = (0.2, 1.0, 4.0, 15.0, 60.0, 250.0)
LEAK_AMPS: Final = (0.001, 0.004, 0.015, 0.06, 0.25, 1.0)
SHORT_OHMS: Final = 0.05
FINE: Final = 61
"""Points at which a curve is looked at."""


@dataclass(frozen=True, eq=False)
class Fault:
    """One way in which one part may be other than the map says.

    Attributes
    ----------
    ref : str
        The part; ``mains`` for the mains volts.
    word : str
        What is wrong: ``drifted``, ``dried out``, ``open``, ``short``, ``leaking`` or
        ``resistance``.
    field : str
        The field whose value it is about; empty for one that has none.
    base : float
        What ``exp(x)`` is to be multiplied by to give that value.
    x : ndarray, shape (points,)
        Where the curve was solved.
    changes : tuple of WhatIf or None
        What is to be solved there; None for the map as it is.
    chance : float
        Chance of it before anything is read.
    habit : Habit
        Where its size is likely.
    """

    ref: str
    word: str
    field: str
    base: float
    x: Floats
    changes: tuple[WhatIf | None, ...]
    chance: float
    habit: Habit

    @property
    def single(self) -> bool:
        """True for a fault that has no size."""
        return len(self.x) == 1

    def fine(self) -> tuple[Floats, Floats]:
        """Return points of the curve, and the logarithm of the chance that each stands for."""
        if self.single:
            return self.x, np.zeros(1)
        x: Floats = np.linspace(float(self.x[0]), float(self.x[-1]), FINE)
        if self.word in (RESISTANCE, LEAKING):
            density = np.full(FINE, 1.0)
        else:
            up, scale = self.habit.up, self.habit.scale
            density = np.where(x > 0, up, 1 - up) * np.exp(-np.abs(x) / scale)
        return x, np.log(np.maximum(density / density.sum(), 1e-12))


def faults_of(calm: Solution, priors: Priors) -> list[Fault]:
    """Return the faults that the parts of a solved map may have.

    Parameters
    ----------
    calm : Solution
        The map as it is; what is out of the circuit in its setup is left out.
    priors : Priors
        What is thought of parts before anything is read.

    Returns
    -------
    list of Fault
        The mains last, where a winding or a source follows them.

    Examples
    --------
    >>> import railmap as rm
    >>> m = rm.RailMap()
    >>> for part in (
    ...     rm.Source("V1", "RAW", "0V", volts=24),
    ...     rm.Resistor("R1", "RAW", "A", ohms=150),
    ... ):
    ...     _ = m.add(part)
    >>> [(f.ref, f.word) for f in faults_of(rm.solve(m), Priors())]
    [('V1', 'drifted'), ('V1', 'open'), ('R1', 'drifted'), ('R1', 'open'), ('R1', 'short')]
    """
    circuit = calm.network.circuit
    found: list[Fault] = []
    for ref, part in circuit.parts.items():
        if ref not in circuit.faults:
            found += _of_part(part, calm, priors)
    follows = any(
        isinstance(p, kinds.Winding) or getattr(p, "follows_mains", False)
        for p in circuit.parts.values()
    )
    if follows:
        now = circuit.mains_ratio * circuit.mains_volts
        tried = [None if x == 0 else what_if(mains_volts=now * float(np.exp(x)))
                 for x in MAINS_STEPS]  # fmt: skip
        found.append(_fault(MAINS, DRIFTED, "volts", now, MAINS_STEPS, tried, priors.mains.drifts,
                            priors.mains))  # fmt: skip
    return found


def _fault(
    ref: str, word: str, field: str, base: float, x: Sequence[float],
    changes: Sequence[WhatIf | None], chance: float, habit: Habit,
) -> Fault:  # fmt: skip
    return Fault(ref, word, field, base, np.array(x), tuple(changes), chance, habit)


def _of_part(part: Part, calm: Solution, priors: Priors) -> Iterator[Fault]:
    habit, ref = priors.habit(part), part.ref
    factor = _factor(part, calm, priors)
    match part:
        case kinds.Resistor():
            yield _drift(part, WIDE, habit, factor)
            yield _at_once(ref, OPENED, what_if({ref: OPEN}), habit.open * factor, habit)
            short = what_if({ref: SHORT_OHMS * 1e-2})
            yield _at_once(ref, SHORTED, short, habit.short, habit)
        case kinds.Capacitor():
            yield from _of_capacitor(part, calm, habit, factor)
        case kinds.Load():
            yield _drift(part, LOADED, habit, 1.0)
            yield _at_once(ref, OPENED, what_if({ref: OPEN}), habit.open, habit)
        case kinds.Zener() | kinds.Regulator() | kinds.Converter() | kinds.Source():
            if part.now():
                yield _drift(part, NARROW, habit, factor)
            yield _at_once(ref, OPENED, what_if({ref: OPEN}), habit.open, habit)
            if isinstance(part, kinds.Zener):
                short = what_if({ref: {"zener_volts": 0.05, "test_amps": 0.0}})
                yield _at_once(ref, SHORTED, short, habit.short, habit)
        case kinds.Link() | kinds.Fuse() | kinds.Switch():
            tried = [what_if({ref: {"ohms": o}}) for o in PLUG_OHMS]
            yield _fault(ref, RESISTANCE, "ohms", 1.0, [log(o) for o in PLUG_OHMS], tried,
                         habit.drifts, habit)  # fmt: skip
            yield _at_once(ref, OPENED, what_if({ref: OPEN}), habit.open, habit)
        case _:
            yield _at_once(ref, OPENED, what_if({ref: OPEN}), habit.open, habit)
            if isinstance(part, kinds.PassTransistor):
                yield _at_once(ref, SHORTED, what_if({ref: SHORT}), habit.short, habit)


def _of_capacitor(
    part: kinds.Capacitor, calm: Solution, habit: Habit, factor: float
) -> Iterator[Fault]:
    ref, volts = part.ref, abs(calm.part(part.ref).volts)
    yield _drift(part, FARADS, habit, factor, DRIED)
    yield _at_once(ref, OPENED, what_if({ref: OPEN}), habit.open, habit)
    if not volts > 0.1:
        return
    ohms = [volts / amps for amps in LEAK_AMPS]
    tried = [what_if({ref: {"leak_ohms": o}}) for o in ohms]
    # Ohms that fall are a leak that grows.
    yield _fault(ref, LEAKING, "leak_ohms", 1.0, [log(o) for o in reversed(ohms)], tried[::-1],
                 habit.leaks, habit)  # fmt: skip
    short = what_if({ref: {"leak_ohms": SHORT_OHMS}})
    yield _at_once(ref, SHORTED, short, habit.short, habit)


def _factor(part: Part, calm: Solution, priors: Priors) -> float:
    """Return what heat, and having been measured, does to a part's chance of having drifted."""
    found = 1.0
    if isinstance(part, kinds.Resistor):
        stress = calm.part(part.ref).stress
        over = 0.0 if np.isnan(stress) else min(max(stress - 0.5, 0.0), 2.0)
        found *= 1 + priors.heat_gain * over
    # A settled part does not tell any more where its values come from.
    if part.main_field in calm.source.parts[part.ref].found:
        found *= priors.measured_gain
    return found


def _drift(
    part: Part, steps: Sequence[float], habit: Habit, factor: float, word: str = DRIFTED
) -> Fault:
    value = part.now()
    assert value is not None
    tried = [
        None if x == 0 else what_if({part.ref: {part.main_field: value * float(np.exp(x))}})
        for x in steps
    ]
    chance = min(habit.drifts * factor, 0.5)
    return _fault(part.ref, word, part.main_field, value, steps, tried, chance, habit)


def _at_once(ref: str, word: str, change: WhatIf, chance: float, habit: Habit) -> Fault:
    return _fault(ref, word, "", 1.0, [0.0], [change], chance, habit)
