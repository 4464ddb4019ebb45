"""Values marked on a part or measured on it, and what was known before them."""

from __future__ import annotations

from typing import Final

from msgspec import inspect

from railmap.model.checks import fields_of, options_of
from railmap.model.part import Earlier, Known, Part, Stage

_NOT_OF_IT: Final = ("tolerance_pct", "standoff_mm")
"""Numbers that say nothing of what a part does."""


def with_known(part: Part, stage: Stage, field: str, known: Known | None) -> Part:
    """Return a part with another fitted or found value; the one before is kept as history.

    Parameters
    ----------
    part : Part
        The part.
    stage : str
        ``fitted`` or ``found``.
    field : str
        Name of the field that it stands for.
    known : Known or None
        The value; None to take it away.

    Raises
    ------
    MapError
        If the part cannot have that value.

    Examples
    --------
    >>> from railmap import Resistor
    >>> part = Resistor("R1", "RAW", "A", ohms=150).with_found(180, date="2019-03-01")
    >>> part = with_known(part, "found", "ohms", Known(236, "2024-05-06"))
    >>> part.now(), [(e.value, e.date) for e in part.earlier]
    (236.0, [(180.0, '2019-03-01')])
    """
    values: dict[str, Known] = dict(getattr(part, stage))
    before = values.pop(field, None)
    if known is not None:
        values[field] = known
    earlier = part.earlier
    # What is only written in other words was not another value.
    if before is not None and (known is None or known.value != before.value):
        earlier += (Earlier(stage, field, before.value, before.date, before.source),)
    return part.changed(**{stage: values, "earlier": earlier})


def value_fields(part: Part) -> list[str]:
    """Return the fields of a part that can be fitted or found otherwise, the main one first.

    Examples
    --------
    >>> from railmap import Choke
    >>> value_fields(Choke("L1", "A", "B", henries=1))
    ['henries', 'ohms', 'rated_amps']
    """
    wanted = [
        name
        for name, field in fields_of(type(part)).items()
        if name not in _NOT_OF_IT
        and any(isinstance(option, inspect.FloatType) for option in options_of(field.type))
    ]
    main = part.main_field
    return [main, *(name for name in wanted if name != main)]
