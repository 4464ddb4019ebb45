"""The kinds of part, as the bench and the standards name them.

All values are SI. Every kind also takes the fields of :class:`railmap.model.part.Part` by keyword.
Adding a kind: declare it here, give it a law in ``solve/laws`` and a symbol in ``ui/canvas``.
"""

from __future__ import annotations

from typing import ClassVar, Literal

from railmap.errors import MapError
from railmap.model.checks import Efficiency, NonNegative, Positive
from railmap.model.part import Part

Technology = Literal[
    "", "carbon composition", "carbon film", "metal film", "metal oxide", "wirewound", "fusible"
]
Law = Literal["", "steady", "resistive", "power", "lamp"]
Polarity = Literal["npn", "pnp"]


class TwoPin(Part, frozen=True, kw_only=True):
    """A part whose two pins are alike; ``a`` is drawn on the supply side."""

    pins: ClassVar[tuple[str, ...]] = ("a", "b")


class Source(Part, frozen=True, tag=True):
    """A direct-voltage source with a resistance in series.

    Parameters
    ----------
    volts : float
        Open-circuit volts at the map's design mains.
    ohms : float
        Resistance in series.
    follows_mains : bool
        True if its volts rise and fall with the mains, as a raw rail does.
    """

    pins: ClassVar[tuple[str, ...]] = ("plus", "minus")
    main: ClassVar[str] = "volts"
    main_unit: ClassVar[str] = "V"

    ref: str
    plus: str
    minus: str
    volts: float
    ohms: NonNegative = 0.0
    follows_mains: bool = False
    rated_amps: Positive | None = None


class Winding(TwoPin, frozen=True, tag=True):
    """A transformer winding: open-circuit rms volts at design mains, and its resistance."""

    main: ClassVar[str] = "volts_rms"
    main_unit: ClassVar[str] = "V"

    ref: str
    a: str
    b: str
    volts_rms: Positive
    ohms: NonNegative = 0.0
    transformer: str = ""
    rated_amps: Positive | None = None


class Diode(Part, frozen=True, tag=True):
    """A rectifier diode: threshold volts and slope resistance above it."""

    pins: ClassVar[tuple[str, ...]] = ("anode", "cathode")
    main: ClassVar[str] = "forward_volts"
    main_unit: ClassVar[str] = "V"

    ref: str
    anode: str
    cathode: str
    forward_volts: NonNegative = 0.75
    ohms: NonNegative = 0.05
    rated_amps: Positive | None = None
    rated_inverse_volts: Positive | None = None
    surge_i2t: Positive | None = None


class Bridge(Part, frozen=True, tag=True):
    """Four rectifier diodes in one body."""

    pins: ClassVar[tuple[str, ...]] = ("ac1", "ac2", "plus", "minus")
    across: ClassVar[tuple[str, str]] = ("plus", "minus")
    main: ClassVar[str] = "forward_volts"
    main_unit: ClassVar[str] = "V"

    ref: str
    ac1: str
    ac2: str
    plus: str
    minus: str
    forward_volts: NonNegative = 0.75
    ohms: NonNegative = 0.05
    rated_amps: Positive | None = None
    rated_inverse_volts: Positive | None = None
    surge_i2t: Positive | None = None


class Resistor(TwoPin, frozen=True, tag=True):
    """A resistor. ``rated_watts`` holds up to ``rated_c``, then falls to nothing at ``zero_c``."""

    main: ClassVar[str] = "ohms"
    main_unit: ClassVar[str] = "ohm"

    ref: str
    a: str
    b: str
    ohms: Positive
    rated_watts: Positive | None = None
    technology: Technology = ""
    ppm_per_c: float = 0.0
    rated_c: float | None = None
    zero_c: float | None = None
    max_volts: Positive | None = None

    def _check_kind(self) -> None:
        _check_derating(self.rated_c, self.zero_c)


class Capacitor(Part, frozen=True, tag=True):
    """A capacitor, polarised if the drawing says so; ``leak_ohms`` is None where there is none."""

    pins: ClassVar[tuple[str, ...]] = ("plus", "minus")
    main: ClassVar[str] = "farads"
    main_unit: ClassVar[str] = "F"

    ref: str
    plus: str
    minus: str
    farads: Positive
    esr_ohms: NonNegative = 0.0
    leak_ohms: Positive | None = None
    rated_volts: Positive | None = None
    rated_ripple_amps: Positive | None = None
    rated_c: float | None = None
    rated_hours: Positive | None = None
    polarised: bool = True


class Choke(TwoPin, frozen=True, tag=True):
    """A smoothing choke: inductance and winding resistance."""

    main: ClassVar[str] = "henries"
    main_unit: ClassVar[str] = "H"

    ref: str
    a: str
    b: str
    henries: Positive
    ohms: NonNegative = 0.0
    rated_amps: Positive | None = None


class Load(TwoPin, frozen=True, tag=True):
    """What a rail feeds, by one of ``amps``, ``ohms`` or ``watts``.

    Parameters
    ----------
    at_volts : float or None
        The volts at which ``amps`` or ``watts`` hold; not needed for a steady current, plain ohms
        or plain watts.
    law : str
        ``steady`` (same current at any volts), ``resistive``, ``power`` (same watts at any volts)
        or ``lamp`` (current as volts to the power 0.55). Empty: steady for amps, resistive for
        ohms, power for watts.
    max_volts : float or None
        Highest volts the load stands.
    collapse_volts : float or None
        Below this a steady or power load no longer draws its full current.
    """

    main: ClassVar[str] = "amps"
    main_unit: ClassVar[str] = "A"

    ref: str
    a: str
    b: str
    amps: Positive | None = None
    ohms: Positive | None = None
    watts: Positive | None = None
    at_volts: Positive | None = None
    law: Law = ""
    max_volts: Positive | None = None
    collapse_volts: Positive | None = None

    @property
    def given(self) -> str:
        """Which of amps, ohms and watts the load is given by."""
        return next(n for n in ("amps", "ohms", "watts") if getattr(self, n) is not None)

    @property
    def main_field(self) -> str:
        """The given one of amps, ohms and watts."""
        return self.given

    @property
    def unit(self) -> str:
        """Unit of the given value."""
        return {"amps": "A", "ohms": "ohm", "watts": "W"}[self.given]

    @property
    def behaviour(self) -> str:
        """The law in force: the one named, else the one the given value implies."""
        return self.law or {"amps": "steady", "ohms": "resistive", "watts": "power"}[self.given]

    def _check_kind(self) -> None:
        given = [n for n in ("amps", "ohms", "watts") if getattr(self, n) is not None]
        if len(given) != 1:
            said = " and ".join(given) if given else "none of them"
            raise MapError(f"a load is given by one of amps, ohms or watts, here by {said}")
        free = {("amps", "steady"), ("ohms", "resistive"), ("watts", "power")}
        if self.at_volts is None and (given[0], self.behaviour) not in free:
            raise MapError(f"a {self.behaviour} load given in {given[0]} needs at_volts")


class Zener(Part, frozen=True, tag=True):
    """A zener diode: ``zener_volts`` at ``test_amps``, slope ``ohms``."""

    pins: ClassVar[tuple[str, ...]] = ("cathode", "anode")
    main: ClassVar[str] = "zener_volts"
    main_unit: ClassVar[str] = "V"

    ref: str
    cathode: str
    anode: str
    zener_volts: Positive
    ohms: NonNegative = 0.0
    test_amps: NonNegative = 0.0
    rated_watts: Positive | None = None
    rated_c: float | None = None
    zero_c: float | None = None

    def _check_kind(self) -> None:
        _check_derating(self.rated_c, self.zero_c)
        if self.ohms * self.test_amps >= self.zener_volts:
            raise MapError("ohms times test_amps must be below zener_volts")


class MakesVolts(Part, frozen=True, kw_only=True):
    """A part that makes its own ``volts`` at its output, which are never 0."""

    pins: ClassVar[tuple[str, ...]] = ("input", "output", "common")
    across: ClassVar[tuple[str, str]] = ("input", "output")
    main: ClassVar[str] = "volts"
    main_unit: ClassVar[str] = "V"

    def _check_kind(self) -> None:
        volts: float = getattr(self, self.main)
        _check_derating(getattr(self, "rated_c", None), getattr(self, "zero_c", None))
        if volts == 0:
            raise MapError("volts must not be 0")


class Regulator(MakesVolts, frozen=True, tag=True):
    """A linear regulator; negative ``volts`` make a negative regulator.

    Parameters
    ----------
    ohms : float
        Output resistance while it regulates.
    limit_amps : float or None
        Current limit; None for one that is never reached.
    """

    ref: str
    input: str
    output: str
    common: str
    volts: float
    dropout_volts: NonNegative = 2.0
    quiescent_amps: NonNegative = 0.0
    limit_amps: Positive | None = None
    ohms: Positive = 0.001
    max_input_volts: Positive | None = None
    rated_watts: Positive | None = None
    rated_c: float | None = None
    zero_c: float | None = None


class Converter(MakesVolts, frozen=True, tag=True):
    """A switching converter: takes power, not current, and makes ``volts`` of it.

    Parameters
    ----------
    efficiency : float
        Output power over input power, above 0 and at most 1.
    min_input_volts : float
        Below this it gives nothing.
    """

    ref: str
    input: str
    output: str
    common: str
    volts: float
    efficiency: Efficiency = 0.85
    min_input_volts: Positive = 3.0
    limit_amps: Positive | None = None
    ohms: Positive = 0.001
    max_input_volts: Positive | None = None
    rated_watts: Positive | None = None
    rated_c: float | None = None
    zero_c: float | None = None


class PassTransistor(Part, frozen=True, tag=True):
    """A transistor in series with a rail: base-emitter threshold and current gain.

    Parameters
    ----------
    ohms : float
        Slope of the base-emitter voltage over the emitter current.
    saturation_ohms : float
        Collector-emitter resistance when it is driven fully on.
    """

    pins: ClassVar[tuple[str, ...]] = ("collector", "base", "emitter")
    main: ClassVar[str] = "gain"
    main_unit: ClassVar[str] = ""

    ref: str
    collector: str
    base: str
    emitter: str
    gain: Positive = 50.0
    polarity: Polarity = "npn"
    forward_volts: Positive = 0.7
    ohms: Positive = 0.05
    saturation_ohms: Positive = 0.2
    rated_amps: Positive | None = None
    max_volts: Positive | None = None
    rated_watts: Positive | None = None
    rated_c: float | None = None
    zero_c: float | None = None

    def _check_kind(self) -> None:
        _check_derating(self.rated_c, self.zero_c)


class Link(TwoPin, frozen=True, tag=True):
    """A plug, wire or socket, usually between boards; an accessory may be out."""

    main: ClassVar[str] = "ohms"
    main_unit: ClassVar[str] = "ohm"

    ref: str
    a: str
    b: str
    ohms: NonNegative = 0.0
    accessory: bool = False
    rated_amps: Positive | None = None


class Switch(TwoPin, frozen=True, tag=True):
    """A switch, closed or open."""

    ref: str
    a: str
    b: str
    closed: bool = True
    ohms: NonNegative = 0.0
    rated_amps: Positive | None = None

    main: ClassVar[str] = "ohms"
    main_unit: ClassVar[str] = "ohm"


class Fuse(TwoPin, frozen=True, tag=True):
    """A fuse as specified on the plate."""

    main: ClassVar[str] = "ohms"
    main_unit: ClassVar[str] = "ohm"

    ref: str
    a: str
    b: str
    rated_amps: Positive | None = None
    ohms: NonNegative = 0.0
    slow: bool = True


AnyPart = (
    Source | Winding | Diode | Bridge | Resistor | Capacitor | Choke | Load | Zener | Regulator
    | Converter | PassTransistor | Link | Switch | Fuse
)  # fmt: skip

KINDS: tuple[type[Part], ...] = (
    Source, Winding, Diode, Bridge, Resistor, Capacitor, Choke, Load, Zener, Regulator,
    Converter, PassTransistor, Link, Switch, Fuse,
)  # fmt: skip


def _check_derating(rated_c: float | None, zero_c: float | None) -> None:
    if rated_c is not None and zero_c is not None and zero_c <= rated_c:
        raise MapError(f"zero_c must be above rated_c ({rated_c:g}), is {zero_c:g}")
