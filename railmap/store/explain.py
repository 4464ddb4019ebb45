"""Why a file's data is no map: one sentence with the place, the field, and what stands there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from typing import Any, cast

import msgspec
from msgspec import inspect

from railmap.errors import MapError
from railmap.model.checks import complaint, fields_of, options_of, show

Raw = dict[str, Any]


def explain(raw: object, kind: type[msgspec.Struct]) -> str:
    """Say what first keeps plain data from being an item of a document type.

    Parameters
    ----------
    raw : object
        What the JSON reader gave.
    kind : type
        The ``msgspec.Struct`` subclass that it should be.

    Returns
    -------
    str
        One sentence without a full stop; empty if nothing is wrong.

    Examples
    --------
    >>> from railmap.model.railmap import Document
    >>> explain({"rails": [{"node": "A", "band_pct": -1}]}, Document)
    'rails[0] A: band_pct must be at least 0, is -1'
    """
    wanted = cast(inspect.StructType, inspect.type_info(kind))
    return _of_struct(raw, wanted, "") or ""


def label_of(item: Mapping[str, object]) -> str:
    """Return how a person knows an item: its reference, name or node; empty if it has none."""
    for key in ("ref", "name", "node"):
        value = item.get(key)
        if isinstance(value, str) and value.strip() and value.isprintable():
            return value if len(value) <= 40 else value[:37] + "..."
    return ""


def _of_struct(raw: object, wanted: inspect.StructType, place: str) -> str | None:
    if not isinstance(raw, dict):
        return _at(place, f"it must be an object, is {show(raw)}")
    values = cast(Raw, raw)
    fields = fields_of(wanted.cls)
    for name in values:
        if name not in fields and name != wanted.tag_field:
            return _at(place, f"it has no field {show(name)}{_like(name, fields)}")
    for name, field in fields.items():
        if field.required and name not in values:
            return _at(place, f"{name} is missing")
    for name, field in fields.items():
        trouble = _of_field(values[name], field.type, place, name) if name in values else None
        if trouble:
            return trouble
    try:
        msgspec.convert(values, wanted.cls)
    except (msgspec.ValidationError, MapError) as error:
        return _at(place, str(error))
    return None


def _of_field(raw: object, wanted: inspect.Type, place: str, name: str) -> str | None:
    """Say what is wrong with the value of one field, which may hold items of its own."""
    options = options_of(wanted)
    inner = f"{place}, {name}" if place else name
    match options[0], raw:
        case inspect.StructType() as kind, dict():
            return _of_struct(cast(Raw, raw), kind, inner)
        case inspect.DictType(value_type=kind), dict():
            return _of_values(cast(Raw, raw), kind, inner)
        case inspect.VarTupleType(
            item_type=inspect.StructType() | inspect.UnionType() as kinds
        ), list():
            items = enumerate(cast("list[object]", raw))
            return _first(_of_item(item, kinds, f"{inner}[{index}]") for index, item in items)
        case inspect.StructType(), None if len(options) > 1:
            return None
        case inspect.StructType() | inspect.DictType(), _:
            said = " or nothing" if len(options) > 1 else ""
            return _at(place, f"{name} must be an object{said}, is {show(raw)}")
        case _:
            wrong = complaint(name, raw, wanted)
            return _at(place, wrong) if wrong else None


def _of_values(raw: Raw, wanted: inspect.Type, place: str) -> str | None:
    """Say what is wrong with one of the values that stand by name."""
    if isinstance(wanted, inspect.StructType):
        found = (_of_struct(item, wanted, f"{place} {show(key)}") for key, item in raw.items())
    else:
        found = (_of_field(item, wanted, place, show(key)) for key, item in raw.items())
    return _first(found)


def _of_item(raw: object, kinds: inspect.Type, place: str) -> str | None:
    """Say what is wrong with one item of a list, which may be of several kinds."""
    if not isinstance(raw, dict):
        return _at(place, f"it must be an object, is {show(raw)}")
    values = cast(Raw, raw)
    place = f"{place} {label_of(values)}".rstrip()
    options = {kind.tag: kind for kind in cast("list[inspect.StructType]", options_of(kinds))}
    tag_field = next(iter(options.values())).tag_field
    if tag_field is None:
        return _of_struct(values, options[None], place)
    if tag_field not in values:
        return _at(place, f"{tag_field} is missing")
    tag = values[tag_field]
    if not isinstance(tag, str) or tag not in options:
        return _at(place, f"there is no {tag_field} {show(tag)}{_like(tag, options)}")
    return _of_struct(values, options[tag], place)


def _at(place: str, trouble: str) -> str:
    return f"{place}: {trouble}" if place else trouble


def _first(troubles: Iterable[str | None]) -> str | None:
    return next((trouble for trouble in troubles if trouble), None)


def _like(word: object, known: Iterable[object]) -> str:
    """Offer the known word that a mistyped one is closest to."""
    if not isinstance(word, str) or len(word) > 40:
        return ""
    close = get_close_matches(word, [str(item) for item in known], 1, 0.75)
    return f", but {show(close[0])}" if close else ""
