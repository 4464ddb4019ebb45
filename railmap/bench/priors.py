"""What is thought of parts before anything is read: how often each fails, and how.

Every figure here is common practice, no source: a default to be changed, never a rule.
"""

from __future__ import annotations

from typing import Final

import msgspec

from railmap.bench.metering import standard_of
from railmap.model import kinds
from railmap.model.part import Part


class Habit(msgspec.Struct, frozen=True):
    """How parts of one sort fail.

    Parameters
    ----------
    drifts : float
        Chance that one has changed its value by more than it should.
    up : float
        Share of those that went up.
    scale : float
        Mean size of the natural logarithm of the change.
    open, short : float
        Chance that one is open, or a short.
    leaks : float
        Chance that a current flows through it that should not.
    """

    drifts: float = 0.0
    up: float = 0.5
    scale: float = 0.4
    open: float = 0.0
    short: float = 0.0
    leaks: float = 0.0


_RESISTORS: Final = {
    "": Habit(0.04, 0.85, 0.4, 0.008, 0.0005),
    "carbon composition": Habit(0.12, 0.95, 0.4, 0.004, 0.0005),
    "carbon film": Habit(0.05, 0.85, 0.35, 0.008, 0.0005),
    "metal film": Habit(0.02, 0.7, 0.3, 0.006, 0.0005),
    "metal oxide": Habit(0.025, 0.8, 0.35, 0.008, 0.0005),
    "wirewound": Habit(0.015, 0.6, 0.3, 0.015, 0.0005),
    "fusible": Habit(0.03, 0.9, 0.4, 0.02, 0.0005),
}
_TOLERANCES: Final = {
    "Resistor": 5.0, "Capacitor": 20.0, "Zener": 5.0, "Regulator": 3.0, "Converter": 3.0,
    "Source": 1.0, "Winding": 1.0,
}  # fmt: skip


class Priors(msgspec.Struct, frozen=True, kw_only=True):
    """What is thought of parts before anything is read; change what you know better.

    Parameters
    ----------
    resistors : dict of str to Habit
        By technology; ``""`` for one that is not known.
    heat_gain : float
        By how much a resistor's chance of failing grows for each 100 percent of its rating above
        50 percent.
    measured_gain : float
        Factor on the chance that a part whose value was found by measuring has another.
    load_spread : float
        Standard deviation of what a load takes, as a share, where nothing is wrong.
    mains_spread : float
        Standard deviation of the mains volts entered, as a share.
    tolerances : dict of str to float
        Percent that a part of a kind may be off where the map does not say.
    """

    resistors: dict[str, Habit] = msgspec.field(default_factory=lambda: dict(_RESISTORS))
    electrolytics: Habit = Habit(0.08, 0.05, 0.8, 0.004, 0.003, 0.008)
    capacitors: Habit = Habit(0.005, 0.3, 0.3, 0.001, 0.002, 0.001)
    loads: Habit = Habit(0.03, 0.5, 0.35, 0.008, 0.002)
    zeners: Habit = Habit(0.01, 0.5, 0.1, 0.004, 0.004)
    regulators: Habit = Habit(0.01, 0.5, 0.06, 0.004, 0.003)
    sources: Habit = Habit(0.01, 0.3, 0.1, 0.002)
    links: Habit = Habit(0.01, 1.0, 1.5, 0.004)
    rectifiers: Habit = Habit(open=0.004, short=0.002)
    windings: Habit = Habit(open=0.002)
    transistors: Habit = Habit(open=0.003, short=0.003)
    mains: Habit = Habit(0.01, 0.5, 0.06)
    heat_gain: float = 3.0
    measured_gain: float = 0.2
    load_spread: float = 0.07
    mains_spread: float = 0.006
    tolerances: dict[str, float] = msgspec.field(default_factory=lambda: dict(_TOLERANCES))

    def habit(self, part: Part) -> Habit:
        """Return how a part fails, without regard to its heat."""
        if isinstance(part, kinds.Resistor):
            return self.resistors.get(part.technology, self.resistors[""])
        if isinstance(part, kinds.Capacitor):
            return self.electrolytics if part.polarised else self.capacitors
        found: Habit = getattr(self, _HABITS.get(type(part), "transistors"))
        return found

    def spread(self, part: Part) -> float:
        """Return the standard deviation of a good part's main value, as a share of it.

        A part whose value was found by measuring is as good as that.

        Examples
        --------
        >>> round(Priors().spread(kinds.Resistor("R1", "A", "B", ohms=100)), 4)
        0.0289
        """
        if isinstance(part, kinds.Load):
            return self.load_spread if part.tolerance_pct is None else _rms(part.tolerance_pct)
        if part.main_field in part.found:
            return 0.01
        if part.tolerance_pct is not None:
            return _rms(part.tolerance_pct)
        return _rms(self.tolerances.get(part.kind, 0.0))


def _rms(tolerance_pct: float) -> float:
    return standard_of(tolerance_pct / 100)


_HABITS: Final[dict[type[Part], str]] = {
    kinds.Load: "loads",
    kinds.Zener: "zeners",
    kinds.Regulator: "regulators",
    kinds.Converter: "regulators",
    kinds.Source: "sources",
    kinds.Link: "links",
    kinds.Fuse: "links",
    kinds.Switch: "links",
    kinds.Choke: "links",
    kinds.Diode: "rectifiers",
    kinds.Bridge: "rectifiers",
    kinds.Winding: "windings",
}
