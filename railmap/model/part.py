"""What every part on a board has in common.

A part is frozen data: a reference, a kind, the nodes its pins touch, a board and a place on it,
and its values as drawn, as fitted and as found. Nothing here computes.
"""

from __future__ import annotations

from copy import copy
from typing import Any, ClassVar, Literal, Self

import msgspec
from msgspec import inspect

from railmap.errors import MapError
from railmap.model.checks import (
    NonNegative,
    Percent,
    check_fields,
    check_name,
    complaint,
    fields_of,
    options_of,
    show,
)

ZERO_NODE = "0V"
Stage = Literal["fitted", "found"]
Mounting = Literal["", "flat on the board", "raised", "upright", "on the chassis", "on a heat sink"]


class Place(msgspec.Struct, frozen=True, omit_defaults=True, forbid_unknown_fields=True):
    """Where a part lies on its board.

    Parameters
    ----------
    x_mm, y_mm : float
        Centre of the part from the board's upper left corner, in millimetres.
    turn : int
        Rotation clockwise in degrees, a multiple of 90.
    """

    x_mm: float
    y_mm: float
    turn: int = 0

    def __post_init__(self) -> None:
        check_fields(self)
        if self.turn % 90:
            raise MapError(f"turn must be a multiple of 90 degrees, is {self.turn}")

    def moved(self, dx_mm: float, dy_mm: float) -> Place:
        """Return the place so far to the right and down, turned as it is."""
        return Place(self.x_mm + dx_mm, self.y_mm + dy_mm, self.turn)


class Known(msgspec.Struct, frozen=True, omit_defaults=True, forbid_unknown_fields=True):
    """A value that somebody read or measured, with its date and where it comes from.

    Parameters
    ----------
    value : float
        In SI units of the field it stands for.
    date : str
        ISO 8601 date, or empty.
    source : str
        For example "marking on the body" or "ohmmeter, one leg lifted".
    """

    value: float
    date: str = ""
    source: str = ""

    def __post_init__(self) -> None:
        check_fields(self)


class Earlier(msgspec.Struct, frozen=True, omit_defaults=True, forbid_unknown_fields=True):
    """A value that was known of a part before another took its place.

    Parameters
    ----------
    stage : str
        ``fitted`` or ``found``.
    field : str
        The field it stood for.
    value : float
        In SI units of that field.
    date : str
        ISO 8601 date, or empty.
    source : str
        Where it came from.
    """

    stage: Stage
    field: str
    value: float
    date: str = ""
    source: str = ""

    def __post_init__(self) -> None:
        check_fields(self)


class Part(
    msgspec.Struct,
    frozen=True,
    kw_only=True,
    omit_defaults=True,
    tag_field="kind",
    forbid_unknown_fields=True,
):
    """Base of every kind of part; see the kinds for their own fields.

    Attributes
    ----------
    ref : str
        Reference designator as on the drawing (IEEE 315 style), for example ``R102``.
    board : str
        Name of the board it is fitted on; empty for a part on the chassis.
    place : Place or None
        Where it lies; None until placed.
    tolerance_pct : float or None
        Tolerance of the main value.
    fitted, found : dict of str to Known
        Values marked on the part that is really fitted, and values measured on it, by field name.
        Solving uses the last one known: found, else fitted, else drawn.
    earlier : tuple of Earlier
        Fitted and found values that others have taken the place of, oldest first.
    mounting : str
        How it is mounted; empty if not known.
    standoff_mm : float or None
        Distance of its body from the board.
    notes : str
        Anything worth writing down.
    """

    pins: ClassVar[tuple[str, ...]] = ()
    across: ClassVar[tuple[str, str]] = ("", "")
    main: ClassVar[str] = ""
    main_unit: ClassVar[str] = ""

    ref: str
    board: str = ""
    place: Place | None = None
    tolerance_pct: Percent | None = None
    fitted: dict[str, Known] = {}
    found: dict[str, Known] = {}
    earlier: tuple[Earlier, ...] = ()
    mounting: Mounting = ""
    standoff_mm: NonNegative | None = None
    notes: str = ""

    def __post_init__(self) -> None:
        check_name(self.ref, "the reference")
        for pin in self.pins:
            check_name(getattr(self, pin), f"node {pin}")
        check_fields(self)
        self._check_known(self.fitted, "fitted")
        self._check_known(self.found, "found")
        self._check_kind()
        self._check_settled()

    def _check_kind(self) -> None:
        """Check what only this kind can know; kinds override it."""

    def _check_known(self, values: dict[str, Known], stage: str) -> None:
        for name, known in values.items():
            wrong = value_complaint(type(self), name, known.value)
            if wrong:
                raise MapError(f"{stage} {wrong}")

    def _check_settled(self) -> None:
        """Check that the last known values go together; solving starts from them."""
        try:
            self.settled()
        except MapError as error:
            raise MapError(f"with its last known values, {error}") from None

    @property
    def kind(self) -> str:
        """Name of the kind, as written in the file."""
        return type(self).__name__

    @property
    def nodes(self) -> tuple[str, ...]:
        """The nodes its pins touch, in the order of ``pins``."""
        return tuple(getattr(self, pin) for pin in self.pins)

    @property
    def ends(self) -> tuple[str, str]:
        """The two pins that its voltage is taken across, and that a short joins."""
        return self.across if self.across[0] else (self.pins[0], self.pins[-1])

    @property
    def main_field(self) -> str:
        """Name of the field that holds its main value, for example ``ohms``."""
        return self.main

    @property
    def unit(self) -> str:
        """Unit of the main value."""
        return self.main_unit

    def now(self, field: str = "") -> float | None:
        """Return the last known value of a field: found, else fitted, else drawn.

        Parameters
        ----------
        field : str
            Field name; empty for the main value.
        """
        name = field or self.main_field
        for stage in (self.found, self.fitted):
            if name in stage:
                return stage[name].value
        return getattr(self, name)

    def settled(self) -> Self:
        """Return the part with its last known values in place of the drawn ones."""
        if not (self.fitted or self.found):
            return self
        values = {n: k.value for stage in (self.fitted, self.found) for n, k in stage.items()}
        return msgspec.structs.replace(self, fitted={}, found={}, **values)

    def with_value(self, value: float, field: str = "") -> Self:
        """Return the part as if one value were ``value``, whatever was known of it before."""
        return self.settled().changed(**{field or self.main_field: value})

    def with_fitted(self, value: float, field: str = "", date: str = "", source: str = "") -> Self:
        """Return the part with the value marked on what is really fitted."""
        return self._with_known("fitted", field or self.main_field, (value, date, source))

    def with_found(self, value: float, field: str = "", date: str = "", source: str = "") -> Self:
        """Return the part with a value that was measured on it.

        Examples
        --------
        >>> from railmap import Resistor
        >>> Resistor("R1", "RAW", "A", ohms=150).with_found(236.0, source="cold, lifted").now()
        236.0
        """
        return self._with_known("found", field or self.main_field, (value, date, source))

    def changed(self, **fields: Any) -> Self:
        """Return a copy with some fields changed; it is checked like a new part.

        Raises
        ------
        MapError
            If a value is out of range or a field does not exist.
        """
        unknown = [name for name in fields if name not in self.__struct_fields__]
        if unknown:
            raise MapError(f"{self.ref}: a {self.kind} has no field {unknown[0]!r}")
        try:
            if fields.keys().isdisjoint(("ref", "fitted", "found", *self.pins)):
                return self._with_plain(fields)
            return msgspec.structs.replace(self, **fields)
        except MapError as error:
            raise MapError(f"{self.ref}: {error}") from None

    def _with_plain(self, fields: dict[str, Any]) -> Self:
        """Return a copy with some fields changed; what was right in the others stays right."""
        found = copy(self)
        for name, value in fields.items():
            msgspec.structs.force_setattr(found, name, value)
        check_fields(found, fields)
        found._check_kind()
        found._check_settled()
        return found

    def _with_known(self, stage: str, field: str, known: tuple[float, str, str]) -> Self:
        try:
            values = {**getattr(self, stage), field: Known(*known)}
        except MapError as error:
            raise MapError(f"{self.ref}: {stage} {field}: {error}") from None
        return self.changed(**{stage: values})


def value_complaint(kind: type[Part], field: str, value: float) -> str | None:
    """Say what is wrong with a value that a part may have in place of the drawn one.

    Parameters
    ----------
    kind : type
        The kind of the part.
    field : str
        The field that it stands for.
    value : float
        In SI units of that field.

    Returns
    -------
    str or None
        One sentence without a full stop, or None if the value is good.

    Examples
    --------
    >>> from railmap import Resistor
    >>> value_complaint(Resistor, "ohms", -68.0), value_complaint(Resistor, "farads", 1.0)
    ('ohms must be above 0, is -68', "'farads' is no value of a Resistor")
    """
    known = fields_of(kind).get(field)
    numbers = (
        [o for o in options_of(known.type) if isinstance(o, inspect.FloatType)] if known else []
    )
    if known is None or not numbers:
        return f"{show(field)} is no value of a {kind.__name__}"
    return complaint(field, value, known.type)
