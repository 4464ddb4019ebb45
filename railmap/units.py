"""How a bench writes values: reading them from text, and writing them for people.

Inside, every value is a plain number in its base unit (ohms, farads, volts ...). The units known
here are ``"ohm" "F" "H" "V" "A" "W" "Hz" "s" "C" "%" "mm"`` and ``""`` for a value of any unit.
What can be read in two ways is refused with both readings named; nothing is guessed. Whether a
reader writes a decimal point or comma is an argument, which :class:`railmap.figures.Figures`
carries along.
"""

import math
import re
from collections.abc import Mapping
from decimal import Decimal
from itertools import product
from typing import Final, Literal, NamedTuple

from railmap.errors import UnitError

DecimalSign = Literal[".", ","]


class _Band(NamedTuple):
    """A range of values that share a prefix: from ``10**start`` up, counted in ``10**power``."""

    start: int
    power: int
    prefix: str


class _Unit(NamedTuple):
    """What has to be known of a unit to write it, and to say what is wrong with a text."""

    symbol: str
    plural: str
    sample: str
    bands: tuple[_Band, ...]
    marked: bool  # a value marked on a part: trailing zeros would say nothing


class _Written(NamedTuple):
    """A text taken apart, before it is known what it means."""

    sign: str
    number: str
    exponent: str  # as written with its letter, such as "e3", or empty
    prefix: str
    unit_text: str
    coded: bool  # the letter stands where the point would, as in 4k7


_BASE: Final = _Band(0, 0, "")
_FROM_TENTH: Final = _Band(-1, 0, "")
_GIGA: Final = _Band(9, 9, "G")
_MEGA: Final = _Band(6, 6, "M")
_KILO: Final = _Band(3, 3, "k")
_MILLI: Final = _Band(-3, -3, "m")
_MICRO: Final = _Band(-6, -6, "u")
_NANO: Final = _Band(-9, -9, "n")
_PICO: Final = _Band(-12, -12, "p")

# Mega appears only where "M" reads back as mega, and milli never on a capacitor: technicians say
# 10000 uF.
_UNITS: Final[Mapping[str, _Unit]] = {
    "": _Unit("", "a value", "4k7, 2200u or 12.5", (_BASE,), marked=True),
    "ohm": _Unit(
        "Ω", "ohms", "4k7 or 150R", (_GIGA, _MEGA, _KILO, _FROM_TENTH, _MILLI, _MICRO), marked=True
    ),
    "F": _Unit("F", "farads", "2200u or 4n7", (_BASE, _MICRO, _NANO, _PICO), marked=True),
    "H": _Unit("H", "henries", "10mH or 1.5H", (_KILO, _BASE, _MILLI, _MICRO, _NANO), marked=True),
    "V": _Unit("V", "volts", "24mV or 12.5V", (_KILO, _BASE, _MILLI, _MICRO), marked=False),
    "A": _Unit("A", "amps", "105mA or 1.5A", (_KILO, _BASE, _MILLI, _MICRO, _NANO), marked=False),
    "W": _Unit("W", "watts", "1/2W or 5W", (_KILO, _FROM_TENTH, _MILLI, _MICRO), marked=False),
    "Hz": _Unit("Hz", "hertz", "50Hz or 1.2kHz", (_MEGA, _KILO, _BASE), marked=False),
    "s": _Unit("s", "seconds", "20ms or 1.5s", (_KILO, _BASE, _MILLI, _MICRO, _NANO), marked=False),
    "C": _Unit("°C", "degrees Celsius", "85C", (_BASE,), marked=False),
    "%": _Unit("%", "percentages", "10%", (_BASE,), marked=True),
    "mm": _Unit("mm", "millimetres", "160mm", (_BASE,), marked=True),
}
_WITHOUT_PREFIX: Final = ("C", "%", "mm")

# The letter that stands for the point when there is no prefix (IEC 60062).
_POINT_LETTERS: Final[Mapping[str, str]] = {"ohm": "R", "F": "F"}

# Looked up as written, then in lower case. "E" for ohms: common practice on old European
# drawings, no source.
_NAMES: Final[Mapping[str, str]] = {
    **dict.fromkeys(("ω", "ohm", "ohms", "r", "E"), "ohm"),
    **dict.fromkeys(("f", "fd", "farad", "farads"), "F"),
    **dict.fromkeys(("h", "henry", "henries"), "H"),
    **dict.fromkeys(("v", "vdc", "volt", "volts"), "V"),
    **dict.fromkeys(("a", "amp", "amps", "ampere", "amperes"), "A"),
    **dict.fromkeys(("w", "watt", "watts"), "W"),
    **dict.fromkeys(("hz", "hertz", "cps", "c/s"), "Hz"),
    **dict.fromkeys(("s", "sec", "second", "seconds"), "s"),
    **dict.fromkeys(("c", "°", "°c", "degc"), "C"),
    **dict.fromkeys(("%", "pct", "percent"), "%"),
    "mm": "mm",
}

# Capital P, N and U are for drawings lettered in capitals only, "kil" for kilohm, "uu" for the
# old micromicro.
_PREFIXES: Final[Mapping[str, int]] = (
    {"p": -12, "n": -9, "u": -6, "m": -3, "k": 3, "M": 6, "G": 9, "T": 12}
    | {"P": -12, "N": -9, "U": -6, "K": 3, "uu": -12, "kil": 3, "meg": 6}
    | {"pico": -12, "nano": -9, "micro": -6, "milli": -3, "kilo": 3, "mega": 6, "giga": 9}
)

# Old spellings of capacitance in which m is always micro (common practice, no source).
_OLD_FARADS: Final[Mapping[str, str]] = {"mfd": "uF", "mmfd": "pF", "mmf": "pF"}

_CAPITALS: Final = "drawings lettered in capitals write M for milli"
_KILO_PICO: Final = "old drawings wrote k for a thousand picofarads"
_SMALL_M: Final = "m is milli but is often written for M"

# Prefix letters that mean two things: the powers of ten, and why (common practice, no source).
_TWO_WAYS: Final[Mapping[tuple[str, str], tuple[tuple[int, int], str]]] = {
    ("ohm", "m"): ((-3, 6), _SMALL_M),
    ("Hz", "m"): ((-3, 6), _SMALL_M),
    ("F", "M"): ((-6, 6), "old drawings wrote M for micro"),
    ("F", "m"): ((-6, -3), "old drawings wrote m for micro"),
    ("F", "k"): ((-9, 3), _KILO_PICO),
    ("F", "K"): ((-9, 3), _KILO_PICO),
    **{(unit, "M"): ((-3, 6), _CAPITALS) for unit in ("H", "V", "A", "W", "s")},
}

_SAME_SIGNS: Final = str.maketrans(
    {"\N{MICRO SIGN}": "u", "\N{GREEK SMALL LETTER MU}": "u", "\N{OHM SIGN}": "Ω"}
    | {"\N{MINUS SIGN}": "-", "\N{EN DASH}": "-", "\N{FRACTION SLASH}": "/"}
    | {"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅛": " 1/8", "⅓": " 1/3", "⅔": " 2/3"}
)
_FRACTION: Final = re.compile(r"([+-]?)(?:([0-9]{1,3})[ -])?([1-9][0-9]?)/([1-9][0-9]?)([^0-9.,]*)")
_CODE: Final = re.compile(r"([+-]?)([0-9]*)([RrΩkKMGTmunpUNP]|(?<=[0-9])[VvAWHF])([0-9]+)(\D*)")
_PLAIN: Final = re.compile(
    r"([+-]?)([0-9.,]*[0-9][0-9.,]*)((?:[eE][+-]?[0-9]+)?)((?:[^0-9.,][^0-9,]*)?)"
)
_SPACED_THOUSANDS: Final = re.compile(r"[+-]?[0-9]{1,3}(?: [0-9]{3})+(?![0-9])")
_BY_FIGURES: Final = re.compile(r"[.,](?=[0-9])|(?<=[0-9])[.,]")
_OTHER_SIGN: Final = str.maketrans(".,", ",.")
_MAYBE_THOUSANDS: Final = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")
_LONGEST: Final = 64
_LONGEST_QUOTE: Final = 32
_LONGEST_WHOLE: Final = 9


def parse(text: str, unit: str = "", decimal: DecimalSign = ".") -> float:
    """Read a value as a bench writes it.

    Reads plain figures with a decimal point or comma, prefixes and units (``3.3k``, ``470 µF``,
    ``105mA``), the letter-for-point codes of IEC 60062 (``4k7``, ``R47``, ``4n7``), fractions
    (``1/2W``, ``1½W``) and the old ``MFD`` and ``MMFD``.

    Parameters
    ----------
    text : str
        What was written.
    unit : str
        The unit wanted, one of those this module knows; ``""`` takes any.
    decimal : {".", ","}
        The reader's own decimal sign. The other one is taken as well, but for figures like
        ``1,234`` in which it may mark thousands.

    Returns
    -------
    float
        The value in the base unit: ohms, farads, volts ...; degrees Celsius, per cent and
        millimetres as they are. Always finite.

    Raises
    ------
    UnitError
        If the text cannot be read, is in another unit, or can be read in more than one way; then
        ``readings`` holds a clear spelling of each.

    Examples
    --------
    >>> parse("4k7", "ohm"), parse("1/2W", "W"), parse("8 MFD", "F")
    (4700.0, 0.5, 8e-06)
    >>> parse("50V", "ohm")
    Traceback (most recent call last):
    ...
    railmap.errors.UnitError: '50V' is in volts; ohms are wanted here
    """
    wanted = _known(unit)
    quoted = _quote(text)
    body = _tidy(text, quoted)
    if decimal == ",":
        body = _BY_FIGURES.sub(lambda sign: sign.group().translate(_OTHER_SIGN), body)
    written = _take_apart(body, quoted)
    if written is None:
        kind = "a value" if not unit else wanted.plural
        sample = wanted.sample.replace(".", decimal)
        msg = f"{quoted} cannot be read as {kind}; write it like {sample}"
        raise UnitError(msg)
    named = _unit_named(written.unit_text) or unit
    if unit and named != unit:
        msg = f"{quoted} is in {_UNITS[named].plural}; {wanted.plural} are wanted here"
        raise UnitError(msg)
    figures, why_figures = _figures(written, named, quoted, decimal)
    powers, why_powers = _powers(written, named, quoted)
    values = [
        _value(written.sign + digits, exponent + power, quoted)
        for (digits, exponent), power in product(figures, powers)
    ]
    if len(set(values)) > 1:
        raise _ambiguous(quoted, values, named, [why_figures, why_powers], decimal)
    return values[0]


def show(value: float, unit: str = "", digits: int = 3, decimal: DecimalSign = ".") -> str:
    """Write a value for reading, with a prefix that suits its size.

    Readings (volts, amps, watts, hertz, seconds, degrees) keep their trailing zeros so that
    figures line up; values marked on parts (ohms, farads, henries, per cent, millimetres) and
    millivolts, which a bench meter shows whole, drop them. Places left of the point are never
    rounded away, and what is too small for the last prefix is shown as nought. `parse` reads the
    text back, except that of not-a-number and of infinity.

    Parameters
    ----------
    value : float
        The value in its base unit.
    unit : str
        One of the units this module knows.
    digits : int
        Significant digits, at least 1.
    decimal : {".", ","}
        The reader's decimal sign.

    Returns
    -------
    str
        Figures, a space, the unit; a true minus sign; a dash for not-a-number.

    Raises
    ------
    UnitError
        If the unit is not known.

    Examples
    --------
    >>> show(0.024, "V"), show(12.0, "V"), show(4700, "ohm"), show(0.0022, "F")
    ('24 mV', '12.0 V', '4.7 kΩ', '2200 µF')
    """
    return _shown(value, _known(unit), digits).replace(".", decimal)


def _shown(value: float, known: _Unit, digits: int) -> str:
    if math.isnan(value):
        return "\N{EN DASH}"
    sign = "\N{MINUS SIGN}" if value < 0 else ""
    size = abs(value)
    if math.isinf(size):
        return f"{sign}∞ {known.symbol}".rstrip()
    rounded = Decimal(f"{size:.{digits - 1}e}")
    band = _band(rounded, known.bands)
    order = rounded.adjusted() - band.power if size else 0
    if order >= _LONGEST_WHOLE:
        return f"{sign}{size:.{digits - 1}e} {known.symbol}".rstrip()
    most = digits if known.bands[-1].power else digits + 2
    places = max(0, min(digits - 1 - order, most))
    figures = f"{Decimal(size).scaleb(-band.power):.{places}f}"
    if size and not figures.strip("0."):
        return _shown(0.0, known, digits)
    symbol = band.prefix.replace("u", "\N{MICRO SIGN}") + known.symbol
    if known.marked or symbol == "mV":
        figures = _trim(figures)
    return f"{sign}{figures} {symbol}".rstrip()


def code(value: float, unit: str, decimal: DecimalSign = ".") -> str:
    """Write a value the short way of the bench, to be typed, printed on a part or read back.

    Ohms and farads are written by IEC 60062 with a letter for the point, the other units as
    figures, prefix and unit. As many digits are kept as the value needs, up to twelve, and
    `parse` reads the text back as the same value.

    Parameters
    ----------
    value : float
        The value in its base unit.
    unit : str
        One of the units this module knows.
    decimal : {".", ","}
        The reader's decimal sign.

    Returns
    -------
    str
        The code, without spaces.

    Raises
    ------
    UnitError
        If the value is not finite or the unit is not known.

    Examples
    --------
    >>> code(4700, "ohm"), code(0.47, "ohm"), code(4.7e-9, "F"), code(0.001, "H")
    ('4k7', '0R47', '4n7', '1mH')
    """
    known = _known(unit)
    if not math.isfinite(value):
        msg = f"{show(value)} has no value code because it is not a finite number"
        raise UnitError(msg)
    exact = f"{value:.12g}"
    symbol = known.symbol.removeprefix("°")
    # Small resistances stay in ohms (0R047): a milli letter could be taken for mega.
    bands = tuple(band for band in known.bands if unit != "ohm" or band.power >= 0)
    band = _band(abs(Decimal(exact)), bands)
    scaled = Decimal(exact).scaleb(-band.power)
    if scaled.adjusted() not in range(-4, 6):
        return exact.replace(".", decimal) + symbol
    figures = _trim(f"{scaled:f}")
    if unit not in _POINT_LETTERS:
        return figures.replace(".", decimal) + band.prefix + symbol
    whole, _, part = figures.partition(".")
    return whole + (band.prefix or _POINT_LETTERS[unit]) + part


def _known(unit: str) -> _Unit:
    if unit not in _UNITS:
        msg = f"{_quote(unit)} is not a unit that is known here"
        raise UnitError(msg)
    return _UNITS[unit]


def _quote(text: str) -> str:
    plain = "".join(letter if letter.isprintable() else "?" for letter in " ".join(text.split()))
    return f"'{plain}'" if len(plain) <= _LONGEST_QUOTE else f"'{plain[:_LONGEST_QUOTE]}…'"


def _tidy(text: str, quoted: str) -> str:
    """Return the text with one sign for each meaning and single spaces."""
    if not text.strip():
        msg = "nothing is written where a value is wanted"
        raise UnitError(msg)
    if len(text) > _LONGEST:
        msg = f"{quoted} is too long to be one value"
        raise UnitError(msg)
    body = " ".join(text.translate(_SAME_SIGNS).split())
    return body[0] + body[1:].lstrip() if body[0] in "+-" else body


def _take_apart(body: str, quoted: str) -> _Written | None:
    """Return the pieces of a tidy text, or None where it has no shape of a value."""
    if match := _FRACTION.fullmatch(body):
        sign, whole, top, bottom, suffix = match.groups(default="")
        number = f"{Decimal(whole or 0) + Decimal(top) / Decimal(bottom):f}"
        return _with_suffix(_Written(sign, number, "", "", "", coded=False), suffix)
    body = _close_gaps(body, quoted)
    if match := _CODE.fullmatch(body):
        sign, whole, letter, part, suffix = match.groups()
        written = _Written(sign, f"{whole or 0}.{part}", "", letter, "", coded=True)
        return _with_code_unit(written, suffix)
    if match := _PLAIN.fullmatch(body):
        sign, number, exponent, suffix = match.groups()
        return _with_suffix(_Written(sign, number, exponent, "", "", coded=False), suffix)
    return None


def _close_gaps(body: str, quoted: str) -> str:
    """Return the text without spaces; a space may group thousands or stand before a unit."""
    if match := _SPACED_THOUSANDS.match(body):
        body = match.group().replace(" ", "") + body[match.end() :]
    if re.search(r" [.,]?[0-9]", body):
        msg = f"{quoted} has a gap before a figure; write one value, without gaps in it"
        raise UnitError(msg)
    return body.replace(" ", "")


def _with_suffix(written: _Written, suffix: str) -> _Written | None:
    """Return the pieces with the suffix split in prefix and unit, the longest unit first."""
    suffix = suffix.strip().removesuffix(".").replace(" ", "")
    suffix = _OLD_FARADS.get(suffix.casefold(), suffix)
    for cut in range(len(suffix) + 1):
        prefix, unit_text = suffix[:cut], suffix[cut:]
        if prefix not in _PREFIXES:
            prefix = prefix.casefold()
        if (not prefix or prefix in _PREFIXES) and (not unit_text or _unit_named(unit_text)):
            return written._replace(prefix=prefix, unit_text=unit_text)
    return None


def _with_code_unit(written: _Written, suffix: str) -> _Written | None:
    """Return the pieces of a letter-for-point code with the unit that follows it, if any."""
    letter = written.prefix
    named = _unit_named(suffix)
    if suffix and not named:
        return None
    if letter in _PREFIXES:
        # 100u25V is two values run together, not one code.
        return written._replace(unit_text=suffix) if named in ("", "ohm", "F", "H") else None
    own = _unit_named(letter)
    return written._replace(prefix="", unit_text=letter) if named in ("", own) else None


def _unit_named(unit_text: str) -> str:
    """Return the unit that a text such as ``Ohms`` names, or ``""``."""
    return _NAMES.get(unit_text) or _NAMES.get(unit_text.casefold(), "")


def _figures(
    written: _Written, named: str, quoted: str, decimal: DecimalSign
) -> tuple[list[tuple[str, int]], str]:
    """Return the possible figures as (decimal text, power of ten), and why there are several."""
    exponent = int(written.exponent[1:] or 0)
    number = written.number
    whole, _, part = number.replace(",", ".").partition(".")
    if "." in part:
        msg = f"{quoted} has more than one decimal sign; write one and leave thousands unmarked"
        raise UnitError(msg)
    plain = (f"{whole}.{part}", exponent)
    if _MAYBE_THOUSANDS.fullmatch(number):
        other = "comma" if decimal == "." else "point"
        return [plain, (whole + part, exponent)], f"a {other} may mark thousands"
    if named == "ohm" and number.isdigit() and re.fullmatch("E[0-9]+", written.exponent):
        coded = (f"{number}.{written.exponent[1:]}", 0)
        return [coded, plain], "old drawings wrote E for ohms"
    return [plain], ""


def _powers(written: _Written, named: str, quoted: str) -> tuple[tuple[int, ...], str]:
    """Return the powers of ten that the prefix can mean, and why there are several."""
    prefix = written.prefix
    if not prefix:
        return (0,), ""
    if named in _WITHOUT_PREFIX:
        msg = f"{quoted} has the prefix {prefix}, which {_UNITS[named].plural} do not take"
        raise UnitError(msg)
    # A small m is milli beyond doubt in 2m2 of a capacitor (IEC 60062) and where the unit is
    # written out in standard letters (24 mΩ, 10 mF).
    in_code = named == "F" and written.coded
    spelt_out = not written.coded and written.unit_text not in ("", "f", "hz")
    if prefix == "m" and (in_code or spelt_out):
        return (_PREFIXES[prefix],), ""
    return _TWO_WAYS.get((named, prefix), ((_PREFIXES[prefix],), ""))


def _value(figures: str, exponent: int, quoted: str) -> float:
    value = float(f"{figures}e{exponent}")
    if math.isinf(value) or (value == 0 and figures.strip("+-0.")):
        msg = f"{quoted} is too large or too small to be a value"
        raise UnitError(msg)
    return value


def _ambiguous(
    quoted: str, values: list[float], named: str, reasons: list[str], decimal: DecimalSign
) -> UnitError:
    readings = tuple(code(value, named, decimal) for value in values)
    meanings = " or ".join(show(value, named, decimal=decimal) for value in values)
    why = " and ".join(filter(None, reasons))
    msg = f"{quoted} could be {meanings}, since {why}; write {' or '.join(readings)}"
    return UnitError(msg, readings)


def _band(size: Decimal, bands: tuple[_Band, ...]) -> _Band:
    """Return the band that holds a size; nought is counted in the bare unit."""
    if not size:
        return next(band for band in bands if not band.power)
    return next((band for band in bands if size.adjusted() >= band.start), bands[-1])


def _trim(figures: str) -> str:
    return figures.rstrip("0").rstrip(".") if "." in figures else figures
