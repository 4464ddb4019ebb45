"""The cells of the parts table: what stands in one for an item, and what is read from one."""

from __future__ import annotations

import re
from collections.abc import Mapping
from itertools import combinations, pairwise
from typing import Any, Final

import msgspec

from railmap.bench.part_columns import (
    PIN_COLUMNS,
    PLACE_COLUMNS,
    PLAIN_WORDS,
    SPECS,
    Cell,
    Slot,
    Spec,
    spec_for,
)
from railmap.errors import MapError, UnitError
from railmap.figures import POINT, Figures
from railmap.model.checks import complaint, fields_of
from railmap.model.part import Known, Part, Place

_MOST_WORDS: Final = 8
_BETWEEN_LENGTHS: Final = re.compile(r"[xX\N{MULTIPLICATION SIGN}]| by ")
_FIELD_NAME: Final = re.compile("[a-z]+(?:_[a-z0-9]+)+")
_SYMBOLS: Final[Mapping[str, str]] = {"ohm": "R"}
_SIGNS: Final[Mapping[str, str]] = {"ohm": "Ω"}
"""What stands behind a value that has its letter already, as 4k7 has."""
_KEYS: Final[Mapping[str, str]] = {"parts": "ref", "rails": "node", "boards": "name"}
_YES: Final = ("yes", "y", "true", "1", "x", "on")
_NO: Final = ("no", "n", "false", "0", "off", "-")


def write_cell(item: msgspec.Struct, column: str, figures: Figures = POINT) -> str:
    """Return the text of a cell; :func:`read_cell` reads the same values from it.

    Parameters
    ----------
    item : Part, Rail or Board
        What the row stands for.
    column : str
        The column; one that the kind does not have is empty.
    figures : Figures
        How figures are written.

    Examples
    --------
    >>> from railmap import Winding
    >>> t = Winding("T1A", "AC1", "0V", volts_rms=26.5, ohms=2)
    >>> write_cell(t, "drawn"), write_cell(t, "from"), write_cell(t, "limit")
    ('26.5V 2R', 'AC1', '')
    """
    spec = spec_for(item)
    if column in ("ref", "kind"):
        return getattr(item, _KEYS[spec.table]) if column == "ref" else spec.word
    if column in spec.cells:
        return _write_slots(item, spec.cells[column], figures)
    if column in spec.pins:
        return getattr(item, spec.pins[column])
    return _write_of_part(item, column, figures) if isinstance(item, Part) else ""


def _write_of_part(part: Part, column: str, figures: Figures) -> str:
    """Return the text of a column that every kind of part has."""
    stage, _, more = column.partition("_")
    if column == "board":
        return part.board
    if stage in ("fitted", "found"):
        return _write_known(part, getattr(part, stage), more, figures)
    if part.place is None or column not in PLACE_COLUMNS:
        return ""
    value = getattr(part.place, column.removeprefix("place_"))
    return str(value) if column == "turn" else exact(value, "mm", figures)


def _write_known(part: Part, known: Mapping[str, Known], more: str, figures: Figures) -> str:
    main = known.get(part.main_field)
    if more == "other":
        rest = {name: value for name, value in known.items() if name != part.main_field}
        return msgspec.json.encode(rest).decode() if rest else ""
    if main is None:
        return ""
    return getattr(main, more) if more else exact(main.value, part.unit, figures)


def exact(value: float, unit: str, figures: Figures = POINT) -> str:
    """Write a value the short way of the bench, or with all its digits where that loses any.

    Parameters
    ----------
    value : float
        The value in its base unit.
    unit : str
        One of the units that :mod:`railmap.units` knows.
    figures : Figures
        How figures are written.

    Examples
    --------
    >>> exact(4700.0, "ohm"), exact(0.1 + 0.2, "V")
    ('4k7', '0.30000000000000004V')
    """
    short = figures.code(value, unit)
    try:
        if figures.parse(short, unit) == value:
            return short
    except UnitError:
        pass
    return figures.sign(f"{value!r}{_SYMBOLS.get(unit, unit)}")


def _write_slots(item: msgspec.Struct, cell: Cell, figures: Figures) -> str:
    kind = fields_of(type(item))
    words: list[str] = []
    for number, slot in enumerate(cell.slots):
        value = getattr(item, slot.field)
        # The first figure of a cell always stands, so that what follows is not taken for it.
        stands = number == 0 and slot.form != "text" and value is not None
        if stands or value != kind[slot.field].default:
            text = _write_value(slot, value, figures)
            # A load of 1k may be amps, ohms or watts: it is read as none unless it says which.
            others = [one for one in cell.slots if one.named and one is not slot]
            if slot.named and text and _fitting(others, text, figures):
                text += _SIGNS.get(slot.unit, slot.unit)
            words += [slot.after] * bool(slot.after) + [text]
    return cell.joint.join(word for word in words if word)


def _write_value(slot: Slot, value: Any, figures: Figures) -> str:
    if value is None:
        return ""
    if slot.form == "number":
        return exact(value, slot.unit, figures)
    if slot.form == "yes":
        return "yes" if value else "no"
    if slot.form == "word":
        return next((word for word, meant in (slot.words or {}).items() if meant == value), "")
    return str(value)


def read_cell(spec: Spec, column: str, text: str, figures: Figures = POINT) -> dict[str, Any]:
    """Read the fields that a cell holds; what is not written becomes what it usually is.

    Parameters
    ----------
    spec : Spec
        The kind of the row.
    column : str
        One of the columns in ``spec.cells``.
    text : str
        What was written.
    figures : Figures
        How figures are written.

    Returns
    -------
    dict of str to object
        Value by field. A field that must be given, and is not, is missing from it.

    Raises
    ------
    UnitError, MapError
        One sentence that says what was written and why it is refused.

    Examples
    --------
    >>> from railmap.bench.part_columns import spec_of
    >>> read_cell(spec_of("Resistor"), "drawn", "4k7")
    {'ohms': 4700.0}
    >>> load = read_cell(spec_of("Load"), "drawn", "lamp 24 mA @ 13,8 V")
    >>> load["amps"], load["at_volts"], load["law"]
    (0.024, 13.8, 'lamp')
    """
    cell = spec.cells[column]
    fields = fields_of(spec.type)
    found = {slot.field: fields[slot.field].default for slot in cell.slots}
    if cell.slots[0].form == "text":
        found[cell.slots[0].field] = text
    elif text.strip():
        alone = len(cell.slots) == 1
        found |= _read_plain(cell.slots[0], text, figures) if alone else _read(cell, text, figures)
    found = {name: value for name, value in found.items() if value is not msgspec.NODEFAULT}
    for name, value in found.items():
        wrong = complaint(name, value, fields[name].type)
        if wrong:
            raise MapError(in_plain_words(wrong))
    return found


def in_plain_words(sentence: str) -> str:
    """Return a sentence of the model with the names of fields as the bench says them.

    Examples
    --------
    >>> in_plain_words("zener_volts must be above 0, is -1")
    'zener volts must be above 0, is -1'
    """
    return _FIELD_NAME.sub(lambda found: _plain_word(found.group()), sentence)


def _plain_word(name: str) -> str:
    if name in PLAIN_WORDS:
        return PLAIN_WORDS[name]
    known = any(name in fields_of(spec.type) for spec in SPECS.values())
    return name.replace("_", " ") if known else name


def _read_plain(slot: Slot, text: str, figures: Figures) -> dict[str, Any]:
    """Read a cell with a single field."""
    word = " ".join(text.casefold().split())
    match slot.form:
        case "number":
            return {slot.field: figures.parse(text, slot.unit)}
        case "whole":
            value = figures.parse(text)
            if not value.is_integer():
                raise UnitError(f"{text.strip()!r} is no whole number")
            return {slot.field: int(value)}
        case "yes" if word in _YES + _NO:
            return {slot.field: word in _YES}
        case "word" if word in (slot.words or {}):
            return {slot.field: (slot.words or {})[word]}
        case _:
            known = ("yes", "no") if slot.form == "yes" else tuple(slot.words or ())
            raise MapError(f"{text.strip()!r} cannot be read here; write {_or(known)}")


def _read(cell: Cell, text: str, figures: Figures) -> dict[str, Any]:
    """Read a cell with several fields: words first, then what stands behind ``at``, then values."""
    pieces = _BETWEEN_LENGTHS.split(text) if cell.joint.strip() else []
    if len(pieces) == len(cell.slots):
        pairs = zip(cell.slots, pieces, strict=True)
        return {slot.field: figures.parse(piece, slot.unit) for slot, piece in pairs}
    words = text.replace("@", " at ").split()
    found: dict[str, Any] = {}
    for slot in (slot for slot in cell.slots if slot.form == "word"):
        found |= _take_words(slot, words)
    for slot in (slot for slot in cell.slots if slot.after):
        found |= _take_behind(slot, words, figures)
    values = [slot for slot in cell.slots if slot.form == "number" and not slot.after]
    return found | _share_out(values, words, cell, figures)


def _take_words(slot: Slot, words: list[str]) -> dict[str, Any]:
    """Take the words of a slot out of the list, and return the value they stand for."""
    known = {word: _word_meant(slot, word) for word in words}
    said = [word for word in words if known[word]]
    values = {(slot.words or {})[known[word]] for word in said}
    if len(values) > 1:
        raise MapError(f"{' and '.join(said)} cannot both be")
    words[:] = [word for word in words if word not in said]
    return {slot.field: values.pop()} if values else {}


def _word_meant(slot: Slot, word: str) -> str:
    """Return the word of a slot that one is, or that it begins with three letters or more."""
    written = word.casefold()
    if written in (slot.words or {}):
        return written
    begun = [known for known in slot.words or {} if known.startswith(written)]
    return begun[0] if len(begun) == 1 and len(written) > 2 else ""


def _take_behind(slot: Slot, words: list[str], figures: Figures) -> dict[str, Any]:
    """Take the value behind a slot's word out of the list."""
    places = [place for place, word in enumerate(words) if word.casefold() == slot.after.casefold()]
    if not places:
        return {}
    value = " ".join(words[places[0] + 1 :])
    if not value:
        raise UnitError(f"a value is wanted behind {slot.after!r}")
    del words[places[0] :]
    return {slot.field: figures.parse(value, slot.unit)}


def _share_out(
    slots: list[Slot], words: list[str], cell: Cell, figures: Figures
) -> dict[str, float]:
    """Give each value to the first slot that takes its unit; a value may hold blanks."""
    if not words:
        return {}
    if len(words) <= _MOST_WORDS:
        for parts in range(1, len(slots) + 1):
            for cuts in combinations(range(1, len(words)), parts - 1):
                ends = (0, *cuts, len(words))
                values = [" ".join(words[start:end]) for start, end in pairwise(ends)]
                found = _given_out(slots, values, figures)
                if found is not None:
                    return found
    raise _why_not(slots, words, cell, figures)


def _given_out(slots: list[Slot], values: list[str], figures: Figures) -> dict[str, float] | None:
    found: dict[str, float] = {}
    for value in values:
        fits = _fitting([slot for slot in slots if slot.field not in found], value, figures)
        if not fits or (fits[0][0].named and len(fits) > 1):
            return None
        slot, number = fits[0]
        found[slot.field] = number
    return found


def _fitting(slots: list[Slot], value: str, figures: Figures) -> list[tuple[Slot, float]]:
    fits: list[tuple[Slot, float]] = []
    for slot in slots:
        try:
            fits.append((slot, figures.parse(value, slot.unit)))
        except UnitError:
            continue
    return fits


def _why_not(slots: list[Slot], words: list[str], cell: Cell, figures: Figures) -> UnitError:
    """Return the error that helps most: of what could be two things, else of what fits nowhere."""
    text = " ".join(words)
    if len(words) == 1 or len(slots) == 1:
        errors: list[UnitError] = []
        for slot in slots:
            try:
                figures.parse(text, slot.unit)
            except UnitError as error:
                errors.append(error)
        doubtful = next((error for error in errors if error.readings), None)
        if doubtful is not None and not slots[0].named:
            return doubtful
        if len(errors) == len(slots) == 1:
            return errors[0]
        if slots[0].named and len(errors) < len(slots) - 1:
            return UnitError(f"{text!r} does not say of what; write it like 105mA, 330R or 2W")
    return UnitError(f"{text!r} cannot be read here; write it like {cell.sample}")


def read_pins(spec: Spec, texts: Mapping[str, str], usual: Mapping[str, str]) -> dict[str, str]:
    """Return the nodes by pin; a pin that is not written has its usual node, if it has one."""
    found: dict[str, str] = {}
    for column in PIN_COLUMNS:
        pin = spec.pins.get(column)
        name = texts.get(column, "").strip() or usual.get(pin or "", "")
        if pin is not None and name:
            found[pin] = name
    return found


def read_known(
    part: Part, texts: Mapping[str, str], stage: str, figures: Figures = POINT
) -> dict[str, Known]:
    """Return the fitted or the found values that the columns of a stage hold.

    Raises
    ------
    UnitError, MapError
        If one of them cannot be read.
    """
    found: dict[str, Known] = {}
    date, source = texts.get(f"{stage}_date", ""), texts.get(f"{stage}_source", "")
    text, other = texts.get(stage, ""), texts.get(f"{stage}_other", "")
    if text.strip():
        found[part.main_field] = Known(figures.parse(text, part.unit), date, source)
    elif date or source:
        raise MapError(f"there is a date or a source, but no {stage} value")
    if other.strip():
        try:
            found |= msgspec.json.decode(other, type=dict[str, Known])
        except (msgspec.MsgspecError, MapError, UnicodeError):
            sample = '{"esr_ohms": {"value": 0.3}}'
            raise MapError(f"other {stage} values are written like {sample}") from None
    return found


def read_place(texts: Mapping[str, str], figures: Figures = POINT) -> Place | None:
    """Return the place that the columns of the place hold, or None where they are empty.

    Raises
    ------
    UnitError, MapError
        If they cannot be read, or only one of the two lengths is given.
    """
    across, down = texts.get("place_x_mm", "").strip(), texts.get("place_y_mm", "").strip()
    turn = texts.get("turn", "").strip()
    if not (across or down or turn):
        return None
    if not (across and down):
        raise MapError("a place needs both its lengths, from left and from top")
    angle = _read_plain(Slot("turn", form="whole"), turn, figures)["turn"] if turn else 0
    return Place(figures.parse(across, "mm"), figures.parse(down, "mm"), angle)


def _or(words: tuple[str, ...]) -> str:
    *most, last = words
    return f"{', '.join(most)} or {last}" if most else last


def sort_key(item: msgspec.Struct, column: str) -> tuple[int, float, tuple[tuple[int, str], ...]]:
    """Return what rows are sorted by: figures by size, names as people count, empty last.

    Examples
    --------
    >>> from railmap import Resistor
    >>> parts = [Resistor(ref, "A", "B", ohms=1) for ref in ("R10", "R9", "C1")]
    >>> [part.ref for part in sorted(parts, key=lambda part: sort_key(part, "ref"))]
    ['C1', 'R9', 'R10']
    """
    cell = spec_for(item).cells.get(column)
    text = write_cell(item, column)
    if cell is not None and text:
        values = [getattr(item, slot.field) for slot in cell.slots if slot.form != "text"]
        size = next((value for value in values if isinstance(value, int | float)), None)
        if size is not None:
            return 0, float(size), ()
    pieces = re.findall(r"[0-9]+|[^0-9]+", text.casefold())
    counted = tuple((int(p), "") if p.isdecimal() and p.isascii() else (-1, p) for p in pieces)
    return (1 if text else 2), 0.0, counted
