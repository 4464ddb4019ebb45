"""How a bench writes values.

Sources are named at each table. "Encyclopedia" is the article "RKM code" of the open encyclopedia,
which quotes IEC 60062:2016; the text of the standard itself was not read.
"""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from railmap.errors import UnitError
from railmap.units import code, parse, show

UNITS = ("ohm", "F", "H", "V", "A", "W", "Hz", "s", "C", "%", "mm", "")
MINUS = "\N{MINUS SIGN}"
untimed = settings(deadline=None)

# Encyclopedia, IEC 60062:2016.
RKM_OHMS = [
    ("R47", 0.47),
    ("4R7", 4.7),
    ("470R", 470.0),
    ("4K7", 4.7e3),
    ("47K", 47e3),
    ("47K3", 47.3e3),
    ("470K", 470e3),
    ("4M7", 4.7e6),
]

# IEC 60062 letters, from memory: R k M G T for ohms; p n u m F for farads.
RKM_MORE = [
    ("4k7", "ohm", 4700.0),
    ("0R47", "ohm", 0.47),
    ("150R", "ohm", 150.0),
    ("2M2", "ohm", 2.2e6),
    ("1G5", "ohm", 1.5e9),
    ("1T", "ohm", 1e12),
    ("K47", "ohm", 470.0),
    ("3k3Ω", "ohm", 3300.0),
    ("4r7", "ohm", 4.7),
    ("4Ω7", "ohm", 4.7),
    ("4p7", "F", 4.7e-12),
    ("4n7", "F", 4.7e-9),
    ("4u7", "F", 4.7e-6),
    ("4µ7", "F", 4.7e-6),
    ("4N7", "F", 4.7e-9),
    ("4U7", "F", 4.7e-6),
    ("4P7", "F", 4.7e-12),
    ("2m2", "F", 2.2e-3),
    ("2m2F", "F", 2.2e-3),
    ("n47", "F", 0.47e-9),
    ("1F5", "F", 1.5),
    ("274R73", "ohm", 274.73),
]

# SI prefixes and symbols (SI brochure, 9th edition, table 7, from memory), sloppy capitals
# included: common practice, no source.
PLAIN = [
    ("3.3k", "ohm", 3300.0),
    ("82ohm", "ohm", 82.0),
    ("82Ω", "ohm", 82.0),
    ("82 \N{OHM SIGN}", "ohm", 82.0),
    ("82 kilohm", "ohm", 82e3),
    ("2.2 megohms", "ohm", 2.2e6),
    ("24mΩ", "ohm", 0.024),
    ("24 milliohm", "ohm", 0.024),
    ("4700uF", "F", 4.7e-3),
    ("470 \N{MICRO SIGN}F", "F", 470e-6),
    ("470 \N{GREEK SMALL LETTER MU}F", "F", 470e-6),
    ("10 mF", "F", 0.01),
    ("24 mV", "V", 0.024),
    ("50V", "V", 50.0),
    ("5V6", "V", 5.6),
    ("2A5", "A", 2.5),
    ("105mA", "A", 0.105),
    ("1.2 MHz", "Hz", 1.2e6),
    ("2M", "Hz", 2e6),
    ("85C", "C", 85.0),
    ("10%", "%", 10.0),
    ("8M", "", 8e6),
]

# Figures alone: decimal comma or point, signs, exponents, spaces between thousands (ISO 80000-1,
# from memory).
FIGURES = [
    ("1,5", 1.5),
    ("1.5", 1.5),
    ("1.500", 1.5),
    ("0,500", 0.5),
    ("1,5000", 1.5),
    ("1234,500", 1234.5),
    (",5", 0.5),
    (".5", 0.5),
    ("1e3", 1000.0),
    ("1E+3", 1000.0),
    ("1.5e-3", 0.0015),
    ("-12", -12.0),
    ("+12", 12.0),
    ("- 12", -12.0),
    (f"{MINUS}12", -12.0),
    ("\N{EN DASH}12", -12.0),
    ("10 000", 10000.0),
    ("1\N{NO-BREAK SPACE}234\N{NARROW NO-BREAK SPACE}567", 1234567.0),
    ("  7  ", 7.0),
]

# Power ratings written as fractions: common practice, no source.
FRACTIONS = [
    ("1/2W", "W", 0.5),
    ("1/4", "W", 0.25),
    ("1/8 W", "W", 0.125),
    ("1 1/2W", "W", 1.5),
    ("1-1/2 W", "W", 1.5),
    ("½W", "W", 0.5),
    ("1½ W", "W", 1.5),
    ("-1 1/2", "V", -1.5),
    ("1\N{FRACTION SLASH}2 W", "W", 0.5),
    ("1/2 kW", "W", 500.0),
]

# Old spellings of capacitance and frequency, E for ohms: common practice, no source.
OLD = [
    ("8MFD", "F", 8e-6),
    ("8 mfd", "F", 8e-6),
    ("8 Mfd.", "F", 8e-6),
    (".01 mF D", "F", 0.01e-6),
    ("220MMFD", "F", 220e-12),
    ("220 mmfd", "F", 220e-12),
    ("220 MMF", "F", 220e-12),
    ("220 \N{MICRO SIGN}\N{MICRO SIGN}F", "F", 220e-12),
    ("100E", "ohm", 100.0),
]


@pytest.mark.parametrize(("text", "ohms"), RKM_OHMS)
def test_rkm_codes_of_resistance_read_as_published(text: str, ohms: float) -> None:
    assert parse(text, "ohm") == ohms
    assert parse(text) == ohms


@pytest.mark.parametrize(("text", "unit", "value"), RKM_MORE + PLAIN + FRACTIONS + OLD)
def test_bench_spellings_are_read(text: str, unit: str, value: float) -> None:
    assert parse(text, unit) == value


@pytest.mark.parametrize("unit", ["V", "A", "W", "H", "s", ""])
def test_small_m_is_milli_where_nothing_else_is_meant(unit: str) -> None:
    assert parse("24m", unit) == parse("24 m" + unit, unit) == 0.024


def test_fraction_signs_are_read() -> None:
    values = [parse(sign) for sign in "½¼¾⅛⅓⅔"]
    assert values == pytest.approx([1 / 2, 1 / 4, 3 / 4, 1 / 8, 1 / 3, 2 / 3], rel=1e-15)
    assert parse("1/3 kohm") == pytest.approx(1000 / 3, rel=1e-15)


@pytest.mark.parametrize(("text", "value"), FIGURES)
@pytest.mark.parametrize("unit", UNITS)
def test_figures_alone_are_read_in_any_unit(text: str, value: float, unit: str) -> None:
    assert parse(text, unit) == value


# Names of the SI units (SI brochure, 9th edition, tables 2 and 4, from memory) and the usual short
# forms.
@pytest.mark.parametrize(
    ("names", "unit"),
    [
        ("R ohm ohms Ω", "ohm"),
        ("F Fd farad farads", "F"),
        ("H henry henries", "H"),
        ("V VDC volt volts", "V"),
        ("A amp amps ampere amperes", "A"),
        ("W watt watts", "W"),
        ("Hz hertz cps c/s", "Hz"),
        ("s sec second seconds", "s"),
        ("C ° °C degC", "C"),
        ("% pct percent", "%"),
        ("mm", "mm"),
    ],
)
def test_units_are_known_by_their_names(names: str, unit: str) -> None:
    for name in names.split():
        assert parse(f"12 {name}", unit) == parse(f"12{name.upper()}") == 12.0
        for other in set(UNITS) - {unit, ""}:
            with pytest.raises(UnitError, match="are wanted here"):
                parse(f"12 {name}", other)


# The prefixes of the SI brochure, table 7 (from memory), as letters and as words.
@pytest.mark.parametrize(
    ("prefixes", "power"),
    [
        ("p P pico uu", -12),
        ("n N nano", -9),
        ("u U µ micro", -6),
        ("m milli", -3),
        ("k K kilo", 3),
        ("M mega meg MEG", 6),
        ("G giga", 9),
        ("T", 12),
    ],
)
def test_prefixes_are_known_by_letter_and_by_word(prefixes: str, power: int) -> None:
    for prefix in prefixes.split():
        assert parse(f"1.5 {prefix}") == parse(f"1.5{prefix}Ω", "ohm") == float(f"1.5e{power}")


# What the letters could mean: common practice on old drawings, no source.
@pytest.mark.parametrize(
    ("text", "unit", "readings"),
    [
        ("8M", "F", ("8u", "8000000F")),
        ("8MF", "", ("8u", "8000000F")),
        (".01M", "F", ("10n", "10000F")),
        ("2M2", "F", ("2u2", "2200000F")),
        ("0.01m", "F", ("10n", "10u")),
        ("0.01 mf", "F", ("10n", "10u")),
        ("4k7", "F", ("4n7", "4700F")),
        ("22K", "F", ("22n", "22000F")),
        ("10m", "ohm", ("0R01", "10M")),
        ("4m7", "ohm", ("0R0047", "4M7")),
        ("4m7Ω", "ohm", ("0R0047", "4M7")),
        ("10mhz", "Hz", ("0.01Hz", "10MHz")),
        ("10M", "H", ("10mH", "10000kH")),
        ("105 MA", "A", ("105mA", "105000kA")),
        ("24M", "V", ("24mV", "24000kV")),
        ("500MW", "W", ("0.5W", "500000kW")),
        ("20MS", "s", ("20ms", "20000ks")),
        ("1,500", "", ("1.5", "1500")),
        ("-1,500", "V", ("-1.5V", "-1.5kV")),
        ("1,500", "ohm", ("1R5", "1k5")),
        ("12,000m", "ohm", ("0R012", "12M", "12R", "12G")),
        ("4E7", "ohm", ("4R7", "40M")),
        ("0E47", "ohm", ("0R47", "0R")),
    ],
)
def test_two_readings_are_asked_and_both_are_named(
    text: str, unit: str, readings: tuple[str, ...]
) -> None:
    with pytest.raises(UnitError) as refusal:
        parse(text, unit)
    assert refusal.value.readings == readings
    assert f"'{text}' could be " in str(refusal.value)
    assert str(refusal.value).endswith(f"; write {' or '.join(readings)}")
    assert len({parse(reading, unit) for reading in readings}) == len(readings)
    assert parse("0M", "F") == 0.0  # no question where the answers agree


def test_question_says_why() -> None:
    with pytest.raises(UnitError) as refusal:
        parse("8M", "F")
    assert str(refusal.value) == (
        "'8M' could be 8 \N{MICRO SIGN}F or 8000000 F, since old drawings wrote M for micro; "
        "write 8u or 8000000F"
    )
    with pytest.raises(UnitError) as refusal:
        parse("1,500")
    assert str(refusal.value) == (
        "'1,500' could be 1.5 or 1500, since a comma may mark thousands; write 1.5 or 1500"
    )


@pytest.mark.parametrize(
    ("text", "unit", "sentence"),
    [
        ("50V", "ohm", "'50V' is in volts; ohms are wanted here"),
        ("5V6", "ohm", "'5V6' is in volts; ohms are wanted here"),
        ("10%", "F", "'10%' is in percentages; farads are wanted here"),
        ("4R7", "W", "'4R7' is in ohms; watts are wanted here"),
        ("4n7F", "H", "'4n7F' is in farads; henries are wanted here"),
        ("5mm", "F", "'5mm' is in millimetres; farads are wanted here"),
        ("24m", "mm", "'24m' has the prefix m, which millimetres do not take"),
        ("1kC", "", "'1kC' has the prefix k, which degrees Celsius do not take"),
        ("", "V", "nothing is written where a value is wanted"),
        (" \t", "", "nothing is written where a value is wanted"),
        ("abc", "V", "'abc' cannot be read as volts; write it like 24mV or 12.5V"),
        ("abc", "", "'abc' cannot be read as a value; write it like 4k7, 2200u or 12.5"),
        ("a\tb\x00", "", "'a b?' cannot be read as a value; write it like 4k7, 2200u or 12.5"),
        (
            "1.234,5",
            "",
            "'1.234,5' has more than one decimal sign; write one and leave thousands unmarked",
        ),
        (
            "100u 25V",
            "",
            "'100u 25V' has a gap before a figure; write one value, without gaps in it",
        ),
        ("1e999", "", "'1e999' is too large or too small to be a value"),
        ("1e-999", "", "'1e-999' is too large or too small to be a value"),
        ("1" * 70, "", f"'{'1' * 32}…' is too long to be one value"),
        ("5", "furlong", "'furlong' is not a unit that is known here"),
    ],
)
def test_refusals_are_one_sentence_with_what_and_why(text: str, unit: str, sentence: str) -> None:
    with pytest.raises(UnitError) as refusal:
        parse(text, unit)
    assert str(refusal.value) == sentence
    assert refusal.value.readings == ()


@pytest.mark.parametrize(
    "text",
    [
        *("nan", "inf", "-inf", "infinity", "∞", "\N{EN DASH}", "-", "+", ".", ",", "R", "k", "Ω"),
        *("--5", "+-5", "1/0", "0/2", "1/", "/2", "1.5/2", "4k7k", "4k7,5", "4R7V", "100u25V"),
        *("0x10", "1_000", "1,2,3", "1..2", "1234 500", "4 7", "5 potatoes", "5kk", "V5", "1e"),
        *("٣", "5 - 10", "4k7J"),
    ],
)
@pytest.mark.parametrize("unit", UNITS)
def test_what_is_no_value_is_refused(text: str, unit: str) -> None:
    with pytest.raises(UnitError) as refusal:
        parse(text, unit)
    assert refusal.value.readings == ()


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        *((ohms, "ohm", text.upper()) for text, ohms in RKM_OHMS[1:4]),
        (4700.0, "ohm", "4k7"),
        (0.47, "ohm", "0R47"),
        (36.5, "ohm", "36R5"),
        (274.73, "ohm", "274R73"),
        (0.047, "ohm", "0R047"),
        (2.2e6, "ohm", "2M2"),
        (0.0, "ohm", "0R"),
        (-150.0, "ohm", "-150R"),
        (999.9999999999999, "ohm", "1k"),
        (1e-9, "ohm", "1e-09Ω"),
        (4.7e-9, "F", "4n7"),
        (2200e-6, "F", "2200u"),
        (0.1, "F", "100000u"),
        (1.5, "F", "1F5"),
        (0.5, "W", "0.5W"),
        (0.083, "W", "83mW"),
        (0.001, "H", "1mH"),
        (0.024, "V", "24mV"),
        (5e8, "V", "500000kV"),
        (1.2e6, "Hz", "1.2MHz"),
        (85.0, "C", "85C"),
        (10.0, "%", "10%"),
        (160.0, "mm", "160mm"),
        (4700.0, "", "4700"),
        (123456789012.0, "mm", "123456789012mm"),
    ],
)
def test_codes_are_written(value: float, unit: str, text: str) -> None:
    expected = text.replace("K", "k")
    assert code(value, unit) == expected


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_code_needs_a_finite_value(value: float) -> None:
    with pytest.raises(UnitError, match="has no value code because it is not a finite number"):
        code(value, "V")


@pytest.mark.parametrize("write", [code, show])
def test_unknown_unit_is_refused_on_writing(write: object) -> None:
    assert callable(write)
    with pytest.raises(UnitError, match="'ohms' is not a unit that is known here"):
        write(1.0, "ohms")


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (0.024, "V", "24 mV"),
        (0.0039, "V", "3.9 mV"),
        (12.0, "V", "12.0 V"),
        (-36.5, "V", f"{MINUS}36.5 V"),
        (9.996, "V", "10.0 V"),
        (0.9996, "V", "1.00 V"),
        (0.0, "V", "0.00 V"),
        (-0.0, "V", "0.00 V"),
        (-1e-15, "V", "0.00 V"),
        (1e300, "V", "1.00e+300 V"),
        (-math.inf, "V", f"{MINUS}∞ V"),
        (math.inf, "", "∞"),
        (math.nan, "V", "\N{EN DASH}"),
        (0.083, "W", "83.0 mW"),
        (0.5, "W", "0.500 W"),
        (4700.0, "ohm", "4.7 kΩ"),
        (0.47, "ohm", "0.47 Ω"),
        (0.047, "ohm", "47 mΩ"),
        (999.96, "ohm", "1 kΩ"),
        (0.0022, "F", "2200 \N{MICRO SIGN}F"),
        (0.1, "F", "100000 \N{MICRO SIGN}F"),
        (0.004712, "F", "4712 \N{MICRO SIGN}F"),
        (4.7e-9, "F", "4.7 nF"),
        (1.5, "F", "1.5 F"),
        (0.01, "H", "10 mH"),
        (0.0625, "Hz", "0.0625 Hz"),
        (0.02, "s", "20.0 ms"),
        (85.0, "C", "85.0 °C"),
        (83.0, "%", "83 %"),
        (0.005, "%", "0.005 %"),
        (12.5, "mm", "12.5 mm"),
        (0.85, "", "0.85"),
        (4700.0, "", "4700"),
    ],
)
def test_values_are_shown(value: float, unit: str, text: str) -> None:
    assert show(value, unit) == text


def test_shown_digits_can_be_chosen() -> None:
    assert show(12.3456, "V", digits=5) == "12.346 V"
    assert show(12.3456, "V", digits=1) == "12 V"
    assert show(0.96, "V", digits=1) == "1 V"


units = st.sampled_from(UNITS)


@untimed
@given(figures=st.integers(-(10**12) + 1, 10**12 - 1), power=st.integers(-24, 12), unit=units)
def test_code_of_up_to_twelve_digits_reads_back_exactly(
    figures: int, power: int, unit: str
) -> None:
    value = float(f"{figures}e{power}")
    assert parse(code(value, unit), unit) == value


@untimed
@given(value=st.floats(-1e200, 1e200), unit=units)
def test_code_of_any_value_reads_back_to_half_of_the_twelfth_digit(value: float, unit: str) -> None:
    text = code(value, unit)
    tiny = 1e-300  # below this a float itself holds fewer digits
    assert parse(text, unit) == pytest.approx(value, rel=5.001e-12, abs=tiny)
    assert " " not in text


@untimed
@given(
    size=st.floats(1e-5, 1e12),
    sign=st.sampled_from((1, -1)),
    unit=st.sampled_from(("ohm", "F", "H", "V", "A", "W", "s")),
    digits=st.integers(1, 9),
)
def test_what_is_shown_reads_back_within_rounding(
    size: float, sign: int, unit: str, digits: int
) -> None:
    value = sign * size
    rounding = 0.5000001 * 10.0 ** (1 - digits)
    assert parse(show(value, unit, digits), unit) == pytest.approx(value, rel=rounding)


@untimed
@given(value=st.floats(-1e300, 1e300), unit=units)
def test_any_value_is_shown_short_and_reads_back(value: float, unit: str) -> None:
    text = show(value, unit)
    assert len(text) <= 20
    assert text.isprintable()
    coarsest = 0.0051  # half of the third digit
    smallest = 1e-5  # half of the last place of the units without prefixes
    assert parse(text, unit) == pytest.approx(value, rel=coarsest, abs=smallest)


@untimed
@given(value=st.floats(1.0, 999.0), unit=st.sampled_from(("V", "A", "W", "Hz", "s", "C")))
def test_readings_keep_three_significant_digits(value: float, unit: str) -> None:
    figures, _, symbol = show(value, unit).partition(" ")
    assert len(figures.replace(".", "")) == 3
    assert symbol == unit.replace("C", "°C")


def outcome(text: str, unit: str) -> float | UnitError:
    """Return what comes of reading a text; anything but a refusal goes through."""
    try:
        return parse(text, unit)
    except UnitError as refusal:
        return refusal


near_values = st.text("0123456789.,+-/ eEkKmMuµnpGRFVAHWzΩ%½", max_size=12)
near_figures = st.from_regex(
    r"[0-9]{1,4}([.,][0-9]{1,3})?(E[0-9]{1,2})?[pnumkKMG]?", fullmatch=True
)


@settings(deadline=None, max_examples=2000)
@given(text=st.text() | near_values | near_figures, unit=units)
def test_any_text_gives_a_finite_value_or_one_sentence(text: str, unit: str) -> None:
    result = outcome(text, unit)
    if isinstance(result, UnitError):
        assert str(result).isprintable()
        values = {parse(reading, unit) for reading in result.readings}
        assert len(values) == len(set(result.readings)) != 1
    else:
        assert math.isfinite(result)
