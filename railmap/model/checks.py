"""Checks shared by every document type: fields of the right type, in range, and fit to be saved.

The types and limits stand once, on the fields, and serve the JSON Schema, the file reader and the
constructors alike; so do the sentences.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Container, Sequence
from functools import cache
from numbers import Integral, Real
from typing import Annotated, cast

import msgspec
from msgspec import inspect

from railmap.errors import MapError

Positive = Annotated[float, msgspec.Meta(gt=0)]
NonNegative = Annotated[float, msgspec.Meta(ge=0)]
Efficiency = Annotated[float, msgspec.Meta(gt=0, le=1)]
Percent = Annotated[float, msgspec.Meta(ge=0, le=100)]

MAX_NAME = 120
# Above 2**53 a whole number is no longer exact in every reader of JSON (RFC 8259, section 6).
MAX_WHOLE = 2**53
MAX_SHOWN = 60


@cache
def fields_of(kind: type[msgspec.Struct]) -> dict[str, inspect.Field]:
    """Return the fields of a document type by name, with their types and limits.

    Parameters
    ----------
    kind : type
        A ``msgspec.Struct`` subclass.
    """
    return {field.name: field for field in cast(inspect.StructType, inspect.type_info(kind)).fields}


def complaint(what: str, value: object, wanted: inspect.Type) -> str | None:
    """Say what is wrong with a value.

    Parameters
    ----------
    what : str
        What the value is of, for example the name of its field.
    value : object
        The value.
    wanted : msgspec.inspect.Type
        The type and limits it must have.

    Returns
    -------
    str or None
        One sentence without a full stop, or None if the value is good.

    Examples
    --------
    >>> from railmap import Resistor
    >>> complaint("ohms", -82, fields_of(Resistor)["ohms"].type)
    'ohms must be above 0, is -82'
    """
    options = options_of(wanted)
    option = next((option for option in options if _is_a(value, option)), None)
    if option is None:
        said = " or ".join(_in_words(option) for option in options)
        return f"{what} must be {said}, is {show(value)}"
    match option:
        case inspect.FloatType():
            return _number_complaint(what, cast(float, value), option)
        case inspect.IntType() if abs(cast(int, value)) > MAX_WHOLE:
            return f"{what} must be at most {MAX_WHOLE} either way, is {show(value)}"
        case inspect.StrType() if not _can_be_saved(cast(str, value)):
            return f"{what} holds a character that cannot be saved"
        case _:
            return None


def check_fields(item: msgspec.Struct, only: Container[str] | None = None) -> None:
    """Refuse a document item with a field of the wrong type or out of its range.

    With ``only``, only those fields are looked at.

    Numbers of other types (whole, or of an array library) become plain ones, and lists tuples, so
    that an item equals and prints like the one read back from a file.

    Raises
    ------
    MapError
        One sentence: the field, what it must be, and what it is.
    """
    for name, default, wanted, is_plain in _plan(type(item)):
        if only is not None and name not in only:
            continue
        value = getattr(item, name)
        if value is default or is_plain(value):
            continue
        wrong = complaint(name, value, wanted)
        if wrong:
            raise MapError(wrong)
        plain = _plain(value, wanted)
        if plain is not value:
            msgspec.structs.force_setattr(item, name, plain)


@cache
def _plan(
    kind: type[msgspec.Struct],
) -> tuple[tuple[str, object, inspect.Type, Callable[[object], bool]], ...]:
    """Return the name, default, type and quick test of each field."""
    return tuple(
        (name, field.default, field.type, _quick_test(field.type))
        for name, field in fields_of(kind).items()
    )


def _quick_test(wanted: inspect.Type) -> Callable[[object], bool]:
    """Return a test that only good plain values pass: most do, in a tenth of the time."""
    for option in options_of(wanted):
        match option:
            case inspect.FloatType():
                low, high = -sys.float_info.max, sys.float_info.max
                low = low if option.gt is None else math.nextafter(option.gt, high)
                low = low if option.ge is None else option.ge
                high = high if option.le is None else option.le
                return lambda value: type(value) is float and low <= value <= high
            case inspect.StrType():
                return lambda value: type(value) is str and value.isascii()
            case inspect.DictType():
                return lambda value: type(value) is dict and not value
            case _:
                continue
    return lambda _: False


def check_name(value: object, what: str) -> None:
    """Refuse a name that is empty, padded with blanks, too long, or holds a control character.

    Raises
    ------
    MapError
        One sentence that says which name and why.
    """
    if not isinstance(value, str):
        raise MapError(f"{what} must be text, is {show(value)}")
    if not value.strip():
        raise MapError(f"{what} must not be empty")
    if value != value.strip():
        raise MapError(f"{what} {show(value)} must not begin or end with a blank")
    if not value.isprintable():
        raise MapError(f"{what} {show(value)} holds a character that cannot be printed")
    if len(value) > MAX_NAME:
        raise MapError(f"{what} is longer than {MAX_NAME} characters")


def show(value: object) -> str:
    """Write a refused value down, short and on one line.

    Examples
    --------
    >>> show(-82), show("4k7"), show(None), show([1, 2])
    ('-82', "'4k7'", 'nothing', 'a list')
    """
    match value:
        case bool():
            said = str(value).lower()
        case int():
            said = str(value) if abs(value) < 10**MAX_SHOWN else "a number with too many digits"
        case float():
            said = float.__repr__(value)
        case str():
            said = repr(value if len(value) <= MAX_SHOWN else value[: MAX_SHOWN - 3] + "...")
        case _:
            said = _SHOWN.get(type(value).__name__, f"a {type(value).__name__}")
    return said


_SHOWN = {"NoneType": "nothing", "list": "a list", "tuple": "a list", "dict": "an object"}


def options_of(wanted: inspect.Type) -> Sequence[inspect.Type]:
    """Return the types that a field may have: those of a union, or the one."""
    return wanted.types if isinstance(wanted, inspect.UnionType) else (wanted,)


def _is_a(value: object, option: inspect.Type) -> bool:
    match option:
        case inspect.FloatType():
            good = isinstance(value, (float, int, Real)) and not isinstance(value, bool)
        case inspect.IntType():
            good = isinstance(value, (int, Integral)) and not isinstance(value, bool)
        case inspect.VarTupleType(item_type=inner):
            items = cast("list[object]", value)
            good = isinstance(value, (list, tuple)) and all(_is_a(item, inner) for item in items)
        case inspect.DictType(value_type=inner):
            values = cast("dict[object, object]", value)
            good = isinstance(value, dict) and all(_is_a(item, inner) for item in values.values())
        case inspect.LiteralType(values=choices):
            good = value in choices
        case inspect.StructType(cls=kind):
            good = isinstance(value, kind)
        case _:
            good = isinstance(value, _PLAIN_TYPES[type(option)])
    return good


_PLAIN_TYPES: dict[type[inspect.Type], type] = {
    inspect.StrType: str,
    inspect.BoolType: bool,
    inspect.NoneType: type(None),
}


def _in_words(option: inspect.Type) -> str:
    match option:
        case inspect.LiteralType(values=choices):
            *most, last = (str(choice or "empty") for choice in choices)
            return f"{', '.join(most)} or {last}"
        case inspect.VarTupleType(item_type=inspect.StrType()):
            return "a list of texts"
        case inspect.DictType(value_type=inspect.StructType(cls=kind)):
            return f"a {kind.__name__} for each field"
        case inspect.DictType(value_type=inspect.DictType()):
            return "a value for each field for each part"
        case inspect.StructType(cls=kind):
            return f"a {kind.__name__}"
        case _:
            return _WORDS[type(option)]


_WORDS: dict[type[inspect.Type], str] = {
    inspect.FloatType: "a number",
    inspect.IntType: "a whole number",
    inspect.StrType: "text",
    inspect.BoolType: "true or false",
    inspect.NoneType: "nothing",
    inspect.VarTupleType: "a list",
    inspect.DictType: "an object",
}


def _number_complaint(what: str, value: float, wanted: inspect.FloatType) -> str | None:
    try:
        number = float(value)
    except OverflowError:
        return f"{what} must be at most {sys.float_info.max:.2g} either way, is {show(value)}"
    if not math.isfinite(number):
        return f"{what} must be a finite number, is {show(number)}"
    low, least, most = wanted.gt, wanted.ge, wanted.le
    limits = {
        "above": (low, low is None or number > low),
        "at least": (least, least is None or number >= least),
        "at most": (most, most is None or number <= most),
    }
    if all(holds for _, holds in limits.values()):
        return None
    said = [f"{word} {limit:g}" for word, (limit, _) in limits.items() if limit is not None]
    return f"{what} must be {' and '.join(said)}, is {show(number).removesuffix('.0')}"


def _can_be_saved(text: str) -> bool:
    """Half of a surrogate pair cannot be written as UTF-8 (RFC 3629, section 3)."""
    return text.isascii() or not any("\ud800" <= character <= "\udfff" for character in text)


def _plain(value: object, wanted: inspect.Type) -> object:
    """Return a good value in the type that the file reader gives."""
    if isinstance(value, bool):
        return value
    if isinstance(value, list):
        return tuple(cast("list[object]", value))
    options = [type(option) for option in options_of(wanted)]
    if inspect.FloatType in options and value is not None and type(value) is not float:
        return float(cast(float, value))
    if inspect.IntType in options and type(value) is not int:
        return int(cast(int, value))
    return value
