"""A setup: how the unit was powered."""

from __future__ import annotations

import msgspec

from railmap.model.checks import Positive, check_fields, check_name


class Setup(
    msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True
):
    """Mains, boards and accessories as they were when something was read.

    Parameters
    ----------
    name : str
        What the technician calls it.
    mains_volts : float or None
        Mains volts measured; None for the design mains of the map.
    unplugged : tuple of str
        Boards that were unplugged.
    accessories_out : tuple of str
        References of accessories that were out.
    loads_off : bool
        True if no load was drawing current.
    limiter_watts : float or None
        Watts of a lamp in series with the mains, made for the design mains; None without one.
    notes : str
        Anything worth writing down.
    """

    name: str = "as used"
    mains_volts: Positive | None = None
    unplugged: tuple[str, ...] = ()
    accessories_out: tuple[str, ...] = ()
    loads_off: bool = False
    limiter_watts: Positive | None = None
    notes: str = ""

    def __post_init__(self) -> None:
        check_name(self.name, "the setup's name")
        check_fields(self)
