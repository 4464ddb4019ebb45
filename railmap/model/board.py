"""A board: a sheet of given size at a place on the floor."""

from __future__ import annotations

import msgspec

from railmap.model.checks import Positive, check_fields, check_name


class Board(msgspec.Struct, frozen=True, omit_defaults=True, forbid_unknown_fields=True):
    """One circuit board, to scale.

    Parameters
    ----------
    name : str
        What the technician calls it.
    width_mm, height_mm : float
        Its size.
    x_mm, y_mm : float
        Its upper left corner on the floor.
    laminate : str
        Base material, in words; for example ``phenolic paper``.
    ambient_c : float or None
        Air temperature around its parts; None for that of the map.
    notes : str
        Anything worth writing down.
    """

    name: str
    width_mm: Positive
    height_mm: Positive
    x_mm: float = 0.0
    y_mm: float = 0.0
    laminate: str = ""
    ambient_c: float | None = None
    notes: str = ""

    def __post_init__(self) -> None:
        check_name(self.name, "the board's name")
        check_fields(self)
