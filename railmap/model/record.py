"""The record of one unit: who it is, the meters it was read with, and the readings."""

from __future__ import annotations

from typing import Final, Literal, get_args

import msgspec

from railmap.errors import MapError
from railmap.model.checks import NonNegative, Positive, check_fields, check_name

VisitStage = Literal["as received", "after renewal", "later visit"]
STAGES: Final[tuple[str, ...]] = get_args(VisitStage)
QUANTITIES: Final = ("volts", "volts_rms", "ripple_pp", "cold_ohms", "amps", "celsius")
"""Fields of a reading, one of which it gives: what a meter can read."""
UNITS: Final = {
    "volts": "V", "volts_rms": "V", "ripple_pp": "V", "cold_ohms": "ohm", "amps": "A",
    "celsius": "C",
}  # fmt: skip


class Accuracy(msgspec.Struct, frozen=True, omit_defaults=True, forbid_unknown_fields=True):
    """How far one function of a meter may be off: percent of the reading plus counts.

    Parameters
    ----------
    pct : float
        Percent of the reading.
    counts : float
        Counts of the last digit.
    full_counts : float
        Counts at which it goes to the next range, in decades; 2000 for three and a half digits.
    least : float
        What it may be off at the least, in the unit read.
    """

    pct: NonNegative = 0.0
    counts: NonNegative = 0.0
    full_counts: Positive = 2000.0
    least: NonNegative = 0.0

    def __post_init__(self) -> None:
        check_fields(self)


class Meter(
    msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True
):
    """A meter, with the accuracy of each of its functions.

    The accuracies it starts with are those of a usual hand-held meter and of a scope for ripple:
    common practice, no source. Put in those of the meter's own book.

    Parameters
    ----------
    name : str
        What the technician calls it.
    volts, volts_rms, ripple_pp, cold_ohms, amps, celsius : Accuracy
        How far off it may be.
    input_ohms : float or None
        Resistance between its leads where it reads volts; None for one that takes no current.
    notes : str
        Anything worth writing down.
    """

    name: str = "meter"
    volts: Accuracy = Accuracy(pct=0.5, counts=2)
    volts_rms: Accuracy = Accuracy(pct=1.0, counts=3)
    ripple_pp: Accuracy = Accuracy(pct=5.0, counts=1, full_counts=100)
    cold_ohms: Accuracy = Accuracy(pct=0.8, counts=2, least=0.2)
    amps: Accuracy = Accuracy(pct=1.0, counts=2)
    celsius: Accuracy = Accuracy(pct=1.0, least=3.0)
    input_ohms: Positive | None = 10e6
    notes: str = ""

    def __post_init__(self) -> None:
        check_name(self.name, "the meter's name")
        check_fields(self)


class Reading(msgspec.Struct, frozen=True, omit_defaults=True, forbid_unknown_fields=True):
    """What one meter showed at one place.

    Parameters
    ----------
    at : str
        A rail, a node, or a part.
    volts : float or None
        Mean volts; of a node against ``against``, of a part between its ends.
    volts_rms : float or None
        Effective volts of a winding or a node.
    ripple_pp : float or None
        Ripple of a node, volts peak to peak.
    cold_ohms : float or None
        Resistance with the power off and everything discharged; of a node against ``against``.
    amps : float or None
        Mean current of a part.
    celsius : float or None
        Temperature of a part's body or a node's nearest part, degrees Celsius.
    against : str
        The node that the other lead was on; empty for 0 V.
    hertz : float or None
        How often the ripple came.
    lifted : bool
        True if one leg of the part was lifted.
    reverse : bool
        True if the leads were swapped: the positive one on ``against``.
    setup : str
        The setup it was read in; empty for all plugged at the design mains.
    stage : str
        ``as received``, ``after renewal`` or ``later visit``.
    meter : str
        The meter; empty for the usual one.
    time : str
        ISO 8601 date, or date and time.
    notes : str
        Anything worth writing down.
    key : str
        Number in the record; given by the map.

    Examples
    --------
    >>> Reading("A", volts=11.2).quantity, Reading("R1", cold_ohms=236).value
    ('volts', 236.0)
    """

    at: str
    volts: float | None = None
    volts_rms: NonNegative | None = None
    ripple_pp: NonNegative | None = None
    cold_ohms: NonNegative | None = None
    amps: float | None = None
    celsius: float | None = None
    against: str = ""
    hertz: Positive | None = None
    lifted: bool = False
    reverse: bool = False
    setup: str = ""
    stage: VisitStage = "as received"
    meter: str = ""
    time: str = ""
    notes: str = ""
    key: str = ""

    def __post_init__(self) -> None:
        check_name(self.at, "the place of the reading")
        check_fields(self)
        given = [name for name in QUANTITIES if getattr(self, name) is not None]
        if len(given) != 1:
            said = " and ".join(given) if given else "none of them"
            raise MapError(f"a reading gives one of {', '.join(QUANTITIES)}, here {said}")

    @property
    def quantity(self) -> str:
        """Which of :data:`QUANTITIES` it gives."""
        return next(name for name in QUANTITIES if getattr(self, name) is not None)

    @property
    def value(self) -> float:
        """What the meter showed, in SI units."""
        return float(getattr(self, self.quantity))

    @property
    def unit(self) -> str:
        """Unit of the value."""
        return UNITS[self.quantity]


class Unit(msgspec.Struct, frozen=True, omit_defaults=True, forbid_unknown_fields=True):
    """The unit on the bench: the one piece of equipment that the readings are of.

    Parameters
    ----------
    serial : str
        Serial number.
    owner : str
        Whose it is.
    received : str
        ISO 8601 date on which it came in.
    complaint : str
        What its owner says is wrong.
    notes : str
        Anything worth writing down.
    """

    serial: str = ""
    owner: str = ""
    received: str = ""
    complaint: str = ""
    notes: str = ""

    def __post_init__(self) -> None:
        check_fields(self)
