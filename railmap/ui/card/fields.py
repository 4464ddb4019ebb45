"""What can be written on a card: each field with its label and unit."""

from __future__ import annotations

import types
import typing
from dataclasses import dataclass
from typing import Any

import msgspec

from railmap.bench.part_columns import unit_of
from railmap.errors import UnitError
from railmap.figures import Figures
from railmap.model.part import Part

_FORMS = {"bool": "yes", "float": "number", "int": "whole"}
_LABELS = {
    "ref": "Reference", "board": "Board", "notes": "Notes", "ohms": "Resistance",
    "volts": "Voltage", "amps": "Current", "watts": "Power", "farads": "Capacitance",
    "henries": "Inductance", "volts_rms": "Voltage, rms", "follows_mains": "Follows the mains",
    "rated_amps": "Rated current", "rated_watts": "Rated power", "rated_volts": "Rated voltage",
    "rated_c": "Full power up to", "zero_c": "No power from", "max_volts": "Highest voltage",
    "forward_volts": "Threshold", "rated_inverse_volts": "Rated inverse voltage",
    "surge_i2t": "Surge I²t, A²s", "technology": "Technology", "ppm_per_c": "Drift, ppm/°C",
    "esr_ohms": "Series resistance", "leak_ohms": "Leakage resistance",
    "rated_ripple_amps": "Rated ripple current", "rated_hours": "Rated hours",
    "polarised": "Polarised", "at_volts": "at", "law": "Law",
    "collapse_volts": "Lets go below", "zener_volts": "Zener voltage", "test_amps": "at current",
    "dropout_volts": "Dropout", "quiescent_amps": "Quiescent current",
    "limit_amps": "Current limit", "max_input_volts": "Highest input", "efficiency": "Efficiency",
    "min_input_volts": "Least input", "gain": "Current gain", "polarity": "Polarity",
    "saturation_ohms": "On resistance", "accessory": "Accessory", "closed": "Closed",
    "slow": "Slow type", "transformer": "Transformer", "tolerance_pct": "Tolerance",
    "node": "Node", "name": "Name", "label_volts": "Label", "band_pct": "Acceptable band",
    "max_ripple_volts": "Highest ripple", "probe": "Probe at", "order": "Order of probing",
    "width_mm": "Width", "height_mm": "Height", "x_mm": "From left", "y_mm": "From top",
    "laminate": "Laminate", "ambient_c": "Air around parts", "title": "Equipment",
    "mounting": "Mounting", "standoff_mm": "Stand-off", "mm_per_pixel": "Scale, mm a pixel",
    "turn": "Turn, degrees", "dim_pct": "Faded by", "kind": "Kind", "date": "Date", "text": "Text",
    "mains_volts": "Design mains", "mains_hertz": "Mains frequency",
}  # fmt: skip
_EMPTY_WORDS = {
    "law": "as given", "technology": "not known", "mounting": "not known", "polarity": "",
    "board": "on no board",
}  # fmt: skip


@dataclass(frozen=True)
class Field:
    """One field of a card.

    Attributes
    ----------
    name, label, unit : str
        Name in the document, label on the card, unit for :mod:`railmap.units`.
    form : str
        ``number``, ``whole``, ``text``, ``yes`` or ``choice``.
    choices : tuple of str
        For a choice.
    optional : bool
        True if it may be empty.
    """

    name: str
    label: str
    unit: str
    form: str
    choices: tuple[str, ...] = ()
    optional: bool = False

    def write(self, value: Any, figures: Figures) -> str:
        """Return a value as text for the card."""
        if value is None:
            return ""
        if self.form == "number":
            return _written(float(value), self.unit, figures)
        return str(value)

    def read(self, text: str, figures: Figures) -> Any:
        """Return the value that text on the card stands for.

        Raises
        ------
        UnitError
            If it cannot be read, in one sentence.
        """
        if self.form == "text":
            return text.strip()
        if not text.strip() and self.optional:
            return None
        value = figures.parse(text, self.unit)
        if self.form != "whole":
            return value
        if not value.is_integer():
            raise UnitError(f"{text.strip()!r} is no whole number")
        return int(value)

    def say(self, choice: str) -> str:
        """Return what a choice is called on the card."""
        return choice or _EMPTY_WORDS.get(self.name, "–")


def _written(value: float, unit: str, figures: Figures) -> str:
    if unit in ("ohm", "F", "H", "V", "A", "W") and value >= 0:
        return figures.code(value, unit)
    return figures.sign(f"{value:g} %" if unit == "%" else f"{value:g}")


def fields_of(kind: type[msgspec.Struct], skip: frozenset[str]) -> list[Field]:
    """Return the fields of a document type, but for those to skip, in their order."""
    hints = typing.get_type_hints(kind)
    return [_field(name, hints[name]) for name in kind.__struct_fields__ if name not in skip]


def _field(name: str, hint: Any) -> Field:
    options = [t for t in typing.get_args(hint) if t is not type(None)]
    union = isinstance(hint, types.UnionType) or typing.get_origin(hint) is typing.Union
    optional = union and len(options) < len(typing.get_args(hint))
    plain = options[0] if union else hint
    unit = unit_of(name)
    label = _LABELS.get(name, name.replace("_", " ").capitalize())
    if typing.get_origin(plain) is typing.Literal:
        return Field(name, label, "", "choice", typing.get_args(plain))
    form = _FORMS.get(getattr(plain, "__name__", ""), "text")
    return Field(name, label, unit, form, (), optional)


LATE = ("tolerance_pct", "mounting", "standoff_mm", "notes")
"""Fields that every kind has stand last on its card."""


def part_fields(kind: type[Part]) -> list[Field]:
    """Return the fields of a kind of part that its card shows; pins and places apart."""
    skip = frozenset({"place", "fitted", "found", "earlier", "board", "ref", *kind.pins})
    found = fields_of(kind, skip)
    late = [f for f in found if f.name in LATE]
    return [f for f in found if f not in late] + late
