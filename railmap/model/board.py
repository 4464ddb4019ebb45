"""A board: a sheet of given size at a place on the floor, with its photo and marks."""

from __future__ import annotations

import base64
import binascii
from typing import Final, Literal

import msgspec

from railmap.errors import MapError
from railmap.model.checks import Percent, Positive, check_fields, check_name

MarkKind = Literal["note", "pin", "scorch", "bulge"]
JPEG_BEGINS: Final = b"\xff\xd8\xff"
"""First bytes of a JPEG file (ITU-T T.81, annex B: start of image, then another marker)."""
MOST_JPEG: Final = 16 * 1024 * 1024
"""Longest text of an embedded photo."""


class Mark(msgspec.Struct, frozen=True, omit_defaults=True, forbid_unknown_fields=True):
    """Something seen on a board, at a place of it.

    Parameters
    ----------
    kind : str
        ``note`` or ``pin`` for what is to be told, ``scorch`` for a burnt spot, ``bulge`` for a
        capacitor that has swollen or leaks.
    x_mm, y_mm : float
        Its place, from the board's upper left corner.
    date : str
        ISO 8601 date on which it was seen, or empty.
    text : str
        What there is to say of it.
    """

    kind: MarkKind
    x_mm: float
    y_mm: float
    date: str = ""
    text: str = ""

    def __post_init__(self) -> None:
        check_fields(self)


class Photo(msgspec.Struct, frozen=True, omit_defaults=True, forbid_unknown_fields=True):
    """A photo of a board, kept in the map itself.

    Parameters
    ----------
    jpeg : str
        A JPEG file as Base64 text (RFC 4648, section 4).
    x_mm, y_mm : float
        Upper left corner of the photo as it is shown, on its board.
    mm_per_pixel : float
        Its scale.
    turn : int
        How it is turned clockwise, degrees, a multiple of 90.
    dim_pct : float
        How far it is faded, in percent: 0 as it was taken, 100 not to be seen.
    """

    jpeg: str
    x_mm: float = 0.0
    y_mm: float = 0.0
    mm_per_pixel: Positive = 0.1
    turn: int = 0
    dim_pct: Percent = 40.0

    def __post_init__(self) -> None:
        check_fields(self)
        if self.turn % 90:
            raise MapError(f"turn must be a multiple of 90 degrees, is {self.turn}")
        if len(self.jpeg) > MOST_JPEG:
            raise MapError(f"the photo is longer than {MOST_JPEG} characters")
        if not self.data.startswith(JPEG_BEGINS):
            raise MapError("the photo is no JPEG picture")

    @property
    def data(self) -> bytes:
        """The JPEG file."""
        try:
            return base64.b64decode(self.jpeg, validate=True)
        except (binascii.Error, ValueError):
            raise MapError("the photo is no Base64 text") from None


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
    photo : Photo or None
        Its photo, which is shown under its parts.
    marks : tuple of Mark
        What has been seen on it.
    """

    name: str
    width_mm: Positive
    height_mm: Positive
    x_mm: float = 0.0
    y_mm: float = 0.0
    laminate: str = ""
    ambient_c: float | None = None
    notes: str = ""
    photo: Photo | None = None
    marks: tuple[Mark, ...] = ()

    def __post_init__(self) -> None:
        check_name(self.name, "the board's name")
        check_fields(self)
