"""A revision of a model: the values with which one of its series was made."""

from __future__ import annotations

from collections.abc import Mapping

import msgspec
from msgspec import inspect

from railmap.errors import MapError
from railmap.model.checks import check_fields, check_name, complaint, show
from railmap.model.part import Part, value_complaint


class Revision(msgspec.Struct, frozen=True, omit_defaults=True, forbid_unknown_fields=True):
    """The values that one revision of a model is fitted with where the drawing says another.

    Parameters
    ----------
    name : str
        What the maker or the technician calls it, for example ``late``.
    date : str
        ISO 8601 date, or empty.
    notes : str
        Anything worth writing down: from which serial number on, for example.
    values : dict of str to dict of str to float
        Values by reference of the part and by its field, in SI units. A part or a field that is
        not named is as drawn.

    Examples
    --------
    >>> Revision("late", values={"R102": {"ohms": 68}}).values
    {'R102': {'ohms': 68.0}}
    """

    name: str
    date: str = ""
    notes: str = ""
    values: dict[str, dict[str, float]] = {}

    def __post_init__(self) -> None:
        check_name(self.name, "the revision's name")
        check_fields(self)
        plain = {ref: _plain(ref, fields) for ref, fields in self.values.items()}
        msgspec.structs.force_setattr(self, "values", plain)

    def check_against(self, parts: Mapping[str, Part]) -> None:
        """Refuse a value that no part of a map can have.

        Whether it goes together with the other values of the part shows when it is fitted.

        Parameters
        ----------
        parts : dict of str to Part
            The parts of the map by reference.

        Raises
        ------
        MapError
            One sentence with the part and the reason.
        """
        for ref, fields in self.values.items():
            if ref not in parts:
                raise MapError(f"there is no part {show(ref)}")
            for name, value in fields.items():
                wrong = value_complaint(type(parts[ref]), name, value)
                if wrong:
                    raise MapError(f"{ref}: {wrong}")

    def of(self, ref: str) -> Mapping[str, float]:
        """Return its values of one part by field; empty if the part is as drawn."""
        return self.values.get(ref, {})


def _plain(ref: str, fields: Mapping[str, float]) -> dict[str, float]:
    """Check the values of one part, and return them in the type that the file reader gives."""
    check_name(ref, "the reference")
    if not fields:
        raise MapError(f"it names {show(ref)}, but no value of it")
    for name, value in fields.items():
        wrong = complaint(name, value, inspect.FloatType())
        if wrong:
            raise MapError(f"{ref}: {wrong}")
    return {name: float(value) for name, value in fields.items()}
