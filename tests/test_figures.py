"""Figures with a decimal comma: one reader's way of writing, carried by an argument."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from railmap.errors import UnitError
from railmap.figures import Figures
from railmap.units import code, parse, show

UNITS = ("ohm", "F", "H", "V", "A", "W", "Hz", "s", "C", "%", "mm", "")
MINUS = "\N{MINUS SIGN}"


# Decimal comma, as ISO 80000-1 allows it beside the point (from memory).


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("12,5 V", "V", 12.5),
        ("12.5 V", "V", 12.5),
        ("1,234", "V", 1.234),
        ("1234,5", "V", 1234.5),
        ("1 234,5", "V", 1234.5),
        ("0.500", "A", 0.5),
        (",5", "W", 0.5),
        ("4,7k", "ohm", 4700.0),
        ("4k7", "ohm", 4700.0),
        ("4k700", "ohm", 4700.0),
        ("1 1/8 W", "W", 1.125),
        ("100 ohm.", "ohm", 100.0),
        ("1,5e3", "V", 1500.0),
        (f"{MINUS}1,250", "V", -1.25),
    ],
)
def test_a_reader_with_a_comma(text: str, unit: str, value: float) -> None:
    assert parse(text, unit, decimal=",") == value
    assert Figures(",").parse(text, unit) == value


def test_the_other_sign_may_mark_thousands() -> None:
    with pytest.raises(UnitError) as refused:
        parse("1.234", "V", decimal=",")
    assert refused.value.readings == ("1,234V", "1,234kV")
    assert str(refused.value) == (
        "'1.234' could be 1,23 V or 1,23 kV, since a point may mark thousands; "
        "write 1,234V or 1,234kV"
    )
    with pytest.raises(UnitError, match="more than one decimal sign"):
        parse("1.234,5", "V", decimal=",")
    with pytest.raises(UnitError, match="a comma may mark thousands"):
        parse("1,234", "V")


@given(st.floats(allow_nan=False), st.sampled_from(UNITS))
def test_a_comma_is_all_that_changes(value: float, unit: str) -> None:
    comma = Figures(",")
    assert comma.show(value, unit) == show(value, unit).replace(".", ",")
    assert Figures().show(value, unit) == show(value, unit)
    if math.isfinite(value):
        assert comma.code(value, unit) == code(value, unit).replace(".", ",")


@given(st.floats(1e-12, 1e12), st.sampled_from(UNITS))
def test_what_is_written_with_a_comma_is_read_back(value: float, unit: str) -> None:
    comma = Figures(",")
    assert comma.parse(comma.code(value, unit), unit) == parse(code(value, unit), unit)
    shown = show(value, unit)
    assert comma.parse(comma.show(value, unit), unit) == parse(shown, unit)
