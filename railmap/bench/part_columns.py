"""The columns of the parts table: which kind has which, what they are called, and how to tell.

A row stands for a part, a rail or a board. Each of its cells holds one field or a few that a
technician writes together, such as ``26.5V 2R`` for a winding and its resistance.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final, cast

import msgspec
from msgspec import inspect

from railmap.errors import MapError
from railmap.model import kinds
from railmap.model.board import Board
from railmap.model.checks import fields_of, options_of, show
from railmap.model.part import Part
from railmap.model.rail import Rail

PIN_COLUMNS: Final[tuple[str, ...]] = ("from", "to", "third", "fourth")
KNOWN_COLUMNS: Final = tuple(
    f"{stage}{more}" for stage in ("fitted", "found") for more in ("", "_date", "_source", "_other")
)
PLACE_COLUMNS: Final = ("place_x_mm", "place_y_mm", "turn")

TITLES: Final[Mapping[str, str]] = {
    "ref": "Reference", "kind": "Kind", "drawn": "Drawn", "fitted": "Fitted", "found": "Found",
    "rating": "Rating", "from": "From", "to": "To", "third": "3rd pin", "fourth": "4th pin",
    "board": "Board", "limit": "Limit", "notes": "Notes",
    "tolerance_pct": "Tolerance", "technology": "Technology", "ppm_per_c": "Drift ppm/C",
    "rated_c": "Full power up to", "zero_c": "No power from", "esr_ohms": "Series resistance",
    "leak_ohms": "Leakage resistance", "rated_hours": "Rated hours", "polarised": "Polarised",
    "mounting": "Mounting", "standoff_mm": "Stand-off",
    "surge_i2t": "Surge I2t", "follows_mains": "Follows mains", "transformer": "Transformer",
    "collapse_volts": "Lets go below", "test_amps": "Test current",
    "dropout_volts": "Dropout",
    "limit_amps": "Current limit", "efficiency": "Efficiency", "min_input_volts": "Least input",
    "ohms": "Slope resistance", "saturation_ohms": "On resistance", "forward_volts": "Threshold",
    "name": "Rail name", "max_ripple_volts": "Ripple limit", "probe": "Probe at",
    "order": "Order of probing", "laminate": "Laminate", "ambient_c": "Air around parts",
    "x_mm": "Board from left", "y_mm": "Board from top",
    "place_x_mm": "Place from left", "place_y_mm": "Place from top", "turn": "Turn",
    "fitted_date": "Fitted date", "fitted_source": "Fitted by what",
    "fitted_other": "Other fitted values", "found_date": "Found date",
    "found_source": "Found by what", "found_other": "Other found values",
}  # fmt: skip
"""Title by column, in the order of the table."""
COLUMNS: Final = tuple(TITLES)
MAIN_COLUMNS: Final = COLUMNS[: COLUMNS.index("notes") + 1]

# Field names in the sentences of the model, as the bench says them.
PLAIN_WORDS: Final[Mapping[str, str]] = {
    "at_volts": "the volts at which that holds, as in 105mA at 27.5V resistive",
    "volts_rms": "rms volts", "zener_volts": "zener volts", "label_volts": "label volts",
    "rated_watts": "rated power", "rated_volts": "rated volts", "rated_amps": "rated current",
    "rated_ripple_amps": "rated ripple current", "rated_inverse_volts": "rated inverse volts",
    "max_volts": "highest volts", "max_input_volts": "highest input volts", "band_pct": "band",
    "quiescent_amps": "current that it takes itself", "width_mm": "width",
    "height_mm": "height", "tolerance_pct": "tolerance",
    "rated_c": "temperature of full power", "zero_c": "temperature of no power",
    "ambient_c": "air temperature",
}  # fmt: skip

_UNITS: Final[Mapping[str, str]] = {
    "ohms": "ohm", "volts": "V", "rms": "V", "amps": "A", "watts": "W", "farads": "F",
    "henries": "H", "pct": "%", "mm": "mm", "c": "C", "hertz": "Hz",
}  # fmt: skip
"""Unit by the ending of a field's name."""


@dataclass(frozen=True)
class Slot:
    """One field within a cell.

    Attributes
    ----------
    field, unit : str
        Name in the model, and unit for :mod:`railmap.units`.
    form : str
        ``number``, ``whole``, ``text``, ``yes`` or ``word``.
    words : dict of str to object
        For ``word``: what may be written, and the value it stands for; the first word of a value
        is the one that is written.
    after : str
        The word it stands behind, if it needs one.
    named : bool
        True if the unit must be written, since it alone tells the field.
    """

    field: str
    unit: str = ""
    form: str = "number"
    words: Mapping[str, Any] | None = None
    after: str = ""
    named: bool = False


@dataclass(frozen=True)
class Cell:
    """What a cell of one kind holds: its slots in order, a sample, and what stands between them."""

    slots: tuple[Slot, ...]
    sample: str = ""
    joint: str = " "


@dataclass(frozen=True)
class Spec:
    """One kind of row.

    Attributes
    ----------
    name, word : str
        Name in the model, and what the table calls it.
    table : str
        ``parts``, ``rails`` or ``boards``.
    type : type
        Its document type.
    pins : dict of str to str
        Pin by column.
    cells : dict of str to Cell
        What its other cells hold.
    """

    name: str
    word: str
    table: str
    type: type[msgspec.Struct]
    pins: Mapping[str, str]
    cells: Mapping[str, Cell]

    @property
    def columns(self) -> tuple[str, ...]:
        """The columns that it has, in order."""
        return tuple(column for column in COLUMNS if self.has(column))

    def has(self, column: str) -> bool:
        """Tell whether it has a column."""
        if column in ("ref", "kind") or column in self.cells or column in self.pins:
            return True
        return self.table == "parts" and column in ("board", *KNOWN_COLUMNS, *PLACE_COLUMNS)


def unit_of(field: str) -> str:
    """Return the unit of a field by its name.

    Examples
    --------
    >>> unit_of("rated_watts"), unit_of("ppm_per_c"), unit_of("gain")
    ('W', '', '')
    """
    return "" if field == "ppm_per_c" else _UNITS.get(field.rsplit("_", 1)[-1], "")


def _n(field: str, after: str = "", named: bool = False) -> Slot:
    return Slot(field, unit_of(field), after=after, named=named)


def _w(field: str, **words: Any) -> Slot:
    return Slot(field, form="word", words=words)


_LAWS: Final = {
    "steady": "steady", "constant": "steady", "resistive": "resistive", "power": "power",
    "lamp": "lamp",
}  # fmt: skip
_SLOPE: Final = _n("ohms")
_AMPS: Final = Cell((_n("rated_amps"),), "1.5A")
_WATTS: Final = Cell((_n("rated_watts"),), "1/2W")

# Kind: its word, and its compound cells.
_SHAPES: Final[Mapping[str, tuple[str, dict[str, Cell]]]] = {
    "Source": ("Source", {"drawn": Cell((_n("volts"), _SLOPE), "24V 0R5"), "rating": _AMPS}),
    "Winding": ("Winding", {"drawn": Cell((_n("volts_rms"), _SLOPE), "26.5V 2R"), "rating": _AMPS}),
    "Diode": ("Diode", {
        "drawn": Cell((_n("forward_volts"), _SLOPE), "0.75V 0R05"),
        "rating": Cell((_n("rated_amps"), _n("rated_inverse_volts")), "1A 200V"),
    }),
    "Bridge": ("Bridge rectifier", {
        "drawn": Cell((_n("forward_volts"), _SLOPE), "0.75V 0R05"),
        "rating": Cell((_n("rated_amps"), _n("rated_inverse_volts")), "1A 200V"),
    }),
    "Resistor": ("Resistor", {
        "drawn": Cell((_n("ohms"),), "4k7"), "rating": _WATTS,
        "limit": Cell((_n("max_volts"),), "250V"),
    }),
    "Capacitor": ("Capacitor", {
        "drawn": Cell((_n("farads"),), "2200u"),
        "rating": Cell((_n("rated_volts"), _n("rated_ripple_amps")), "50V 1.2A"),
    }),
    "Choke": ("Choke", {"drawn": Cell((_n("henries"), _SLOPE), "1.5H 50R"), "rating": _AMPS}),
    "Load": ("Load", {
        "drawn": Cell((
            _n("amps", named=True), _n("ohms", named=True), _n("watts", named=True),
            _n("at_volts", after="at"), _w("law", **_LAWS),
        ), "105mA at 27.5V resistive"),
        "limit": Cell((_n("max_volts"),), "18V"),
    }),
    "Zener": ("Zener diode", {
        "drawn": Cell((_n("zener_volts"), _SLOPE), "6.8V 5R"), "rating": _WATTS,
    }),
    "Regulator": ("Linear regulator", {
        "drawn": Cell((_n("volts"), _n("quiescent_amps", after="Iq")), "12V Iq 5mA"),
        "rating": _WATTS,
        "limit": Cell((_n("max_input_volts"),), "35V"),
    }),
    "Converter": ("Switching converter", {
        "drawn": Cell((_n("volts"),), "5V"), "rating": _WATTS,
        "limit": Cell((_n("max_input_volts"),), "35V"),
    }),
    "PassTransistor": ("Pass transistor", {
        "drawn": Cell((_n("gain"), _w("polarity", npn="npn", pnp="pnp")), "50 npn"),
        "rating": Cell((_n("rated_watts"), _n("rated_amps")), "40W 3A"),
        "limit": Cell((_n("max_volts"),), "60V"),
    }),
    "Link": ("Link", {
        "drawn": Cell((_SLOPE, _w("accessory", accessory=True)), "0R accessory"), "rating": _AMPS,
    }),
    "Switch": ("Switch", {
        "drawn": Cell((_w("closed", closed=True, open=False), _SLOPE), "closed"), "rating": _AMPS,
    }),
    "Fuse": ("Fuse", {
        "drawn": Cell((_SLOPE,), "0R1"),
        "rating": Cell((_n("rated_amps"), _w("slow", slow=True, fast=False)), "1A slow"),
    }),
    "Rail": ("Rail", {
        "drawn": Cell((_n("label_volts"),), "27V"), "rating": Cell((_n("band_pct"),), "10%"),
        "limit": Cell((_n("max_volts"),), "35V"),
    }),
    "Board": ("Board", {"drawn": Cell((_n("width_mm"), _n("height_mm")), "160mm x 100mm", " x ")}),
}  # fmt: skip

_OTHER_WORDS: Final[Mapping[str, str]] = {
    **dict.fromkeys(("supply", "battery", "dc source", "mains adapter"), "Source"),
    **dict.fromkeys(("secondary", "transformer", "secondary winding"), "Winding"),
    **dict.fromkeys(("rectifier", "rectifier diode"), "Diode"),
    **dict.fromkeys(("bridge", "rectifier bridge", "full wave rectifier"), "Bridge"),
    **dict.fromkeys(("res", "r", "dropper", "bleeder"), "Resistor"),
    **dict.fromkeys(("cap", "c", "condenser", "electrolytic", "reservoir"), "Capacitor"),
    **dict.fromkeys(("inductor", "coil", "l", "smoothing choke"), "Choke"),
    **dict.fromkeys(("consumer", "lamp", "motor", "relay", "solenoid"), "Load"),
    **dict.fromkeys(("zener", "z", "zd"), "Zener"),
    **dict.fromkeys(("regulator", "reg", "voltage regulator"), "Regulator"),
    **dict.fromkeys(("converter", "dc-dc", "dc/dc", "dc-dc converter"), "Converter"),
    **dict.fromkeys(("transistor", "series transistor"), "PassTransistor"),
    **dict.fromkeys(("plug", "wire", "socket", "jumper", "connector"), "Link"),
    **dict.fromkeys(("node", "supply rail"), "Rail"),
    **dict.fromkeys(("pcb", "card", "circuit board"), "Board"),
}

# Class letters of IEEE 315 where a kind has them (A, B, BT, C, CR, D, DS, F, G, HR, J, K, L, LS, M,
# P, PS, Q, R, RT, S, T, TB, U, VR, W; from memory). The others are common practice, no source;
# V for a source and X for a load are our own.
_LETTERS: Final[Mapping[str, str]] = {
    **dict.fromkeys(("V", "BT", "BAT", "G", "PS"), "Source"),
    **dict.fromkeys(("T", "TX", "TR"), "Winding"),
    **dict.fromkeys(("D", "CR"), "Diode"),
    **dict.fromkeys(("BR", "DB"), "Bridge"),
    **dict.fromkeys(("R", "RT"), "Resistor"),
    "C": "Capacitor",
    "L": "Choke",
    **dict.fromkeys(("X", "A", "B", "DS", "HR", "K", "LA", "LD", "LP", "LS", "M"), "Load"),
    **dict.fromkeys(("ZD", "VZ", "DZ", "Z", "VR"), "Zener"),
    **dict.fromkeys(("U", "IC", "REG"), "Regulator"),
    "Q": "PassTransistor",
    **dict.fromkeys(("J", "P", "PL", "SK", "W", "TB"), "Link"),
    **dict.fromkeys(("S", "SW"), "Switch"),
    **dict.fromkeys(("F", "FS"), "Fuse"),
}


def spec_of(name: str) -> Spec:
    """Return what a kind's row looks like.

    Parameters
    ----------
    name : str
        ``Rail``, ``Board`` or the name of a kind of part.

    Examples
    --------
    >>> spec_of("Regulator").pins
    {'from': 'input', 'to': 'output', 'third': 'common'}
    """
    return SPECS[name]


def _spec(name: str, word: str, compound: dict[str, Cell]) -> Spec:
    own: dict[str, type[msgspec.Struct]] = {"Rail": Rail, "Board": Board}
    kind = own.get(name) or cast("type[msgspec.Struct]", getattr(kinds, name))
    table = {"Rail": "rails", "Board": "boards"}.get(name, "parts")
    part = cast("type[Part]", kind)
    names = part.pins if table == "parts" else ()
    pins: dict[str, str] = dict(zip(PIN_COLUMNS, names, strict=False))
    used = {slot.field for cell in compound.values() for slot in cell.slots} | set(pins.values())
    used |= {"ref", "place", "fitted", "found", "earlier", "board", "node"}
    # Photo and marks are no text for a cell.
    used |= {"name", "photo", "marks"} if table == "boards" else set()
    rest = {
        name: Cell((_slot(name, field.type),))
        for name, field in fields_of(kind).items()
        if name not in used
    }
    return Spec(name, word, table, kind, pins, {**compound, **rest})


def _slot(name: str, wanted: inspect.Type) -> Slot:
    """Return the slot of a field that has a column for itself."""
    for option in options_of(wanted):
        match option:
            case inspect.LiteralType(values=choices):
                words = {str(choice): choice for choice in choices if choice}
                return Slot(name, form="word", words=words)
            case inspect.BoolType():
                return Slot(name, form="yes")
            case inspect.IntType():
                return Slot(name, form="whole")
            case inspect.StrType():
                return Slot(name, form="text")
            case _:
                continue
    return _n(name)


SPECS: Final[Mapping[str, Spec]] = {
    name: _spec(name, word, compound) for name, (word, compound) in _SHAPES.items()
}


KIND_WORDS: Final[Mapping[str, str]] = {
    name: spec.word for name, spec in SPECS.items() if spec.table == "parts"
}
"""What each kind of part is called, in the order in which they are offered."""


def spec_for(item: msgspec.Struct) -> Spec:
    """Return what the row of a part, rail or board looks like."""
    return SPECS[type(item).__name__]


def kind_named(text: str) -> str:
    """Return the kind that a word names; the beginning of one is enough if it names only one.

    Parameters
    ----------
    text : str
        For example ``resistor``, ``cap`` or ``loa``.

    Raises
    ------
    MapError
        If it names none or several.

    Examples
    --------
    >>> kind_named("Zener"), kind_named("loa"), kind_named("plug")
    ('Zener', 'Load', 'Link')
    """
    word = " ".join(text.casefold().split())
    names = {spec.word.casefold(): spec.name for spec in SPECS.values()}
    names |= {name.casefold(): name for name in SPECS}
    exact = names.get(word) or _OTHER_WORDS.get(word)
    if exact:
        return exact
    begun = [spec for spec in SPECS.values() if spec.word.casefold().startswith(word)]
    if len(begun) == 1:
        return begun[0].name
    known = ", ".join(spec.word for spec in begun or SPECS.values())
    if begun:
        raise MapError(f"{show(text)} could be {known.replace(', ', ' or ')}")
    raise MapError(f"{show(text)} is no kind known here; the kinds are {known}")


def guess_kind(ref: str, nodes: Iterable[str] = ()) -> str:
    """Return the kind that a reference lets one guess, or an empty text.

    The class letters decide; a reference that is the name of a node means that rail, and so does
    one that begins with the sign of its volts.

    Parameters
    ----------
    ref : str
        Reference.
    nodes : iterable of str
        The nodes of the map.

    Examples
    --------
    >>> guess_kind("R101"), guess_kind("ZD3"), guess_kind("P1"), guess_kind("P1", ["P1"])
    ('Resistor', 'Zener', 'Link', 'Rail')
    """
    if ref in set(nodes) or label_in(ref) is not None:
        return "Rail"
    letters = re.match(r"[A-Za-z]*", ref)
    return _LETTERS.get(letters.group().upper() if letters else "", "")


_LABEL: Final = re.compile(r"([+\-\N{MINUS SIGN}])([0-9]+(?:[.,][0-9]{1,2})?) ?[vV]?")


def label_in(node: str) -> float | None:
    """Return the label volts that a node's name tells, or None.

    Parameters
    ----------
    node : str
        Name of a node; one with a sign and figures, such as ``+29``, is named by its label.

    Examples
    --------
    >>> label_in("+29"), label_in("-6,8V"), label_in("0V"), label_in("N1")
    (29.0, -6.8, None, None)
    """
    found = _LABEL.fullmatch(node)
    if not found:
        return None
    size = float(found[2].replace(",", "."))
    return size if found[1] == "+" else -size
